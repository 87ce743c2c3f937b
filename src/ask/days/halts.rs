//! Places beside the road of a day: which of them can be reached from it, and at which a plan may halt.
use std::collections::HashSet;

use crate::ask::corridor::Corridor;
use crate::ask::plan::{Halt, Stopping};
use crate::ask::stops::{StopNear, beside, near};
use crate::base::error::Result;
use crate::layer::Layer;
use crate::layer::model::SegmentRow;

/// Places where the night may be spent.
const OVERNIGHT: [&str; 3] = ["camp_site", "camp_pitch", "caravan_site"];
/// Places of a motorway, which its ramps lead to.
const OF_MOTORWAYS: [&str; 2] = ["services", "rest_area"];
/// Roads that may be divided, so that their other side is out of reach.
const DIVIDED: [&str; 4] = ["motorway", "trunk", "primary", "secondary"];

/// Places beside a road that can be reached from it, as passed.
pub(super) fn reachable(layer: &Layer, drive: &Corridor, stopping: &Stopping) -> Result<Vec<StopNear>> {
    let rows = beside(layer, &drive.pieces, stopping.within_m)?;
    let segments: HashSet<i64> = drive.pieces.iter().map(|p| p.segment_id).collect();
    let mut out = Vec::new();
    for stop in near(&drive.pieces, &rows, stopping.within_m, stopping.reach_m) {
        let own = rows.binary_search_by_key(&stop.stop_id, |row| row.stop_id).map_or(0, |i| rows[i].segment_id);
        let at_km = stop.at_km.unwrap_or(0.0);
        let passed = drive.pieces.partition_point(|p| p.at_km <= at_km).saturating_sub(1);
        let left = drive.pieces.get(passed).map(|p| layer.segment(p.segment_id)).transpose()?.flatten();
        let at = layer.segment(own)?;
        if segments.contains(&own) || reached(stop.kind, left.as_ref(), at.as_ref()) {
            out.push(stop);
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
fn reached(kind: &str, left: Option<&SegmentRow>, beside: Option<&SegmentRow>) -> bool {
    let one_way = |s: &SegmentRow| s.edge_forward.is_none() || s.edge_backward.is_none();
    let class = |s: &SegmentRow| s.highway.trim_end_matches("_link").to_owned();
    let ramp = beside.is_some_and(|s| s.highway.ends_with("_link"));
    if OF_MOTORWAYS.contains(&kind) && ramp {
        return true;
    }
    let motorway = left.is_some_and(|s| class(s) == "motorway" || class(s) == "trunk" && one_way(s));
    let other_side = beside.is_some_and(|s| one_way(s) && DIVIDED.contains(&class(s).as_str()));
    !motorway && !other_side
}

/// A plan halts at places where a vehicle may stand: a viewpoint only where the map has parking at it.
fn may_halt(stop: &StopNear) -> bool {
    stop.may_stop && (stop.kind != "viewpoint" || stop.stands_on == "aisle")
}

fn halt(stop: &StopNear) -> Halt {
    Halt {
        stop_id: stop.stop_id,
        name: stop.name.clone().unwrap_or_else(|| format!("{} near {}", stop.kind.replace('_', " "), stop.road)),
        kind: stop.kind.to_owned(),
        lon_deg: stop.lon_deg,
        lat_deg: stop.lat_deg,
        at_km: stop.at_km.unwrap_or(0.0),
        off_road_m: stop.off_road_m,
        roofed: stop.roofed,
        overnight: OVERNIGHT.contains(&stop.kind),
        meetings: stop.kind != "fuel",
        open_share: stop.open_share,
        best_m: stop.best_distance_m,
        best_bearing_deg: stop.best_bearing_deg,
        best_open_share: stop.best_open_share,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn road(highway: &str, two_way: bool) -> SegmentRow {
        let edge_backward = two_way.then_some(2);
        SegmentRow { highway: highway.into(), edge_forward: Some(1), edge_backward, ..SegmentRow::default() }
    }

    #[test]
    fn what_a_motorway_does_not_lead_to_is_out_of_reach() {
        let motorway = road("motorway", false);
        let from_it = |kind, beside: SegmentRow| reached(kind, Some(&motorway), Some(&beside));
        assert!(from_it("services", road("motorway_link", false)));
        assert!(!from_it("parking", road("residential", true)) && !from_it("services", road("residential", true)));
        assert!(!from_it("rest_area", road("motorway", false)), "the other carriageway");
        let street = road("secondary", true);
        let from_street = |beside: SegmentRow| reached("parking", Some(&street), Some(&beside));
        assert!(from_street(road("residential", true)) && from_street(road("residential", false)));
        assert!(!from_street(road("primary", false)) && from_street(road("tertiary", true)));
    }
}
