//! Which layers a road joins.
use std::collections::HashMap;

use super::piece::WayPiece;
use crate::base::error::Result;
use crate::layer::model::NodeRow;
use crate::layer::{Bounds, Layer};

/// Which layers are joined: by a piece that two hold, by one that follows another, or by a node of the map.
#[derive(Debug)]
pub(super) struct LayerLinks {
    /// The group of each layer.
    groups: Vec<usize>,
    nodes: HashMap<i64, usize>,
}

impl LayerLinks {
    /// Of layers of which nothing is known.
    pub fn new(layers: usize) -> Self {
        Self { groups: (0..layers).collect(), nodes: HashMap::new() }
    }
    fn link(&mut self, a: usize, b: usize) {
        let (from, to) = (self.groups[a].max(self.groups[b]), self.groups[a].min(self.groups[b]));
        self.groups.iter_mut().filter(|g| **g == from).for_each(|g| *g = to);
    }
    /// Notes the pieces of a way, and the nodes at which its edges end; whether each of these is new.
    pub fn note(&mut self, pieces: &[WayPiece], nodes: Vec<NodeRow>) -> Vec<NodeRow> {
        for piece in pieces {
            piece.also.iter().for_each(|row| self.link(piece.taken.layer, row.layer));
        }
        for pair in pieces.windows(2).filter(|w| w[0].end() == w[1].start()) {
            self.link(pair[0].taken.layer, pair[1].taken.layer);
        }
        let mut new = Vec::new();
        for row in nodes {
            let at_end = |p: &&WayPiece| p.start() == row.at || p.end() == row.at;
            let layer = pieces.iter().find(at_end).map_or(0, |p| p.taken.layer);
            match self.nodes.get(&row.node_id) {
                Some(before) => self.link(*before, layer),
                None => {
                    self.nodes.insert(row.node_id, layer);
                    new.push(row);
                }
            }
        }
        new
    }
    /// Looks for common nodes in all of the layers where those copied are joined by none.
    ///
    /// # Errors
    /// A layer cannot be read.
    pub fn look_farther(&mut self, layers: &[Layer]) -> Result<()> {
        for a in 0..layers.len() {
            for b in a + 1..layers.len() {
                if self.groups[a] != self.groups[b] && touch(&layers[a], &layers[b])? {
                    self.link(a, b);
                }
            }
        }
        Ok(())
    }
    /// Layers that no road joins with the first.
    pub fn apart(&self) -> Vec<usize> {
        let first = self.groups.first().copied();
        (0..self.groups.len()).filter(|nth| Some(self.groups[*nth]) != first).collect()
    }
}

/// Whether two layers share a node of the map, or a place where a road is cut at the line of a district.
fn touch(a: &Layer, b: &Layer) -> Result<bool> {
    let (Some(of_a), Some(of_b)) = (a.extent()?, b.extent()?) else { return Ok(false) };
    let Some(both) = common(of_a, of_b) else { return Ok(false) };
    let rows: Vec<NodeRow> = a.rows_in(&[both])?;
    let places: std::collections::HashSet<_> = rows.iter().map(|n| n.at).collect();
    let there: Vec<NodeRow> = b.rows_in(&[both])?;
    Ok(there.iter().any(|n| places.contains(&n.at)))
}

/// The box that two share.
fn common(a: Bounds, b: Bounds) -> Option<Bounds> {
    let [a_west, a_east, a_south, a_north] = a.degrees();
    let [b_west, b_east, b_south, b_north] = b.degrees();
    let (west, south) = (a_west.max(b_west), a_south.max(b_south));
    let (east, north) = (a_east.min(b_east), a_north.min(b_north));
    (west <= east && south <= north).then(|| Bounds::from_deg(west, south, east, north))
}
