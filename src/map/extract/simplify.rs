//! Shapes of the backdrop with fewer corners: enough for a map of a valley, at a fraction of the bytes.
use geo::{Coord, LineString, SimplifyIdx};

use super::area::{Area, Ring};
use super::crossing::first_crossing;
use crate::base::geodesy::{LocalPlane, Position};

/// How far a shape may move, metres.
pub(crate) const TOLERANCE_M: f64 = 10.0;
/// The same of an area, as a share of the side of a square of its size: corners are cut off more than added, and a pond that lost
/// 10 m all around would lose a tenth of itself. With this, areas stay within about one per cent.
pub(crate) const TOLERANCE_SHARE: f64 = 0.005;
/// Areas and islands in them that are smaller are left out, square metres.
pub(crate) const LEAST_AREA_M2: f64 = 2_000.0;
/// Most corners of one shape, all rings together: as many as a layer may hold.
const MOST_CORNERS: usize = 1_000_000;
/// Corners simplified at a time: the algorithm calls itself, at worst once for each.
const RUN: usize = 1_000;
/// Times the tolerance with which it is tried again where a ring came to cross itself.
const FINER: [f64; 3] = [1.0, 0.25, 0.06];
/// Times the tolerance where a shape has too many corners.
const COARSER: f64 = 4.0;
/// Half a turn around the earth, 1e-7 degrees.
const HALF_TURN_E7: u32 = 1_800_000_000;

/// An area with fewer corners, its outer ring counter-clockwise and its holes clockwise. Nothing where it is too small, or
/// crosses 180 degrees, where maps and the boxes of layers end.
pub(crate) fn simplified_area(area: &Area) -> Option<Area> {
    let ground_m2 = area.ground_m2();
    let crosses_180 = std::iter::once(&area.outer).chain(&area.inners).any(|ring| jumps(ring));
    if ground_m2 < LEAST_AREA_M2 || crosses_180 {
        return None;
    }
    moved_by(area, TOLERANCE_M.min(TOLERANCE_SHARE * ground_m2.sqrt()))
}

/// An area of which the shore moves by some metres at most, and less where a ring would come to cross itself.
fn moved_by(area: &Area, tolerance_m: f64) -> Option<Area> {
    let rings = || std::iter::once(&area.outer).chain(&area.inners);
    let plane = LocalPlane::at_position(*area.outer.first()?);
    let mut kept = Vec::with_capacity(1 + area.inners.len());
    for (index, ring) in rings().enumerate() {
        let points = projected(plane, ring);
        let twice_m2 = twice_m2(&points);
        if index == 0 || twice_m2.abs() >= 2.0 * LEAST_AREA_M2 {
            let turned = (twice_m2 > 0.0) == (index > 0);
            kept.push(FlatRing { ring, points, turned });
        }
    }
    let mut coarse_m = tolerance_m;
    let mut first = with_tolerance(&kept, coarse_m)?;
    while corners(&first) > MOST_CORNERS {
        coarse_m *= COARSER;
        first = with_tolerance(&kept, coarse_m)?;
    }
    let finer = FINER.iter().map(|times| with_tolerance(&kept, coarse_m * times));
    let sound = finer.flatten().find(|area| corners(area) <= MOST_CORNERS && !crosses(plane, area));
    // One that crosses itself as it is drawn does so with fewer corners, too.
    Some(sound.unwrap_or(first))
}

/// A line with fewer corners, in the same direction between the same ends. Nothing where nothing is left of it, or where it
/// crosses 180 degrees.
pub(crate) fn simplified_line(line: &[Position]) -> Option<Vec<Position>> {
    let first = *line.first()?;
    if jumps(line) {
        return None;
    }
    let points = projected(LocalPlane::at_position(first), line);
    let mut kept: Vec<Position> = kept(&points, TOLERANCE_M).into_iter().map(|i| line[i]).collect();
    kept.dedup();
    let is_ring = kept.first() == kept.last();
    (kept.len() >= if is_ring { 4 } else { 2 }).then_some(kept)
}

/// A ring on the plane.
struct FlatRing<'a> {
    ring: &'a Ring,
    points: Vec<Coord<f64>>,
    /// Whether it is drawn the other way round.
    turned: bool,
}

fn projected(plane: LocalPlane, line: &[Position]) -> Vec<Coord<f64>> {
    line.iter().map(|p| plane.to_plane(*p)).map(|p| Coord { x: p.x_m, y: p.y_m }).collect()
}

fn twice_m2(ring: &[Coord<f64>]) -> f64 {
    ring.windows(2).map(|w| w[0].x * w[1].y - w[1].x * w[0].y).sum()
}

fn jumps(line: &[Position]) -> bool {
    line.windows(2).any(|w| w[0].lon_e7.abs_diff(w[1].lon_e7) > HALF_TURN_E7)
}

fn corners(area: &Area) -> usize {
    area.outer.len() + area.inners.iter().map(Vec::len).sum::<usize>()
}

fn crosses(plane: LocalPlane, area: &Area) -> bool {
    let rings = std::iter::once(&area.outer).chain(&area.inners);
    first_crossing(&rings.map(|ring| LineString(projected(plane, ring))).collect::<Vec<_>>()).is_some()
}

/// Nothing where the outer ring vanishes.
fn with_tolerance(rings: &[FlatRing], tolerance_m: f64) -> Option<Area> {
    let simple = |flat: &FlatRing| {
        let mut ring: Ring = kept(&flat.points, tolerance_m).into_iter().map(|i| flat.ring[i]).collect();
        ring.dedup();
        if flat.turned {
            ring.reverse();
        }
        (ring.len() >= 4).then_some(ring)
    };
    let (outer, inners) = rings.split_first()?;
    Some(Area { outer: simple(outer)?, inners: inners.iter().filter_map(simple).collect() })
}

/// Which points stay, by their index: the first and the last among them.
fn kept(points: &[Coord<f64>], tolerance_m: f64) -> Vec<usize> {
    let last = points.len().saturating_sub(1);
    let (mut all, mut from) = (Vec::new(), 0);
    while from < last {
        let to = (from + RUN).min(last);
        let run = LineString(points[from..=to].to_vec()).simplify_idx(tolerance_m);
        // The last of a run is the first of the next.
        all.extend(run.iter().map(|i| from + i).filter(|i| *i < to));
        from = to;
    }
    all.extend((!points.is_empty()).then_some(last));
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Point;

    fn ring(plane: LocalPlane, corners: &[(f64, f64)]) -> Ring {
        corners.iter().map(|(x, y)| plane.to_position(Point::new(*x, *y))).collect()
    }

    fn circle(plane: LocalPlane, radius_m: f64, corners: u32) -> Ring {
        let at = |k: u32| {
            let turn = std::f64::consts::TAU * f64::from(k % corners) / f64::from(corners);
            (radius_m * turn.cos(), radius_m * turn.sin())
        };
        ring(plane, &(0..=corners).map(at).collect::<Vec<_>>())
    }

    fn signed_m2(plane: LocalPlane, ring: &[Position]) -> f64 {
        twice_m2(&projected(plane, ring)) / 2.0
    }

    #[test]
    fn a_round_lake_keeps_its_area_and_an_island_its_hole() {
        let plane = LocalPlane::at(10.0, 46.0);
        let mut island = circle(plane, 200.0, 700);
        // Drawn either way round.
        island.reverse();
        let small = circle(plane, 20.0, 30);
        let drawn = Area { outer: circle(plane, 1_000.0, 3_500), inners: vec![island, small] };
        let simple = simplified_area(&drawn).unwrap();
        // By closed form: a chord that strays 8.7 m (half a per cent of the side) from a circle of 1 km spans 2 acos(0.9913), so
        // at least 23 corners.
        assert!((23..60).contains(&simple.outer.len()), "{}", simple.outer.len());
        let share = simple.ground_m2() / (std::f64::consts::PI * (1e6 - 4e4));
        assert!((0.985..1.0).contains(&share), "{share}");
        assert_eq!(simple.inners.len(), 1, "an island of 1,257 square metres is left out");
        assert!(signed_m2(plane, &simple.outer) > 0.0 && signed_m2(plane, &simple.inners[0]) < 0.0);
        assert!(simple.outer.iter().all(|at| drawn.outer.contains(at)), "corners stay where they are");
        for ring in std::iter::once(&simple.outer).chain(&simple.inners) {
            assert!(ring.len() >= 4 && ring.first() == ring.last());
        }
    }

    #[test]
    fn what_is_small_or_crosses_180_degrees_is_left_out() {
        let plane = LocalPlane::at(10.0, 46.0);
        let square = |plane, half_m: f64| Area {
            outer: ring(
                plane,
                &[(-half_m, -half_m), (half_m, -half_m), (half_m, half_m), (-half_m, half_m), (-half_m, -half_m)],
            ),
            inners: Vec::new(),
        };
        assert!(simplified_area(&square(plane, 22.0)).is_none());
        assert!(simplified_area(&square(plane, 23.0)).is_some());
        let strip = ring(plane, &[(0.0, 0.0), (500.0, 0.0), (500.0, 8.0), (0.0, 8.0), (0.0, 0.0)]);
        let strip = Area { outer: strip, inners: Vec::new() };
        assert_eq!(simplified_area(&strip).unwrap().outer.len(), 5, "a narrow river stays");
        assert!(moved_by(&strip, TOLERANCE_M).is_none(), "but not if it may move by more than its width");
        assert!(simplified_area(&square(LocalPlane::at(180.0, 10.0), 500.0)).is_none());
        assert!(simplified_area(&Area::default()).is_none());
    }

    #[test]
    fn a_ring_that_would_cross_itself_is_simplified_less() {
        let plane = LocalPlane::at(10.0, 46.0);
        // A thin cape runs from the south shore into a dent of 9 m in the north shore, which would be cut off.
        let shore = [
            (0.0, 0.0),
            (490.0, 0.0),
            (499.0, 305.0),
            (501.0, 305.0),
            (510.0, 0.0),
            (1_000.0, 0.0),
            (1_000.0, 300.0),
            (510.0, 309.0),
            (490.0, 309.0),
            (0.0, 300.0),
            (0.0, 0.0),
        ];
        let drawn = Area { outer: ring(plane, &shore), inners: Vec::new() };
        assert!(!crosses(plane, &drawn));
        let coarse: Ring =
            kept(&projected(plane, &drawn.outer), TOLERANCE_M).into_iter().map(|i| drawn.outer[i]).collect();
        assert!(crosses(plane, &Area { outer: coarse, inners: Vec::new() }), "else this shows nothing");
        assert!(!crosses(plane, &moved_by(&drawn, TOLERANCE_M).unwrap()));
    }

    #[test]
    fn lines_keep_their_ends_and_their_direction() {
        let plane = LocalPlane::at(10.0, 46.0);
        let wave: Vec<(f64, f64)> = (0..=5_000).map(|k| (f64::from(k) * 10.0, 8.0 * f64::from(k % 2))).collect();
        let drawn = ring(plane, &wave);
        let simple = simplified_line(&drawn).unwrap();
        assert_eq!((simple.first(), simple.last()), (drawn.first(), drawn.last()));
        assert!(simple.len() < 10 && simple.is_sorted_by_key(|at| at.lon_e7), "{}", simple.len());
        assert!(simplified_line(&circle(plane, 4.0, 12)).is_none(), "a rock");
        assert!(simplified_line(&circle(plane, 100.0, 120)).unwrap().len() >= 4);
        assert_eq!(simplified_line(&[]), None);
    }

    #[test]
    fn a_line_that_calls_for_every_corner_does_not_go_too_deep() {
        // Each corner strays farther than the one behind it, so that the algorithm parts one corner from the rest, over and over.
        let points: Vec<Coord<f64>> = (0..300_000)
            .map(|k| Coord { x: f64::from(k), y: if k % 2 == 0 { 0.0 } else { f64::from(300_000 - k) } })
            .collect();
        assert!(kept(&points, TOLERANCE_M).len() > 200_000);
    }
}
