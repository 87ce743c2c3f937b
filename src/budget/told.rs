//! Sentences on a battery that is empty.
use super::energy::{OffPlace, PanelOff, TripEnergy};
use crate::base::count::time;

impl PanelOff {
    /// When, where, for how long, how much is missing.
    pub fn words(&self) -> String {
        let day = self.date.clone().unwrap_or_else(|| format!("day {}", self.day));
        let place = self.place.as_ref().map(|p| format!(", {}", p.words())).unwrap_or_default();
        format!(
            "{day} from {} to {} ({}){place}, {:.0} Wh missing",
            self.from,
            self.to,
            time(self.lasts_s),
            self.missing_wh
        )
    }
    /// The same with the meetings it touches in front; nothing where it touches none.
    pub fn during_meetings(&self) -> Option<String> {
        let names = self.meetings.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(" and ");
        (!names.is_empty())
            .then(|| format!("THE PANEL GOES OFF DURING {names}: the battery is empty on {}", self.words()))
    }
}

impl OffPlace {
    fn words(&self) -> String {
        let at = format!("({:.5},{:.5})", self.lat_deg, self.lon_deg);
        match (&self.name, self.at_km) {
            (Some(name), _) => format!("at {name} {at}"),
            (None, Some(km)) => format!("at km {km:.1} {at}"),
            (None, None) => format!("at {at}"),
        }
    }
}

impl TripEnergy {
    /// What stands before everything else: meetings during which the panel goes off.
    pub fn meetings_without_panel(&self) -> impl Iterator<Item = String> {
        self.off.iter().filter_map(PanelOff::during_meetings)
    }
}
