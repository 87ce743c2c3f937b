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
pub(crate) const BLOCKS: usize = TILE / BLOCK;
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
        Self { top, even: even && first.iter().all(|c| c.is_none() || c.is_whole()) }
    }
    /// Highest top, metres.
    pub fn top_m(self) -> f64 {
        f64::from(self.top) * HEIGHT_STEP_M
    }
}

/// What stands in a tile: woods are the same over most of theirs, and take no room for every pixel.
#[derive(Debug, Clone, Copy)]
enum TileCrowns<const N: usize> {
    /// The same crowns all over it.
    Even([Crown; N]),
    /// Others; the number of its pixels and blocks, and where its kinds of pixels begin.
    Apart { number: u32, kinds: u32 },
}

/// A tile in which something stands.
#[derive(Debug, Clone, Copy)]
pub(crate) struct StackTile<const N: usize> {
    /// Highest top, in steps.
    top: u8,
    crowns: TileCrowns<N>,
}

impl<const N: usize> StackTile<N> {
    /// Highest top, metres.
    pub fn top_m(&self) -> f64 {
        f64::from(self.top) * HEIGHT_STEP_M
    }
    /// The crowns all over it, where these are the same.
    pub fn even(&self) -> Option<&[Crown; N]> {
        match &self.crowns {
            TileCrowns::Even(crowns) => Some(crowns),
            TileCrowns::Apart { .. } => None,
        }
    }
}

/// Crowns of `N` assumptions around one cell.
#[derive(Debug, Clone)]
pub struct CrownStack<const N: usize> {
    raster: Raster,
    tiles_on_side: usize,
    /// Number in `tiles` of what stands in a tile.
    tile_at: Vec<u32>,
    tiles: Vec<StackTile<N>>,
    /// Highest top in a tile and those around it, in steps; of every place, also where nothing stands.
    top_around: Vec<u8>,
    /// Blocks of a tile row by row, tile by tile.
    blocks: Vec<CrownBlock>,
    /// Number of its kind by pixel, counted within its tile: neighbours are alike, and a number takes a twelfth of the room.
    pixels: Vec<u16>,
    /// What stands on pixels, tile by tile.
    kinds: Vec<[Crown; N]>,
    top_m: f64,
}

/// Kinds of pixels are looked for among this many of the last ones of a tile; a kind that is listed twice does no harm.
const KINDS_BACK: usize = 8;

impl<const N: usize> CrownStack<N> {
    /// Of grids in one raster; the first one's counts.
    pub fn of(grids: [&CanopyGrid; N]) -> Self {
        let top_m = grids.iter().map(|g| g.top_m()).fold(0.0, f64::max);
        let mut stack = Self::empty(*grids[0].raster(), grids[0].tiles_on_side(), top_m);
        for place in 0..stack.tile_at.len() {
            let pixels = grids.map(|g| g.pixels(place % stack.tiles_on_side, place / stack.tiles_on_side));
            if pixels.iter().any(Option::is_some) {
                stack.lay(place, |i| pixels.map(|p| p.map_or(Crown::default(), |p| p[i])));
            }
        }
        stack.top_around = stack.tops_around();
        stack
    }

    /// Of stacks of one each in one raster: grids take several times their room.
    pub fn joined(stacks: [&CrownStack<1>; N]) -> Self {
        let top_m = stacks.iter().map(|s| s.top_m).fold(0.0, f64::max);
        let mut stack = Self::empty(stacks[0].raster, stacks[0].tiles_on_side, top_m);
        for place in 0..stack.tile_at.len() {
            let tiles = stacks.map(|s| s.tiles.get(s.tile_at[place] as usize).map(|tile| (s, tile)));
            if tiles.iter().any(Option::is_some) {
                let crown = |i: usize| {
                    tiles.map(|t| t.map_or(Crown::default(), |(s, tile)| s.crowns_in(tile, i % TILE, i / TILE)[0]))
                };
                stack.lay(place, crown);
            }
        }
        stack.top_around = stack.tops_around();
        stack
    }

    fn empty(raster: Raster, tiles_on_side: usize, top_m: f64) -> Self {
        Self {
            raster,
            tiles_on_side,
            tile_at: vec![NO_TILE; tiles_on_side * tiles_on_side],
            tiles: Vec::new(),
            top_around: Vec::new(),
            blocks: Vec::new(),
            pixels: Vec::new(),
            kinds: Vec::new(),
            top_m,
        }
    }

    /// Adds a tile, its pixels row by row.
    fn lay(&mut self, place: usize, crowns: impl Fn(usize) -> [Crown; N]) {
        self.tile_at[place] = self.tiles.len() as u32;
        let laid: Vec<[Crown; N]> = (0..TILE * TILE).map(|i| crowns(i).map(Crown::settled)).collect();
        let first = laid[0];
        if first.iter().all(|c| c.is_none() || c.is_whole()) && laid.iter().all(|crowns| *crowns == first) {
            let top = first.iter().map(|c| c.top_steps()).max().unwrap_or(0);
            self.tiles.push(StackTile { top, crowns: TileCrowns::Even(first) });
            return;
        }
        let number = (self.pixels.len() / (TILE * TILE)) as u32;
        let start = self.kinds.len();
        for (i, crowns) in laid.iter().enumerate() {
            let kind = self.kind(start, i, crowns);
            self.pixels.push(kind);
        }
        let corners = (0..BLOCKS * BLOCKS).map(|i| i / BLOCKS * BLOCK * TILE + i % BLOCKS * BLOCK);
        let blocks: Vec<CrownBlock> = corners.map(|corner| CrownBlock::of(&laid[corner..])).collect();
        let top = blocks.iter().map(|b| b.top).max().unwrap_or(0);
        self.tiles.push(StackTile { top, crowns: TileCrowns::Apart { number, kinds: start as u32 } });
        self.blocks.extend(blocks);
    }

    /// Number of the kind of a pixel of the tile whose kinds begin at a place: that of the pixel before or above, one of the last
    /// ones, or a new one. A tile has no more kinds than pixels.
    fn kind(&mut self, start: usize, pixel: usize, crowns: &[Crown; N]) -> u16 {
        let beside = |back: usize| (pixel >= back).then(|| self.pixels[self.pixels.len() - back]);
        let known = [beside(1), beside(TILE)].into_iter().flatten();
        let last = (0..self.kinds.len() - start).rev().take(KINDS_BACK).map(|kind| kind as u16);
        if let Some(kind) = known.chain(last).find(|kind| self.kinds[start + usize::from(*kind)] == *crowns) {
            return kind;
        }
        self.kinds.push(*crowns);
        (self.kinds.len() - start - 1) as u16
    }

    fn tops_around(&self) -> Vec<u8> {
        let side = self.tiles_on_side;
        let mut around = vec![0; side * side];
        for (place, tile) in self.tile_at.iter().enumerate().filter(|(_, tile)| **tile != NO_TILE) {
            let (x, y) = (place % side, place / side);
            for row in y.saturating_sub(1)..(y + 2).min(side) {
                for top in &mut around[row * side + x.saturating_sub(1)..row * side + (x + 2).min(side)] {
                    *top = self.tiles[*tile as usize].top.max(*top);
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
        let place = self.raster.pixel_in(p).map(|(column, row)| row / TILE * self.tiles_on_side + column / TILE);
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
    /// The tile at a place; `None` where nothing stands in it.
    pub(crate) fn tile(&self, tile_x: usize, tile_y: usize) -> Option<&StackTile<N>> {
        let tile = *self.tile_at.get(tile_y * self.tiles_on_side + tile_x)?;
        self.tiles.get(tile as usize).filter(|tile| tile.top > 0)
    }
    /// A block of a tile.
    pub(crate) fn block(&self, tile: &StackTile<N>, column: usize, row: usize) -> CrownBlock {
        match tile.crowns {
            TileCrowns::Even(_) => CrownBlock { top: tile.top, even: true },
            TileCrowns::Apart { number, .. } => self.blocks[(number as usize * BLOCKS + row) * BLOCKS + column],
        }
    }
    /// A pixel of a tile.
    pub(crate) fn crowns_in<'t>(&'t self, tile: &'t StackTile<N>, column: usize, row: usize) -> &'t [Crown; N] {
        match &tile.crowns {
            TileCrowns::Even(crowns) => crowns,
            TileCrowns::Apart { number, kinds } => {
                let kind = self.pixels[*number as usize * TILE * TILE + row * TILE + column];
                &self.kinds[*kinds as usize + usize::from(kind)]
            }
        }
    }
}
