//! Least-squares fit of a quadratic map, and what one window leaves to the next: pure numbers.
use crate::base::error::Result;
use crate::base::geodesy::Point;
use crate::base::window::{ElevationGrid, PlaneToPixel};

/// A quadratic in two variables, fitted about a centre.
#[derive(Debug, Clone, Copy)]
pub(super) struct Quadratic {
    centre: (f64, f64),
    scale: f64,
    c: [f64; 6],
}

fn terms(x: f64, y: f64) -> [f64; 6] {
    [1.0, x, y, x * x, x * y, y * y]
}

impl Quadratic {
    /// Fits values at points; `None` where the points do not determine it.
    pub fn fit(points: &[(f64, f64)], values: &[f64]) -> Option<Self> {
        let n = points.len() as f64;
        let centre = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
        let scale = points.iter().map(|p| (p.0 - centre.0).abs().max((p.1 - centre.1).abs())).fold(0.0, f64::max);
        let mut m = [[0.0; 7]; 6];
        for (p, value) in points.iter().zip(values) {
            let t = terms((p.0 - centre.0) / scale, (p.1 - centre.1) / scale);
            for i in 0..6 {
                for j in 0..6 {
                    m[i][j] += t[i] * t[j];
                }
                m[i][6] += t[i] * value;
            }
        }
        Some(Self { centre, scale, c: solve(m)? })
    }
    /// Value at a point.
    pub fn at(&self, x: f64, y: f64) -> f64 {
        let t = terms((x - self.centre.0) / self.scale, (y - self.centre.1) / self.scale);
        t.iter().zip(&self.c).map(|(t, c)| t * c).sum()
    }
    /// Coefficients of 1, x, y, x^2, xy, y^2 about the origin.
    pub(crate) fn coefficients(&self) -> [f64; 6] {
        let (s, (x, y)) = (self.scale, self.centre);
        let [a, b, c, d, e, f] = self.c;
        let (b, c) = (b / s, c / s);
        let (d, e, f) = (d / (s * s), e / (s * s), f / (s * s));
        [
            a - b * x - c * y + d * x * x + e * x * y + f * y * y,
            b - 2.0 * d * x - e * y,
            c - 2.0 * f * y - e * x,
            d,
            e,
            f,
        ]
    }
}

/// Gaussian elimination with partial pivoting; `None` where singular.
fn solve(mut m: [[f64; 7]; 6]) -> Option<[f64; 6]> {
    for i in 0..6 {
        let pivot = (i..6).max_by(|&a, &b| m[a][i].abs().total_cmp(&m[b][i].abs()))?;
        m.swap(i, pivot);
        if m[i][i].is_nan() || m[i][i].abs() <= 1e-12 {
            return None;
        }
        let head = m[i];
        for row in m.iter_mut().skip(i + 1) {
            let factor = row[i] / head[i];
            for (cell, head) in row.iter_mut().zip(head) {
                *cell -= factor * head;
            }
        }
    }
    let mut x = [0.0; 6];
    for i in (0..6).rev() {
        let known: f64 = (i + 1..6).map(|j| m[i][j] * x[j]).sum();
        x[i] = (m[i][6] - known) / m[i][i];
    }
    Some(x)
}

/// The map from the plane to pixels and back, and how far it is off at the points it was fitted to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fit {
    pub map: PlaneToPixel,
    inverse: [Quadratic; 2],
    pub residual_px: f64,
}

impl Fit {
    /// Fits pixel coordinates of plane points.
    pub fn new(plane: &[Point], pixels: &[(f64, f64)]) -> Option<Self> {
        let km: Vec<_> = plane.iter().map(|p| (p.x_m * 1e-3, p.y_m * 1e-3)).collect();
        let of = |points: &[(f64, f64)], f: &dyn Fn(usize) -> f64| {
            Quadratic::fit(points, &(0..points.len()).map(f).collect::<Vec<_>>())
        };
        let column = of(&km, &|i| pixels[i].0)?;
        let row = of(&km, &|i| pixels[i].1)?;
        let inverse = [of(pixels, &|i| plane[i].x_m)?, of(pixels, &|i| plane[i].y_m)?];
        let map = PlaneToPixel { column: column.coefficients(), row: row.coefficients() };
        let off = |(p, px): (&Point, &(f64, f64))| {
            let (c, r) = map.apply(*p);
            (c - px.0).hypot(r - px.1)
        };
        let residual_px = plane.iter().zip(pixels).map(off).fold(0.0, f64::max);
        residual_px.is_finite().then_some(Self { map, inverse, residual_px })
    }
    /// Plane point of a pixel.
    pub fn to_plane(self, column: f64, row: f64) -> Point {
        Point::new(self.inverse[0].at(column, row), self.inverse[1].at(column, row))
    }
    /// Sides of a pixel on the ground in the middle of the fit, metres: along a row and along a column.
    pub(crate) fn pixel_sides_m(&self) -> (f64, f64) {
        let (c, r) = self.inverse[0].centre;
        let o = self.to_plane(c, r);
        (o.distance_m(self.to_plane(c + 1.0, r)), o.distance_m(self.to_plane(c, r + 1.0)))
    }
}

/// Joins a window to better ones: moves its heights by `shift_m` of column and row, and voids the pixels that better
/// windows make needless, those whose own place and all eight neighbours' places are valid there. The ring left over lets
/// interpolation run up to the border; it takes the better heights, so that no step is left between the two.
pub(super) fn join_better(
    grid: &mut ElevationGrid,
    fit: &Fit,
    better: &[ElevationGrid],
    shift_m: &dyn Fn(usize, usize) -> Result<f64>,
) -> Result<()> {
    let (columns, rows) = (grid.columns, grid.rows);
    let place = |i: usize| fit.to_plane((i % columns) as f64, (i / columns) as f64);
    let covered: Vec<bool> = match better {
        [] => vec![false; columns * rows],
        _ => (0..columns * rows).map(|i| better.iter().any(|g| valid_all_round(g, place(i)))).collect(),
    };
    for row in 0..rows {
        for column in 0..columns {
            let i = row * columns + column;
            if covered[i] {
                let around = (row.saturating_sub(1)..=(row + 1).min(rows - 1)).all(|r| {
                    (column.saturating_sub(1)..=(column + 1).min(columns - 1)).all(|c| covered[r * columns + c])
                });
                grid.values_m[i] = if around { f32::NAN } else { middle_of(fit, (column, row), better) };
            } else if !grid.values_m[i].is_nan() {
                grid.values_m[i] += shift_m(column, row)? as f32;
            }
        }
    }
    Ok(())
}

/// Median of the better heights over one pixel: single trees of a fine surface do not stand for all of it.
fn middle_of(fit: &Fit, (column, row): (usize, usize), better: &[ElevationGrid]) -> f32 {
    const ASIDE: [f64; 3] = [-1.0 / 3.0, 0.0, 1.0 / 3.0];
    let places = ASIDE.iter().flat_map(|dr| ASIDE.iter().map(move |dc| (column as f64 + dc, row as f64 + dr)));
    let mut heights: Vec<f32> =
        places.filter_map(|(c, r)| better.iter().find_map(|g| g.height_m(fit.to_plane(c, r)))).collect();
    heights.sort_by(f32::total_cmp);
    heights.get(heights.len() / 2).copied().unwrap_or(f32::NAN)
}

/// Whether a place lies between four valid pixels.
fn valid_all_round(grid: &ElevationGrid, p: Point) -> bool {
    let (column, row) = grid.map.apply(p);
    let inside = column >= 0.0 && row >= 0.0 && column < (grid.columns - 1) as f64 && row < (grid.rows - 1) as f64;
    inside && {
        let i = row as usize * grid.columns + column as usize;
        let j = i + grid.columns;
        [i, i + 1, j, j + 1].iter().all(|&k| !grid.values_m[k].is_nan())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quadratic_is_found_again_far_from_its_centre() {
        let truth = [812.0, 33.1, -2.0, 1e-3, -2e-3, 5e-4];
        let points: Vec<_> = (0..49).map(|i| (7.0 + f64::from(i % 7), -9.0 + f64::from(i / 7))).collect();
        let values: Vec<_> =
            points.iter().map(|p| terms(p.0, p.1).iter().zip(truth).map(|(t, c)| t * c).sum()).collect();
        let fit = Quadratic::fit(&points, &values).unwrap();
        for (found, truth) in fit.coefficients().into_iter().zip(truth) {
            assert!((found - truth).abs() < 1e-9, "{found} {truth}");
        }
        assert!(Quadratic::fit(&points[..3], &values[..3]).is_none(), "three points do not determine it");
    }
}
