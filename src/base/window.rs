//! Elevation around one cell, as pure data: no files, no GDAL.
use crate::base::geodesy::Point;

/// From the local plane to fractional pixel coordinates, pixel centres at whole numbers:
/// `column = c0 + cx x + cy y + cxx x^2 + cxy x y + cyy y^2` with x, y in kilometres, `row` alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneToPixel {
    /// Coefficients of the column: 1, x, y, x^2, xy, y^2.
    pub column: [f64; 6],
    /// Coefficients of the row.
    pub row: [f64; 6],
}

impl PlaneToPixel {
    /// Fractional (column, row) of a plane point.
    pub fn apply(&self, p: Point) -> (f64, f64) {
        let (x, y) = (p.x_m * 1e-3, p.y_m * 1e-3);
        let f = |c: &[f64; 6]| c[0] + x * (c[1] + c[3] * x + c[4] * y) + y * (c[2] + c[5] * y);
        (f(&self.column), f(&self.row))
    }
    /// Change of (column, row) per metre moved along an azimuth from a plane point.
    pub fn per_metre(&self, p: Point, azimuth_deg: f64) -> (f64, f64) {
        let (x, y) = (p.x_m * 1e-3, p.y_m * 1e-3);
        let (sin, cos) = azimuth_deg.to_radians().sin_cos();
        let f = |c: &[f64; 6]| {
            let dx = c[1] + 2.0 * c[3] * x + c[4] * y;
            let dy = c[2] + c[4] * x + 2.0 * c[5] * y;
            (dx * sin + dy * cos) * 1e-3
        };
        (f(&self.column), f(&self.row))
    }
}

/// One rectangular window of elevations, metres, in its raster's own pixels; voids are NaN.
#[derive(Debug, Clone, PartialEq)]
pub struct ElevationGrid {
    /// Columns.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// Values, row by row, metres; NaN where void.
    pub values_m: Vec<f32>,
    /// Where the plane lies in it.
    pub map: PlaneToPixel,
    /// Size of a pixel on the ground, metres: the larger of its two sides.
    pub pixel_m: f64,
    /// Its heights are those of a surface: trees and buildings are in it.
    pub surface: bool,
}

impl ElevationGrid {
    /// Bilinear height at a plane point, weights renormalised over the valid cells; `None` outside
    /// or where all four are void.
    pub fn height_m(&self, p: Point) -> Option<f32> {
        let (column, row) = self.map.apply(p);
        self.height_at_pixel_m(column, row)
    }
    /// Value of the pixel a plane point lies in; `None` outside or where it is void.
    pub(crate) fn pixel_value_m(&self, p: Point) -> Option<f32> {
        let (column, row) = self.map.apply(p);
        let (column, row) = ((column + 0.5).floor(), (row + 0.5).floor());
        let inside = column >= 0.0 && row >= 0.0 && column < self.columns as f64 && row < self.rows as f64;
        let value = *self.values_m.get(inside.then(|| row as usize * self.columns + column as usize)?)?;
        (!value.is_nan()).then_some(value)
    }
    /// [`Self::height_m`] in pixel coordinates. Up to half a pixel beyond the outermost centres counts as inside.
    pub fn height_at_pixel_m(&self, column: f64, row: f64) -> Option<f32> {
        let (max_c, max_r) = ((self.columns - 1) as f64, (self.rows - 1) as f64);
        if !(column >= -0.5 && row >= -0.5 && column <= max_c + 0.5 && row <= max_r + 0.5) {
            return None;
        }
        let (column, row) = (column.clamp(0.0, max_c), row.clamp(0.0, max_r));
        let c0 = (column as usize).min(self.columns.saturating_sub(2));
        let r0 = (row as usize).min(self.rows.saturating_sub(2));
        let (c1, r1) = ((c0 + 1).min(self.columns - 1), (r0 + 1).min(self.rows - 1));
        let (fc, fr) = ((column - c0 as f64) as f32, (row - r0 as f64) as f32);
        let (mut sum, mut weights) = (0.0, 0.0);
        for (r, wr) in [(r0, 1.0 - fr), (r1, fr)] {
            for (c, wc) in [(c0, 1.0 - fc), (c1, fc)] {
                let v = self.values_m[r * self.columns + c];
                let w = wr * wc;
                if w > 0.0 && !v.is_nan() {
                    sum += w * v;
                    weights += w;
                }
            }
        }
        (weights > 0.0).then(|| sum / weights)
    }
}

/// Elevation around one cell: windows of several sources, best first. Where a better source is
/// valid the pixels of later ones are void, so that the windows complement each other.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Elevation {
    /// Windows, best first.
    pub grids: Vec<ElevationGrid>,
}

impl Elevation {
    /// Height of the best source that is valid at a plane point, metres.
    pub fn height_m(&self, p: Point) -> Option<f32> {
        self.grids.iter().find_map(|g| g.height_m(p))
    }
    /// The window a height at a plane point comes from.
    pub fn best(&self, p: Point) -> Option<&ElevationGrid> {
        self.grids.iter().find(|g| g.height_m(p).is_some())
    }
    /// Whether the height at a plane point is that of a surface: trees and buildings are in it.
    pub fn is_surface(&self, p: Point) -> bool {
        self.best(p).is_some_and(|g| g.surface)
    }
    /// Bare earth alone; void where the best source shows a surface, but for a ring of its pixels.
    pub fn bare_earth(&self) -> Self {
        Self { grids: self.grids.iter().filter(|g| !g.surface).cloned().collect() }
    }
}
