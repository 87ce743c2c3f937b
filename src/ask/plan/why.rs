//! What on the road decides each meeting of the day chosen.
use super::held::{Held, Itinerary};
use super::verdict::FallsInto;
use crate::ask::corridor::{Corridor, DrivenOutage};

/// Says of each meeting of the chosen day what on the road decides: the worst outage that falls into it where it is held in
/// motion, else the one that would fall into it on a day without a stop for it.
pub(super) fn say_why(chosen: &mut Itinerary, others: &[Itinerary], corridor: &Corridor) {
    for nth in 0..chosen.meetings.len() {
        let own = &chosen.meetings[nth];
        let as_held = worst(own, corridor).map(|outage| falls_into(outage, true));
        let otherwise = || {
            let same = |m: &&Held| m.uid == own.uid && m.name == own.name && m.start == own.start;
            let driven = others.iter().filter_map(|day| day.meetings.iter().find(same));
            driven.filter_map(|m| worst(m, corridor)).next().map(|outage| falls_into(outage, false))
        };
        let why = as_held.or_else(otherwise);
        chosen.meetings[nth].falls_into = why;
    }
}

/// The outage of the road driven during a meeting that is longest in 95 of 100 drives, where it is longer than the meeting's kind tolerates.
fn worst<'a>(held: &Held, corridor: &'a Corridor) -> Option<&'a DrivenOutage> {
    let touched = |o: &&DrivenOutage| {
        let roads = held.main_parts().into_iter().filter_map(|part| part.road_km);
        roads.into_iter().any(|(from_km, to_km)| o.at_km < to_km && o.to_km > from_km)
    };
    let long = corridor.outages.iter().filter(|o| o.outage_p95_s > held.stands_s).filter(touched);
    // The first of equals.
    long.reduce(|worst, o| if o.outage_p95_s > worst.outage_p95_s { o } else { worst })
}

fn falls_into(outage: &DrivenOutage, as_held: bool) -> FallsInto {
    FallsInto {
        as_held,
        at_km: outage.at_km,
        lat_deg: outage.lat_deg,
        lon_deg: outage.lon_deg,
        road: outage.road.clone(),
        cause: outage.cause,
        outage_p95_s: outage.outage_p95_s,
    }
}
