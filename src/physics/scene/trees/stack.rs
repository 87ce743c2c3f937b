//! Trees ready to be looked through: on every pixel the crowns under each of `N` assumptions, one upon the other.
//!
//! In: [`CanopyGrid`]s of one raster. Out: [`CrownStack`], through which a ray is walked once for all of them.
//! Storage that is read only: squares that hold the same all over are marked, so that a walk passes them in one step.
use super::crown::{Crown, HEIGHT_STEP_M};
use super::grid::{CanopyGrid, TILE};
use crate::base::geodesy::Point;
use crate::physics::scene::raster::Raster;

/// Pixels on a side of a block: what stands all over it alike is passed in one step.
pub(crate) const BLOCK: usize = 4;
/// Blocks on a side of a tile.
const BLOCKS: usize = TILE / BLOCK;
/// Nothing stands in a tile.
const NO_TILE: u32 = u32::MAX;

/// What stands in a block of pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct CrownBlock {
    /// Highest top, in steps.
    top: u8,
    /// The same crowns all over it, or none.
    pub even: bool,
}

impl CrownBlock {
    /// Of the pixels of a tile from the first of the block on.
    fn of<const N: usize>(pixels: &[[Crown; N]]) -> Self {
        let (mut top, mut even) = (0, true);
        let first = pixels.first().copied().unwrap_or([Crown::default(); N]);
        for crowns in pixels.chunks(TILE).take(BLOCK).flat_map(|row| row.iter().take(BLOCK)) {
            top = crowns.iter().fold(top, |top, c| top.max(c.top_steps()));
            even &= *crowns == first;
        }
        Self { top, even: even && first.iter().all(|c| c.is_none() || c.share() >= 1.0) }
    }
    /// Highest top, metres.
    pub fn top_m(self) -> f64 {
        f64::from(self.top) * HEIGHT_STEP_M
    }
}

/// Crowns of `N` assumptions around one cell.
#[derive(Debug, Clone)]
pub struct CrownStack<const N: usize> {
    raster: Raster,
    tiles_on_side: usize,
    /// Number of the tile's pixels in `crowns`, by tile.
    tile_at: Vec<u32>,
    /// Highest top in a tile, in steps.
    tile_top: Vec<u8>,
    /// Highest top in a tile and those around it, in steps; of every place, also where nothing stands.
    top_around: Vec<u8>,
    /// Blocks of a tile row by row, tile by tile.
    blocks: Vec<CrownBlock>,
    crowns: Vec<[Crown; N]>,
    top_m: f64,
}

impl<const N: usize> CrownStack<N> {
    /// Of grids in one raster; the first one's counts.
    pub fn of(grids: [&CanopyGrid; N]) -> Self {
        let (raster, side) = (*grids[0].raster(), grids[0].tiles_on_side());
        let top_m = grids.iter().map(|g| g.top_m()).fold(0.0, f64::max);
        let mut stack = Self {
            raster,
            tiles_on_side: side,
            tile_at: vec![NO_TILE; side * side],
            tile_top: Vec::new(),
            top_around: Vec::new(),
            blocks: Vec::new(),
            crowns: Vec::new(),
            top_m,
        };
        for place in 0..side * side {
            let pixels = grids.map(|g| g.pixels(place % side, place / side));
            if pixels.iter().any(Option::is_some) {
                stack.tile_at[place] = stack.tile_top.len() as u32;
                stack.lay(pixels);
            }
        }
        stack.top_around = stack.tops_around();
        stack
    }

    /// Adds a tile.
    fn lay(&mut self, pixels: [Option<&[Crown]>; N]) {
        let start = self.crowns.len();
        let crowns = |i: usize| pixels.map(|p| p.map_or(Crown::default(), |p| p[i]));
        self.crowns.extend((0..TILE * TILE).map(crowns));
        let laid = &self.crowns[start..];
        let corners = (0..BLOCKS * BLOCKS).map(|i| i / BLOCKS * BLOCK * TILE + i % BLOCKS * BLOCK);
        let blocks: Vec<CrownBlock> = corners.map(|corner| CrownBlock::of(&laid[corner..])).collect();
        self.tile_top.push(blocks.iter().map(|b| b.top).max().unwrap_or(0));
        self.blocks.extend(blocks);
    }

    fn tops_around(&self) -> Vec<u8> {
        let side = self.tiles_on_side;
        let mut around = vec![0; side * side];
        for (place, tile) in self.tile_at.iter().enumerate().filter(|(_, tile)| **tile != NO_TILE) {
            let (x, y) = (place % side, place / side);
            for row in y.saturating_sub(1)..(y + 2).min(side) {
                for top in &mut around[row * side + x.saturating_sub(1)..row * side + (x + 2).min(side)] {
                    *top = self.tile_top[*tile as usize].max(*top);
                }
            }
        }
        around
    }

    /// Highest crown top, metres above the ground.
    pub fn top_m(&self) -> f64 {
        self.top_m
    }
    /// The raster the crowns lie in.
    pub(crate) fn raster(&self) -> &Raster {
        &self.raster
    }
    /// Highest crown top within the side of a tile of a place, metres above the ground; none outside of the grid.
    pub(crate) fn top_around_m(&self, p: Point) -> f64 {
        let (x, y) = self.raster.pixel_of(p);
        let inside = x >= 0.0 && y >= 0.0 && x < self.raster.size as f64 && y < self.raster.size as f64;
        let place = inside.then(|| y as usize / TILE * self.tiles_on_side + x as usize / TILE);
        let top = place.and_then(|place| self.top_around.get(place)).copied().unwrap_or(0);
        f64::from(top) * HEIGHT_STEP_M
    }
    /// Whether any tree may stand within a square of the given half side around a plane point.
    pub(crate) fn any_near(&self, p: Point, half_m: f64) -> bool {
        let (x, y) = self.raster.pixel_of(p);
        let half = half_m / self.raster.pixel_m;
        let tile = |v: f64| ((v.max(0.0) as usize) / TILE).min(self.tiles_on_side.saturating_sub(1));
        (tile(y - half)..=tile(y + half))
            .any(|ty| (tile(x - half)..=tile(x + half)).any(|tx| self.tile(tx, ty).is_some()))
    }
    /// Number and highest top, metres, of a tile; `None` where nothing stands in it.
    pub(crate) fn tile(&self, tile_x: usize, tile_y: usize) -> Option<(u32, f64)> {
        let tile = *self.tile_at.get(tile_y * self.tiles_on_side + tile_x)?;
        let top = *self.tile_top.get(tile as usize)?;
        (top > 0).then(|| (tile, f64::from(top) * HEIGHT_STEP_M))
    }
    /// The block that a pixel of a tile lies in.
    pub(crate) fn block(&self, tile: u32, column: usize, row: usize) -> CrownBlock {
        self.blocks[(tile as usize * BLOCKS + row / BLOCK) * BLOCKS + column / BLOCK]
    }
    /// A pixel of a tile that exists.
    pub(crate) fn crowns_in(&self, tile: u32, column: usize, row: usize) -> &[Crown; N] {
        &self.crowns[tile as usize * TILE * TILE + row * TILE + column]
    }
    /// One pixel of one assumption; no crown where no tile is.
    pub(crate) fn crown_at(&self, nth: usize, column: usize, row: usize) -> Crown {
        let tile = self.tile_at.get(row / TILE * self.tiles_on_side + column / TILE).filter(|t| **t != NO_TILE);
        tile.map_or(Crown::default(), |tile| self.crowns_in(*tile, column % TILE, row % TILE)[nth])
    }
}
