//! Trees around one cell as a raster: crown top and base above the ground, and how leaves behave.
//!
//! In: woods, orchards, tree rows, trees and hedges of an extract near a [`Window`], and the roads
//! whose clear width is cut out of polygons. Out: a [`CanopyGrid`] in square tiles, of which only those with
//! trees exist. Heights are above the ground, metres, in steps of [`HEIGHT_STEP_M`]. No seasons and no rays here.
use std::ops::Range;

use super::index::{Nearby, Window, line_on_plane, rings_on_plane};
use super::raster::{Raster, fill_capsule, fill_rings};
use crate::extract::model::{Canopy, CanopyShape, Extract, LeafCycle, LeafType, RoadClass};
use crate::geodesy::Point;
use crate::network::model::{Network, Segment};
use crate::profile::CanopyProfile;

/// Step of stored heights, metres; the highest is 63.75 m.
pub const HEIGHT_STEP_M: f64 = 0.25;
/// Default side of a pixel, metres.
pub const PIXEL_M: f64 = 1.0;
/// Pixels on a side of a tile.
pub const TILE: usize = 32;

/// Height of orchards without a tag, metres (ITU-R P.452-17 table of nominal clutter heights:
/// orchard, park, irregular sparse trees).
pub const ORCHARD_HEIGHT_M: f64 = 4.0;
/// Height of hedges without a tag, metres; assumed.
pub const HEDGE_HEIGHT_M: f64 = 2.0;
/// Width of hedges, metres; assumed.
pub const HEDGE_WIDTH_M: f64 = 1.5;
/// Crown diameter of single trees and tree rows without a tag, metres; assumed.
pub const CROWN_DIAMETER_M: f64 = 6.0;
/// Trees this near to the edge of a wood carry leaves down to the ground, metres; assumed.
pub const EDGE_TREES_M: f64 = 2.0;

/// How leaves behave over the year, in order of how much they block with the season unknown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Foliage {
    /// Never in leaf.
    Leafless = 0,
    /// Bare in the cold or dry season.
    Deciduous = 1,
    /// Half deciduous, half evergreen.
    Mixed = 2,
    /// Always in leaf.
    Evergreen = 3,
}

impl Foliage {
    /// All kinds, by their number.
    pub const ALL: [Self; 4] = [Self::Leafless, Self::Deciduous, Self::Mixed, Self::Evergreen];

    /// From tags. A silent cycle follows the leaf type: broad leaves fall, needles stay, the rest is
    /// half of each. Larches are needle-leaved and tagged deciduous.
    pub fn of(leaf_type: LeafType, cycle: LeafCycle) -> Self {
        match (leaf_type, cycle) {
            (LeafType::Leafless, _) => Self::Leafless,
            (_, LeafCycle::Evergreen) => Self::Evergreen,
            (_, LeafCycle::Deciduous) => Self::Deciduous,
            (_, LeafCycle::Mixed) => Self::Mixed,
            (LeafType::Broadleaved, LeafCycle::Unknown) => Self::Deciduous,
            (LeafType::Needleleaved, LeafCycle::Unknown) => Self::Evergreen,
            (LeafType::Mixed | LeafType::Unknown, LeafCycle::Unknown) => Self::Mixed,
        }
    }
}

/// One pixel of canopy, packed: top, base (both in [`HEIGHT_STEP_M`]), class. Zero is no canopy.
///
/// Class: bits 0 and 1 the [`Foliage`], bit 2 set where the height is tagged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Crown(u32);

impl Crown {
    /// A crown from base to top, metres above the ground; the top is at least one step.
    pub fn new(base_m: f64, top_m: f64, foliage: Foliage, height_tagged: bool) -> Self {
        let top = (top_m / HEIGHT_STEP_M).round().clamp(1.0, 255.0) as u32;
        let base = (base_m / HEIGHT_STEP_M).round().clamp(0.0, f64::from(top - 1)) as u32;
        Self(top | base << 8 | (foliage as u32) << 16 | u32::from(height_tagged) << 18)
    }
    /// Whether there is no canopy.
    pub fn is_none(self) -> bool {
        self.0 == 0
    }
    /// Top above the ground, metres.
    pub fn top_m(self) -> f64 {
        f64::from(self.0 & 0xff) * HEIGHT_STEP_M
    }
    /// Lowest leaves above the ground, metres.
    pub fn base_m(self) -> f64 {
        f64::from(self.0 >> 8 & 0xff) * HEIGHT_STEP_M
    }
    /// How its leaves behave.
    pub fn foliage(self) -> Foliage {
        Foliage::ALL[(self.0 >> 16 & 3) as usize]
    }
    /// Whether its height is tagged, not a default.
    pub fn height_tagged(self) -> bool {
        self.0 >> 18 & 1 == 1
    }
    /// Both crowns on the same pixel: never blocks less than either, whatever their order.
    fn union(self, other: Self) -> Self {
        if self.is_none() {
            return other;
        }
        let (a, b) = (self.0, other.0);
        let top = (a & 0xff).max(b & 0xff);
        let base = (a & 0xff00).min(b & 0xff00);
        let foliage = (a & 0x3_0000).max(b & 0x3_0000);
        let tagged = match (a & 0xff).cmp(&(b & 0xff)) {
            std::cmp::Ordering::Greater => a,
            std::cmp::Ordering::Less => b,
            std::cmp::Ordering::Equal => a | b,
        } & 0x4_0000;
        Self(top | base | foliage | tagged)
    }
    /// Leaves down to the ground.
    fn to_ground(self) -> Self {
        Self(self.0 & !0xff00)
    }
    /// Nothing below a height, metres; nothing at all where the top is no higher.
    fn above(self, height_m: f64) -> Self {
        let height = (height_m / HEIGHT_STEP_M).round().clamp(0.0, 255.0) as u32;
        if self.0 & 0xff <= height { Self(0) } else { Self(self.0 & !0xff00 | (self.0 >> 8 & 0xff).max(height) << 8) }
    }
}

/// Trees around one cell.
#[derive(Debug, Clone, PartialEq)]
pub struct CanopyGrid {
    raster: Raster,
    tiles_on_side: usize,
    /// Number of the tile's pixels in `crowns`, by tile; `NO_TILE` where nothing stands.
    tile_at: Vec<u32>,
    /// Highest top in a tile, in steps.
    tile_top: Vec<u8>,
    crowns: Vec<Crown>,
    top_m: f64,
}

const NO_TILE: u32 = u32::MAX;

impl CanopyGrid {
    /// Rasterises everything near a window; `None` where no tree stands in it.
    ///
    /// Woods and orchards are filled first, then each loses the clear width of the roads through it (not
    /// of tunnels); tree rows, single trees and hedges stand where they are mapped.
    pub fn build(
        window: &Window,
        extract: &Extract,
        network: &Network,
        near: &Nearby,
        profile: &CanopyProfile,
        pixel_m: f64,
    ) -> Option<Self> {
        let mut grid = Self::empty(Raster::around_origin(window.reach_m(), pixel_m));
        let trees = || near.canopy.iter().filter_map(|i| extract.canopy.get(*i as usize));
        grid.add_polygons(window, trees(), profile);
        if !grid.crowns.is_empty() {
            let segments: Vec<&Segment> =
                near.segments.iter().filter_map(|i| network.segments.get(*i as usize)).collect();
            grid.clear_roads(window, extract, &segments);
        }
        for tree in trees() {
            grid.add_line_or_tree(window, tree, profile);
        }
        grid.finish();
        (grid.top_m > 0.0).then_some(grid)
    }

    fn empty(raster: Raster) -> Self {
        let tiles_on_side = raster.size.div_ceil(TILE);
        let tile_at = vec![NO_TILE; tiles_on_side * tiles_on_side];
        Self { raster, tiles_on_side, tile_at, tile_top: Vec::new(), crowns: Vec::new(), top_m: 0.0 }
    }

    /// Fills woods and orchards, then brings leaves down to the ground along their outlines: all fills
    /// come first, so that the order of polygons on the same ground changes nothing.
    fn add_polygons<'a>(&mut self, window: &Window, trees: impl Iterator<Item = &'a Canopy>, profile: &CanopyProfile) {
        let raster = self.raster;
        let mut outlines = Vec::new();
        for tree in trees {
            let (area, default_m) = match &tree.shape {
                CanopyShape::Wood(area) => (area, default_height_m(tree.leaf_type, profile)),
                CanopyShape::Orchard(area) => (area, ORCHARD_HEIGHT_M),
                _ => continue,
            };
            let crown = crown_of(tree, default_m, profile.crown_base_share);
            let rings = rings_on_plane(&window.plane, area);
            fill_rings(&raster, &rings, |row, columns| self.stand(row, columns, crown));
            outlines.extend(rings);
        }
        for pair in outlines.iter().flat_map(|ring| ring.windows(2)) {
            fill_capsule(&raster, pair[0], pair[1], EDGE_TREES_M, |row, columns| {
                self.change(row, columns, Crown::to_ground);
            });
        }
    }

    fn add_line_or_tree(&mut self, window: &Window, tree: &Canopy, profile: &CanopyProfile) {
        let (line, default_m, width_m) = match &tree.shape {
            CanopyShape::Row(line) => (line.as_slice(), default_height_m(tree.leaf_type, profile), CROWN_DIAMETER_M),
            CanopyShape::Tree(at) => {
                (std::slice::from_ref(at), default_height_m(tree.leaf_type, profile), CROWN_DIAMETER_M)
            }
            CanopyShape::Hedge(line) => (line.as_slice(), HEDGE_HEIGHT_M, HEDGE_WIDTH_M),
            CanopyShape::Wood(_) | CanopyShape::Orchard(_) => return,
        };
        let hedge = matches!(tree.shape, CanopyShape::Hedge(_));
        let crown = crown_of(tree, default_m, if hedge { 0.0 } else { profile.crown_base_share });
        let radius_m = tree.crown_diameter_m.map_or(width_m, f64::from) / 2.0;
        let points = line_on_plane(&window.plane, line);
        let raster = self.raster;
        for (a, b) in pieces(&points) {
            fill_capsule(&raster, a, b, radius_m, |row, columns| self.stand(row, columns, crown));
        }
    }

    /// Cuts the clear width of roads. Trees beside it are edge trees; that comes first, so that the
    /// end of one piece of a road does not bring leaves down onto the next. A bridge is cut out as well: a wood
    /// drawn across it stands below its deck, not on it. No light comes from it, so it makes no edge trees.
    fn clear_roads(&mut self, window: &Window, extract: &Extract, segments: &[&Segment]) {
        let raster = self.raster;
        for edge_trees in [true, false] {
            for segment in segments {
                let ferry = extract.roads.get(segment.road as usize).is_some_and(|r| r.class == RoadClass::Ferry);
                if segment.tunnel.is_some() || ferry || (edge_trees && segment.bridge) {
                    continue;
                }
                let half_m = f64::from(segment.section.width_m.value / 2.0 + segment.section.clear_m);
                let crowns_above_m = segment.section.crowns_close_above_m.map(f64::from);
                let line = line_on_plane(&window.plane, &segment.line);
                for (a, b) in pieces(&line) {
                    if edge_trees {
                        fill_capsule(&raster, a, b, half_m + EDGE_TREES_M, |row, columns| {
                            self.change(row, columns, Crown::to_ground);
                        });
                    } else {
                        fill_capsule(&raster, a, b, half_m, |row, columns| {
                            self.change(row, columns, |c| crowns_above_m.map_or(Crown::default(), |h| c.above(h)));
                        });
                    }
                }
            }
        }
    }

    /// Adds a crown to a span, making tiles as needed.
    fn stand(&mut self, row: usize, columns: Range<usize>, crown: Crown) {
        for tile_x in columns.start / TILE..columns.end.div_ceil(TILE) {
            let slot = &mut self.tile_at[row / TILE * self.tiles_on_side + tile_x];
            if *slot == NO_TILE {
                *slot = (self.crowns.len() / (TILE * TILE)) as u32;
                self.crowns.resize(self.crowns.len() + TILE * TILE, Crown::default());
            }
            let tile = *slot as usize;
            for c in &mut self.crowns[tile_span(tile, tile_x, row, &columns)] {
                *c = c.union(crown);
            }
        }
    }

    /// Changes the crowns that stand in a span.
    fn change(&mut self, row: usize, columns: Range<usize>, change: impl Fn(Crown) -> Crown) {
        for tile_x in columns.start / TILE..columns.end.div_ceil(TILE) {
            let tile = self.tile_at[row / TILE * self.tiles_on_side + tile_x];
            if tile == NO_TILE {
                continue;
            }
            for c in &mut self.crowns[tile_span(tile as usize, tile_x, row, &columns)] {
                if !c.is_none() {
                    *c = change(*c);
                }
            }
        }
    }

    fn finish(&mut self) {
        let top = |tile: &[Crown]| tile.iter().map(|c| (c.0 & 0xff) as u8).max().unwrap_or(0);
        self.tile_top = self.crowns.chunks_exact(TILE * TILE).map(top).collect();
        self.top_m = f64::from(self.tile_top.iter().copied().max().unwrap_or(0)) * HEIGHT_STEP_M;
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
        let (x, y) = self.raster.pixel_of(p);
        let (tile_x, tile_y) = self.tile_of(x, y)?;
        let (tile, _) = self.tile(tile_x, tile_y)?;
        let crown = self.crown_in(tile, x as usize % TILE, y as usize % TILE);
        (!crown.is_none()).then_some(crown)
    }
    /// Whether any tree may stand within a square of the given half side around a plane point.
    pub fn any_near(&self, p: Point, half_m: f64) -> bool {
        let (x, y) = self.raster.pixel_of(p);
        let half = half_m / self.raster.pixel_m;
        let tile = |v: f64| ((v.max(0.0) as usize) / TILE).min(self.tiles_on_side.saturating_sub(1));
        (tile(y - half)..=tile(y + half))
            .any(|ty| (tile(x - half)..=tile(x + half)).any(|tx| self.tile(tx, ty).is_some()))
    }
    /// The tile fractional pixel coordinates lie in; `None` outside the raster.
    pub(crate) fn tile_of(&self, x: f64, y: f64) -> Option<(usize, usize)> {
        let inside = x >= 0.0 && y >= 0.0 && x < self.raster.size as f64 && y < self.raster.size as f64;
        inside.then_some((x as usize / TILE, y as usize / TILE))
    }
    /// Number and highest top, metres, of a tile; `None` where nothing stands in it.
    pub(crate) fn tile(&self, tile_x: usize, tile_y: usize) -> Option<(u32, f64)> {
        let tile = *self.tile_at.get(tile_y * self.tiles_on_side + tile_x)?;
        let top = *self.tile_top.get(tile as usize)?;
        (top > 0).then(|| (tile, f64::from(top) * HEIGHT_STEP_M))
    }
    /// A pixel of a tile that exists.
    pub(crate) fn crown_in(&self, tile: u32, column: usize, row: usize) -> Crown {
        self.crowns[tile as usize * TILE * TILE + row * TILE + column]
    }
}

/// Where the part of a span that lies in a tile is stored.
fn tile_span(tile: usize, tile_x: usize, row: usize, columns: &Range<usize>) -> Range<usize> {
    let start = tile * TILE * TILE + row % TILE * TILE;
    let west = tile_x * TILE;
    start + columns.start.max(west) - west..start + columns.end.min(west + TILE) - west
}

/// Straight pieces of a line; a single point is a piece of no length.
fn pieces(points: &[Point]) -> impl Iterator<Item = (Point, Point)> {
    let single = (points.len() == 1).then(|| (points[0], points[0]));
    points.windows(2).map(|w| (w[0], w[1])).chain(single)
}

fn default_height_m(leaf_type: LeafType, profile: &CanopyProfile) -> f64 {
    match leaf_type {
        LeafType::Needleleaved => profile.needleleaved_height_m,
        LeafType::Broadleaved | LeafType::Mixed | LeafType::Leafless | LeafType::Unknown => {
            profile.broadleaved_height_m
        }
    }
}

fn crown_of(tree: &Canopy, default_m: f64, base_share: f64) -> Crown {
    let tagged_m = tree.height_m.map(f64::from).filter(|h| h.is_finite() && *h > 0.0);
    let top_m = tagged_m.unwrap_or(default_m);
    Crown::new(top_m * base_share, top_m, Foliage::of(tree.leaf_type, tree.leaf_cycle), tagged_m.is_some())
}
