//! Horizon of the terrain: the highest elevation angle of the ground along an azimuth, with earth
//! curvature and refraction.
//!
//! In: elevations around a cell and an eye above the ground. Out: degrees per azimuth. The surface is
//! the bilinear one through the raster's pixels, and its highest point per crossed cell is found in
//! closed form, so no ridge between pixels is missed. Blocks that cannot rise above what has been seen
//! are skipped by their maxima. A ray is straight in pixels, along the azimuth at the eye: over 20 km a
//! conformal projection bends it by about one 30 m pixel, sideways.
use super::mask::{AZIMUTH_BINS, azimuth_deg};
use crate::geodesy::{EARTH_RADIUS_M, Point};
use crate::terrain::grid::{Elevation, ElevationGrid};

/// Cells per side of a block grow by this power of two from level to level.
const LEVEL_SHIFT: u32 = 2;
/// Points looked at where a ray crosses a cell with a void corner, whose surface is not bilinear.
const VOID_CELL_STEPS: usize = 8;
/// A ray never starts nearer than this, metres: at the eye itself the angle is not defined.
const NEAREST_M: f64 = 0.01;

/// How much lower than the tangent plane a distant point appears, metres: `(1 - k) d^2 / 2R`.
///
/// `k` is the coefficient of refraction: 0 none, 0.13 visible light, 0.25 radio (a 4/3 earth).
pub fn drop_m(distance_m: f64, refraction_k: f64) -> f64 {
    (1.0 - refraction_k) * distance_m * distance_m / (2.0 * EARTH_RADIUS_M)
}

/// Exact elevation angle, degrees, of a point at height `z_m` seen from height `eye_z_m`, at
/// `distance_m` along a sphere whose radius is stretched for refraction.
pub fn elevation_angle_deg(eye_z_m: f64, z_m: f64, distance_m: f64, refraction_k: f64) -> f64 {
    let radius_m = EARTH_RADIUS_M / (1.0 - refraction_k);
    let (sin, cos) = (distance_m / radius_m).sin_cos();
    let up_m = (radius_m + z_m) * cos - (radius_m + eye_z_m);
    up_m.atan2((radius_m + z_m) * sin).to_degrees()
}

/// Where the sky is seen from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Eye {
    /// Place in the plane of the cell.
    pub at: Point,
    /// Height of the antenna above the elevation's datum, metres.
    pub z_m: f64,
}

/// What is asked of a ray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HorizonQuery {
    /// Terrain nearer than this is not looked at, metres.
    pub start_m: f64,
    /// Terrain farther than this is not looked at, metres.
    pub max_m: f64,
    /// Horizons below this are not wanted and come out as this, degrees; -90 asks for all.
    pub floor_deg: f64,
    /// Coefficient of refraction, see [`drop_m`].
    pub refraction_k: f64,
}

/// Where the horizon was found, per azimuth bin: handed from station to station along a road it makes
/// the next search short. It never changes an answer by more than rounding.
#[derive(Debug, Clone)]
pub struct Hint {
    distance_m: [f32; AZIMUTH_BINS],
}

impl Default for Hint {
    fn default() -> Self {
        Self { distance_m: [0.0; AZIMUTH_BINS] }
    }
}

/// Highest corner of every block of cells.
#[derive(Debug, Clone)]
struct Level {
    shift: u32,
    columns: usize,
    highest_m: Vec<f32>,
}

/// Elevation of a cell with block maxima, built once and then asked for every station.
#[derive(Debug, Clone)]
pub struct TerrainPyramid {
    elevation: Elevation,
    levels: Vec<Vec<Level>>,
}

impl TerrainPyramid {
    /// Builds the block maxima.
    pub fn new(elevation: Elevation) -> Self {
        let levels = elevation.grids.iter().map(levels_of).collect();
        Self { elevation, levels }
    }
    /// The elevation it was built from.
    pub fn elevation(&self) -> &Elevation {
        &self.elevation
    }
    /// Pixel size, metres, of the best source that has a height at a place.
    pub fn pixel_m(&self, at: Point) -> Option<f64> {
        self.elevation.grids.iter().find(|g| g.height_m(at).is_some()).map(|g| g.pixel_m)
    }
    /// Horizons at the centres of all azimuth bins, degrees; `floor_deg` where nothing rises above it.
    pub fn horizons_deg(&self, eye: &Eye, query: &HorizonQuery, hint: &mut Hint) -> [f32; AZIMUTH_BINS] {
        std::array::from_fn(|bin| {
            let (deg, found_m) = self.search(eye, azimuth_deg(bin), query, f64::from(hint.distance_m[bin]));
            hint.distance_m[bin] = found_m.unwrap_or(0.0) as f32;
            deg
        })
    }
    /// Horizon along one azimuth, degrees.
    pub fn horizon_deg(&self, eye: &Eye, azimuth_deg: f64, query: &HorizonQuery) -> f32 {
        self.search(eye, azimuth_deg, query, 0.0).0
    }
    /// Horizon along one azimuth and its distance, `None` where nothing rises above the floor.
    pub fn horizon_and_distance(&self, eye: &Eye, azimuth_deg: f64, query: &HorizonQuery) -> (f32, Option<f64>) {
        self.search(eye, azimuth_deg, query, 0.0)
    }

    fn search(&self, eye: &Eye, azimuth_deg: f64, query: &HorizonQuery, hint_m: f64) -> (f32, Option<f64>) {
        let floor = if query.floor_deg <= -90.0 { f64::NEG_INFINITY } else { query.floor_deg.to_radians().tan() };
        let mut best = Best { tangent: floor, distance_m: 0.0 };
        for (grid, levels) in self.elevation.grids.iter().zip(&self.levels) {
            if let Some(ray) = Ray::new(grid, levels, eye, azimuth_deg, query) {
                ray.look_near(hint_m, &mut best);
                ray.march(&mut best);
            }
        }
        if best.distance_m > 0.0 {
            (best.tangent.atan().to_degrees() as f32, Some(best.distance_m))
        } else {
            (query.floor_deg as f32, None)
        }
    }
}

/// Block maxima over `2^k` cells a side; a block of cells holds one more row and column of pixels, so
/// its maximum bounds the interpolated surface above it.
fn levels_of(grid: &ElevationGrid) -> Vec<Level> {
    let (columns, rows) = (grid.columns.saturating_sub(1), grid.rows.saturating_sub(1));
    let mut levels: Vec<Level> = Vec::new();
    if columns == 0 || rows == 0 {
        return levels;
    }
    loop {
        let shift = LEVEL_SHIFT * (levels.len() as u32 + 1);
        let size = 1usize << shift;
        let (across, down) = (columns.div_ceil(size), rows.div_ceil(size));
        let highest_m = match levels.last() {
            None => first_level(grid, size, across, down),
            Some(below) => next_level(below, across, down),
        };
        levels.push(Level { shift, columns: across, highest_m });
        if across == 1 && down == 1 {
            return levels;
        }
    }
}

fn first_level(grid: &ElevationGrid, size: usize, across: usize, down: usize) -> Vec<f32> {
    let mut highest_m = vec![f32::NEG_INFINITY; across * down];
    for block_row in 0..down {
        let rows = block_row * size..=((block_row + 1) * size).min(grid.rows - 1);
        let out = &mut highest_m[block_row * across..(block_row + 1) * across];
        for row in rows {
            let line = &grid.values_m[row * grid.columns..(row + 1) * grid.columns];
            for (block, high) in out.iter_mut().enumerate() {
                let pixels = block * size..=((block + 1) * size).min(grid.columns - 1);
                *high = line[pixels].iter().fold(*high, |a, b| a.max(*b));
            }
        }
    }
    highest_m
}

fn next_level(below: &Level, across: usize, down: usize) -> Vec<f32> {
    let mut highest_m = vec![f32::NEG_INFINITY; across * down];
    for (i, high) in below.highest_m.iter().enumerate() {
        let (column, row) = (i % below.columns, i / below.columns);
        let out = &mut highest_m[(row >> LEVEL_SHIFT) * across + (column >> LEVEL_SHIFT)];
        *out = out.max(*high);
    }
    highest_m
}

/// The highest so far: tangent of its elevation angle, and where.
struct Best {
    tangent: f64,
    distance_m: f64,
}

impl Best {
    fn offer(&mut self, tangent: f64, distance_m: f64) {
        if tangent > self.tangent {
            self.tangent = tangent;
            self.distance_m = distance_m;
        }
    }
}

/// One ray over one grid.
///
/// The exact angle of height z at distance d has the tangent `w / d - d / 2R'` with
/// `w = (z - eye) / (1 + z / R')` (derived here; the terms left out are below 1e-5 of it up to 50 km).
/// So curvature only needs a corrected height `w` per pixel and one constant.
struct Ray<'a> {
    grid: &'a ElevationGrid,
    levels: &'a [Level],
    eye_z_m: f64,
    per_radius: f64,
    half_curve: f64,
    start: [f64; 2],
    step: [f64; 2],
    metres_per_step: [f64; 2],
    from_m: f64,
    to_m: f64,
}

/// A square of cells: its first column and row, and its side.
#[derive(Clone, Copy)]
struct Block {
    column: usize,
    row: usize,
    size: usize,
}

impl<'a> Ray<'a> {
    /// `None` where the ray misses the grid.
    fn new(
        grid: &'a ElevationGrid,
        levels: &'a [Level],
        eye: &Eye,
        azimuth_deg: f64,
        query: &HorizonQuery,
    ) -> Option<Self> {
        if levels.is_empty() {
            return None;
        }
        let (column, row) = grid.map.apply(eye.at);
        let (per_m_column, per_m_row) = grid.map.per_metre(eye.at, azimuth_deg);
        // A step of minus zero would turn the distances below to minus infinity.
        let (per_m_column, per_m_row) = (per_m_column + 0.0, per_m_row + 0.0);
        let per_radius = (1.0 - query.refraction_k) / EARTH_RADIUS_M;
        let mut ray = Self {
            grid,
            levels,
            eye_z_m: eye.z_m,
            per_radius,
            half_curve: per_radius / 2.0,
            start: [column, row],
            step: [per_m_column, per_m_row],
            metres_per_step: [1.0 / per_m_column, 1.0 / per_m_row],
            from_m: query.start_m.max(NEAREST_M),
            to_m: query.max_m,
        };
        for (axis, count) in [grid.columns, grid.rows].into_iter().enumerate() {
            let a = (0.0 - ray.start[axis]) * ray.metres_per_step[axis];
            let b = ((count - 1) as f64 - ray.start[axis]) * ray.metres_per_step[axis];
            // `min` and `max` pass over the NaN of a ray along the border itself.
            ray.from_m = ray.from_m.max(a.min(b));
            ray.to_m = ray.to_m.min(a.max(b));
        }
        (ray.from_m < ray.to_m).then_some(ray)
    }

    /// Height above the eye, corrected so that the tangent of its angle is `w / d - d / 2R'`.
    #[inline]
    fn above_eye_m(&self, z_m: f32) -> f64 {
        let z_m = f64::from(z_m);
        let x = z_m * self.per_radius;
        (z_m - self.eye_z_m) * (1.0 - x * (1.0 - x))
    }

    /// Whether ground up to `highest_m` between two distances stays at or below the best so far.
    #[inline]
    fn stays_below(&self, highest_m: f32, near_m: f64, far_m: f64, best: &Best) -> bool {
        if highest_m == f32::NEG_INFINITY {
            return true;
        }
        let above_m = self.above_eye_m(highest_m);
        // Ground above the eye looks highest from near, ground below it from afar.
        let reach_m = if above_m >= 0.0 { near_m } else { far_m };
        above_m <= (best.tangent + self.half_curve * near_m) * reach_m
    }

    /// Distances at which the ray leaves a block across columns and across rows.
    #[inline]
    fn leaves_m(&self, block: Block) -> [f64; 2] {
        let edge = |axis: usize, first: usize| {
            let edge = if self.step[axis] >= 0.0 { first + block.size } else { first };
            (edge as f64 - self.start[axis]) * self.metres_per_step[axis]
        };
        [edge(0, block.column), edge(1, block.row)]
    }

    /// The cell entered on leaving a block, and the distance; `None` beyond the grid.
    #[inline]
    fn next(&self, block: Block, leaves_m: [f64; 2]) -> Option<(usize, usize)> {
        let axis = if leaves_m[0] < leaves_m[1] || leaves_m[1].is_nan() { 0 } else { 1 };
        let first = [block.column, block.row];
        let count = [self.grid.columns - 1, self.grid.rows - 1];
        let crossed = if self.step[axis] >= 0.0 { first[axis] + block.size } else { first[axis].checked_sub(1)? };
        if crossed >= count[axis] {
            return None;
        }
        let other = 1 - axis;
        let at = (self.start[other] + self.step[other] * leaves_m[axis]) as usize;
        let last = (first[other] + block.size).min(count[other]) - 1;
        let along = at.clamp(first[other], last);
        Some(if axis == 0 { (crossed, along) } else { (along, crossed) })
    }

    fn cell_at(&self, distance_m: f64) -> (usize, usize) {
        let column = (self.start[0] + self.step[0] * distance_m) as usize;
        let row = (self.start[1] + self.step[1] * distance_m) as usize;
        (column.min(self.grid.columns - 2), row.min(self.grid.rows - 2))
    }

    /// Looks at the cells around a distance first, so that the march starts with a good best.
    fn look_near(&self, hint_m: f64, best: &mut Best) {
        if !(hint_m > self.from_m && hint_m < self.to_m) {
            return;
        }
        let (column, row) = self.cell_at((hint_m - self.grid.pixel_m).max(self.from_m));
        let mut block = Block { column, row, size: 1 };
        // The cell before and the ones after: the ridge seen from the last station is rarely farther off.
        let mut near_m = self.enters_m(block).max(self.from_m);
        for _ in 0..3 {
            let leaves_m = self.leaves_m(block);
            let far_m = leaves_m[0].min(leaves_m[1]).min(self.to_m).max(near_m);
            self.cell(block, near_m, far_m, best);
            near_m = far_m;
            match self.next(block, leaves_m) {
                Some((column, row)) if near_m < self.to_m => block = Block { column, row, size: 1 },
                _ => return,
            }
        }
    }

    fn enters_m(&self, block: Block) -> f64 {
        let edge = |axis: usize, first: usize| {
            let edge = if self.step[axis] >= 0.0 { first } else { first + block.size };
            (edge as f64 - self.start[axis]) * self.metres_per_step[axis]
        };
        edge(0, block.column).max(edge(1, block.row))
    }

    fn march(&self, best: &mut Best) {
        let top = self.levels.len();
        let whole_m = self.levels[top - 1].highest_m[0];
        let (mut column, mut row) = self.cell_at(self.from_m);
        let mut near_m = self.from_m;
        let mut level = 1;
        while near_m < self.to_m {
            let shift = if level == 0 { 0 } else { self.levels[level - 1].shift };
            let block = Block { column: column >> shift << shift, row: row >> shift << shift, size: 1 << shift };
            let leaves_m = self.leaves_m(block);
            let far_m = leaves_m[0].min(leaves_m[1]).min(self.to_m).max(near_m);
            if level > 0 {
                let l = &self.levels[level - 1];
                let highest_m = l.highest_m[(row >> shift) * l.columns + (column >> shift)];
                if !self.stays_below(highest_m, near_m, far_m, best) {
                    level -= 1;
                    continue;
                }
                if self.stays_below(whole_m, near_m, self.to_m, best) {
                    return;
                }
            } else {
                self.cell(block, near_m, far_m, best);
            }
            near_m = far_m;
            let Some((next_column, next_row)) = self.next(block, leaves_m) else { return };
            // A wider block is worth a look only when it is a new one.
            if level < top && ((next_column ^ column) | (next_row ^ row)) >> self.levels[level].shift != 0 {
                level += 1;
            }
            (column, row) = (next_column, next_row);
        }
    }

    /// Highest tangent of the bilinear surface of one cell between two distances.
    #[inline]
    fn cell(&self, block: Block, near_m: f64, far_m: f64, best: &mut Best) {
        let i = block.row * self.grid.columns + block.column;
        let j = i + self.grid.columns;
        let z = &self.grid.values_m;
        let corners = [z[i], z[i + 1], z[j], z[j + 1]];
        let [w00, w01, w10, w11] = corners.map(|z| self.above_eye_m(z));
        let twist = w11 - w10 - w01 + w00;
        if twist.is_nan() {
            return self.void_cell(corners, near_m, far_m, best);
        }
        // Height above the eye along the ray is a + b t + c t^2, its tangent a / t + b + (c - 1/2R') t.
        let (u, v) = (self.start[0] - block.column as f64, self.start[1] - block.row as f64);
        let (du, dv) = (self.step[0], self.step[1]);
        let (x, y) = (w01 - w00, w10 - w00);
        let a = w00 + x * u + y * v + twist * u * v;
        let b = x * du + y * dv + twist * (u * dv + v * du);
        let c = twist * du * dv - self.half_curve;
        best.offer(a / near_m + b + c * near_m, near_m);
        best.offer(a / far_m + b + c * far_m, far_m);
        // Both falling terms: one maximum inside, at sqrt(a / c).
        if a < 0.0 && c < 0.0 && a < c * near_m * near_m && a > c * far_m * far_m {
            best.offer(b - 2.0 * (a * c).sqrt(), (a / c).sqrt());
        }
    }

    /// The same where corners are void: weights are renormalised over the valid ones, so points are looked at.
    #[cold]
    fn void_cell(&self, corners: [f32; 4], near_m: f64, far_m: f64, best: &mut Best) {
        if corners.iter().all(|z| z.is_nan()) {
            return;
        }
        for k in 0..=VOID_CELL_STEPS {
            let t = near_m + (far_m - near_m) * k as f64 / VOID_CELL_STEPS as f64;
            let (column, row) = (self.start[0] + self.step[0] * t, self.start[1] + self.step[1] * t);
            if let Some(z_m) = self.grid.height_at_pixel_m(column, row) {
                best.offer(self.above_eye_m(z_m) / t - self.half_curve * t, t);
            }
        }
    }
}
