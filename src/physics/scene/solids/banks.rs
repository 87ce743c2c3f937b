//! Cuttings beside roads, as the map tags them on the road itself: a side, and no depth.
//!
//! In: segments of roads tagged `cutting`, and the depth and slope the profile assumes. Out: one-sided edges along
//! the upper rim of each bank, in the plane of the cell. Their height counts from the road, not from the ground, so that
//! a bank an elevation raster shows as well is not counted twice: a mask takes the higher of both. Where the
//! raster is fine enough to show banks, it alone is believed. Embankments add nothing: the road stands higher than the land
//! beside it, which could only open the sky, by an amount no tag tells.
use super::edge::{NOTHING_M, SolidEdge};
use crate::base::geodesy::Point;
use crate::base::window::Elevation;
use crate::base::words::{Case, PerCase};
use crate::map::extract::model::Road;
use crate::map::network::model::Segment;
use crate::physics::scene::vicinity::Vicinity;
use crate::profile::{Cases, Roadside};

/// From the edge of the carriageway to the foot of the bank, metres: shoulder and ditch; assumed.
const TO_FOOT_M: f64 = 1.5;
/// The same in a hollow way, whose banks begin where the wheels pass; assumed.
const TO_HOLLOW_FOOT_M: f64 = 0.5;
/// Horizontal run of the bank of a hollow way over its height: worn in, steeper than anything dug; assumed.
const HOLLOW_SLOPE: f64 = 0.3;
/// Rasters with pixels up to this show a bank themselves, metres: about the width of a bank of the default depth.
const FINE_PIXEL_M: f64 = 5.0;
/// A rim is never farther out at a bend than this times its distance from a straight road.
const LONGEST_MITRE: f64 = 2.0;

/// Upper rims of the banks of all cuttings near a window: one for all cases, or one for each where depth or slope differ.
pub(crate) fn bank_edges(around: &Vicinity, elevation: Option<&Elevation>, cases: &Cases) -> Vec<SolidEdge> {
    let mut edges = Vec::new();
    for segment in around.segments() {
        let Some(road) = around.road(segment) else {
            continue;
        };
        let sides = road.cutting;
        if !(sides.left || sides.right) || segment.bridge || segment.tunnel.is_some() {
            continue;
        }
        let line = around.line(&segment.line);
        if line.iter().all(|p| shows_banks(elevation, *p)) {
            continue;
        }
        for (rim_m, heights_m) in rims(road, segment, cases) {
            if sides.left {
                edges.extend(rim(&beside(&line, -rim_m), rim_m, heights_m));
            }
            if sides.right {
                // Drawn the other way, the road lies right of this rim as well.
                let mut right = beside(&line, rim_m);
                right.reverse();
                edges.extend(rim(&right, rim_m, heights_m));
            }
        }
    }
    edges
}

/// Distances of the rims from the middle of their road, each with its heights, metres.
fn rims(road: &Road, segment: &Segment, cases: &Cases) -> Vec<(f64, PerCase<f64>)> {
    let of_case = |case: Case| &cases.profile(case).roadside;
    let at_m = PerCase::of(|case| rim_m(road, segment, of_case(case)));
    let depth_m = |case: Case| of_case(case).cutting_depth_m;
    if at_m.best == at_m.likely && at_m.worst == at_m.likely {
        return vec![(at_m.likely, PerCase::of(depth_m))];
    }
    let alone = |case: Case| PerCase::of(|c| if c == case { depth_m(case) } else { NOTHING_M });
    [Case::Best, Case::Likely, Case::Worst].map(|case| (at_m[case], alone(case))).to_vec()
}

/// Whether the elevation at a place is fine enough to show the banks of a road.
fn shows_banks(elevation: Option<&Elevation>, p: Point) -> bool {
    let finest = elevation.and_then(|e| e.grids.iter().find(|g| g.height_m(p).is_some()));
    finest.is_some_and(|g| g.pixel_m <= FINE_PIXEL_M)
}

/// From the middle of the road to the rim of its bank, metres.
fn rim_m(road: &Road, segment: &Segment, roadside: &Roadside) -> f64 {
    let half_m = f64::from(segment.section.width_m.value) / 2.0;
    let (to_foot_m, slope) =
        if road.hollow_way { (TO_HOLLOW_FOOT_M, HOLLOW_SLOPE) } else { (TO_FOOT_M, roadside.cutting_slope) };
    half_m + to_foot_m + slope * roadside.cutting_depth_m
}

/// Edges of a rim `out_m` from the middle of its road.
fn rim(line: &[Point], out_m: f64, heights_m: PerCase<f64>) -> Vec<SolidEdge> {
    let edge = |pair: &[Point]| SolidEdge {
        a: pair[0],
        b: pair[1],
        heights_m,
        base_z_m: None,
        right_only: true,
        seen_within_m: 2.0 * out_m,
        building: None,
        assumed: true,
    };
    line.windows(2).map(edge).collect()
}

/// A line beside another, `out_m` to the right of it (negative: left).
fn beside(line: &[Point], out_m: f64) -> Vec<Point> {
    let headings: Vec<f64> =
        line.windows(2).filter(|w| w[0].distance_m(w[1]) > 0.0).map(|w| w[0].azimuth_deg(w[1])).collect();
    let corners: Vec<Point> = distinct(line);
    let (Some(first), Some(last)) = (headings.first(), headings.last()) else {
        return Vec::new();
    };
    let moved = |(i, p): (usize, &Point)| {
        let before_deg = *headings.get(i.wrapping_sub(1)).unwrap_or(first);
        let after_deg = *headings.get(i).unwrap_or(last);
        let half_turn_deg = crate::base::geodesy::turn_deg(before_deg, after_deg) / 2.0;
        let mitre = (1.0 / half_turn_deg.to_radians().cos().abs().max(f64::MIN_POSITIVE)).min(LONGEST_MITRE);
        p.moved(before_deg + half_turn_deg + 90.0, out_m * mitre)
    };
    corners.iter().enumerate().map(moved).collect()
}

/// A line without repeated places.
fn distinct(line: &[Point]) -> Vec<Point> {
    let mut corners: Vec<Point> = line.to_vec();
    corners.dedup_by(|a, b| a.distance_m(*b) <= 0.0);
    corners
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rim_keeps_its_distance_from_a_bent_road() {
        let road = [Point::new(0.0, 0.0), Point::new(0.0, 50.0), Point::new(0.0, 50.0), Point::new(50.0, 50.0)];
        let (left, right) = (beside(&road, -10.0), beside(&road, 10.0));
        let expect = |line: &[Point], want: [(f64, f64); 3]| {
            for (p, (x, y)) in line.iter().zip(want) {
                assert!(p.distance_m(Point::new(x, y)) < 1e-9, "{line:?}");
            }
            assert_eq!(line.len(), 3);
        };
        expect(&left, [(-10.0, 0.0), (-10.0, 60.0), (50.0, 60.0)]);
        expect(&right, [(10.0, 0.0), (10.0, 40.0), (50.0, 40.0)]);
        assert!(beside(&[Point::new(1.0, 1.0), Point::new(1.0, 1.0)], 5.0).is_empty());
    }
}
