//! Places beside the road of a day: which of them can be reached from it, and at which a plan may halt.
use std::collections::HashSet;

use crate::ask::corridor::Corridor;
use crate::ask::plan::{Halt, Stopping};
use crate::ask::search::Towns;
use crate::ask::stops::{StopNear, beside, near};
use crate::base::error::Result;
use crate::base::words::{Direction, Highway, RoadClass, StandsOn, StopKind, Words};
use crate::layer::Layer;
use crate::layer::model::SegmentRow;

/// Places where the night may be spent.
pub(super) const OVERNIGHT: [StopKind; 3] = [StopKind::CampSite, StopKind::CampPitch, StopKind::CaravanSite];
/// Places of a motorway, which its ramps lead to.
const OF_MOTORWAYS: [StopKind; 2] = [StopKind::Services, StopKind::RestArea];
/// Roads that may be divided, so that their other side is out of reach.
const DIVIDED: [RoadClass; 4] = [RoadClass::Motorway, RoadClass::Trunk, RoadClass::Primary, RoadClass::Secondary];

/// Places beside a road that can be reached from it, as passed.
pub(super) fn reachable(layer: &Layer, drive: &Corridor, stopping: &Stopping) -> Result<Vec<StopNear>> {
    let rows = beside(layer, &drive.pieces, stopping.within_m)?;
    let segments: HashSet<i64> = drive.pieces.iter().map(|p| p.segment_id).collect();
    let mut out = Vec::new();
    let towns = Towns::around(layer, rows.iter().map(|row| row.at))?;
    for stop in near(&drive.pieces, &rows, stopping.within_m, stopping.reach_m) {
        let Ok(own) = rows.binary_search_by_key(&stop.stop_id, |row| row.stop_id) else { continue };
        let at_km = stop.at_km.unwrap_or(0.0);
        let passed = drive.pieces.partition_point(|p| p.at_km <= at_km).saturating_sub(1);
        let left = drive.pieces.get(passed).map(|p| layer.segment(p.segment_id)).transpose()?.flatten();
        let beside = layer.segment_of(&rows[own])?;
        if segments.contains(&beside.segment_id) || reached(stop.kind, left.as_ref(), Some(&beside)) {
            let town = towns.near(rows[own].at);
            out.push(StopNear { town, ..stop });
        }
    }
    Ok(out)
}

/// The places at which a plan may halt.
pub(super) fn halts(stops: &[StopNear]) -> Vec<Halt> {
    stops.iter().filter(|s| may_halt(s)).map(halt).collect()
}

/// Whether a place that does not lie on the road driven can be reached from it: the other carriageway of a divided road
/// cannot, and from a motorway nothing but what its ramps lead to.
fn reached(kind: StopKind, left: Option<&SegmentRow>, beside: Option<&SegmentRow>) -> bool {
    let one_way = |s: &SegmentRow| Direction::BOTH.iter().any(|d| s.driven[*d].is_none());
    let class = |s: &SegmentRow| s.highway.class();
    let ramp = beside.is_some_and(|s| s.highway.is_link());
    if OF_MOTORWAYS.contains(&kind) && ramp {
        return true;
    }
    let motorway = left.is_some_and(|s| class(s) == RoadClass::Motorway || class(s) == RoadClass::Trunk && one_way(s));
    let other_side = beside.is_some_and(|s| one_way(s) && DIVIDED.contains(&class(s)));
    !motorway && !other_side
}

/// A plan halts at places where a vehicle may stand: a viewpoint only where the map has parking at it.
pub(super) fn may_halt(stop: &StopNear) -> bool {
    stop.may_stop && (stop.kind != StopKind::Viewpoint || stop.stands_on == StandsOn::Aisle)
}

/// What a place without a name is called: `parking near Quay Road`, `parking near a track`.
fn unnamed(stop: &StopNear) -> String {
    let class = Highway::parse(&stop.road).map(|class| class.phrase());
    let article = |road: &str| if road.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    let road = class.map_or_else(|| stop.road.clone(), |road| format!("{} {road}", article(&road)));
    format!("{} near {road}", stop.kind.spoken())
}

/// As a plan halts there.
pub(super) fn halt(stop: &StopNear) -> Halt {
    Halt {
        stop_id: stop.stop_id,
        name: stop.name.clone().unwrap_or_else(|| unnamed(stop)),
        kind: stop.kind,
        town: stop.town.clone(),
        lon_deg: stop.lon_deg,
        lat_deg: stop.lat_deg,
        at_km: stop.at_km.unwrap_or(0.0),
        off_road_m: stop.off_road_m,
        roofed: stop.roofed.may_be(),
        roof: stop.roofed,
        overnight: OVERNIGHT.contains(&stop.kind),
        meetings: stop.kind != StopKind::Fuel,
        open_share: stop.open_share,
        best_m: stop.best_distance_m,
        best_bearing_deg: stop.best_bearing_deg,
        best_open_share: stop.best_open_share,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::plan::DayEnd;
    use crate::base::words::{PerDirection, Roofed};
    use crate::layer::model::{Driven, StopRow};

    fn road(highway: Highway, two_way: bool) -> SegmentRow {
        let backward = two_way.then(Driven::default);
        let driven = PerDirection { forward: Some(Driven::default()), backward };
        SegmentRow { highway, driven, ..SegmentRow::default() }
    }

    /// A station of which no roof is known was proposed for breaks and stood for at the ends of a day.
    #[test]
    fn a_roof_that_is_not_known_counts_as_one() {
        let stop = |roofed| {
            let row = StopRow { kind: StopKind::Fuel, roofed, open_share: 0.95, ..StopRow::default() };
            halt(&StopNear::of(&row, 30.0))
        };
        let places = [Roofed::Yes, Roofed::No, Roofed::Unknown].map(stop);
        assert_eq!(places.each_ref().map(|h| h.roofed), [true, false, true]);
        assert!(places.iter().all(|h| !h.meetings));
        let end = |h: &Halt| DayEnd::at(0.0, std::slice::from_ref(h), Some(0.9)).place().is_some();
        assert_eq!(places.each_ref().map(end), [true, true, false], "its sky is not known");
    }

    #[test]
    fn what_a_motorway_does_not_lead_to_is_out_of_reach() {
        let motorway = road(Highway::Motorway, false);
        let from_it = |kind, beside: SegmentRow| reached(kind, Some(&motorway), Some(&beside));
        assert!(from_it(StopKind::Services, road(Highway::MotorwayLink, false)));
        assert!(
            !from_it(StopKind::Parking, road(Highway::Residential, true))
                && !from_it(StopKind::Services, road(Highway::Residential, true))
        );
        assert!(!from_it(StopKind::RestArea, road(Highway::Motorway, false)), "the other carriageway");
        let street = road(Highway::Secondary, true);
        let from_street = |beside: SegmentRow| reached(StopKind::Parking, Some(&street), Some(&beside));
        assert!(from_street(road(Highway::Residential, true)) && from_street(road(Highway::Residential, false)));
        assert!(!from_street(road(Highway::Primary, false)) && from_street(road(Highway::Tertiary, true)));
    }
}
