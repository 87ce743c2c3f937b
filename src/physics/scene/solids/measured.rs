//! Buildings as a fine surface model over bare earth shows them: opaque, pixel by pixel, so that a tower on a hall stands
//! as it is.
//!
//! In: the rasters around a cell, footprints, carriageways and decks. Out: [`Measured`], the tops of what is solid, which
//! mapped buildings it stands for, and which pixels are not trees. What is measured stands there, whatever the map says of its
//! height. Solid is what stands on a footprint, and large smooth things without one (see `smooth`); the rest is
//! trees. A footprint never makes anything lower or more open than it was without it.
use super::slabs::is_slab;
use super::smooth::smooth_regions;
use crate::base::geodesy::Point;
use crate::base::window::{Elevation, ElevationGrid, PlaneToPixel};
use crate::map::extract::model::DeckShape;
use crate::physics::scene::above::AboveGround;
use crate::physics::scene::overheads::deck_width::deck_width_m;
use crate::physics::scene::raster::{Raster, fill_capsule, fill_rings};
use crate::physics::scene::vicinity::Vicinity;

/// Pixels up to this size show single buildings, metres; assumed.
const FINE_PIXEL_M: f64 = 2.0;
/// Lower things on a footprint are not a building: it is newer than the raster, or gone, and the map's height counts, metres; assumed.
const LOWEST_M: f32 = 2.0;
/// A footprint is measured where this share of its pixels has a value; assumed.
const LEAST_MEASURED: f64 = 0.9;
/// Walls and eaves spread into the pixels beside a footprint by about this much, metres; assumed.
const SPREAD_M: f64 = 1.5;
/// What stands there higher above the roof than this is a tree beside the building, metres; assumed.
const ABOVE_ROOF_M: f32 = 1.0;
/// The roof is as high as this share of the pixels of a footprint are at most; assumed.
const ROOF_SHARE: f64 = 0.95;
/// Far below anything: pixels that hide nothing.
const NOTHING_M: f32 = -10_000.0;

/// What a surface shows of the buildings around one cell.
#[derive(Debug)]
pub struct Measured {
    /// Tops of what is solid, above the vertical datum; the ground beside it, and nothing elsewhere.
    tops: Elevation,
    /// Buildings it stands for, ascending indices into [`crate::map::extract::model::Extract::buildings`].
    buildings: Vec<u32>,
    /// Per grid and pixel, whether something solid stands there.
    solid: Vec<Vec<bool>>,
}

/// Pixels of one surface.
struct SurfacePixels<'a> {
    grid: &'a ElevationGrid,
    /// Above the ground, metres; not a number where unknown.
    heights_m: Vec<f32>,
    solid: Vec<bool>,
}

impl Measured {
    /// What rasters show; `None` where no surface is fine enough.
    pub fn of(around: &Vicinity, above: &AboveGround) -> Option<Self> {
        let fine = above.surface.grids.iter().filter(|g| g.pixel_m <= FINE_PIXEL_M);
        let mut buildings = Vec::new();
        let mut measured = Self { tops: Elevation::default(), buildings: Vec::new(), solid: Vec::new() };
        for grid in fine {
            let mut pixels = SurfacePixels::new(grid, above.ground);
            pixels.stand(around, &mut buildings);
            measured.tops.grids.push(pixels.tops(above.ground));
            measured.solid.push(pixels.solid);
        }
        buildings.sort_unstable();
        buildings.dedup();
        measured.buildings = buildings;
        (!measured.solid.is_empty()).then_some(measured)
    }
    /// Tops of what is solid, above the vertical datum.
    pub fn tops(&self) -> &Elevation {
        &self.tops
    }
    /// Whether the height of a building is measured.
    pub fn gives(&self, building: u32) -> bool {
        self.buildings.binary_search(&building).is_ok()
    }
    /// Whether something solid stands at a place.
    pub fn is_solid(&self, p: Point) -> bool {
        self.tops.grids.iter().zip(&self.solid).any(|(grid, solid)| {
            let (column, row) = grid.map.apply(p);
            let (column, row) = ((column + 0.5).floor(), (row + 0.5).floor());
            let inside = column >= 0.0 && row >= 0.0 && column < grid.columns as f64 && row < grid.rows as f64;
            inside && solid[row as usize * grid.columns + column as usize]
        })
    }
}

impl<'a> SurfacePixels<'a> {
    fn new(grid: &'a ElevationGrid, ground: &Elevation) -> Self {
        let height_m = |i: usize| {
            let top_m = grid.values_m[i];
            if top_m.is_nan() {
                return f32::NAN;
            }
            ground.height_m(place_of(&grid.map, i % grid.columns, i / grid.columns)).map_or(f32::NAN, |z| top_m - z)
        };
        let heights_m = (0..grid.values_m.len()).map(height_m).collect();
        Self { grid, heights_m, solid: vec![false; grid.values_m.len()] }
    }

    /// Marks what is solid and notes the buildings that are measured. Smooth things are told from the raster alone, so
    /// that a footprint takes nothing away from them.
    fn stand(&mut self, around: &Vicinity, buildings: &mut Vec<u32>) {
        smooth_regions(&self.heights_m, self.grid.columns, self.grid.pixel_m, &mut self.solid);
        for index in &around.near.buildings {
            let Some(building) = around.extract.buildings.get(*index as usize) else { continue };
            let rings = around.rings(&building.area);
            let stands = building.layer >= 0 && building.area.outer.len() >= 4 && !is_slab(building);
            if stands && self.stand_on(&rings) {
                buildings.push(*index);
            }
        }
        // A roof on posts is open below, whatever its top looks like.
        for roof in around.buildings().filter(|b| is_slab(b)) {
            let rings = around.rings(&roof.area);
            self.inside(&rings).into_iter().for_each(|i| self.solid[i] = false);
            rings.iter().for_each(|ring| self.clear_line(ring, SPREAD_M));
        }
        for segment in around.segments().filter(|s| s.tunnel.is_none()) {
            let half_m = f64::from(segment.section.width_m.value) / 2.0;
            self.clear_line(&around.line(&segment.line), half_m);
        }
        for deck in around.decks() {
            match &deck.shape {
                DeckShape::Outline(area) => {
                    let inside = self.inside(&around.rings(area));
                    inside.into_iter().for_each(|i| self.solid[i] = false);
                }
                DeckShape::Line(line) => {
                    self.clear_line(&around.line(line), deck_width_m(deck, None) / 2.0 + SPREAD_M);
                }
            }
        }
    }

    /// Marks a building; whether its height is measured.
    fn stand_on(&mut self, rings: &[Vec<Point>]) -> bool {
        let inside = self.inside(rings);
        let mut heights_m: Vec<f32> = inside.iter().map(|i| self.heights_m[*i]).filter(|h| !h.is_nan()).collect();
        if heights_m.is_empty() || (heights_m.len() as f64) < LEAST_MEASURED * inside.len() as f64 {
            return false;
        }
        heights_m.sort_unstable_by(f32::total_cmp);
        if heights_m[heights_m.len() / 2] < LOWEST_M {
            return false;
        }
        let roof_m = heights_m[((heights_m.len() - 1) as f64 * ROOF_SHARE) as usize];
        for i in inside {
            self.solid[i] |= self.heights_m[i] >= LOWEST_M;
        }
        let (raster, columns) = (self.raster(), self.grid.columns);
        let radius = (SPREAD_M / self.grid.pixel_m).max(1.0);
        for pair in rings.iter().flat_map(|ring| ring.windows(2)) {
            let (a, b) = (self.pixel(pair[0]), self.pixel(pair[1]));
            let mut beside = Vec::new();
            fill_capsule(&raster, a, b, radius, |row, span| beside.push((row, span)));
            for (row, span) in beside.into_iter().filter(|(row, _)| *row < self.grid.rows) {
                for i in row * columns + span.start..row * columns + span.end.min(columns) {
                    self.solid[i] |= self.heights_m[i] >= LOWEST_M && self.heights_m[i] <= roof_m + ABOVE_ROOF_M;
                }
            }
        }
        true
    }

    /// Pixels whose centres lie in rings.
    fn inside(&self, rings: &[Vec<Point>]) -> Vec<usize> {
        let rings: Vec<Vec<Point>> = rings.iter().map(|ring| ring.iter().map(|p| self.pixel(*p)).collect()).collect();
        let (columns, rows) = (self.grid.columns, self.grid.rows);
        let mut inside = Vec::new();
        fill_rings(&self.raster(), &rings, |row, span| {
            if row < rows && span.start < columns {
                inside.extend(row * columns + span.start..row * columns + span.end.min(columns));
            }
        });
        inside
    }

    fn clear_line(&mut self, line: &[Point], half_m: f64) {
        let (raster, columns, rows) = (self.raster(), self.grid.columns, self.grid.rows);
        for pair in line.windows(2) {
            let (a, b) = (self.pixel(pair[0]), self.pixel(pair[1]));
            fill_capsule(&raster, a, b, half_m / self.grid.pixel_m, |row, span| {
                if row < rows && span.start < columns {
                    self.solid[row * columns + span.start..row * columns + span.end.min(columns)].fill(false);
                }
            });
        }
    }

    /// The grid's own pixels as a plane: pixel `i` is centred on `i`.
    fn raster(&self) -> Raster {
        Raster { corner: Point::new(-0.5, -0.5), pixel_m: 1.0, size: self.grid.columns.max(self.grid.rows) }
    }
    fn pixel(&self, p: Point) -> Point {
        let (column, row) = self.grid.map.apply(p);
        Point::new(column, row)
    }

    /// Tops of solid pixels, and the ground of those that touch one.
    fn tops(&self, ground: &Elevation) -> ElevationGrid {
        let (columns, rows) = (self.grid.columns, self.grid.rows);
        let mut values_m = vec![NOTHING_M; self.solid.len()];
        for i in (0..self.solid.len()).filter(|i| self.solid[*i]) {
            values_m[i] = self.grid.values_m[i];
            let (column, row) = (i % columns, i / columns);
            for r in row.saturating_sub(1)..(row + 2).min(rows) {
                for c in column.saturating_sub(1)..(column + 2).min(columns) {
                    let j = r * columns + c;
                    if !self.solid[j] && values_m[j] == NOTHING_M {
                        values_m[j] = ground.height_m(place_of(&self.grid.map, c, r)).unwrap_or(NOTHING_M);
                    }
                }
            }
        }
        ElevationGrid { values_m, ..self.grid.clone() }
    }
}

/// Where the centre of a pixel lies in the plane: the linear part solved, then what the squares add taken off twice.
fn place_of(map: &PlaneToPixel, column: usize, row: usize) -> Point {
    let (c, r) = (&map.column, &map.row);
    let determinant = c[1] * r[2] - c[2] * r[1];
    let solved = |dc: f64, dr: f64| {
        let (x, y) = ((dc * r[2] - dr * c[2]) / determinant, (dr * c[1] - dc * r[1]) / determinant);
        (x * 1e3, y * 1e3)
    };
    let (x, y) = solved(column as f64 - c[0], row as f64 - r[0]);
    let mut p = Point::new(x, y);
    for _ in 0..2 {
        let (at_column, at_row) = map.apply(p);
        let (dx, dy) = solved(column as f64 - at_column, row as f64 - at_row);
        p = Point::new(p.x_m + dx, p.y_m + dy);
    }
    p
}
