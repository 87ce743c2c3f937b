//! Which edges serve only the ends of a drive.
//!
//! Roads marked `destination` or `private` may not be driven through. Open roads that can only be reached over such roads
//! (the streets inside a gate) do not lead anywhere else either, and must not lock in whoever starts there: so everything
//! outside the largest strongly connected part of the open roads (of each connected part of the network) counts as local.
use std::collections::HashMap;

use petgraph::Directed;
use petgraph::algo::kosaraju_scc;
use petgraph::graph::{Graph, NodeIndex};
use petgraph::unionfind::UnionFind;

use super::model::{Edge, Network};
use crate::base::district::Reach;
use crate::base::geodesy::Position;
use crate::base::index::{JunctionIndex, RoadIndex, SegmentIndex};
use crate::base::words::{Direction, RoadAccess};
use crate::map::extract::model::Road;

/// One edge, as far as it matters here.
#[derive(Debug, Clone, Copy)]
pub struct JunctionPair {
    /// Where it begins.
    pub from: JunctionIndex,
    /// Where it ends.
    pub to: JunctionIndex,
    /// Everybody may drive through.
    pub open: bool,
}

/// For each edge between `nodes` junctions whether it is local; one of them may stand for the world outside.
pub fn local(nodes: usize, edges: &[JunctionPair], outside: Option<JunctionIndex>) -> Vec<bool> {
    let main = main_parts(nodes, edges, outside);
    edges.iter().map(|e| !(e.open && main[e.from.at()] && main[e.to.at()])).collect()
}

/// For each edge of a network whether it is local, with every edge in use. Junctions are numbered as they come up, which
/// decides between parts of equal size. All places beyond `near` are one junction, the world outside: whoever gets there can
/// go on, and the part of the open roads that it belongs to is the largest, however little of it is in this network.
pub(crate) fn of_network(network: &Network, roads: &[Road], near: &Reach) -> Vec<bool> {
    let mut numbers: HashMap<i64, JunctionIndex> = HashMap::new();
    let outside = JunctionIndex::new(0);
    let mut number = |node: i64, at: Option<&Position>| {
        let next = JunctionIndex::new(numbers.len() + 1);
        *numbers.entry(node).or_insert(if at.is_none_or(|at| near.holds(*at)) { next } else { outside })
    };
    let open = |road: RoadIndex| roads[road.at()].access == RoadAccess::Open;
    let pair = |e: &Edge| {
        let [begin, end] = ends(network, e);
        JunctionPair { from: number(e.from_node, begin), to: number(e.to_node, end), open: open(e.road) }
    };
    let pairs: Vec<JunctionPair> = network.edges.iter().map(pair).collect();
    local(numbers.len() + 1, &pairs, pairs.iter().any(|p| p.from == outside || p.to == outside).then_some(outside))
}

/// Where an edge begins and ends.
pub fn ends<'n>(network: &'n Network, edge: &Edge) -> [Option<&'n Position>; 2] {
    let line = |segment: &SegmentIndex| network.segments[segment.at()].line.as_slice();
    let (first, last) = (edge.segments.first().map(line), edge.segments.last().map(line));
    match edge.direction {
        Direction::Forward => [first.and_then(<[_]>::first), last.and_then(<[_]>::last)],
        Direction::Backward => [first.and_then(<[_]>::last), last.and_then(<[_]>::first)],
    }
}

/// Whether each junction lies in the largest part of open roads of its network.
fn main_parts(nodes: usize, edges: &[JunctionPair], outside: Option<JunctionIndex>) -> Vec<bool> {
    let mut whole = UnionFind::<usize>::new(nodes);
    let mut open = Graph::<(), (), Directed, u32>::with_capacity(nodes, edges.len());
    (0..nodes).for_each(|_| {
        open.add_node(());
    });
    for edge in edges {
        whole.union(edge.from.at(), edge.to.at());
        if edge.open {
            open.add_edge(NodeIndex::new(edge.from.at()), NodeIndex::new(edge.to.at()), ());
        }
    }
    let parts = kosaraju_scc(&open);
    // Largest part by network; of equal ones the one with the lowest junction, whatever the order they are found in.
    let mut best: Vec<Option<(usize, std::cmp::Reverse<usize>, usize)>> = vec![None; nodes];
    for (number, part) in parts.iter().enumerate() {
        let Some(lowest) = part.iter().map(|n| n.index()).min() else { continue };
        let network = whole.find(lowest);
        let leads_out = outside.is_some_and(|outside| part.iter().any(|n| n.index() == outside.at()));
        let size = if leads_out { usize::MAX } else { part.len() };
        let candidate = (size, std::cmp::Reverse(lowest), number);
        best[network] = best[network].max(Some(candidate));
    }
    let mut main = vec![false; nodes];
    for (_, _, number) in best.into_iter().flatten() {
        parts[number].iter().for_each(|n| main[n.index()] = true);
    }
    main
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(from: usize, to: usize, open: bool) -> JunctionPair {
        JunctionPair { from: JunctionIndex::new(from), to: JunctionIndex::new(to), open }
    }

    fn both(a: usize, b: usize, open: bool) -> [JunctionPair; 2] {
        [one(a, b, open), one(b, a, open)]
    }

    #[test]
    fn streets_inside_a_gate_are_local_and_a_second_network_has_its_own_middle() {
        // 0-1-2 open; 2-3 private; 3-4 open inside; 5-6 open elsewhere.
        let edges =
            [both(0, 1, true), both(1, 2, true), both(2, 3, false), both(3, 4, true), both(5, 6, true)].concat();
        let want = [false, false, false, false, true, true, true, true, false, false];
        assert_eq!(local(7, &edges, None), want);
        // Where the second network leads out of sight, its part of two counts more than another of three.
        let edges = [both(0, 1, true), both(1, 2, true), both(2, 3, false), both(3, 4, true)].concat();
        let inside = [true, true, true, true, true, true, false, false];
        assert_eq!(local(5, &edges, Some(JunctionIndex::new(4))), inside);
    }

    #[test]
    fn a_one_way_stub_is_local_which_harms_nobody() {
        let edges = [both(0, 1, true).to_vec(), vec![one(1, 2, true)]].concat();
        assert_eq!(local(3, &edges, None), [false, false, true]);
    }
}
