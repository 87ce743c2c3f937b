//! How high unknown ground could rise: in voids, and beyond where elevation ends.
//!
//! Between known heights ground rises at most along a given slope, and nowhere above the highest ground around. Where that
//! would stand in the sky, the sky is unknown, not clear.
use crate::base::geodesy::Point;
use crate::base::window::{Elevation, ElevationGrid, PlaneToPixel};

/// Most pixels per side of the ceiling.
const MOST_PIXELS: f64 = 400.0;
/// Pixels per side of a block of the ceiling that is looked at as a whole.
const BLOCK: usize = 8;
/// Where the ground is known the ceiling lies out of sight, metres.
const KNOWN_M: f32 = -10_000.0;

/// Blocks of a ceiling, each with its middle, how far it reaches from there and how high it is, metres.
#[derive(Debug, Clone)]
pub struct CeilingBlocks(Vec<(Point, f64, f64)>);

impl CeilingBlocks {
    /// Those of a ceiling that hold unknown ground.
    pub fn of(ceiling: &ElevationGrid) -> Self {
        let middle = (ceiling.columns - 1) as f64 / 2.0;
        let round_m = BLOCK as f64 * ceiling.pixel_m * std::f64::consts::FRAC_1_SQRT_2 + ceiling.pixel_m;
        let mut blocks = Vec::new();
        for row in (0..ceiling.rows).step_by(BLOCK) {
            for column in (0..ceiling.columns).step_by(BLOCK) {
                let columns = column..(column + BLOCK).min(ceiling.columns);
                let lines = (row..(row + BLOCK).min(ceiling.rows)).map(|r| &ceiling.values_m[r * ceiling.columns..]);
                let highest_m = lines.flat_map(|line| &line[columns.clone()]).copied().fold(KNOWN_M, f32::max);
                if highest_m > KNOWN_M {
                    let half = (BLOCK - 1) as f64 / 2.0;
                    let (x, y) = (column as f64 + half - middle, middle - row as f64 - half);
                    let at = Point::new(x * ceiling.pixel_m, y * ceiling.pixel_m);
                    blocks.push((at, round_m, f64::from(highest_m)));
                }
            }
        }
        Self(blocks)
    }
    /// Whether any of them could stand above an elevation, by its tangent: a bound, the earth taken as flat.
    pub fn rise_above(&self, at: Point, z_m: f64, tangent: f64) -> bool {
        self.0.iter().any(|(p, round_m, highest_m)| {
            let away_m = (p.distance_m(at) - round_m).max(0.0);
            highest_m - z_m > tangent * away_m
        })
    }
}

/// Highest that the ground could be where `elevation` has none within `half_m` of the origin, on a lattice of its own (far below
/// where the ground is known); `None` where it is known everywhere.
///
/// `slope` is rise over run; `highest_m` bounds it.
pub fn ceiling(elevation: &Elevation, half_m: f64, slope: f64, highest_m: f64) -> Option<Elevation> {
    let coarsest_m = elevation.grids.iter().map(|g| g.pixel_m).fold(1.0, f64::max);
    if elevation.grids.is_empty() || whole(elevation, half_m) {
        return None;
    }
    let pixel_m = coarsest_m.max(2.0 * half_m / MOST_PIXELS);
    let side = (2.0 * half_m / pixel_m).ceil() as usize + 1;
    let middle = (side - 1) as f64 / 2.0;
    let per_km = 1000.0 / pixel_m;
    let map = PlaneToPixel { column: [middle, per_km, 0.0, 0.0, 0.0, 0.0], row: [middle, 0.0, -per_km, 0.0, 0.0, 0.0] };
    let place = |i: usize| Point::new(((i % side) as f64 - middle) * pixel_m, (middle - (i / side) as f64) * pixel_m);
    let known: Vec<Option<f32>> = (0..side * side).map(|i| elevation.height_m(place(i))).collect();
    if known.iter().all(Option::is_some) {
        return None;
    }
    let rise_m = (slope * pixel_m) as f32;
    let mut values_m: Vec<f32> = known.iter().map(|z| z.unwrap_or(f32::INFINITY)).collect();
    spread(&mut values_m, side, rise_m);
    for (z, known) in values_m.iter_mut().zip(&known) {
        *z = if known.is_some() { KNOWN_M } else { z.min(highest_m as f32) };
    }
    Some(Elevation { grids: vec![ElevationGrid { columns: side, rows: side, values_m, map, pixel_m, surface: false }] })
}

/// One window without a void that reaches over all four corners: the common case, told without a lattice.
fn whole(elevation: &Elevation, half_m: f64) -> bool {
    let [grid] = elevation.grids.as_slice() else { return false };
    let corners = [(-half_m, -half_m), (half_m, -half_m), (-half_m, half_m), (half_m, half_m)];
    corners.iter().all(|(x, y)| grid.height_m(Point::new(*x, *y)).is_some())
        && grid.values_m.iter().all(|z| !z.is_nan())
}

/// Lowers every value to the lowest of its neighbours plus what ground rises on the way, in two passes over the lattice.
fn spread(values_m: &mut [f32], side: usize, rise_m: f32) {
    let diagonal_m = rise_m * std::f32::consts::SQRT_2;
    let mut lower = |i: usize, j: usize, by_m: f32| values_m[i] = values_m[i].min(values_m[j] + by_m);
    for i in 0..side * side {
        let (column, row) = (i % side, i / side);
        if column > 0 {
            lower(i, i - 1, rise_m);
        }
        if row > 0 {
            lower(i, i - side, rise_m);
            if column > 0 {
                lower(i, i - side - 1, diagonal_m);
            }
            if column + 1 < side {
                lower(i, i - side + 1, diagonal_m);
            }
        }
    }
    for i in (0..side * side).rev() {
        let (column, row) = (i % side, i / side);
        if column + 1 < side {
            lower(i, i + 1, rise_m);
        }
        if row + 1 < side {
            lower(i, i + side, rise_m);
            if column + 1 < side {
                lower(i, i + side + 1, diagonal_m);
            }
            if column > 0 {
                lower(i, i + side - 1, diagonal_m);
            }
        }
    }
}
