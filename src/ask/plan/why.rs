//! What on the road decides each meeting of the day chosen.
use super::held::{Held, Itinerary};
use super::verdict::FallsInto;
use crate::ask::corridor::{Corridor, DrivenOutage};
use crate::base::words::DayWay;

/// Says of each meeting of the chosen day what on the road decides: the worst outage that falls into it where it is held in
/// motion, else the one that would fall into it on the day as asked.
pub(super) fn say_why(chosen: &mut Itinerary, others: &[Itinerary], corridor: &Corridor) {
    for nth in 0..chosen.meetings.len() {
        let own = &chosen.meetings[nth];
        let as_held = worst(own, corridor).map(|outage| falls_into(outage, true));
        let otherwise = || {
            let asked = others.iter().find(|day| day.name == DayWay::AsAsked)?;
            let same = asked.meetings.iter().find(|m| m.is_same(own))?;
            worst(same, corridor).map(|outage| falls_into(outage, false))
        };
        let why = as_held.or_else(otherwise);
        chosen.meetings[nth].falls_into = why;
    }
}

/// A part of an outage that falls into a meeting.
struct OutageInside<'a> {
    outage: &'a DrivenOutage,
    /// Kilometres driven before that part.
    at_km: f64,
    /// What 95 of 100 drives do not exceed of it, seconds.
    p95_s: f64,
}

/// The outage of the road driven during a meeting of which most falls into it, where that is more than the meeting's kind tolerates.
fn worst<'a>(held: &Held, corridor: &'a Corridor) -> Option<OutageInside<'a>> {
    let roads: Vec<(f64, f64)> = held.main_parts().into_iter().filter_map(|part| part.road_km).collect();
    let inside = |outage: &'a DrivenOutage| {
        let clipped = |(from_km, to_km): &(f64, f64)| (outage.at_km.max(*from_km), outage.to_km.min(*to_km));
        let (from_km, to_km) = roads.iter().map(clipped).find(|(a, b)| a < b)?;
        let share = (to_km - from_km) / (outage.to_km - outage.at_km).max(1e-9);
        Some(OutageInside { outage, at_km: from_km, p95_s: outage.outage_p95_s.min(share.min(1.0) * outage.time_s) })
    };
    let long = corridor.outages.iter().filter_map(inside).filter(|part| part.p95_s > held.stands_s);
    // The first of equals.
    long.reduce(|worst, part| if part.p95_s > worst.p95_s { part } else { worst })
}

fn falls_into(part: OutageInside, as_held: bool) -> FallsInto {
    let outage = part.outage;
    FallsInto {
        as_held,
        at_km: part.at_km,
        lat_deg: outage.lat_deg,
        lon_deg: outage.lon_deg,
        road: outage.road.clone(),
        cause: outage.cause,
        outage_p95_s: part.p95_s,
    }
}
