//! One way, from all layers that hold some of it.
use super::cut::joined;
use super::edges::{EdgeCounts, HeldEdges, edges};
use super::piece::{OverlapTally, RowOf, WayPiece};
use crate::base::error::Result;
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
        held.extend(layer.edges_of_way(way_id)?.into_iter().map(|e| (RowOf { layer: nth, id: e.edge_id }, e)));
        pieces = if pieces.is_empty() { own } else { joined(pieces, own, tally) };
    }
    let (edges, nodes) = edges(&mut pieces, &held, counts);
    Ok(JoinedWay { pieces, edges, nodes })
}
