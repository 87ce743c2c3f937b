//! The time zone of a trip: that of its place, unless the traveller says another.
use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::times;
use crate::ask::track::Track;
use crate::base::error::{Error, Result};
use crate::map::place::zone::{is_nautical, zone_name};

/// At sea no country's clock applies, and islands keep one up to this far from that of the ships, hours.
const AT_SEA_H: f64 = 2.0;
/// Points of a track whose zones are looked up.
const LOOKED_AT: usize = 500;

/// The zone that times are told in, and what is to be said of it.
pub struct ZoneTaken {
    /// The zone.
    pub zone: TimeZone,
    /// As typed with --zone.
    given: Option<String>,
    /// Zones of the track in its order, each once in a row.
    along: Vec<&'static str>,
}

/// The zone given, else that of the first point of a track, else the system's.
///
/// # Errors
/// There is no zone of the name given.
pub fn zone_of(given: Option<&str>, track: &Track) -> Result<ZoneTaken> {
    let along = zones_along(track);
    let wrong = |fact| Error::usage("--zone", fact, "give a name such as Europe/Madrid, or an offset such as -01:00");
    let zone = match (given, along.first()) {
        (Some(text), _) => times::zone(text).map_err(wrong)?,
        (None, Some(name)) => TimeZone::get(name).unwrap_or_else(|_| TimeZone::system()),
        (None, None) => TimeZone::system(),
    };
    Ok(ZoneTaken { zone, given: given.map(str::to_owned), along })
}

/// Zones of a track in its order.
fn zones_along(track: &Track) -> Vec<&'static str> {
    let points = track.points();
    let step = points.div_ceil(LOOKED_AT).max(1);
    let all = track.pieces.iter().flatten();
    let looked_at = all.enumerate().filter(|(nth, _)| nth % step == 0 || nth + 1 == points);
    let mut along: Vec<&str> = looked_at.filter_map(|(_, point)| zone_name(point.at)).collect();
    along.dedup();
    along
}

impl ZoneTaken {
    /// What is said first: where the zone came from, or that it is not the one of the place; and that a track runs through
    /// several. `moment` is when the drive begins.
    pub fn notes(&self, moment: Timestamp) -> Vec<String> {
        let mut said = Vec::new();
        let own = offset_h(&self.zone, moment);
        match (&self.given, self.along.first()) {
            (None, None) => said.push("times in the zone of this computer: that of the place is not known".to_owned()),
            (None, Some(name)) if is_nautical(name) => said.push(format!(
                "times in {name} ({}), the zone of ships at the place: at sea no country's zone applies; --zone says another",
                told(own)
            )),
            (None, Some(name)) => said.push(format!("times in {name}, the zone of the place")),
            (Some(given), Some(name)) => {
                let of_place = TimeZone::get(name).map_or(own, |zone| offset_h(&zone, moment));
                let free_h = if is_nautical(name) { AT_SEA_H } else { 0.0 };
                if (own - of_place).abs() > free_h {
                    let (own, of_place) = (told(own), told(of_place));
                    said.push(format!(
                        "times in {given} ({own}) as --zone says: clocks at the place show {name} ({of_place}) then"
                    ));
                }
            }
            (Some(_), None) => {}
        }
        said.extend(self.crossing(moment));
        said
    }
    /// What is said where clocks along the track differ.
    fn crossing(&self, moment: Timestamp) -> Option<String> {
        let (first, rest) = self.along.split_first()?;
        let offset = |name: &str| TimeZone::get(name).map(|zone| offset_h(&zone, moment)).ok();
        let other = rest.iter().find(|name| offset(name) != offset(first))?;
        let told_of = |name: &str| format!("{name} ({})", offset(name).map_or("not known".to_owned(), told));
        Some(format!("the track runs from {} into {}: all times are told in one zone", told_of(first), told_of(other)))
    }
}

/// Hours ahead of UTC.
fn offset_h(zone: &TimeZone, moment: Timestamp) -> f64 {
    f64::from(zone.to_offset(moment).seconds()) / 3_600.0
}

/// `UTC+05:30`, `UTC-02`.
fn told(hours: f64) -> String {
    let minutes = (hours.abs() * 60.0).round() as u32;
    let sign = if hours < 0.0 { '-' } else { '+' };
    match (minutes / 60, minutes % 60) {
        (0, 0) => "UTC".to_owned(),
        (h, 0) => format!("UTC{sign}{h:02}"),
        (h, m) => format!("UTC{sign}{h:02}:{m:02}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Position;

    fn said(given: Option<&str>, places: &[(f64, f64)]) -> Vec<String> {
        let at: Vec<Position> = places.iter().map(|(lat, lon)| Position::from_deg(*lon, *lat)).collect();
        let track = Track::through(&at, Vec::new()).unwrap();
        zone_of(given, &track).unwrap().notes("2026-07-01T10:00:00Z".parse().unwrap())
    }

    const ANDORRA: [(f64, f64); 2] = [(42.5, 1.52), (42.55, 1.58)];
    const SEA: [(f64, f64); 2] = [(47.0, -28.0), (47.0, -28.1)];

    #[test]
    fn the_place_gives_the_zone_and_a_zone_that_contradicts_it_is_said() {
        assert_eq!(said(None, &ANDORRA), ["times in Europe/Andorra, the zone of the place"]);
        // Another name of the same clock contradicts nothing.
        assert_eq!(said(Some("Europe/Madrid"), &ANDORRA), Vec::<String>::new());
        assert_eq!(said(Some("+02:00"), &ANDORRA), Vec::<String>::new());
        assert_eq!(
            said(Some("UTC"), &ANDORRA),
            ["times in UTC (UTC) as --zone says: clocks at the place show Europe/Andorra (UTC+02) then"]
        );
        assert!(said(Some("Asia/Kolkata"), &ANDORRA)[0].contains("Asia/Kolkata (UTC+05:30)"));
    }

    #[test]
    fn at_sea_the_zone_of_ships_is_said_as_such() {
        assert!(said(None, &SEA)[0].starts_with("times in Etc/GMT+2 (UTC-02), the zone of ships at the place"));
        assert_eq!(said(Some("-01:00"), &SEA), Vec::<String>::new());
        assert!(said(Some("+02:00"), &SEA)[0].contains("clocks at the place show Etc/GMT+2 (UTC-02) then"));
    }

    #[test]
    fn a_track_across_two_clocks_is_told() {
        // From Badajoz to Elvas.
        let notes = said(None, &[(38.88, -6.97), (38.88, -7.16)]);
        assert_eq!(notes[0], "times in Europe/Madrid, the zone of the place");
        assert!(
            notes[1].starts_with("the track runs from Europe/Madrid (UTC+02) into Europe/Lisbon (UTC+01)"),
            "{notes:?}"
        );
        // From Andorra to France the clocks are the same.
        assert_eq!(said(None, &[(42.54, 1.73), (42.6, 1.8)]).len(), 1);
    }

    #[test]
    fn a_name_that_is_no_zone_is_refused() {
        let track = Track::default();
        let error = zone_of(Some("Europe/Madird"), &track).err().map(|e| e.to_string());
        assert!(error.is_some_and(|e| e.contains("did you mean `Europe/Madrid`?")));
        assert!(zone_of(None, &track).unwrap().notes(Timestamp::UNIX_EPOCH)[0].contains("zone of this computer"));
    }
}
