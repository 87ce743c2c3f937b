//! A plan as calendar events: drives, stops, and a note beside each meeting of how it is held.
use super::plan::{CAUTIONS, held_words, panel_words};
use super::words::spoken;
use crate::ask::plan::Part;
use crate::ask::trip::{Trip, TripDay};
use crate::calendar::Planned;

/// Events of all days.
pub fn plan_events(trip: &Trip) -> Vec<Planned> {
    trip.days.iter().flat_map(events).collect()
}

fn events(day: &TripDay) -> Vec<Planned> {
    let chosen = &day.plan.chosen;
    let mut out: Vec<Planned> = chosen.parts.iter().map(part).collect();
    for m in &chosen.meetings {
        out.push(Planned {
            uid: format!("how-{}-{}@waymask.invalid", m.start.unix_s(), out.len()),
            summary: format!("How to hold: {}", m.name),
            description: Some(format!("{}.\n{}", held_words(m), CAUTIONS[0])),
            location: Some(m.places().collect::<Vec<_>>().join(", then ")).filter(|places| !places.is_empty()),
            categories: vec![m.kind.name().to_owned()],
            start: m.start.0.timestamp(),
            end: m.end.0.timestamp(),
            ..Planned::default()
        });
    }
    out
}

fn part(part: &Part) -> Planned {
    match part {
        Part::Drive { from, to, from_km, to_km, outage_s, .. } => Planned {
            uid: format!("drive-{}@waymask.invalid", from.unix_s()),
            summary: format!("Drive km {from_km:.1} to {to_km:.1}"),
            description: Some(format!(
                "Expected without a link: {}.\n{}\n{}",
                spoken(*outage_s),
                CAUTIONS[0],
                CAUTIONS[CAUTIONS.len() - 1]
            )),
            start: from.0.timestamp(),
            end: to.0.timestamp(),
            busy: true,
            ..Planned::default()
        },
        Part::Stop { from, to, place, why, meeting } => Planned {
            uid: format!("stop-{}@waymask.invalid", from.unix_s()),
            summary: meeting.as_ref().map_or_else(|| format!("Stop: {why}"), |m| format!("Stop for {m}")),
            description: Some(format!("{}.\n{}\n{}", panel_words(place), CAUTIONS[1], CAUTIONS[2])),
            location: Some(place.name.clone()),
            place_deg: Some((place.lat_deg, place.lon_deg)),
            start: from.0.timestamp(),
            end: to.0.timestamp(),
            ..Planned::default()
        },
    }
}
