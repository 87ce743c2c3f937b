//! A plan as calendar events: drives, stops, and a note beside each meeting of how it is held.
//!
//! An event of a plan keeps its identity when the trip is planned again, so that the new plan takes the place of the old one
//! in a calendar: it comes from the trip's title, the day, and the meeting it is about or its number among its kind.
use std::collections::BTreeMap;

use sha2::{Digest, Sha256};

use super::plan::{held_words, is_put_out, panel_words};
use super::verdict::word;
use crate::ask::plan::{Held, Part};
use crate::ask::trip::{Trip, TripDay};
use crate::base::caution::{Caution, joined};
use crate::base::geodesy::Position;
use crate::base::hex::hexadecimal;
use crate::base::measure::duration;
use crate::base::words::Units;
use crate::calendar::Planned;

/// Events of all days of a trip with a title.
pub fn plan_events(trip: &Trip, title: &str) -> Vec<Planned> {
    let mut names = EventNames { title, used: BTreeMap::new() };
    trip.days.iter().flat_map(|day| events(day, &mut names, trip.shown.units)).collect()
}

/// Identities handed out.
struct EventNames<'a> {
    title: &'a str,
    used: BTreeMap<String, usize>,
}

impl EventNames<'_> {
    /// The next identity of a kind of event on a day; `about` is what tells it from others of its kind.
    fn next(&mut self, kind: &str, day: &str, about: &str) -> String {
        let stem = format!("{kind}-{day}-{}", digest(&[self.title, about]));
        let nth = self.used.entry(stem.clone()).or_insert(0);
        *nth += 1;
        format!("{stem}-{nth}@waymask.invalid")
    }
}

/// Texts in twelve letters and figures: identities tell nothing of a trip.
fn digest(texts: &[&str]) -> String {
    let mut hash = Sha256::new();
    for text in texts {
        hash.update((text.len() as u64).to_le_bytes());
        hash.update(text.as_bytes());
    }
    hexadecimal(&hash.finalize()[..6])
}

fn events(day: &TripDay, names: &mut EventNames, units: Units) -> Vec<Planned> {
    let chosen = &day.plan.chosen;
    let date = chosen.depart.0.date().to_string();
    let mut out = Vec::new();
    for (i, part) in chosen.parts.iter().enumerate() {
        out.push(match part {
            Part::Drive { .. } => drive(day, i, names.next("drive", &date, ""), units),
            Part::Stop { meeting, why, .. } => {
                let about = meeting.clone().unwrap_or_else(|| why.to_string());
                stop(part, names.next("stop", &date, &about), units)
            }
        });
    }
    for m in &chosen.meetings {
        let about = if m.uid.is_empty() { &m.name } else { &m.uid };
        out.push(how(m, names.next("how", &date, about), units));
    }
    out
}

fn how(m: &Held, uid: String, units: Units) -> Planned {
    let cautions: &[Caution] =
        if m.is_in_motion() { &[Caution::Passenger, Caution::Belt] } else { &[Caution::Passenger] };
    Planned {
        uid,
        summary: format!("How to hold: {}", m.name),
        description: Some(format!("{}: {}.\n{}", word(m.verdict), held_words(m, units), joined(cautions))),
        location: Some(m.places().collect::<Vec<_>>().join(", then ")).filter(|places| !places.is_empty()),
        categories: vec![m.kind.name().to_owned()],
        start: m.start.0.timestamp(),
        end: m.end.0.timestamp(),
        ..Planned::default()
    }
}

/// Where a drive begins or ends.
struct DriveEnd {
    name: String,
    lat_deg: f64,
    lon_deg: f64,
}

impl DriveEnd {
    fn at_stop(part: Option<&Part>) -> Option<Self> {
        match part {
            Some(Part::Stop { place, .. }) => {
                Some(Self { name: place.name.clone(), lat_deg: place.lat_deg, lon_deg: place.lon_deg })
            }
            _ => None,
        }
    }
    fn on_road(name: &str, at: Option<&Position>) -> Option<Self> {
        at.map(|at| Self { name: name.to_owned(), lat_deg: at.lat_deg(), lon_deg: at.lon_deg() })
    }
    fn words(&self, at: &str) -> String {
        format!("{}, {:.5}, {:.5} ({at})", self.name, self.lat_deg, self.lon_deg)
    }
}

/// The drive that is part `i` of a day: from the stop before it to the one after it, or from or to an end of the road.
fn drive(day: &TripDay, i: usize, uid: String, units: Units) -> Planned {
    let parts = &day.plan.chosen.parts;
    let Some(Part::Drive { from, to, from_km, to_km, outage_s, .. }) = parts.get(i) else { return Planned::default() };
    let pieces = &day.corridor.pieces;
    let begin = || pieces.first().and_then(|p| DriveEnd::on_road(&p.road, p.line.first()));
    let end = || pieces.last().and_then(|p| DriveEnd::on_road(&p.road, p.line.last()));
    let before = i.checked_sub(1).and_then(|b| DriveEnd::at_stop(parts.get(b))).or_else(begin);
    let after = DriveEnd::at_stop(parts.get(i + 1)).or_else(end);
    let name = |end: &Option<DriveEnd>, at: &str| end.as_ref().map_or(at.to_owned(), |e| e.name.clone());
    let words = |end: &Option<DriveEnd>, at: &str| end.as_ref().map_or(at.to_owned(), |e| e.words(at));
    let [begins, ends] = [from_km, to_km].map(|km| units.at(*km));
    let length = units.road((to_km - from_km) * 1e3);
    Planned {
        uid,
        summary: format!("Drive from {} to {}, {length}", name(&before, &begins), name(&after, &ends)),
        description: Some(format!(
            "From {} to {}: {length}.\nExpected without a link: {}.\n{}",
            words(&before, &begins),
            words(&after, &ends),
            duration(*outage_s),
            Caution::Passenger.text()
        )),
        location: before.as_ref().map(|e| e.name.clone()),
        place_deg: before.as_ref().map(|e| (e.lat_deg, e.lon_deg)),
        start: from.0.timestamp(),
        end: to.0.timestamp(),
        busy: true,
        ..Planned::default()
    }
}

fn stop(part: &Part, uid: String, units: Units) -> Planned {
    let Part::Stop { from, to, place, why, meeting } = part else { return Planned::default() };
    let cautions: &[Caution] = match meeting {
        Some(_) if is_put_out(place) => &[Caution::Signs, Caution::Stand, Caution::Ground, Caution::Law],
        _ => &[Caution::Signs, Caution::Ground, Caution::Law],
    };
    Planned {
        uid,
        summary: meeting.as_ref().map_or_else(|| format!("Stop: {why}"), |m| format!("Stop for {m}")),
        description: Some(format!("{}.\n{}", panel_words(place, units), joined(cautions))),
        location: Some(place.name.clone()),
        place_deg: Some((place.lat_deg, place.lon_deg)),
        start: from.0.timestamp(),
        end: to.0.timestamp(),
        ..Planned::default()
    }
}
