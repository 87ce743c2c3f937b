//! Trees around one cell as a raster: crown top and base above the ground, and how leaves behave.
//!
//! In: woods, orchards, tree rows, trees and hedges of an extract near a [`Window`], and the roads
//! whose clear width is cut out of polygons. Out: a [`CanopyGrid`] in square tiles, of which only those with
//! trees exist. Heights are above the ground, metres, in steps of [`HEIGHT_STEP_M`]. No seasons and no rays here.
use std::ops::Range;

use super::above::Above;
pub use super::canopy_raster::Disagreement;
use super::canopy_raster::{RoadCut, road_cut, shows_crowns};
pub use super::crown::{Crown, Foliage, HEIGHT_STEP_M, HeightFrom};
use super::index::{Nearby, Window, line_on_plane, rings_on_plane};
use super::raster::{Raster, fill_capsule, fill_rings};
use crate::base::geodesy::Point;
use crate::map::extract::model::{Canopy, CanopyShape, Extract, LeafType, RoadClass, StopKind, StopPlace};
use crate::map::network::model::{Network, Segment};
use crate::profile::CanopyProfile;

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
/// Crowns of planted trees begin this far from the carriageway at most, metres; assumed.
pub const AVENUE_CLEAR_M: f64 = 1.5;
/// Trees this near to the edge of a wood carry leaves down to the ground, metres; assumed.
pub const EDGE_TREES_M: f64 = 2.0;

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
    disagreement: Disagreement,
}

const NO_TILE: u32 = u32::MAX;

impl CanopyGrid {
    /// Rasterises everything near a window.
    ///
    /// Woods and orchards are filled first, then what rasters show is laid over them, then each loses the clear width of
    /// the roads through it (not of tunnels); tree rows, single trees, hedges and the trees of tree-lined roads stand where they
    /// are mapped, except where a raster fine enough to show single crowns shows none.
    pub fn build(
        window: &Window,
        extract: &Extract,
        network: &Network,
        near: &Nearby,
        profile: &CanopyProfile,
        above: Option<&Above>,
        pixel_m: f64,
    ) -> Self {
        let mut grid = Self::empty(Raster::around_origin(window.reach_m(), pixel_m));
        let trees = || near.canopy.iter().filter_map(|i| extract.canopy.get(*i as usize));
        grid.add_polygons(window, trees(), profile);
        if let Some(above) = above {
            grid.disagreement = grid.overlay(window, network, above, profile);
            grid.leave_to_solids(window, extract, near);
            grid.edge_trees();
        }
        let segments: Vec<&Segment> = near.segments.iter().filter_map(|i| network.segments.get(*i as usize)).collect();
        if !grid.crowns.is_empty() {
            grid.clear_roads(window, extract, &segments, above);
        }
        for tree in trees() {
            grid.add_line_or_tree(window, tree, profile, above);
        }
        grid.add_tree_lined(window, extract, &segments, profile, above);
        grid.finish();
        grid
    }

    fn empty(raster: Raster) -> Self {
        let tiles_on_side = raster.size.div_ceil(TILE);
        let tile_at = vec![NO_TILE; tiles_on_side * tiles_on_side];
        Self {
            raster,
            tiles_on_side,
            tile_at,
            tile_top: Vec::new(),
            crowns: Vec::new(),
            top_m: 0.0,
            disagreement: Disagreement::default(),
        }
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

    fn add_line_or_tree(&mut self, window: &Window, tree: &Canopy, profile: &CanopyProfile, above: Option<&Above>) {
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
        for (a, b) in pieces(&points) {
            self.add_strip((a, b), radius_m, crown, above);
        }
    }

    /// Crowns along a straight piece. Where a raster shows single crowns of this size it has said whether they stand and
    /// how high; the map then only knows their leaves.
    fn add_strip(&mut self, (a, b): (Point, Point), radius_m: f64, crown: Crown, above: Option<&Above>) {
        let raster = self.raster;
        fill_capsule(&raster, a, b, radius_m, |row, columns| {
            if above.is_none() {
                self.stand(row, columns, crown);
                return;
            }
            for column in columns {
                if !shows_crowns(above, raster.centre(column, row), 2.0 * radius_m) {
                    self.stand(row, column..column + 1, crown);
                } else {
                    self.change(row, column..column + 1, |c| c.with_foliage(crown.foliage()));
                }
            }
        });
    }

    /// Trees planted along roads, on the tagged sides of the way, their crowns beginning at most [`AVENUE_CLEAR_M`] from the
    /// carriageway.
    fn add_tree_lined(
        &mut self,
        window: &Window,
        extract: &Extract,
        segments: &[&Segment],
        profile: &CanopyProfile,
        above: Option<&Above>,
    ) {
        let height_m = profile.broadleaved_height_m;
        let crown = Crown::new(height_m * profile.crown_base_share, height_m, Foliage::Mixed, HeightFrom::Default);
        for segment in segments {
            let Some(road) = extract.roads.get(segment.road as usize) else { continue };
            if segment.bridge || segment.tunnel.is_some() || !(road.tree_lined.left || road.tree_lined.right) {
                continue;
            }
            let clear_m = f64::from(segment.section.clear_m).min(AVENUE_CLEAR_M);
            let offset_m = f64::from(segment.section.width_m.value) / 2.0 + clear_m + CROWN_DIAMETER_M / 2.0;
            for pair in line_on_plane(&window.plane, &segment.line).windows(2) {
                for (on, turn_deg) in [(road.tree_lined.left, -90.0), (road.tree_lined.right, 90.0)] {
                    if on {
                        let aside_deg = pair[0].azimuth_deg(pair[1]) + turn_deg;
                        let piece = (pair[0].moved(aside_deg, offset_m), pair[1].moved(aside_deg, offset_m));
                        self.add_strip(piece, CROWN_DIAMETER_M / 2.0, crown, above);
                    }
                }
            }
        }
    }

    /// Cuts the clear width of roads. Trees beside it are edge trees; that comes first, so that the
    /// end of one piece of a road does not bring leaves down onto the next. A bridge is cut out as well: a wood
    /// drawn across it stands below its deck, not on it. No light comes from it, so it makes no edge trees.
    fn clear_roads(&mut self, window: &Window, extract: &Extract, segments: &[&Segment], above: Option<&Above>) {
        let raster = self.raster;
        for edge_trees in [true, false] {
            for segment in segments {
                let ferry = extract.roads.get(segment.road as usize).is_some_and(|r| r.class == RoadClass::Ferry);
                if segment.tunnel.is_some() || ferry || (edge_trees && segment.bridge) {
                    continue;
                }
                let cut = RoadCut::of_class(segment);
                let beside = above.filter(|_| !segment.bridge);
                let shown = beside.and_then(|a| road_cut(segment, a, window)).unwrap_or(cut);
                let line = line_on_plane(&window.plane, &segment.line);
                for (a, b) in pieces(&line) {
                    if edge_trees {
                        fill_capsule(&raster, a, b, cut.half_m + EDGE_TREES_M, |row, columns| {
                            self.change(row, columns, Crown::to_ground);
                        });
                        continue;
                    }
                    for (cut, rasters) in [(cut, false), (shown, true)] {
                        let cleared = |c: Crown| match (c.height_from() == HeightFrom::Raster) == rasters {
                            true => cut.crowns_above_m.map_or(Crown::default(), |h| c.above(h)),
                            false => c,
                        };
                        fill_capsule(&raster, a, b, cut.half_m, |row, columns| self.change(row, columns, cleared));
                    }
                }
            }
        }
    }

    /// Takes woods off the outlines of places made for vehicles: a wood drawn across a car park says no more about its bays
    /// than about a road. Trees and rows drawn there stay, and so does what a raster shows. For looking from those places; lanes
    /// are looked at before.
    pub fn clear_places(
        &mut self,
        window: &Window,
        extract: &Extract,
        near: &Nearby,
        profile: &CanopyProfile,
        above: Option<&Above>,
    ) {
        let paved = |s: &&StopPlace| {
            matches!(s.kind, StopKind::Parking | StopKind::Fuel | StopKind::RestArea | StopKind::Services)
        };
        let places = near.stops.iter().filter_map(|i| extract.stops.get(*i as usize)).filter(paved);
        let (raster, unseen) = (self.raster, |c: &Crown| c.height_from() != HeightFrom::Raster);
        for rings in places.filter_map(|s| s.outline.as_ref()).map(|area| rings_on_plane(&window.plane, area)) {
            for pair in rings.iter().flat_map(|ring| ring.windows(2)) {
                let edge = |c: Crown| if unseen(&c) { c.to_ground() } else { c };
                fill_capsule(&raster, pair[0], pair[1], EDGE_TREES_M, |row, columns| self.change(row, columns, edge));
            }
            let gone = |c: Crown| if unseen(&c) { Crown::default() } else { c };
            fill_rings(&raster, &rings, |row, columns| self.change(row, columns, gone));
        }
        for tree in near.canopy.iter().filter_map(|i| extract.canopy.get(*i as usize)) {
            self.add_line_or_tree(window, tree, profile, above);
        }
        self.finish();
    }

    /// Adds a crown to a span, making tiles as needed.
    fn stand(&mut self, row: usize, columns: Range<usize>, crown: Crown) {
        for tile_x in columns.start / TILE..columns.end.div_ceil(TILE) {
            let tile = self.made_tile(tile_x, row / TILE);
            for c in &mut self.crowns[tile_span(tile, tile_x, row, &columns)] {
                *c = c.union(crown);
            }
        }
    }

    /// The tile at a place, made where there is none yet.
    fn made_tile(&mut self, tile_x: usize, tile_y: usize) -> usize {
        let slot = &mut self.tile_at[tile_y * self.tiles_on_side + tile_x];
        if *slot == NO_TILE {
            *slot = (self.crowns.len() / (TILE * TILE)) as u32;
            self.crowns.resize(self.crowns.len() + TILE * TILE, Crown::default());
        }
        *slot as usize
    }

    /// Sets one pixel.
    pub(super) fn put(&mut self, column: usize, row: usize, crown: Crown) {
        let tile = self.made_tile(column / TILE, row / TILE);
        self.crowns[tile * TILE * TILE + row % TILE * TILE + column % TILE] = crown;
    }

    /// One pixel; no crown where no tile is.
    pub(super) fn crown_at(&self, column: usize, row: usize) -> Crown {
        match self.tile_at[row / TILE * self.tiles_on_side + column / TILE] {
            NO_TILE => Crown::default(),
            tile => self.crown_in(tile, column % TILE, row % TILE),
        }
    }

    /// Tiles on a side of the raster.
    pub(super) fn tiles_on_side(&self) -> usize {
        self.tiles_on_side
    }

    /// Column and row of every tile that exists.
    pub(super) fn tiles_standing(&self) -> Vec<(usize, usize)> {
        let there = self.tile_at.iter().enumerate().filter(|(_, tile)| **tile != NO_TILE);
        there.map(|(i, _)| (i % self.tiles_on_side, i / self.tiles_on_side)).collect()
    }

    /// Changes the crowns that stand in a span.
    pub(super) fn change(&mut self, row: usize, columns: Range<usize>, change: impl Fn(Crown) -> Crown) {
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
        let top = |tile: &[Crown]| tile.iter().map(|c| c.top_steps()).max().unwrap_or(0);
        self.tile_top = self.crowns.chunks_exact(TILE * TILE).map(top).collect();
        self.top_m = f64::from(self.tile_top.iter().copied().max().unwrap_or(0)) * HEIGHT_STEP_M;
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
    let from = if tagged_m.is_some() { HeightFrom::Tag } else { HeightFrom::Default };
    let top_m = tagged_m.unwrap_or(default_m);
    Crown::new(top_m * base_share, top_m, Foliage::of(tree.leaf_type, tree.leaf_cycle), from)
}
