//! Edges of a way that was joined: what each layer has of one becomes one where their segments follow each other.
use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::piece::{RowOf, WayPiece, lower};
use crate::base::geodesy::Position;
use crate::base::words::Direction;
use crate::layer::FIRST_AT_RIM;
use crate::layer::model::{EdgeRow, NodeRow};

/// An edge of a layer, and how many segments of it are there.
#[derive(Debug, Clone)]
pub(super) struct HeldEdge {
    pub row: EdgeRow,
    pub segments: usize,
}

/// Edges of the layers that were asked, by layer and id there.
pub(super) type HeldEdges = HashMap<RowOf, HeldEdge>;

/// Numbers that edges and nodes at the rim have had so far.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct EdgeCounts {
    pub edges: i64,
    pub at_rim: i64,
}

/// The edges of the pieces of a way, in their order, and where they begin and end; pieces learn which edge drives them.
pub(super) fn edges(
    pieces: &mut [WayPiece],
    held: &HeldEdges,
    counts: &mut EdgeCounts,
) -> (Vec<EdgeRow>, Vec<NodeRow>) {
    // Nodes at which some layer knows that an edge ends.
    let ends: BTreeSet<i64> =
        held.values().flat_map(|e| [e.row.from_node, e.row.to_node]).filter(|n| !is_rim(*n)).collect();
    let (mut edges, mut nodes) = (Vec::new(), Vec::new());
    let mut first = 0;
    while first < pieces.len() {
        let goes_on = |i: usize| {
            let (a, b) = (&pieces[i], &pieces[i + 1]);
            let ended = a.end_node().into_iter().chain(b.start_node()).any(|node| ends.contains(&node));
            let alike = Direction::BOTH.into_iter().all(|d| a.row.driven[d].is_some() == b.row.driven[d].is_some());
            !ended && alike && a.end() == b.start()
        };
        let end = (first..pieces.len() - 1).find(|i| !goes_on(*i)).map_or(pieces.len(), |i| i + 1);
        let group = &mut pieces[first..end];
        let last = &group[group.len() - 1];
        let [low, high] = [(group[0].start_node(), group[0].start()), (last.end_node(), last.end())]
            .map(|(node, at)| end_of(node.filter(|n| ends.contains(n)), at, counts));
        for direction in Direction::BOTH {
            let (from, to) = if direction.is_forward() { (low, high) } else { (high, low) };
            let Some(edge) = edge(group, direction, held, (from.node_id, to.node_id)) else { continue };
            counts.edges += 1;
            let edge_id = counts.edges;
            group.iter_mut().filter_map(|p| p.row.driven[direction].as_mut()).for_each(|d| d.edge = edge_id);
            edges.push(EdgeRow { edge_id, ..edge });
            nodes.extend([from, to]);
        }
        first = end;
    }
    (edges, nodes)
}

/// Whether a node is one that no map has, where an edge is cut by the rim of a layer.
fn is_rim(node: i64) -> bool {
    node < FIRST_AT_RIM
}

/// An end of an edge: its node, or one of its own where the road goes on beyond what the layers hold.
fn end_of(node: Option<i64>, at: Position, counts: &mut EdgeCounts) -> NodeRow {
    let at_rim = || {
        counts.at_rim += 1;
        FIRST_AT_RIM - counts.at_rim
    };
    NodeRow { node_id: node.unwrap_or_else(at_rim), at }
}

/// The edge that drives some pieces in a direction; nothing where that is not allowed.
fn edge(
    pieces: &[WayPiece],
    direction: Direction,
    held: &HeldEdges,
    (from_node, to_node): (i64, i64),
) -> Option<EdgeRow> {
    let id_of = |p: &WayPiece| Some(RowOf { layer: p.taken.layer, id: p.row.driven[direction]?.edge });
    // Edges of the layers, and how many pieces here are of each.
    let mut of_layers: BTreeMap<RowOf, usize> = BTreeMap::new();
    for piece in pieces {
        *of_layers.entry(id_of(piece)?).or_default() += 1;
    }
    let parts: Vec<(&HeldEdge, usize)> =
        of_layers.iter().filter_map(|(id, here)| Some((held.get(id)?, *here))).collect();
    let own = &held.get(&id_of(&pieces[0])?)?.row;
    // Local only where no layer sees it lead anywhere.
    let local = parts.iter().all(|(edge, _)| edge.row.local);
    let mut row = EdgeRow { from_node, to_node, local, ..own.clone() };
    let rows = || parts.iter().map(|(edge, _)| &edge.row);
    // The strictest of its pieces and of what the layers say of them.
    row.maxheight_m = pieces.iter().map(|p| p.row.maxheight_m).chain(rows().map(|e| e.maxheight_m)).fold(None, lower);
    row.access = rows().map(|e| e.access).max().unwrap_or(own.access);
    row.unpaved = rows().any(|e| e.unpaved);
    row.longest_outage_s = rows().map(|e| e.longest_outage_s).fold(0.0, f64::max);
    let lanes = || pieces.iter().filter_map(|p| Some((p.row.length_m, p.row.driven[direction]?)));
    let worst = lanes().map(|(_, d)| d.rating).max().unwrap_or(own.rating);
    let of_pieces = lanes().fold([0.0; 3], |sum, (m, d)| [sum[0] + m, sum[1] + d.time_s, sum[2] + d.outage_s]);
    let is_shared = pieces.iter().any(|p| !p.also.is_empty());
    let sums: [f64; 3] = if pieces.iter().all(|p| p.is_whole) && parts.iter().all(|(e, here)| e.segments == *here) {
        // What the layers added up before they rounded.
        let add = |sum: [f64; 3], e: &EdgeRow| [sum[0] + e.length_m, sum[1] + e.time_s, sum[2] + e.outage_s];
        row.rating = rows().map(|e| e.rating).max().unwrap_or(own.rating).max(worst);
        let [length_m, time_s, outage_s] = rows().fold([0.0; 3], add);
        // What another layer says worse of a piece is not in them.
        [length_m, time_s, if is_shared { outage_s.max(of_pieces[2]) } else { outage_s }]
    } else {
        row.rating = worst;
        of_pieces
    };
    [row.length_m, row.time_s, row.outage_s] = [sums[0], sums[1], sums[2].min(sums[1])];
    Some(row)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::PerDirection;
    use crate::layer::model::{Driven, SegmentRow, WayNode};

    /// Pieces 100 m long on a line; `nodes` where they begin and end, `edge` what their layer calls the edge.
    fn piece(layer: usize, part: u32, nodes: [Option<i64>; 2], edge: i64) -> WayPiece {
        let at = |n: u32| Position { lon_e7: 10_000 * n as i32, lat_e7: 0 };
        let driven = Driven { edge, time_s: 10.0, outage_s: 1.0, ..Driven::default() };
        let row = SegmentRow {
            way_id: 7,
            part,
            length_m: 111.0,
            driven: PerDirection { forward: Some(driven), backward: None },
            line: vec![at(part), at(part + 1)],
            ..SegmentRow::default()
        };
        let node = |(vertex, id): (u32, Option<i64>)| id.map(|id| WayNode { vertex, id });
        let nodes = [(0, nodes[0]), (1, nodes[1])].into_iter().filter_map(node).collect();
        WayPiece { row, nodes, taken: RowOf { layer, id: i64::from(part) }, is_whole: true, also: Vec::new() }
    }

    fn edge(layer: usize, edge_id: i64, from_node: i64, to_node: i64) -> (RowOf, HeldEdge) {
        let row = EdgeRow { edge_id, from_node, to_node, way_id: 7, forward: true, ..EdgeRow::default() };
        // Of more segments than a test has: figures are those of the pieces.
        (RowOf { layer, id: edge_id }, HeldEdge { row, segments: 9 })
    }

    #[test]
    fn halves_of_an_edge_become_whole_and_one_that_lacks_its_end_stays_cut() {
        let rim = FIRST_AT_RIM - 1;
        let held = HeldEdges::from([edge(0, 4, 10, rim), edge(1, 9, rim, 20)]);
        let mut all = vec![piece(0, 0, [Some(10), None], 4), piece(1, 1, [None, Some(20)], 9)];
        let mut counts = EdgeCounts::default();
        let (rows, _) = edges(&mut all, &held, &mut counts);
        assert_eq!((rows.len(), rows[0].from_node, rows[0].to_node), (1, 10, 20));
        assert_eq!((rows[0].time_s, rows[0].outage_s, rows[0].length_m), (20.0, 2.0, 222.0));
        assert!(all.iter().all(|p| p.row.driven.forward.map(|d| d.edge) == Some(1)));
        let mut half = vec![piece(0, 0, [Some(10), None], 4)];
        let (rows, nodes) = edges(&mut half, &held, &mut counts);
        assert_eq!((rows[0].edge_id, rows[0].from_node), (2, 10));
        assert!(is_rim(rows[0].to_node) && nodes.iter().any(|n| n.node_id == rows[0].to_node));
        // A junction that one of them knows ends an edge, though another drives on.
        let held = HeldEdges::from([edge(0, 4, 10, 30), edge(1, 9, 20, 30)]);
        let mut all = vec![piece(0, 0, [Some(10), Some(20)], 4), piece(0, 1, [Some(20), Some(30)], 4)];
        assert_eq!(edges(&mut all, &held, &mut EdgeCounts::default()).0.len(), 2);
    }
}
