//! Trees around one cell, pixel by pixel: square tiles of crowns, of which only those with trees exist.
//!
//! Pure storage: what stands where is decided in [`super::canopy`] and `shown`.
use std::ops::Range;

use super::crown::{Crown, HEIGHT_STEP_M};
use crate::base::geodesy::Point;
use crate::physics::scene::raster::Raster;

/// Default side of a pixel, metres.
pub const PIXEL_M: f64 = 1.0;
/// Pixels on a side of a tile.
pub(crate) const TILE: usize = 32;

/// Where map and raster do not agree on trees, near the roads of a cell, square metres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Disagreement {
    /// Trees on the map where the raster shows none.
    pub mapped_only_m2: f64,
    /// Trees in the raster where the map has none.
    pub shown_only_m2: f64,
    /// Trees in both.
    pub both_m2: f64,
}

impl Disagreement {
    /// Adds what another cell found.
    pub fn add(&mut self, other: &Self) {
        self.mapped_only_m2 += other.mapped_only_m2;
        self.shown_only_m2 += other.shown_only_m2;
        self.both_m2 += other.both_m2;
    }
}

/// Trees around one cell.
#[derive(Debug, Clone, PartialEq)]
pub struct CanopyGrid {
    raster: Raster,
    tiles_on_side: usize,
    /// Number of the tile's pixels in `crowns`, by tile; `NO_TILE` or `UNSEEN_TILE` where nothing stands.
    tile_at: Vec<u32>,
    crowns: Vec<Crown>,
    top_m: f64,
    disagreement: Disagreement,
}

/// Nothing stands in a tile.
const NO_TILE: u32 = u32::MAX;
/// Nothing ever will: it is out of sight.
const UNSEEN_TILE: u32 = u32::MAX - 1;

impl CanopyGrid {
    /// A grid without trees.
    pub(super) fn empty(raster: Raster) -> Self {
        let tiles_on_side = raster.size.div_ceil(TILE);
        let tile_at = vec![NO_TILE; tiles_on_side * tiles_on_side];
        Self { raster, tiles_on_side, tile_at, crowns: Vec::new(), top_m: 0.0, disagreement: Disagreement::default() }
    }

    /// Adds a crown to a span, making tiles as needed.
    pub(super) fn stand(&mut self, row: usize, columns: Range<usize>, crown: Crown) {
        if crown.is_none() {
            return;
        }
        for tile_x in columns.start / TILE..columns.end.div_ceil(TILE) {
            let Some(tile) = self.made_tile(tile_x, row / TILE) else { continue };
            for c in &mut self.crowns[tile_span(tile, tile_x, row, &columns)] {
                *c = c.union(crown);
            }
        }
    }

    /// Keeps trees to the tiles that are in sight; before anything stands.
    pub(super) fn keep_to(&mut self, in_sight: &[bool]) {
        for (slot, seen) in self.tile_at.iter_mut().zip(in_sight) {
            *slot = if *seen { NO_TILE } else { UNSEEN_TILE };
        }
        // Room that is not used costs nothing; growing would copy what stands, and leave holes in the heap.
        self.crowns.reserve_exact(in_sight.iter().filter(|seen| **seen).count() * TILE * TILE);
    }

    /// The tile at a place, made where there is none yet; `None` out of sight.
    fn made_tile(&mut self, tile_x: usize, tile_y: usize) -> Option<usize> {
        let slot = &mut self.tile_at[tile_y * self.tiles_on_side + tile_x];
        if *slot == UNSEEN_TILE {
            return None;
        }
        if *slot == NO_TILE {
            *slot = (self.crowns.len() / (TILE * TILE)) as u32;
            self.crowns.resize(self.crowns.len() + TILE * TILE, Crown::default());
        }
        Some(*slot as usize)
    }

    /// Number of the tile at a place; `None` where nothing stands.
    fn made(&self, tile_x: usize, tile_y: usize) -> Option<u32> {
        Some(self.tile_at[tile_y * self.tiles_on_side + tile_x]).filter(|tile| *tile < UNSEEN_TILE)
    }

    /// Sets one pixel.
    pub(super) fn put(&mut self, column: usize, row: usize, crown: Crown) {
        if let Some(tile) = self.made_tile(column / TILE, row / TILE) {
            self.crowns[tile * TILE * TILE + row % TILE * TILE + column % TILE] = crown;
        }
    }

    /// One pixel; no crown where no tile is.
    pub(crate) fn crown_at(&self, column: usize, row: usize) -> Crown {
        let tile = self.made(column / TILE, row / TILE);
        tile.map_or(Crown::default(), |tile| self.crown_in(tile, column % TILE, row % TILE))
    }

    /// Tiles on a side of the raster.
    pub(super) fn tiles_on_side(&self) -> usize {
        self.tiles_on_side
    }

    /// Column and row of every tile that exists.
    pub(super) fn tiles_standing(&self) -> Vec<(usize, usize)> {
        let there = self.tile_at.iter().enumerate().filter(|(_, tile)| **tile < UNSEEN_TILE);
        there.map(|(i, _)| (i % self.tiles_on_side, i / self.tiles_on_side)).collect()
    }

    /// Changes the crowns that stand in a span.
    pub(super) fn change(&mut self, row: usize, columns: Range<usize>, change: impl Fn(Crown) -> Crown) {
        for tile_x in columns.start / TILE..columns.end.div_ceil(TILE) {
            let Some(tile) = self.made(tile_x, row / TILE) else { continue };
            for c in &mut self.crowns[tile_span(tile as usize, tile_x, row, &columns)] {
                if !c.is_none() {
                    *c = change(*c);
                }
            }
        }
    }

    /// Notes the highest top, after everything stands.
    pub(super) fn finish(&mut self) {
        let top = self.crowns.iter().map(|c| c.top_steps()).max().unwrap_or(0);
        self.top_m = f64::from(top) * HEIGHT_STEP_M;
    }

    /// Whether nothing has been planted.
    pub(crate) fn is_bare(&self) -> bool {
        self.crowns.is_empty()
    }
    /// Notes where map and raster do not agree on trees.
    pub(super) fn disagrees(&mut self, disagreement: Disagreement) {
        self.disagreement = disagreement;
    }
    /// Where map and raster do not agree on trees, near the roads of the cell.
    pub fn disagreement(&self) -> Disagreement {
        self.disagreement
    }
    /// Highest crown top, metres above the ground.
    pub fn top_m(&self) -> f64 {
        self.top_m
    }
    /// The raster the crowns lie in.
    pub fn raster(&self) -> &Raster {
        &self.raster
    }
    /// Bytes held by its pixels.
    pub fn bytes(&self) -> usize {
        self.crowns.len() * size_of::<Crown>()
    }
    /// The crown over a plane point; `None` outside the raster or where no tree stands.
    pub fn crown(&self, p: Point) -> Option<Crown> {
        let (column, row) = self.raster.pixel_in(p)?;
        Some(self.crown_at(column, row)).filter(|crown| !crown.is_none())
    }
    /// Pixels of the tile at a place, row by row; `None` where nothing stands.
    pub(super) fn pixels(&self, tile_x: usize, tile_y: usize) -> Option<&[Crown]> {
        let start = self.made(tile_x, tile_y)? as usize * TILE * TILE;
        Some(&self.crowns[start..start + TILE * TILE])
    }
    /// A pixel of a tile that exists.
    fn crown_in(&self, tile: u32, column: usize, row: usize) -> Crown {
        self.crowns[tile as usize * TILE * TILE + row * TILE + column]
    }
}

/// Where the part of a span that lies in a tile is stored.
fn tile_span(tile: usize, tile_x: usize, row: usize, columns: &Range<usize>) -> Range<usize> {
    let start = tile * TILE * TILE + row % TILE * TILE;
    let west = tile_x * TILE;
    start + columns.start.max(west) - west..start + columns.end.min(west + TILE) - west
}
