//! Rings from the member ways of a multipolygon.
//!
//! In: node lists of ways in any order and direction. Out: closed rings, and which pieces stayed open.
//! Works on node ids, so it does not depend on rounding; places only decide which hole lies where.
use std::collections::HashMap;

use super::model::{Area, Ring};
use crate::base::geodesy::Position;

/// A ring of node ids, the first repeated at the end, and the ways it is made of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct IdRing {
    /// Node ids.
    pub nodes: Vec<i64>,
    /// Indices of the ways used.
    pub ways: Vec<usize>,
}

/// Joins ways into rings. Returns them with the number of chains that do not close.
///
/// A chain that comes back to a node it has already ended at closes a ring there, so rings that touch
/// in a node are kept apart.
pub(crate) fn assemble(ways: &[&[i64]]) -> (Vec<IdRing>, usize) {
    let mut rings = Vec::new();
    let mut at_end: HashMap<i64, Vec<usize>> = HashMap::new();
    let mut used = vec![false; ways.len()];
    for (index, way) in ways.iter().enumerate() {
        match **way {
            [] | [_] => used[index] = true,
            [first, .., last] if first == last => {
                used[index] = true;
                rings.push(IdRing { nodes: way.to_vec(), ways: vec![index] });
            }
            [first, .., last] => {
                at_end.entry(first).or_default().push(index);
                at_end.entry(last).or_default().push(index);
            }
        }
    }
    // Taken from the back: the way named first in the relation goes first.
    at_end.values_mut().for_each(|ways| ways.reverse());
    let mut open = 0;
    for start in 0..ways.len() {
        if !used[start] {
            open += usize::from(!follow(start, ways, &mut at_end, &mut used, &mut rings));
        }
    }
    (rings, open)
}

/// Follows ways from one of them until nothing continues; whether everything closed.
fn follow(
    start: usize,
    ways: &[&[i64]],
    at_end: &mut HashMap<i64, Vec<usize>>,
    used: &mut [bool],
    rings: &mut Vec<IdRing>,
) -> bool {
    // Pieces of the current chain: way, whether reversed, and the node it begins at.
    let mut chain: Vec<(usize, bool, i64)> = Vec::new();
    let mut begins: HashMap<i64, usize> = HashMap::new();
    let Some(&first) = ways[start].first() else {
        return true;
    };
    let mut end = first;
    let mut next = Some(start);
    while let Some(way) = next {
        used[way] = true;
        let reversed = ways[way].first() != Some(&end);
        begins.insert(end, chain.len());
        chain.push((way, reversed, end));
        end = ways[way][if reversed { 0 } else { ways[way].len() - 1 }];
        if let Some(begin) = begins.get(&end).copied() {
            let closed = chain.split_off(begin);
            closed.iter().for_each(|(_, _, from)| {
                begins.remove(from);
            });
            rings.push(ring_of(&closed, ways));
        }
        next = at_end.get_mut(&end).and_then(|candidates| {
            while candidates.last().is_some_and(|w| used[*w]) {
                candidates.pop();
            }
            candidates.pop()
        });
    }
    chain.is_empty()
}

fn ring_of(chain: &[(usize, bool, i64)], ways: &[&[i64]]) -> IdRing {
    let mut nodes: Vec<i64> = Vec::new();
    for &(way, reversed, _) in chain {
        nodes.pop();
        if reversed {
            nodes.extend(ways[way].iter().rev());
        } else {
            nodes.extend(ways[way]);
        }
    }
    IdRing { nodes, ways: chain.iter().map(|c| c.0).collect() }
}

/// Polygons from outer rings and holes. Each hole goes to the smallest outer ring around it.
/// Returns the polygons in the order of the outer rings and the number of holes in none of them.
pub(crate) fn polygons(outers: Vec<Ring>, inners: Vec<Ring>) -> (Vec<Area>, usize) {
    let sizes: Vec<f64> = outers.iter().map(|r| area_deg2(r).abs()).collect();
    let boxes: Vec<_> = outers.iter().map(|r| bounds(r)).collect();
    let mut areas: Vec<Area> = outers.into_iter().map(|outer| Area { outer, inners: Vec::new() }).collect();
    let mut stray = 0;
    for inner in inners {
        let inside = point_inside(&[&inner]);
        let around = (0..areas.len())
            .filter(|i| {
                let at = |(lon, lat)| (unwrapped_e7(&areas[*i].outer, lon), lat);
                inside.is_some_and(|p| in_bounds(&boxes[*i], at(p)) && contains(&areas[*i].outer, p))
            })
            .min_by(|a, b| sizes[*a].total_cmp(&sizes[*b]));
        match around {
            Some(index) => areas[index].inners.push(inner),
            None => stray += 1,
        }
    }
    (areas, stray)
}

/// A turn around the earth, 1e-7 degrees.
const TURN_E7: f64 = 3.6e9;

/// A longitude, 1e-7 degrees, counted without a jump from where a ring begins: beyond the antimeridian it runs on.
fn unwrapped_e7(ring: &[Position], lon_e7: f64) -> f64 {
    let from_e7 = ring.first().map_or(0.0, |p| f64::from(p.lon_e7));
    match lon_e7 - from_e7 {
        east if east > TURN_E7 / 2.0 => lon_e7 - TURN_E7,
        west if west < -TURN_E7 / 2.0 => lon_e7 + TURN_E7,
        _ => lon_e7,
    }
}

/// Lowest and highest longitude and latitude of a ring, 1e-7 degrees; spares most `contains` tests.
fn bounds(ring: &[Position]) -> [f64; 4] {
    let start = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY];
    ring.iter().fold(start, |[west, east, south, north], p| {
        let (lon, lat) = (unwrapped_e7(ring, f64::from(p.lon_e7)), f64::from(p.lat_e7));
        [west.min(lon), east.max(lon), south.min(lat), north.max(lat)]
    })
}

fn in_bounds([west, east, south, north]: &[f64; 4], (lon, lat): (f64, f64)) -> bool {
    (*west..=*east).contains(&lon) && (*south..=*north).contains(&lat)
}

/// Signed area of a ring, square degrees, counter-clockwise positive (shoelace formula).
fn area_deg2(ring: &[Position]) -> f64 {
    let Some(o) = ring.first() else { return 0.0 };
    let rel = |p: &Position| {
        let east_e7 = unwrapped_e7(ring, f64::from(p.lon_e7)) - f64::from(o.lon_e7);
        (east_e7 * 1e-7, p.lat_deg() - o.lat_deg())
    };
    ring.windows(2)
        .map(|w| {
            let ((ax, ay), (bx, by)) = (rel(&w[0]), rel(&w[1]));
            (ax * by - bx * ay) / 2.0
        })
        .sum()
}

/// Whether a place is inside a ring (even-odd rule).
pub fn contains(ring: &[Position], (lon, lat): (f64, f64)) -> bool {
    let lon = unwrapped_e7(ring, lon);
    crossings(ring, ring, lat).filter(|x| *x > lon).count() % 2 == 1
}

/// Longitudes, 1e-7 degrees, at which a ring crosses a parallel, counted from where another ring begins.
fn crossings(ring: &[Position], from: &[Position], lat: f64) -> impl Iterator<Item = f64> {
    ring.windows(2).filter_map(move |w| {
        let (ay, by) = (f64::from(w[0].lat_e7), f64::from(w[1].lat_e7));
        let [ax, bx] = [w[0], w[1]].map(|p| unwrapped_e7(from, f64::from(p.lon_e7)));
        ((ay > lat) != (by > lat)).then(|| ax + (lat - ay) / (by - ay) * (bx - ax))
    })
}

/// A place strictly inside the area of some rings (outer and holes), longitude and latitude in
/// 1e-7 degrees: the middle of the widest stretch on a parallel near the middle that meets no corner.
/// `None` for an area without extent.
pub(crate) fn point_inside(rings: &[&Ring]) -> Option<(f64, f64)> {
    let mut lats: Vec<i32> = rings.iter().flat_map(|r| r.iter().map(|p| p.lat_e7)).collect();
    lats.sort_unstable();
    lats.dedup();
    let (low, high) = (f64::from(*lats.first()?), f64::from(*lats.last()?));
    let middle = lats.partition_point(|l| f64::from(*l) <= (low + high) / 2.0);
    let (below, above) = (lats.get(middle.checked_sub(1)?)?, lats.get(middle)?);
    let lat = (f64::from(*below) + f64::from(*above)) / 2.0;
    let first = rings.first()?;
    let mut cuts: Vec<f64> = rings.iter().flat_map(|r| crossings(r, first, lat)).collect();
    cuts.sort_unstable_by(f64::total_cmp);
    let widest = cuts.chunks_exact(2).max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])))?;
    let lon = (widest[0] + widest[1]) / 2.0;
    Some((if lon.abs() > TURN_E7 / 2.0 { lon - TURN_E7 * lon.signum() } else { lon }, lat))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(points: &[(i32, i32)]) -> Ring {
        points.iter().map(|&(lon_e7, lat_e7)| Position { lon_e7, lat_e7 }).collect()
    }
    fn square(west: i32, south: i32, size: i32) -> Ring {
        let (east, north) = (west + size, south + size);
        ring(&[(west, south), (east, south), (east, north), (west, north), (west, south)])
    }

    #[test]
    fn pieces_in_any_order_and_direction_close() {
        let (rings, open) = assemble(&[&[1, 2, 3], &[1, 6, 5], &[3, 4, 5]]);
        assert_eq!(open, 0);
        assert_eq!(rings.len(), 1);
        assert_eq!(rings[0].nodes, [1, 2, 3, 4, 5, 6, 1]);
        assert_eq!(rings[0].ways, [0, 2, 1]);
    }

    #[test]
    fn open_chains_are_counted_and_closed_ones_kept() {
        let (rings, open) = assemble(&[&[1, 2], &[2, 3], &[10, 11, 12, 10], &[7]]);
        assert_eq!((rings.len(), open), (1, 1));
        assert_eq!(rings[0].nodes, [10, 11, 12, 10]);
    }

    #[test]
    fn rings_that_touch_in_a_node_stay_apart() {
        // Two triangles sharing node 1, each in two pieces.
        let (rings, open) = assemble(&[&[1, 2], &[2, 3, 1], &[1, 4], &[4, 5, 1]]);
        assert_eq!(open, 0);
        let nodes: Vec<_> = rings.iter().map(|r| r.nodes.clone()).collect();
        assert_eq!(nodes, [vec![1, 2, 3, 1], vec![1, 4, 5, 1]]);
    }

    #[test]
    fn a_spur_leaves_the_ring_and_counts_as_open() {
        let (rings, open) = assemble(&[&[9, 1], &[1, 2, 3], &[3, 1]]);
        assert_eq!((rings.len(), open), (1, 1));
        assert_eq!(rings[0].nodes, [1, 2, 3, 1]);
    }

    #[test]
    fn holes_go_to_the_outer_around_them() {
        let outers = vec![square(0, 0, 100), square(200, 0, 100), square(210, 10, 50)];
        let (areas, stray) = polygons(outers, vec![square(220, 20, 10), square(10, 10, 20), square(500, 0, 10)]);
        let holes: Vec<usize> = areas.iter().map(|a| a.inners.len()).collect();
        assert_eq!((holes, stray), (vec![1, 0, 1], 1));
    }

    #[test]
    fn a_hole_that_touches_its_outer_is_still_inside() {
        let (areas, stray) = polygons(vec![square(0, 0, 100)], vec![square(0, 0, 50)]);
        assert_eq!((areas[0].inners.len(), stray), (1, 0));
    }

    #[test]
    fn the_point_inside_avoids_holes_and_notches() {
        let u = ring(&[(0, 0), (90, 0), (90, 90), (60, 90), (60, 20), (30, 20), (30, 90), (0, 90), (0, 0)]);
        let inside = point_inside(&[&u]).expect("a U has area");
        assert!(contains(&u, inside), "{inside:?}");
        let (outer, hole) = (square(0, 0, 100), square(20, 20, 60));
        let inside = point_inside(&[&outer, &hole]).expect("a frame has area");
        assert!(contains(&outer, inside) && !contains(&hole, inside), "{inside:?}");
        assert_eq!(point_inside(&[&ring(&[(0, 0), (10, 0), (0, 0)])]), None);
    }
}
