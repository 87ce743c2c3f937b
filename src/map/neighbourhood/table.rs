//! The tables themselves: what stands in every cell near a road.
use std::collections::BTreeMap;

use super::heights::TaggedHeights;
use super::squares::{CellKey, GroundBlock};
use crate::profile::MapTrust;

/// A block is built over to a certain share in steps of this much ground, square metres.
pub(super) const BUILT_STEP_M2: f64 = 16.0;
/// Blocks in a cell.
pub(super) const BLOCKS: usize = 64;

/// What one cell holds. One bit or entry for each of its blocks.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CellTable {
    /// A wood covers the middle.
    pub wood: u64,
    /// Ground without a wood covers the middle.
    pub treeless: u64,
    /// A settlement covers the middle.
    pub settled: u64,
    /// A street of houses, or a road that is lit or has a pavement, runs through.
    pub street: u64,
    /// A road runs through.
    pub road: u64,
    /// One that is neither track nor service road nor motorway nor trunk road: where these are dense there is a town.
    pub town_road: u64,
    /// Buildings, as far as 255.
    pub houses: [u8; BLOCKS],
    /// Ground under them, in steps.
    pub built_over: [u16; BLOCKS],
    /// Single trees; rows and small woods count as several.
    pub trees: u32,
}

impl Default for CellTable {
    fn default() -> Self {
        Self {
            wood: 0,
            treeless: 0,
            settled: 0,
            street: 0,
            road: 0,
            town_road: 0,
            houses: [0; BLOCKS],
            built_over: [0; BLOCKS],
            trees: 0,
        }
    }
}

/// What the map holds around every road of an extract.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Neighbourhood {
    pub(super) cells: BTreeMap<CellKey, CellTable>,
    pub(super) heights: TaggedHeights,
    pub(super) rule: MapTrust,
}

impl Neighbourhood {
    /// The cell of a block and its bit; `None` where no road is near.
    pub(super) fn bit(&self, block: GroundBlock) -> Option<(&CellTable, u64)> {
        Some((self.cells.get(&block.cell())?, 1 << block.nth()))
    }
    /// Whether a layer is set at a block.
    pub(super) fn has(&self, block: GroundBlock, layer: impl Fn(&CellTable) -> u64) -> bool {
        self.bit(block).is_some_and(|(cell, bit)| layer(cell) & bit != 0)
    }
    /// Buildings in a block.
    pub(super) fn houses(&self, block: GroundBlock) -> u32 {
        self.cells.get(&block.cell()).map_or(0, |cell| u32::from(cell.houses[block.nth()]))
    }
    /// Cells around one that exist.
    pub(super) fn cells_around(&self, of: CellKey, rows: i32) -> impl Iterator<Item = (CellKey, &CellTable)> {
        of.around(rows).filter_map(|key| Some((key, self.cells.get(&key)?)))
    }
    /// How high tagged buildings stand.
    pub fn heights(&self) -> &TaggedHeights {
        &self.heights
    }
}
