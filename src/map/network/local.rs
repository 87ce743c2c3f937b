//! Which edges serve only the ends of a drive.
//!
//! Roads marked `destination` or `private` may not be driven through. Open roads that can only be reached over such roads
//! (the streets inside a gate) do not lead anywhere else either, and must not lock in whoever starts there: so everything
//! outside the largest strongly connected part of the open roads (of each connected part of the network) counts as local.
use std::collections::HashMap;

use petgraph::Directed;
use petgraph::algo::kosaraju_scc;
use petgraph::graph::Graph;
use petgraph::unionfind::UnionFind;

use super::model::Network;
use crate::base::index::RoadIndex;
use crate::base::words::RoadAccess;
use crate::map::extract::model::Road;

/// One edge: where it begins and ends, and whether everybody may drive through.
pub(crate) type Passage = (u32, u32, bool);

/// For each edge between `nodes` junctions whether it is local.
pub fn local(nodes: usize, edges: &[Passage]) -> Vec<bool> {
    let main = main_parts(nodes, edges);
    edges.iter().map(|(from, to, open)| !(*open && main[*from as usize] && main[*to as usize])).collect()
}

/// For each edge of a network whether it is local, with every edge in use. Junctions are numbered as they come up, which
/// decides between parts of equal size.
pub(crate) fn of_network(network: &Network, roads: &[Road]) -> Vec<bool> {
    let mut numbers: HashMap<i64, u32> = HashMap::new();
    let mut number = |node: i64| {
        let next = numbers.len() as u32;
        *numbers.entry(node).or_insert(next)
    };
    let open = |road: RoadIndex| roads[road.at()].access == RoadAccess::Open;
    let passages: Vec<Passage> =
        network.edges.iter().map(|e| (number(e.from_node), number(e.to_node), open(e.road))).collect();
    local(numbers.len(), &passages)
}

/// Whether each junction lies in the largest part of open roads of its network.
fn main_parts(nodes: usize, edges: &[Passage]) -> Vec<bool> {
    let mut whole = UnionFind::<u32>::new(nodes);
    let mut open = Graph::<(), (), Directed, u32>::with_capacity(nodes, edges.len());
    (0..nodes).for_each(|_| {
        open.add_node(());
    });
    for (from, to, through) in edges {
        whole.union(*from, *to);
        if *through {
            open.add_edge((*from).into(), (*to).into(), ());
        }
    }
    let parts = kosaraju_scc(&open);
    // Largest part by network; of equal ones the one with the lowest junction, whatever the order they are found in.
    let mut best: Vec<Option<(usize, std::cmp::Reverse<usize>, usize)>> = vec![None; nodes];
    for (number, part) in parts.iter().enumerate() {
        let Some(lowest) = part.iter().map(|n| n.index()).min() else { continue };
        let network = whole.find(lowest as u32) as usize;
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

    fn both(a: u32, b: u32, open: bool) -> [Passage; 2] {
        [(a, b, open), (b, a, open)]
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
        let edges = [both(0, 1, true).to_vec(), vec![(1, 2, true)]].concat();
        assert_eq!(local(3, &edges), [false, false, true]);
    }
}
