//! Cuts roads at junctions and into segments of bounded length, and joins segments into edges.
use std::collections::HashMap;

use super::model::{Edge, Network, NodeOnLine, Segment};
use super::roundabout;
use super::section::cross_section;
use super::sides::{self, Sided};
use super::speed::{Setting, speed_kmh};
use super::station::middle;
use super::surroundings::Surroundings;
use crate::base::geodesy::{self, LocalPlane, Position};
use crate::base::index::{EdgeIndex, RoadIndex, SegmentIndex};
use crate::base::words::Direction;
use crate::map::extract::model::{Oneway, Road, RoadNode};
use crate::profile::{Cases, Profile};

/// How often each node is used by roads: from two on it is a junction (or a change of way).
fn node_uses(roads: &[Road]) -> HashMap<i64, u32> {
    let mut uses = HashMap::new();
    for road in roads {
        for node in &road.nodes {
            *uses.entry(node.id).or_insert(0) += 1;
        }
    }
    uses
}

/// Cuts roads into segments and edges. Strokes are added by [`super::stroke::strokes`].
pub fn cut(roads: &[Road], cases: &Cases, around: &Surroundings) -> Network {
    let profile = &cases.likely;
    let uses = node_uses(roads);
    let sides = sides::sides(roads, profile.vehicle.driving_side, around.places);
    let radii_m = roundabout::radii_m(roads);
    let mut network = Network { side_votes: sides::votes(roads, &sides), ..Network::default() };
    let (mut last_id, mut part) = (None, 0);
    for (index, road) in RoadIndex::numbered(roads) {
        if last_id != Some(road.id) {
            (last_id, part) = (Some(road.id), 0);
        }
        let way = Way { road, index, sided: sides[index.at()], radius_m: radii_m[index.at()], profile, cases, around };
        let mut first = 0;
        for i in 1..road.nodes.len() {
            let junction = uses.get(&road.nodes[i].id).is_some_and(|n| *n > 1);
            if junction || i + 1 == road.nodes.len() {
                way.add_edge(&mut network, &road.nodes[first..=i], &mut part);
                first = i;
            }
        }
    }
    network
}

/// A road with what is known of all of it.
struct Way<'a> {
    road: &'a Road,
    index: RoadIndex,
    sided: Sided,
    radius_m: Option<f64>,
    profile: &'a Profile,
    cases: &'a Cases,
    around: &'a Surroundings<'a>,
}

impl Way<'_> {
    /// Adds one stretch between junctions: its segments and one edge per direction of travel.
    fn add_edge(&self, network: &mut Network, nodes: &[RoadNode], part: &mut u32) {
        let first = network.segments.len();
        for piece in pieces(nodes, self.profile.sampling.segment_length_m) {
            network.segments.push(self.segment(piece, *part));
            *part += 1;
        }
        let ids: Vec<SegmentIndex> = (first..network.segments.len()).map(SegmentIndex::new).collect();
        let ends = (nodes[0].id, nodes[nodes.len() - 1].id);
        for direction in [Direction::Forward, Direction::Backward] {
            if !ids.iter().all(|id| network.segments[id.at()].driven(direction)) || ids.is_empty() {
                continue;
            }
            let edge_id = EdgeIndex::new(network.edges.len());
            let mut edge = Edge {
                from_node: ends.0,
                to_node: ends.1,
                road: self.index,
                direction,
                segments: ids.clone(),
                length_m: 0.0,
                time_s: 0.0,
            };
            if direction == Direction::Backward {
                (edge.from_node, edge.to_node) = (ends.1, ends.0);
                edge.segments.reverse();
            }
            for id in &ids {
                let s = &mut network.segments[id.at()];
                edge.length_m += s.length_m;
                edge.time_s += s.length_m / f64::from(s.speed_kmh(direction) / 3.6);
                match direction {
                    Direction::Forward => s.edge_forward = Some(edge_id),
                    Direction::Backward => s.edge_backward = Some(edge_id),
                }
            }
            network.edges.push(edge);
        }
    }

    /// One segment with everything the tags and defaults say about it.
    fn segment(&self, LinePiece { line, nodes }: LinePiece, part: u32) -> Segment {
        let (road, vehicle) = (self.road, &self.profile.vehicle);
        let length_m = geodesy::length_m(&line);
        let built_up = (self.around.built_up)(middle(&line));
        let setting = Setting { legal: self.sided.locale.speeds, built_up, radius_m: self.radius_m, vehicle };
        let forward = speed_kmh(road, road.maxspeed_forward, &setting);
        let backward = speed_kmh(road, road.maxspeed_backward, &setting);
        let gaps = (length_m / self.profile.sampling.station_spacing_m).ceil().max(1.0) as u32;
        Segment {
            road: self.index,
            part,
            length_m,
            forward: road.oneway != Oneway::Backward,
            backward: road.oneway != Oneway::Forward,
            section: cross_section(road, forward.value.max(backward.value), self.sided.side, self.cases),
            keeps_from: self.sided.from,
            country: self.sided.locale.country,
            speed_forward_kmh: forward,
            speed_backward_kmh: backward,
            bridge: road.bridge,
            tunnel: road.tunnel,
            edge_forward: None,
            edge_backward: None,
            stations: gaps + 1,
            line,
            nodes,
        }
    }
}

/// A piece of a line, with the nodes that lie on it.
#[derive(Default)]
struct LinePiece {
    line: Vec<Position>,
    nodes: Vec<NodeOnLine>,
}

impl LinePiece {
    /// One that begins where the line was cut.
    fn from_cut(at: Position) -> Self {
        Self { line: vec![at], nodes: Vec::new() }
    }
    /// Adds a position unless it repeats the one before.
    fn push_new(&mut self, at: Position) {
        if self.line.last() != Some(&at) {
            self.line.push(at);
        }
    }
    /// Notes a node at the last position.
    fn note(&mut self, id: i64) {
        self.nodes.push(NodeOnLine { vertex: self.line.len().saturating_sub(1) as u32, id });
    }
}

/// Cuts the line through some nodes into equal pieces of at most `longest_m`.
fn pieces(nodes: &[RoadNode], longest_m: f64) -> Vec<LinePiece> {
    let line: Vec<Position> = nodes.iter().map(|n| n.at).collect();
    let total_m = geodesy::length_m(&line);
    let count = (total_m / longest_m - 1e-9).ceil().max(1.0) as usize;
    if count == 1 {
        let nodes = (0..).zip(nodes).map(|(vertex, node)| NodeOnLine { vertex, id: node.id }).collect();
        return vec![LinePiece { line, nodes }];
    }
    let piece_m = total_m / count as f64;
    let mut out = Vec::with_capacity(count);
    let mut last = LinePiece::from_cut(line[0]);
    last.note(nodes[0].id);
    let mut done_m = 0.0;
    for pair in nodes.windows(2) {
        let (mut a, b) = (pair[0].at, pair[1].at);
        let mut left_m = geodesy::distance_m(a, b);
        while out.len() + 1 < count && done_m + left_m > piece_m * (out.len() + 1) as f64 {
            let step_m = piece_m * (out.len() + 1) as f64 - done_m;
            let cut = between(a, b, step_m / left_m);
            last.push_new(cut);
            out.push(std::mem::replace(&mut last, LinePiece::from_cut(cut)));
            (a, done_m, left_m) = (cut, done_m + step_m, left_m - step_m);
        }
        last.push_new(b);
        last.note(pair[1].id);
        done_m += left_m;
    }
    out.push(last);
    out
}

/// The position a share `t` of the way from a to b.
fn between(a: Position, b: Position, t: f64) -> Position {
    let plane = LocalPlane::at_position(a);
    plane.to_position(plane.to_plane(a).towards(plane.to_plane(b), t.clamp(0.0, 1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::{RoadClass, ValueFrom};
    use crate::map::network::test_roads::{cut_anywhere, plane, road_along};
    use crate::map::place::places::Places;

    fn total_m(network: &Network) -> f64 {
        network.segments.iter().map(|s| s.length_m).sum()
    }

    #[test]
    fn a_road_is_cut_at_junctions_and_every_250_m() {
        let roads = vec![
            road_along(1, RoadClass::Primary, &[(1, 0.0, 0.0), (2, 600.0, 0.0), (3, 700.0, 0.0)]),
            road_along(2, RoadClass::Tertiary, &[(4, 600.0, 90.0), (2, 600.0, 0.0)]),
        ];
        let n = cut_anywhere(&roads);
        assert_eq!(n.segments.len(), 3 + 1 + 1);
        assert!(n.segments.iter().all(|s| s.length_m <= 250.0 && s.line.len() >= 2));
        assert!((total_m(&n) - 790.0).abs() < 0.1, "{}", total_m(&n));
        assert_eq!(n.edges.len(), 6);
        assert_eq!((n.edges[0].from_node, n.edges[0].to_node), (1, 2));
        assert_eq!(n.edges[1].segments, [2, 1, 0].map(SegmentIndex::new));
        assert_eq!(n.segments.iter().map(|s| s.part).collect::<Vec<_>>(), vec![0, 1, 2, 3, 0]);
    }

    #[test]
    fn pieces_of_a_bent_line_keep_its_length_and_are_equal() {
        let road =
            road_along(1, RoadClass::Track, &[(1, 0.0, 0.0), (2, 300.0, 0.0), (3, 300.0, 310.0), (4, 10.0, 310.0)]);
        let pieces = pieces(&road.nodes, 250.0);
        assert_eq!(pieces.len(), 4);
        for piece in &pieces {
            assert!((geodesy::length_m(&piece.line) - 225.0).abs() < 0.1);
        }
        assert!(pieces.windows(2).all(|w| w[0].line.last() == w[1].line.first()));
    }

    /// Ids of nodes by vertex, one list for each segment.
    fn nodes_of(network: &Network) -> Vec<Vec<(u32, i64)>> {
        network.segments.iter().map(|s| s.nodes.iter().map(|n| (n.vertex, n.id)).collect()).collect()
    }

    #[test]
    fn segments_tell_the_nodes_on_their_lines_and_none_where_they_were_cut() {
        // Cut at 200 m and 400 m.
        let n = cut_anywhere(&[road_along(1, RoadClass::Track, &[(-7, 0.0, 0.0), (5, 150.0, 0.0), (6, 600.0, 0.0)])]);
        assert_eq!(n.segments.iter().map(|s| s.line.len()).collect::<Vec<_>>(), [3, 2, 2]);
        assert_eq!(nodes_of(&n), [vec![(0, -7), (1, 5)], vec![], vec![(1, 6)]]);
    }

    #[test]
    fn nodes_at_one_place_are_told_apart_also_where_the_line_drops_one() {
        let short = [(1, 0.0, 0.0), (2, 90.0, 0.0), (3, 90.0, 0.0), (4, 100.0, 0.0)];
        let n = cut_anywhere(&[road_along(1, RoadClass::Track, &short)]);
        assert_eq!(nodes_of(&n), [[(0, 1), (1, 2), (2, 3), (3, 4)]], "an uncut line repeats the position");
        let long = [(1, 0.0, 0.0), (2, 90.0, 0.0), (3, 90.0, 0.0), (4, 400.0, 0.0)];
        let n = cut_anywhere(&[road_along(1, RoadClass::Track, &long)]);
        assert_eq!(nodes_of(&n), [vec![(0, 1), (1, 2), (1, 3)], vec![(1, 4)]]);
    }

    #[test]
    fn a_cut_at_a_node_leaves_the_node_in_one_of_its_segments() {
        // 250 m and 250 m, up to how lengths are measured: the cut lies at node 2, or less than a centimetre beside it.
        let n = cut_anywhere(&[road_along(1, RoadClass::Track, &[(1, 0.0, 0.0), (2, 250.0, 0.0), (3, 500.0, 0.0)])]);
        assert_eq!(n.segments.len(), 2);
        let ids: Vec<i64> = nodes_of(&n).concat().into_iter().map(|(_, id)| id).collect();
        assert_eq!(ids, [1, 2, 3]);
        assert!(n.segments.iter().all(|s| s.nodes.iter().all(|node| (node.vertex as usize) < s.line.len())));
    }

    #[test]
    fn each_segment_of_a_road_is_built_up_or_not_by_itself() {
        let road = road_along(1, RoadClass::Primary, &[(1, 0.0, 0.0), (2, 1_000.0, 0.0)]);
        let places = Places::embedded().unwrap();
        let east = |at: Position| Some(plane().to_plane(at).x_m > 500.0);
        let around = Surroundings { places: &places, built_up: &east };
        let n = cut(&[road], &Cases::of(&Profile::default()).unwrap(), &around);
        let speeds: Vec<_> =
            n.segments.iter().map(|s| (s.speed_forward_kmh.value, s.speed_backward_kmh.from)).collect();
        let (out, inside) = ((80.0, ValueFrom::Default), (50.0, ValueFrom::BuiltUpAssumed));
        assert_eq!(speeds, [out, out, inside, inside]);
    }

    #[test]
    fn a_one_way_road_has_one_edge_and_backward_ways_run_against_their_nodes() {
        let mut r = road_along(1, RoadClass::Primary, &[(1, 0.0, 0.0), (2, 100.0, 0.0)]);
        r.oneway = Oneway::Backward;
        let n = cut_anywhere(&[r]);
        assert_eq!(n.edges.len(), 1);
        assert_eq!((n.edges[0].from_node, n.edges[0].to_node, n.edges[0].direction), (2, 1, Direction::Backward));
        assert_eq!(n.segments[0].edge_forward, None);
    }
}
