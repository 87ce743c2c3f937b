//! One way, from all layers that hold some of it.
use std::collections::HashMap;

use super::cut::joined;
use super::edges::{EdgeCounts, HeldEdge, HeldEdges, edges};
use super::piece::{OverlapTally, RowOf, WayPiece};
use crate::base::error::{Error, Result};
use crate::base::geodesy::{Position, distance_m};
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
    let mut places: NodePlaces = HashMap::new();
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
        check_places(layers, nth, &own, &mut places)?;
        pieces = if pieces.is_empty() { own } else { joined(pieces, own, tally) };
    }
    let (edges, nodes) = edges(&mut pieces, &held, counts);
    Ok(JoinedWay { pieces, edges, nodes })
}

/// The layer that first has a node, and where.
type NodePlaces = HashMap<i64, (usize, Position)>;

/// A node that is moved on the map goes no farther than this, metres; beyond it two maps mean different nodes by one number.
const MOVED_M: f64 = 1_000.0;

/// Refuses layers in which the nodes of a way lie at other places: roads would be joined that do not join.
fn check_places(layers: &[Layer], nth: usize, own: &[WayPiece], places: &mut NodePlaces) -> Result<()> {
    for piece in own {
        for node in &piece.nodes {
            let Some(at) = piece.row.line.get(node.vertex as usize).copied() else { continue };
            let (other, before) = *places.entry(node.id).or_insert((nth, at));
            let apart_m = distance_m(before, at);
            if other != nth && apart_m > MOVED_M {
                let [a, b] = [other, nth].map(|n| layers[n].path().display().to_string());
                let fact = format!(
                    "cannot be asked together with {a}: node {} of the map lies {:.0} km apart in them (way {})",
                    node.id,
                    apart_m / 1e3,
                    piece.row.way_id
                );
                let next = "build both from extracts with the ids of the map itself; one of them was numbered anew";
                return Err(Error::failed(b, fact, next));
            }
        }
    }
    Ok(())
}
