//! Horizon of the terrain: the highest elevation angle of the ground along an azimuth, with earth
//! curvature and refraction.
//!
//! In: elevations around a cell and an eye above the ground. Out: degrees per azimuth. The surface is
//! the bilinear one through the raster's pixels, and its highest point per crossed cell is found in
//! closed form, so no ridge between pixels is missed. Cells and blocks of cells that cannot rise above what
//! has been seen are skipped by their maxima. A ray is straight in pixels, along the azimuth at the eye: over 20 km a
//! conformal projection bends it by about one 30 m pixel, sideways.
use super::mask::{AZIMUTH_BINS, azimuth_deg};
use crate::base::geodesy::{EARTH_RADIUS_M, Point};
use crate::base::window::{Elevation, ElevationGrid};

/// Cells per side of a block grow by this power of two from level to level; the lowest level is of single cells.
const LEVEL_SHIFT: u32 = 2;
/// Points looked at where a ray crosses a cell with a void corner, whose surface is not bilinear.
const VOID_CELL_STEPS: usize = 8;
/// Share of the way across such a cell by which these points stay off its border, where the surface jumps.
const INSIDE: f64 = 1e-6;
/// Binary places of a coordinate along a ray's minor axis, in pixels, and what one pixel is then.
const PLACES: u32 = 32;
const ONE: f64 = (1u64 << PLACES) as f64;
/// A ray never starts nearer than this, metres: at the eye itself the angle is not defined.
const NEAREST_M: f64 = 0.01;

/// How much lower than the tangent plane a distant point appears, metres: `(1 - k) d^2 / 2R`.
///
/// `k` is the coefficient of refraction, at most 1: 0 none, 0.13 visible light, 0.25 radio (a 4/3 earth).
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
pub struct HorizonEye {
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
    /// Coefficient of refraction, at most 1, see [`drop_m`].
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
    columns: usize,
    highest_m: Vec<f32>,
}

impl Level {
    /// Highest of two blocks beside each other: their index along the major axis (0 columns, 1 rows) and
    /// those along the other one.
    #[inline]
    fn highest_of(&self, major: usize, along: usize, a: usize, b: usize) -> f32 {
        let (across, down) = if major == 0 { (1, self.columns) } else { (self.columns, 1) };
        self.highest_m[along * across + a * down].max(self.highest_m[along * across + b * down])
    }
}

/// Elevation of a cell with block maxima, built once and then asked for every station.
#[derive(Debug, Clone)]
pub struct TerrainPyramid {
    elevation: Elevation,
    levels: Vec<Vec<Level>>,
    /// Sine and cosine of the centre of every azimuth bin.
    towards: [(f64, f64); AZIMUTH_BINS],
}

impl TerrainPyramid {
    /// Builds the block maxima.
    pub fn new(elevation: Elevation) -> Self {
        let levels = elevation.grids.iter().map(levels_of).collect();
        Self { elevation, levels, towards: std::array::from_fn(|bin| azimuth_deg(bin).to_radians().sin_cos()) }
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
    pub fn horizons_deg(&self, eye: &HorizonEye, query: &HorizonQuery, hint: &mut Hint) -> [f32; AZIMUTH_BINS] {
        let stands = self.stands(eye, query);
        let floor = floor_tangent(query);
        std::array::from_fn(|bin| {
            let (deg, found_m) = search(&stands, floor, self.towards[bin], query, f64::from(hint.distance_m[bin]));
            hint.distance_m[bin] = found_m.unwrap_or(0.0) as f32;
            deg
        })
    }
    /// Horizon along one azimuth, degrees.
    pub fn horizon_deg(&self, eye: &HorizonEye, azimuth_deg: f64, query: &HorizonQuery) -> f32 {
        self.horizon_and_distance(eye, azimuth_deg, query).0
    }
    /// Horizon along one azimuth and its distance, `None` where nothing rises above the floor.
    pub fn horizon_and_distance(&self, eye: &HorizonEye, azimuth_deg: f64, query: &HorizonQuery) -> (f32, Option<f64>) {
        let towards = azimuth_deg.to_radians().sin_cos();
        search(&self.stands(eye, query), floor_tangent(query), towards, query, 0.0)
    }

    fn stands(&self, eye: &HorizonEye, query: &HorizonQuery) -> Vec<Standpoint<'_>> {
        let grids = self.elevation.grids.iter().zip(&self.levels);
        grids.filter_map(|(grid, levels)| Standpoint::new(grid, levels, eye, query)).collect()
    }
}

fn floor_tangent(query: &HorizonQuery) -> f64 {
    if query.floor_deg <= -90.0 { f64::NEG_INFINITY } else { query.floor_deg.to_radians().tan() }
}

/// One ray over all grids; `towards` is the sine and cosine of its azimuth.
fn search(
    stands: &[Standpoint],
    floor: f64,
    towards: (f64, f64),
    query: &HorizonQuery,
    hint_m: f64,
) -> (f32, Option<f64>) {
    let mut best = Best { tangent: floor, distance_m: 0.0 };
    for stand in stands {
        if let Some(ray) = Ray::new(stand, towards) {
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

/// Maxima of the cells' corners, then of blocks of cells up to the whole grid: each bounds the interpolated
/// surface above it. Cells without a valid corner are minus infinity and so never worth a look.
fn levels_of(grid: &ElevationGrid) -> Vec<Level> {
    let (columns, rows) = (grid.columns.saturating_sub(1), grid.rows.saturating_sub(1));
    let mut levels: Vec<Level> = Vec::new();
    if columns == 0 || rows == 0 {
        return levels;
    }
    levels.push(cell_level(grid, columns, rows));
    while let Some(below) = levels.last().filter(|l| l.highest_m.len() > 1) {
        let next = next_level(below);
        levels.push(next);
    }
    levels
}

fn cell_level(grid: &ElevationGrid, columns: usize, rows: usize) -> Level {
    let mut highest_m = Vec::with_capacity(columns * rows);
    for row in 0..rows {
        let (upper, lower) = grid.values_m[row * grid.columns..(row + 2) * grid.columns].split_at(grid.columns);
        let corners = upper.windows(2).zip(lower.windows(2));
        highest_m.extend(corners.map(|(u, l)| u.iter().chain(l).fold(f32::NEG_INFINITY, |a, b| a.max(*b))));
    }
    Level { columns, highest_m }
}

fn next_level(below: &Level) -> Level {
    let rows = below.highest_m.len() / below.columns;
    let (columns, size) = (below.columns.div_ceil(1 << LEVEL_SHIFT), 1 << LEVEL_SHIFT);
    let mut highest_m = vec![f32::NEG_INFINITY; columns * rows.div_ceil(size)];
    for (row, line) in below.highest_m.chunks_exact(below.columns).enumerate() {
        let out = &mut highest_m[(row >> LEVEL_SHIFT) * columns..][..columns];
        for (high, block) in out.iter_mut().zip(line.chunks(size)) {
            *high = block.iter().fold(*high, |a, b| a.max(*b));
        }
    }
    Level { columns, highest_m }
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

/// An eye over one grid: what all its rays have in common.
///
/// The exact angle of height z at distance d has the tangent `w / d - d / 2R'` with
/// `w = (z - eye) / (1 + z / R')` (derived here; the terms left out are below 1e-5 of it up to 50 km).
/// So curvature only needs a corrected height `w` per pixel and one constant. As a function of z, w is
/// concave, so `(z - eye) / (1 + eye / R')`, its tangent at the eye, never lies below it.
struct Standpoint<'a> {
    grid: &'a ElevationGrid,
    levels: &'a [Level],
    /// Fractional column and row of the eye.
    at: [f64; 2],
    /// Columns and rows per metre moved east, and moved north.
    per_east_m: (f64, f64),
    per_north_m: (f64, f64),
    eye_z_m: f64,
    per_radius: f64,
    half_curve: f64,
    /// `1 + eye / R'`.
    stretch: f64,
    from_m: f64,
    to_m: f64,
}

impl<'a> Standpoint<'a> {
    /// `None` where the grid has no cell.
    fn new(grid: &'a ElevationGrid, levels: &'a [Level], eye: &HorizonEye, query: &HorizonQuery) -> Option<Self> {
        let (column, row) = grid.map.apply(eye.at);
        if levels.is_empty() || !(column.is_finite() && row.is_finite()) {
            return None;
        }
        let per_radius = (1.0 - query.refraction_k) / EARTH_RADIUS_M;
        Some(Self {
            grid,
            levels,
            at: [column, row],
            per_east_m: grid.map.per_metre(eye.at, 90.0),
            per_north_m: grid.map.per_metre(eye.at, 0.0),
            eye_z_m: eye.z_m,
            per_radius,
            half_curve: per_radius / 2.0,
            stretch: 1.0 + eye.z_m * per_radius,
            from_m: query.start_m.max(NEAREST_M),
            to_m: query.max_m,
        })
    }

    /// Height above the eye, corrected so that the tangent of its angle is `w / d - d / 2R'`.
    #[inline]
    fn above_eye_m(&self, z_m: f32) -> f64 {
        let z_m = f64::from(z_m);
        let x = z_m * self.per_radius;
        (z_m - self.eye_z_m) * (1.0 - x * (1.0 - x))
    }

    /// Height that ground between two distances must pass to rise above the best so far.
    ///
    /// `w <= (tangent + d / 2R') d` over the whole stretch; ground above the eye looks highest from near,
    /// ground below it from afar, and the smaller product is the right one for both.
    #[inline]
    fn limit_m(&self, near_m: f64, far_m: f64, best: &Best) -> f64 {
        let slope = (best.tangent + self.half_curve * near_m) * self.stretch;
        self.eye_z_m + (slope * near_m).min(slope * far_m)
    }
}

/// One ray over one grid.
///
/// It is followed along its major axis, the one along which it crosses more pixel lines. Between two such
/// lines it crosses at most one line of the other axis, and so it meets two blocks at most: both are
/// looked at in one step. Indices along the major axis are mirrored where the ray runs down, so that they
/// always grow. The place along the minor axis is kept in 2^-32 pixels: whole numbers agree at all levels.
struct Ray<'a> {
    stand: &'a Standpoint<'a>,
    step: [f64; 2],
    metres_per_step: [f64; 2],
    from_m: f64,
    to_m: f64,
    /// 0 columns, 1 rows.
    major: usize,
    /// 0, or -1 where the ray runs down the major axis.
    mirror: i64,
    /// Mirrored index of the first cell, and of the line the grid ends at.
    first: i64,
    end: i64,
    /// Minor coordinate at `from_m`, at the line before the first cell, and per line.
    minor_from: i64,
    minor_line: i64,
    minor_step: i64,
    /// Distance of mirrored line `n`: `n * metres_per_line + line_0_m`.
    metres_per_line: f64,
    line_0_m: f64,
}

impl<'a> Ray<'a> {
    /// `None` where the ray misses the grid. `east` and `north` are the sine and cosine of the azimuth.
    fn new(stand: &'a Standpoint<'a>, (east, north): (f64, f64)) -> Option<Self> {
        // A step of minus zero would turn the distances below to minus infinity.
        let step = [
            stand.per_east_m.0 * east + stand.per_north_m.0 * north + 0.0,
            stand.per_east_m.1 * east + stand.per_north_m.1 * north + 0.0,
        ];
        let metres_per_step = [1.0 / step[0], 1.0 / step[1]];
        let (mut from_m, mut to_m) = (stand.from_m, stand.to_m);
        let counts = [stand.grid.columns, stand.grid.rows];
        for (axis, count) in counts.into_iter().enumerate() {
            let a = (0.0 - stand.at[axis]) * metres_per_step[axis];
            let b = ((count - 1) as f64 - stand.at[axis]) * metres_per_step[axis];
            // `min` and `max` pass over the NaN of a ray along the border itself.
            from_m = from_m.max(a.min(b));
            to_m = to_m.min(a.max(b));
        }
        if from_m >= to_m {
            return None;
        }
        let major = if step[0].abs() >= step[1].abs() { 0 } else { 1 };
        let minor = 1 - major;
        let down = step[major] < 0.0;
        let (sign, mirror) = if down { (-1.0, -1) } else { (1.0, 0) };
        let metres_per_line = metres_per_step[major].abs();
        let line_0_m = -sign * stand.at[major] * metres_per_line;
        let enters = sign * (stand.at[major] + step[major] * from_m);
        let cell = (enters.floor() as i64 ^ mirror).clamp(0, counts[major] as i64 - 2);
        let first = cell ^ mirror;
        let end = if down { 0 } else { counts[major] as i64 - 1 };
        let per_line = step[minor] * metres_per_line;
        let minor_from = stand.at[minor] + step[minor] * from_m;
        let minor_line = minor_from - (enters - first as f64) * per_line;
        Some(Self {
            stand,
            step,
            metres_per_step,
            from_m,
            to_m,
            major,
            mirror,
            first,
            end,
            minor_from: (minor_from * ONE) as i64,
            minor_line: (minor_line * ONE) as i64,
            minor_step: (per_line * ONE) as i64,
            metres_per_line,
            line_0_m,
        })
    }

    /// Distance of a mirrored line of the major axis.
    #[inline]
    fn line_m(&self, line: i64) -> f64 {
        line as f64 * self.metres_per_line + self.line_0_m
    }

    /// Minor coordinate at a mirrored line, in 2^-32 pixels.
    #[inline]
    fn minor_at(&self, line: i64) -> i64 {
        self.minor_line + (line - self.first) * self.minor_step
    }

    /// Looks at the strips around a distance first, so that the march starts with a good best.
    fn look_near(&self, hint_m: f64, best: &mut Best) {
        if !(hint_m > self.from_m && hint_m < self.to_m) {
            return;
        }
        let line = (((hint_m - self.line_0_m) / self.metres_per_line) as i64 - 1).max(self.first);
        // The line before and the one after too: the ridge seen from the last station is rarely farther off.
        let mut at = self.minor_at(line);
        let mut near_m = self.line_m(line);
        if line == self.first {
            (at, near_m) = (self.minor_from, self.from_m);
        }
        for line in line..(line + 3).min(self.end) {
            let (far_m, minor) = (self.line_m(line + 1).min(self.to_m), self.minor_at(line + 1));
            if near_m < far_m {
                self.strip(line, (at, minor), (near_m, far_m), best);
            }
            (at, near_m) = (minor, far_m);
        }
    }

    fn march(&self, best: &mut Best) {
        let (stand, minor_last) = (self.stand, self.minor_last());
        let levels = stand.levels;
        let whole_m = f64::from(levels[levels.len() - 1].highest_m[0]);
        let (mut line, mut near_m, mut at) = (self.first, self.from_m, self.minor_from);
        let mut level = 0;
        loop {
            let shift = LEVEL_SHIFT * level as u32;
            let next = ((line >> shift) + 1) << shift;
            let far_m = self.line_m(next).min(self.to_m);
            let next_at = self.minor_at(next);
            let block = |at: i64| ((at >> PLACES).clamp(0, minor_last) >> shift) as usize;
            let along = ((line ^ self.mirror) >> shift) as usize;
            let highest_m = levels[level].highest_of(self.major, along, block(at), block(next_at));
            if f64::from(highest_m) > stand.limit_m(near_m, far_m, best) {
                if level > 0 {
                    level -= 1;
                    continue;
                }
                self.strip(line, (at, next_at), (near_m, far_m), best);
            } else if level > 1 && whole_m <= stand.limit_m(near_m, self.to_m, best) {
                return;
            }
            if far_m >= self.to_m || next >= self.end {
                return;
            }
            (line, near_m, at) = (next, far_m, next_at);
            if level + 1 < levels.len() && (next & ((1 << (shift + LEVEL_SHIFT)) - 1)) == 0 {
                level += 1;
            }
        }
    }

    fn minor_last(&self) -> i64 {
        let count = if self.major == 0 { self.stand.grid.rows } else { self.stand.grid.columns };
        count as i64 - 2
    }

    /// One or two cells between two lines of the major axis: minor coordinates and distances of its ends.
    #[inline]
    fn strip(&self, line: i64, minor: (i64, i64), (near_m, far_m): (f64, f64), best: &mut Best) {
        let last = self.minor_last();
        let along = (line ^ self.mirror) as usize;
        let cell = |at: i64| (at >> PLACES).clamp(0, last) as usize;
        let (a, b) = (cell(minor.0), cell(minor.1));
        let place = |minor: usize| if self.major == 0 { (along, minor) } else { (minor, along) };
        if a == b {
            return self.cell(place(a), near_m, far_m, best);
        }
        let axis = 1 - self.major;
        let between_m = (a.max(b) as f64 - self.stand.at[axis]) * self.metres_per_step[axis];
        let between_m = between_m.max(near_m).min(far_m);
        self.cell(place(a), near_m, between_m, best);
        // The ray may end before it comes to the second one.
        if between_m < far_m {
            self.cell(place(b), between_m, far_m, best);
        }
    }

    /// Highest tangent of the bilinear surface of one cell between two distances.
    #[inline(always)]
    fn cell(&self, (column, row): (usize, usize), near_m: f64, far_m: f64, best: &mut Best) {
        let stand = self.stand;
        let i = row * stand.grid.columns + column;
        let j = i + stand.grid.columns;
        let z = &stand.grid.values_m;
        let corners = [z[i], z[i + 1], z[j], z[j + 1]];
        let [w00, w01, w10, w11] = corners.map(|z| stand.above_eye_m(z));
        let twist = w11 - w10 - w01 + w00;
        if twist.is_nan() {
            return self.void_cell(corners, near_m, far_m, best);
        }
        // Height above the eye along the ray is a + b t + c t^2, its tangent a / t + b + (c - 1/2R') t.
        let (u, v) = (stand.at[0] - column as f64, stand.at[1] - row as f64);
        let (du, dv) = (self.step[0], self.step[1]);
        let (x, y) = (w01 - w00, w10 - w00);
        let a = w00 + x * u + y * v + twist * u * v;
        let b = x * du + y * dv + twist * (u * dv + v * du);
        let c = twist * du * dv - stand.half_curve;
        // Height above the line of sight to the best so far: a parabola, above its chord by c l^2 / 4 at most.
        let above_m = |t: f64| a + (b - best.tangent + c * t) * t;
        let length_m = far_m - near_m;
        if above_m(near_m).max(above_m(far_m)) - (c * length_m * length_m / 4.0).min(0.0) <= 0.0 {
            return;
        }
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
        let stand = self.stand;
        for k in 0..=VOID_CELL_STEPS {
            let t = near_m + (far_m - near_m) * (k as f64 / VOID_CELL_STEPS as f64).clamp(INSIDE, 1.0 - INSIDE);
            let (column, row) = (stand.at[0] + self.step[0] * t, stand.at[1] + self.step[1] * t);
            if let Some(z_m) = stand.grid.height_at_pixel_m(column, row) {
                best.offer(stand.above_eye_m(z_m) / t - stand.half_curve * t, t);
            }
        }
    }
}
