//! One way, from all layers that hold some of it.
use super::cut::joined;
use super::edges::{EdgeCounts, HeldEdge, HeldEdges, edges};
use super::piece::{OverlapTally, RowOf, WayPiece};
use crate::base::error::Result;
use crate::base::words::Direction;
use crate::layer::Layer;
use crate::layer::model::{EdgeRow, NodeRow};

/// A way that was joined.
pub(super) struct JoinedWay {
    pub pieces: Vec<WayPiece>,
    pub edges: Vec<EdgeRow>,
    pub nodes: Vec<NodeRow>,
}

/// Joins a way.
///
/// # Errors
/// A layer cannot be read.
pub(super) fn joined_way(
    layers: &[Layer],
    way_id: i64,
    (counts, tally): (&mut EdgeCounts, &mut OverlapTally),
) -> Result<JoinedWay> {
    let mut held = HeldEdges::new();
    let mut pieces: Vec<WayPiece> = Vec::new();
    for (nth, layer) in layers.iter().enumerate() {
        let rows = layer.segments_of_way(way_id)?;
        if rows.is_empty() {
            continue;
        }
        let of_row = |row| -> Result<WayPiece> {
            let nodes = layer.way_nodes(&row)?.nodes;
            let taken = RowOf { layer: nth, id: row.segment_id };
            Ok(WayPiece { row, nodes, taken, is_whole: true, also: Vec::new() })
        };
        let own = rows.into_iter().map(of_row).collect::<Result<Vec<_>>>()?;
        for row in layer.edges_of_way(way_id)? {
            let direction = Direction::of(row.forward);
            let is_of = |p: &&WayPiece| p.row.driven[direction].is_some_and(|d| d.edge == row.edge_id);
            let segments = own.iter().filter(is_of).count();
            held.insert(RowOf { layer: nth, id: row.edge_id }, HeldEdge { row, segments });
        }
        pieces = if pieces.is_empty() { own } else { joined(pieces, own, tally) };
    }
    let (edges, nodes) = edges(&mut pieces, &held, counts);
    Ok(JoinedWay { pieces, edges, nodes })
}
