//! Sentences on a battery that is empty.
use super::energy::{OffPlace, PanelOff, TripEnergy};
use crate::base::measure::duration;
use crate::base::words::HowTold;

impl PanelOff {
    /// When, where, for how long, how much is missing.
    pub fn words(&self, shown: HowTold) -> String {
        let day = self.date.clone().unwrap_or_else(|| format!("day {}", self.day));
        let place = self.place.as_ref().map(|p| format!(", {}", p.words(shown))).unwrap_or_default();
        format!(
            "{day} from {} to {} ({}){place}, {:.0} Wh missing",
            shown.dial.retold(&self.from),
            shown.dial.retold(&self.to),
            duration(self.lasts_s),
            self.missing_wh
        )
    }
    /// The same with the meetings it touches in front; nothing where it touches none.
    pub fn during_meetings(&self, shown: HowTold) -> Option<String> {
        let names = self.meetings.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(" and ");
        (!names.is_empty())
            .then(|| format!("THE PANEL GOES OFF DURING {names}: the battery is empty on {}", self.words(shown)))
    }
}

impl OffPlace {
    fn words(&self, shown: HowTold) -> String {
        let at = format!("({:.5},{:.5})", self.lat_deg, self.lon_deg);
        match (&self.name, self.at_km) {
            (Some(name), _) => format!("at {name} {at}"),
            (None, Some(km)) => format!("at {} {at}", shown.units.at(km)),
            (None, None) => format!("at {at}"),
        }
    }
}

impl TripEnergy {
    /// What stands before everything else: meetings during which the panel goes off.
    pub fn meetings_without_panel(&self, shown: HowTold) -> impl Iterator<Item = String> {
        self.off.iter().filter_map(move |off| off.during_meetings(shown))
    }
}
