//! From stretches of lanes driven to pieces with the figures of their direction.
use std::collections::HashMap;

use super::model::Piece;
use crate::ask::matching::{Matched, Step};
use crate::ask::road_name::road_name;
use crate::base::geodesy::{LocalPlane, Position, distance_m};
use crate::base::words::Direction;
use crate::layer::model::{Driven, SegmentRow};

/// A shorter piece at the end of a drive is scatter of its last point, not driving, metres.
const TOUCHED_M: f64 = 1.0;

/// The pieces of a drive whose segments are known.
pub(super) fn pieces(matched: &Matched, segments: &HashMap<i64, SegmentRow>) -> Vec<Piece> {
    let mut done_m = 0.0;
    let mut out = Vec::with_capacity(matched.steps.len());
    for step in matched.steps.iter().filter(|s| s.length_m() >= TOUCHED_M) {
        let Some(s) = segments.get(&step.segment_id) else { continue };
        let piece = piece(step, s, done_m);
        done_m += piece.length_m;
        out.push(piece);
    }
    out
}

fn piece(step: &Step, s: &SegmentRow, done_m: f64) -> Piece {
    // A lane the matcher knows is driven, unless the layer contradicts itself; then it is as the segment as a whole.
    let one_way = s.driven[Direction::of(step.forward)].unwrap_or(Driven {
        rating: s.rating,
        rating_best: s.rating_best,
        rating_worst: s.rating_worst,
        outage_share_best: s.outage_share_best,
        outage_share_worst: s.outage_share_worst,
        outage_p95_s: s.outage_p95_s,
        main_cause: s.main_cause,
        ..Driven::default()
    });
    let (best_s, worst_s) = ends_s(&one_way);
    let share = if s.length_m > 0.0 { (step.length_m() / s.length_m).min(1.0) } else { 0.0 };
    let line = driven(step, &s.line);
    let at = line.first().copied().unwrap_or_default();
    Piece {
        segment_id: s.segment_id,
        forward: step.forward,
        way_id: s.way_id,
        part: s.part,
        from_m: step.from_m,
        at_km: done_m / 1e3,
        lon_deg: at.lon_deg(),
        lat_deg: at.lat_deg(),
        road: road_name(s),
        length_m: step.length_m(),
        time_s: share * one_way.time_s,
        outage_s: share * one_way.outage_s,
        outage_best_s: share * best_s,
        outage_worst_s: worst_s.map(|worst_s| share * worst_s),
        beyond: [one_way.beyond_blips, one_way.beyond_gaps, one_way.beyond_drops].map(|n| share * n),
        running: [one_way.running_blips, one_way.running_gaps, one_way.running_drops],
        outage_p95_s: one_way.outage_p95_s,
        rating: one_way.rating,
        rating_best: one_way.rating_best,
        rating_worst: one_way.rating_worst,
        cause: one_way.main_cause,
        open_share: s.open_share,
        evidence: s.evidence,
        overhang: s.overhang_reason,
        maxheight_m: s.maxheight_m,
        drive: step.drive,
        enter_s: step.enter_s,
        line,
    }
}

/// Seconds without a link at best and at worst. Shares are kept to 0.0001 and seconds to 0.001: where the shares of a direction
/// agree its seconds do, and best and worst never change places with what is likely.
fn ends_s(driven: &Driven) -> (f64, Option<f64>) {
    if driven.outage_share_worst == Some(driven.outage_share_best) {
        return (driven.outage_s, Some(driven.outage_s));
    }
    let seconds = |share: f64| share * driven.time_s;
    let worst_s = driven.outage_share_worst.map(|worst| seconds(worst).max(driven.outage_s));
    (seconds(driven.outage_share_best).min(driven.outage_s), worst_s)
}

/// The part of a line that a step drives.
fn driven(step: &Step, line: &[Position]) -> Vec<Position> {
    let line: Vec<Position> = if step.forward { line.to_vec() } else { line.iter().rev().copied().collect() };
    let mut out = Vec::new();
    let mut done_m = 0.0;
    for pair in line.windows(2) {
        let step_m = distance_m(pair[0], pair[1]);
        let end_m = done_m + step_m;
        if end_m >= step.from_m && done_m <= step.to_m && step_m > 0.0 {
            let plane = LocalPlane::at_position(pair[0]);
            let (a, b) = (plane.to_plane(pair[0]), plane.to_plane(pair[1]));
            let at = |m: f64| plane.to_position(a.towards(b, ((m - done_m) / step_m).clamp(0.0, 1.0)));
            for p in [at(step.from_m), at(step.to_m)] {
                if out.last() != Some(&p) {
                    out.push(p);
                }
            }
        }
        done_m = end_m;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seconds_keep_the_order_that_rounded_shares_have() {
        // 0.12344 of 10 s, stored as 0.1234 and 1.234 s: no range where the shares agree.
        let driven = |best: f64, worst: Option<f64>| Driven {
            time_s: 10.0,
            outage_s: 1.234_4,
            outage_share_best: best,
            outage_share_worst: worst,
            ..Driven::default()
        };
        assert_eq!(ends_s(&driven(0.1234, Some(0.1234))), (1.234_4, Some(1.234_4)));
        assert_eq!(ends_s(&driven(0.1235, Some(0.1240))), (1.234_4, Some(1.24)));
        assert_eq!(ends_s(&driven(0.1, Some(0.1233))), (1.0, Some(1.234_4)));
        assert_eq!(ends_s(&driven(0.1234, None)).1, None);
    }
}
