//! One ray over one grid of elevation, cell by cell, and the surface of a cell in closed form.
use super::blocks::LEVEL_SHIFT;
use super::standpoint::{Best, Standpoint};

/// Points looked at where a ray crosses a cell with a void corner, whose surface is not bilinear.
const VOID_CELL_STEPS: usize = 8;
/// Share of the way across such a cell by which these points stay off its border, where the surface jumps.
const INSIDE: f64 = 1e-6;
/// Binary places of a coordinate along a ray's minor axis, in pixels, and what one pixel is then.
const PLACES: u32 = 32;
const ONE: f64 = (1u64 << PLACES) as f64;

/// One ray over one grid.
///
/// It is followed along its major axis, the one along which it crosses more pixel lines. Between two such
/// lines it crosses at most one line of the other axis, and so it meets two blocks at most: both are
/// looked at in one step. Indices along the major axis are mirrored where the ray runs down, so that they
/// always grow. The place along the minor axis is kept in 2^-32 pixels: whole numbers agree at all levels.
pub(super) struct Ray<'a> {
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
    pub fn new(stand: &'a Standpoint<'a>, (east, north): (f64, f64)) -> Option<Self> {
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
    pub fn look_near(&self, hint_m: f64, best: &mut Best) {
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

    pub fn march(&self, best: &mut Best) {
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
