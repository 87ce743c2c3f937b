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
use crate::base::index::{JunctionIndex, RoadIndex};
use crate::base::words::RoadAccess;
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

/// For each edge between `nodes` junctions whether it is local.
pub fn local(nodes: usize, edges: &[JunctionPair]) -> Vec<bool> {
    let main = main_parts(nodes, edges);
    edges.iter().map(|e| !(e.open && main[e.from.at()] && main[e.to.at()])).collect()
}

/// For each edge of a network whether it is local, with every edge in use. Junctions are numbered as they come up, which
/// decides between parts of equal size.
pub(crate) fn of_network(network: &Network, roads: &[Road]) -> Vec<bool> {
    let mut numbers: HashMap<i64, JunctionIndex> = HashMap::new();
    let mut number = |node: i64| {
        let next = JunctionIndex::new(numbers.len());
        *numbers.entry(node).or_insert(next)
    };
    let open = |road: RoadIndex| roads[road.at()].access == RoadAccess::Open;
    let pair = |e: &Edge| JunctionPair { from: number(e.from_node), to: number(e.to_node), open: open(e.road) };
    let pairs: Vec<JunctionPair> = network.edges.iter().map(pair).collect();
    local(numbers.len(), &pairs)
}

/// Whether each junction lies in the largest part of open roads of its network.
fn main_parts(nodes: usize, edges: &[JunctionPair]) -> Vec<bool> {
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
        let candidate = (part.len(), std::cmp::Reverse(lowest), number);
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
        assert_eq!(local(7, &edges), want);
    }

    #[test]
    fn a_one_way_stub_is_local_which_harms_nobody() {
        let edges = [both(0, 1, true).to_vec(), vec![one(1, 2, true)]].concat();
        assert_eq!(local(3, &edges), [false, false, true]);
    }
}
