//! A way as stretches of lanes driven, the same that a matched track gives.
use std::collections::HashMap;

use super::journey::EdgePath;
use super::snap::RouteSpot;
use super::table::{EdgeTable, RouteEdge};
use crate::ask::matching::{Matched, Step};
use crate::layer::model::SegmentRow;

/// Segments of edges in the order driven, by id of the edge.
pub type Segments = HashMap<i64, Vec<SegmentRow>>;

/// The way from spot to spot; each leg is a drive of its own number. There are no times and nothing is unmatched.
pub fn matched(table: &EdgeTable, way: &EdgePath, spots: &[&RouteSpot], segments: &Segments) -> Matched {
    let mut steps: Vec<Step> = Vec::new();
    for (drive, (leg, ends)) in (0..).zip(way.legs.iter().zip(spots.windows(2))) {
        for (i, edge) in leg.iter().enumerate() {
            let at_m = |spot: &RouteSpot| spot.lanes.iter().find(|l| l.edge == *edge).map(|l| l.at_m);
            let from_m = if i == 0 { at_m(ends[0]) } else { None }.unwrap_or(0.0);
            let to_m = if i + 1 == leg.len() { at_m(ends[1]) } else { None }.unwrap_or(f64::INFINITY);
            let edge = table.edge(*edge);
            let rows = segments.get(&edge.id).map_or(&[][..], Vec::as_slice);
            steps.extend(driven(edge, rows, from_m, to_m, drive));
        }
    }
    Matched { track_m: steps.iter().map(Step::length_m).sum(), steps, ..Matched::default() }
}

/// The part of an edge between two distances from its start, metres.
fn driven(edge: &RouteEdge, rows: &[SegmentRow], from_m: f64, to_m: f64, drive: u32) -> Vec<Step> {
    let mut done_m = 0.0;
    let mut steps = Vec::new();
    for row in rows {
        let (low_m, high_m) = ((from_m - done_m).max(0.0), (to_m - done_m).min(row.length_m));
        if high_m > low_m {
            let step = Step {
                segment_id: row.segment_id,
                forward: edge.forward,
                from_m: low_m,
                to_m: high_m,
                drive,
                enter_s: None,
                leave_s: None,
            };
            steps.push(step);
        }
        done_m += row.length_m;
    }
    steps
}
