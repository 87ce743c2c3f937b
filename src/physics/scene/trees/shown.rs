//! What rasters show of the trees around one cell, laid over what the map says.
//!
//! Where a raster has a value it decides whether a tree stands and how high; the map keeps its say on leaves. Buildings and
//! bridge decks are not trees: what a raster shows on their ground is left to them up to their height.
use super::crown::{Crown, EDGE_TREES_M, Foliage, HeightFrom};
use super::grid::{CanopyGrid, Disagreement, TILE};
use crate::base::geodesy::Point;
use crate::base::words::Case;
use crate::map::extract::model::{Building, DeckShape};
use crate::map::network::model::Segment;
use crate::physics::scene::above::{AboveGround, ShownHeight};
use crate::physics::scene::index::HALO_M;
use crate::physics::scene::overheads::deck_width::deck_width_m;
use crate::physics::scene::raster::{Raster, fill_capsule, fill_rings, pieces};
use crate::physics::scene::solids::measured::Measured;
use crate::physics::scene::solids::slabs::is_slab;
use crate::physics::scene::vicinity::Vicinity;

/// Lower things are not trees: vehicles, shrubs and the noise of two rasters, metres; assumed.
pub(crate) const LOWEST_TREE_M: f64 = 2.0;
/// Rasters with pixels up to this size show the crowns over a carriageway, metres; assumed.
pub(crate) const FINE_PIXEL_M: f64 = 2.0;
/// Disagreement with the map is counted this near to roads, metres.
const CLOSE_M: f64 = 50.0;
/// Walls, eaves and parapets spread into the pixels beside them by about this much, metres; assumed.
const SPREAD_M: f64 = 1.5;
/// Roofs and the noise of two rasters rise above the height of a building by this much, metres; assumed.
const ABOVE_ROOF_M: f64 = 1.0;
/// A diagonal of a pixel over its side: farther than that from a road, no part of the pixel lies on it.
const DIAGONAL: f64 = std::f64::consts::SQRT_2;

/// How a road is cut out of trees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RoadCut {
    /// From the centre line, metres.
    pub half_m: f64,
    /// From the centre line to where crowns hang over what is cut back for vehicles, metres: `half_m` where none do, 0 where they
    /// meet.
    pub gap_m: f64,
}

impl RoadCut {
    /// The clear width of the road's class.
    pub(crate) fn of_class(segment: &Segment, case: Case) -> Self {
        let free = segment.section.free[case];
        Self {
            half_m: f64::from(segment.section.width_m.value / 2.0 + free.clear_m),
            gap_m: f64::from(free.crown_gap_m) / 2.0,
        }
    }
}

/// The cut for a segment: a fine raster shows what stands beside and over the carriageway; a coarse one only counts where
/// its pixels lie off the carriageway, and never within less than the class's clear width otherwise.
pub(super) fn road_cut(segment: &Segment, above: &AboveGround, around: &Vicinity) -> Option<RoadCut> {
    // Rasters may hold no value where nothing stands, as on the road itself: one place is not enough.
    let half_m = RoadCut::of_class(segment, around.case).half_m;
    let line = around.line(&segment.line);
    let asides = [0.0, -half_m, half_m];
    let mut places = line.windows(2).flat_map(|pair| {
        let (middle, aside_deg) = (pair[0].towards(pair[1], 0.5), pair[0].azimuth_deg(pair[1]) + 90.0);
        asides.into_iter().flat_map(move |m| [pair[0], middle, pair[1]].map(|p| p.moved(aside_deg, m)))
    });
    let pixel_m = places.find_map(|p| above.at(p))?.pixel_m;
    let half_width_m = f64::from(segment.section.width_m.value) / 2.0;
    Some(if pixel_m <= FINE_PIXEL_M {
        RoadCut { half_m: half_width_m, gap_m: 0.0 }
    } else {
        let half_m = RoadCut::of_class(segment, around.case).half_m.min(half_width_m + DIAGONAL * pixel_m);
        RoadCut { half_m, gap_m: RoadCut::of_class(segment, around.case).gap_m.min(half_m) }
    })
}

impl CanopyGrid {
    /// Lays a raster over the polygons that are filled already.
    pub(super) fn overlay(&mut self, around: &Vicinity, above: &AboveGround, base_share: f64) -> Disagreement {
        let near = self.tiles_near(around, above, HALO_M);
        let close = self.tiles_near(around, above, CLOSE_M);
        let mut seen = Disagreement::default();
        for (tile, _) in near.iter().enumerate().filter(|(_, near)| **near) {
            let found = self.overlay_tile(tile, above, base_share);
            if close[tile] {
                seen.add(&found);
            }
        }
        seen
    }

    /// Tiles within a distance of the cell's own segments, row by row.
    fn tiles_near(&self, around: &Vicinity, above: &AboveGround, distance_m: f64) -> Vec<bool> {
        let segments = above.segments.iter().filter_map(|i| around.network.segments.get(i.at()));
        let lines: Vec<Vec<Point>> = segments.map(|segment| around.line(&segment.line)).collect();
        self.tiles_within(lines.iter().map(|line| (line.as_slice(), distance_m)))
    }

    /// Tiles within a distance each of some lines, row by row.
    pub(super) fn tiles_within<'l>(&self, lines: impl Iterator<Item = (&'l [Point], f64)>) -> Vec<bool> {
        let side_m = TILE as f64 * self.raster().pixel_m;
        let tiles = Raster { corner: self.raster().corner, pixel_m: side_m, size: self.tiles_on_side() };
        let mut near = vec![false; tiles.size * tiles.size];
        for (line, distance_m) in lines {
            for (a, b) in pieces(line) {
                // Half the diagonal more: a tile counts where any part of it is near.
                fill_capsule(&tiles, a, b, distance_m + side_m * DIAGONAL / 2.0, |row, columns| {
                    near[row * tiles.size + columns.start..row * tiles.size + columns.end].fill(true);
                });
            }
        }
        near
    }

    fn overlay_tile(&mut self, tile: usize, above: &AboveGround, base_share: f64) -> Disagreement {
        let mut seen = Disagreement::default();
        let pixel_m = self.raster().pixel_m;
        let (tile_x, tile_y) = (tile % self.tiles_on_side(), tile / self.tiles_on_side());
        for i in 0..TILE * TILE {
            let (column, row) = (tile_x * TILE + i % TILE, tile_y * TILE + i / TILE);
            if column >= self.raster().size || row >= self.raster().size {
                continue;
            }
            let Some(shown) = above.at(self.raster().centre(column, row)) else { continue };
            let tree = shown.height_m >= LOWEST_TREE_M;
            let mapped = self.crown_at(column, row);
            let area = match (mapped.is_none(), tree) {
                (true, false) => continue,
                (true, true) => &mut seen.shown_only_m2,
                (false, true) => &mut seen.both_m2,
                (false, false) => &mut seen.mapped_only_m2,
            };
            *area += pixel_m * pixel_m;
            let crown = if tree { shown_crown(shown, mapped, base_share) } else { Crown::default() };
            self.put(column, row, crown);
        }
        seen
    }

    /// Takes what a raster shows of buildings and decks out of the trees: what is measured as solid, and where no surface is fine
    /// enough to tell, all on the ground of buildings.
    pub(super) fn leave_to_solids(&mut self, around: &Vicinity, measured: Option<&Measured>) {
        let raster = *self.raster();
        let not_shown = |c: Crown| if c.height_from() == HeightFrom::Raster { Crown::default() } else { c };
        match measured {
            Some(measured) => {
                self.leave_to_measured(measured);
                self.leave_to_footprints(around, &is_slab);
            }
            None => self.leave_to_footprints(around, &|_| true),
        }
        for deck in around.decks() {
            match &deck.shape {
                DeckShape::Outline(area) => {
                    let rings = around.rings(area);
                    fill_rings(&raster, &rings, |row, columns| self.change(row, columns, not_shown));
                }
                DeckShape::Line(line) => {
                    let half_m = deck_width_m(deck, None) / 2.0 + SPREAD_M;
                    for pair in around.line(line).windows(2) {
                        fill_capsule(&raster, pair[0], pair[1], half_m, |row, columns| {
                            self.change(row, columns, not_shown);
                        });
                    }
                }
            }
        }
    }

    fn leave_to_measured(&mut self, measured: &Measured) {
        let raster = *self.raster();
        for (tile_x, tile_y) in self.tiles_standing() {
            for i in 0..TILE * TILE {
                let (column, row) = (tile_x * TILE + i % TILE, tile_y * TILE + i / TILE);
                if column >= raster.size || row >= raster.size {
                    continue;
                }
                let crown = self.crown_at(column, row);
                let shown = !crown.is_none() && crown.height_from() == HeightFrom::Raster;
                if shown && measured.is_solid(raster.centre(column, row)) {
                    self.put(column, row, Crown::default());
                }
            }
        }
    }

    /// Takes what a raster shows on the ground of buildings out of the trees, up to their height. What is higher stays: a
    /// footprint never opens sky that was hidden without it.
    fn leave_to_footprints(&mut self, around: &Vicinity, which: &dyn Fn(&Building) -> bool) {
        let raster = *self.raster();
        for (index, building) in around.buildings_numbered().filter(|(_, b)| which(b)) {
            let roof_m = around.height(index, building).height_m + ABOVE_ROOF_M;
            let not_shown = |c: Crown| {
                let shown = c.height_from() == HeightFrom::Raster && c.top_m() <= roof_m;
                if shown { Crown::default() } else { c }
            };
            let rings = around.rings(&building.area);
            fill_rings(&raster, &rings, |row, columns| self.change(row, columns, not_shown));
            for pair in rings.iter().flat_map(|ring| ring.windows(2)) {
                fill_capsule(&raster, pair[0], pair[1], SPREAD_M, |row, columns| {
                    self.change(row, columns, not_shown);
                });
            }
        }
    }

    /// Brings leaves down to the ground at the edges of what a raster shows: light comes in from the side there.
    pub(super) fn edge_trees(&mut self) {
        let reach = (EDGE_TREES_M / self.raster().pixel_m).round().max(1.0) as usize;
        let size = self.raster().size;
        let mut edges = Vec::new();
        for tile in self.tiles_standing() {
            for i in 0..TILE * TILE {
                let (column, row) = (tile.0 * TILE + i % TILE, tile.1 * TILE + i / TILE);
                if column < reach || row < reach || column + reach >= size || row + reach >= size {
                    continue;
                }
                let crown = self.crown_at(column, row);
                let shown = !crown.is_none() && crown.height_from() == HeightFrom::Raster && crown.base_m() > 0.0;
                let open = |c: usize, r: usize| self.crown_at(c, r).is_none();
                if shown
                    && (open(column - reach, row)
                        || open(column + reach, row)
                        || open(column, row - reach)
                        || open(column, row + reach))
                {
                    edges.push((column, row));
                }
            }
        }
        for (column, row) in edges {
            let crown = self.crown_at(column, row).to_ground();
            self.put(column, row, crown);
        }
    }
}

/// A crown as high as shown, with the leaves the map gives it.
fn shown_crown(shown: ShownHeight, mapped: Crown, base_share: f64) -> Crown {
    let foliage = if mapped.is_none() { Foliage::Mixed } else { mapped.foliage() };
    let to_ground = !mapped.is_none() && mapped.base_m() == 0.0;
    let base_m = if to_ground { 0.0 } else { shown.height_m * base_share };
    Crown::new(base_m, shown.height_m, foliage, HeightFrom::Raster)
}

/// Whether a raster shows single crowns of a diameter at a place: then it knows better than the map whether a tree stands.
pub(super) fn shows_crowns(above: Option<&AboveGround>, p: Point, diameter_m: f64) -> bool {
    above.and_then(|a| a.at(p)).is_some_and(|shown| shown.pixel_m <= diameter_m)
}
