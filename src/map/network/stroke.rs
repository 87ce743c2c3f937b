//! Joins edges into strokes: what a driver who stays on the same road drives without stopping.
use std::collections::HashMap;

use super::model::{Edge, Network, Stroke};
use crate::base::geodesy::{LocalPlane, turn_deg};
use crate::base::index::{EdgeIndex, SegmentIndex};
use crate::base::words::Direction;
use crate::map::extract::model::Road;

/// Turns sharper than this end a stroke unless the road keeps its name or reference, degrees.
const STRAIGHT_ON_DEG: f64 = 45.0;
/// Turns sharper than this always end a stroke, degrees (hairpins have nodes of their own).
const SHARPEST_DEG: f64 = 100.0;
/// Longest stroke, metres, so that one simulated drive needs bounded memory.
const LONGEST_M: f64 = 30_000.0;

/// Heading of an edge at its start and at its end, degrees.
fn headings_deg(network: &Network, edge: &Edge) -> (f64, f64) {
    let of = |segment: SegmentIndex, last: bool| {
        let line = &network.segments[segment.at()].line;
        let at_end = last == (edge.direction == Direction::Forward);
        let (a, b) = if at_end { (line[line.len() - 2], line[line.len() - 1]) } else { (line[0], line[1]) };
        let plane = LocalPlane::at_position(a);
        let (a, b) = (plane.to_plane(a), plane.to_plane(b));
        match edge.direction {
            Direction::Forward => a.azimuth_deg(b),
            Direction::Backward => b.azimuth_deg(a),
        }
    };
    (of(edge.segments[0], false), of(edge.segments[edge.segments.len() - 1], true))
}

/// How badly `next` continues `edge`; `None` if it does not. Lower is better.
fn misfit(edge: &Edge, next: &Edge, turn: f64, roads: &[Road]) -> Option<f64> {
    let back = next.to_node == edge.from_node && next.road == edge.road && next.direction != edge.direction;
    let (a, b) = (&roads[edge.road.at()], &roads[next.road.at()]);
    let same = |x: &Option<Box<str>>, y: &Option<Box<str>>| x.is_some() && x == y;
    let same_road = a.id == b.id || same(&a.reference, &b.reference) || same(&a.name, &b.name);
    let allowed_deg = if same_road { SHARPEST_DEG } else { STRAIGHT_ON_DEG };
    let boards = a.class.is_boarded() != b.class.is_boarded();
    if back || boards || turn.abs() > allowed_deg || (!same_road && a.class != b.class) {
        return None;
    }
    let class = if a.class == b.class && a.link == b.link { 0.0 } else { 60.0 };
    Some(turn.abs() + class + if same_road { 0.0 } else { 180.0 })
}

/// For every edge the one that continues it: at each node the best pairs first, each edge once.
fn successors(network: &Network, roads: &[Road]) -> Vec<Option<EdgeIndex>> {
    let headings: Vec<(f64, f64)> = network.edges.iter().map(|e| headings_deg(network, e)).collect();
    let mut leaving: HashMap<i64, Vec<EdgeIndex>> = HashMap::new();
    for (i, edge) in EdgeIndex::numbered(&network.edges) {
        leaving.entry(edge.from_node).or_default().push(i);
    }
    let mut pairs = Vec::new();
    for (i, edge) in EdgeIndex::numbered(&network.edges) {
        for &j in leaving.get(&edge.to_node).map_or(&[][..], Vec::as_slice) {
            let turn = turn_deg(headings[i.at()].1, headings[j.at()].0);
            if let Some(misfit) = misfit(edge, &network.edges[j.at()], turn, roads) {
                pairs.push((misfit, i, j));
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    let mut next = vec![None; network.edges.len()];
    let mut taken = vec![false; network.edges.len()];
    for (_, i, j) in pairs {
        if next[i.at()].is_none() && !taken[j.at()] {
            next[i.at()] = Some(j);
            taken[j.at()] = true;
        }
    }
    next
}

/// The strokes of a network: every edge is in exactly one, in the order it is driven.
pub fn strokes(network: &Network, roads: &[Road]) -> Vec<Stroke> {
    let next = successors(network, roads);
    let mut has_before = vec![false; next.len()];
    for j in next.iter().flatten() {
        has_before[j.at()] = true;
    }
    let mut done = vec![false; next.len()];
    let mut out = Vec::new();
    // Beginnings first; what is left then are loops, opened at their first edge.
    let starts = (0..next.len()).filter(|i| !has_before[*i]).chain((0..next.len()).filter(|i| has_before[*i]));
    for start in starts {
        if !done[start] {
            follow(network, &next, start, &mut done, &mut out);
        }
    }
    out
}

/// Follows one stroke from an edge, starting a new one where it grows too long.
fn follow(network: &Network, next: &[Option<EdgeIndex>], start: usize, done: &mut [bool], out: &mut Vec<Stroke>) {
    let mut stroke = Stroke { steps: Vec::new() };
    let mut length_m = 0.0;
    let mut at = Some(EdgeIndex::new(start));
    while let Some(i) = at.filter(|i| !done[i.at()]) {
        let edge = &network.edges[i.at()];
        done[i.at()] = true;
        if length_m + edge.length_m > LONGEST_M && !stroke.steps.is_empty() {
            out.push(std::mem::replace(&mut stroke, Stroke { steps: Vec::new() }));
            length_m = 0.0;
        }
        stroke.steps.extend(edge.segments.iter().map(|s| (*s, edge.direction)));
        length_m += edge.length_m;
        at = next[i.at()];
    }
    out.push(stroke);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::RoadClass;
    use crate::map::network::test_roads::{build_anywhere, road_along};

    fn with_strokes(roads: &[Road]) -> Network {
        build_anywhere(roads)
    }

    #[test]
    fn a_stroke_runs_straight_through_a_junction_and_side_roads_begin_their_own() {
        let mut roads = vec![
            road_along(1, RoadClass::Primary, &[(1, 0.0, 0.0), (2, 100.0, 0.0)]),
            road_along(2, RoadClass::Primary, &[(2, 100.0, 0.0), (3, 200.0, 5.0)]),
            road_along(3, RoadClass::Primary, &[(2, 100.0, 0.0), (4, 100.0, 80.0)]),
        ];
        roads[0].reference = Some("V1".into());
        roads[1].reference = Some("V1".into());
        let n = with_strokes(&roads);
        assert_eq!(n.strokes.len(), 4, "{:?}", n.strokes);
        let [first, second] = [0, 1].map(SegmentIndex::new);
        assert!(n.strokes.contains(&Stroke { steps: vec![(first, Direction::Forward), (second, Direction::Forward)] }));
        assert!(
            n.strokes.contains(&Stroke { steps: vec![(second, Direction::Backward), (first, Direction::Backward)] })
        );
    }

    #[test]
    fn every_direction_of_every_segment_is_in_one_stroke_even_on_loops() {
        let mut ring = road_along(
            1,
            RoadClass::Tertiary,
            &[(1, 0.0, 0.0), (2, 90.0, 90.0), (3, 180.0, 0.0), (4, 90.0, -90.0), (1, 0.0, 0.0)],
        );
        ring.oneway = crate::map::extract::model::Oneway::Forward;
        ring.roundabout = true;
        let roads = vec![ring, road_along(2, RoadClass::Tertiary, &[(3, 180.0, 0.0), (5, 900.0, 0.0)])];
        let n = with_strokes(&roads);
        let mut seen: Vec<_> = n.strokes.iter().flat_map(|c| c.steps.clone()).collect();
        seen.sort();
        let mut want: Vec<_> = n.edges.iter().flat_map(|e| e.segments.iter().map(|s| (*s, e.direction))).collect();
        want.sort();
        assert_eq!(seen, want);
    }
}
