//! Filling polygons and strips into a square raster of a plane, exact to the pixel centre.
//!
//! Pure geometry: spans `(row, columns)` are handed to a closure; row 0 is the southernmost.
use std::ops::Range;

use crate::base::geodesy::Point;

/// A square raster on a plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Raster {
    /// South-west corner of the raster.
    pub corner: Point,
    /// Side of a pixel, metres.
    pub pixel_m: f64,
    /// Pixels on a side.
    pub size: usize,
}

impl Raster {
    /// The raster of at least the given half side around the plane's origin.
    pub fn around_origin(half_m: f64, pixel_m: f64) -> Self {
        let half_pixels = (half_m / pixel_m).ceil().max(0.0);
        let half_m = half_pixels * pixel_m;
        Self { corner: Point::new(-half_m, -half_m), pixel_m, size: 2 * half_pixels as usize }
    }
    /// Fractional (column, row) of a plane point; pixel `i` covers `i..i + 1`.
    pub(crate) fn pixel_of(&self, p: Point) -> (f64, f64) {
        ((p.x_m - self.corner.x_m) / self.pixel_m, (p.y_m - self.corner.y_m) / self.pixel_m)
    }
    /// The pixel (column, row) that a plane point lies in; `None` outside.
    pub(crate) fn pixel_in(&self, p: Point) -> Option<(usize, usize)> {
        let (x, y) = self.pixel_of(p);
        let inside = x >= 0.0 && y >= 0.0 && x < self.size as f64 && y < self.size as f64;
        inside.then_some((x as usize, y as usize))
    }
    /// Centre of a pixel.
    pub fn centre(&self, column: usize, row: usize) -> Point {
        let at = |corner_m: f64, i: usize| corner_m + (i as f64 + 0.5) * self.pixel_m;
        Point::new(at(self.corner.x_m, column), at(self.corner.y_m, row))
    }
    /// First pixel whose centre is not below a fractional coordinate, within `0..=size`.
    pub(super) fn first_centre(&self, coordinate: f64) -> usize {
        // A float that is not a number casts to 0.
        ((coordinate - 0.5).ceil().max(0.0) as usize).min(self.size)
    }
}

/// Paints the pixels whose centres lie inside an odd number of closed rings (holes and overlaps by
/// the even-odd rule).
pub fn fill_rings(raster: &Raster, rings: &[Vec<Point>], mut paint: impl FnMut(usize, Range<usize>)) {
    // One entry per crossing of an edge with a row of centres: row in the upper half, the first
    // column not west of the crossing in the lower. Columns rise with x, so sorting sorts both.
    let mut crossings: Vec<u64> = Vec::new();
    for ring in rings {
        for pair in ring.windows(2) {
            let ((x0, y0), (x1, y1)) = (raster.pixel_of(pair[0]), raster.pixel_of(pair[1]));
            let per_row = (x1 - x0) / (y1 - y0);
            for row in raster.first_centre(y0.min(y1))..raster.first_centre(y0.max(y1)) {
                let x = x0 + (row as f64 + 0.5 - y0) * per_row;
                crossings.push((row as u64) << 32 | raster.first_centre(x) as u64);
            }
        }
    }
    crossings.sort_unstable();
    for pair in crossings.chunks_exact(2) {
        let (from, to) = (pair[0] & 0xffff_ffff, pair[1] & 0xffff_ffff);
        if from < to {
            paint((pair[0] >> 32) as usize, from as usize..to as usize);
        }
    }
}

/// Paints the pixels whose centres lie within `radius_m` of the straight piece from `a` to `b`.
pub fn fill_capsule(raster: &Raster, a: Point, b: Point, radius_m: f64, mut paint: impl FnMut(usize, Range<usize>)) {
    let (a, b, r) = (raster.pixel_of(a), raster.pixel_of(b), radius_m / raster.pixel_m);
    for row in raster.first_centre(a.1.min(b.1) - r)..raster.first_centre(a.1.max(b.1) + r) {
        let (low, high) = capsule_row(a, b, r, row as f64 + 0.5);
        let columns = raster.first_centre(low)..raster.first_centre(high);
        if !columns.is_empty() {
            paint(row, columns);
        }
    }
}

/// Straight pieces of a line; a single point is a piece of no length.
pub(super) fn pieces(points: &[Point]) -> impl Iterator<Item = (Point, Point)> {
    let single = (points.len() == 1).then(|| (points[0], points[0]));
    points.windows(2).map(|w| (w[0], w[1])).chain(single)
}

/// Where a horizontal line cuts a capsule: lowest and highest x; the capsule is convex, so the hull
/// of the cuts through its two discs and its rectangle is the cut.
pub(super) fn capsule_row(a: (f64, f64), b: (f64, f64), r: f64, y: f64) -> (f64, f64) {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut add = |x: f64| {
        low = low.min(x);
        high = high.max(x);
    };
    for centre in [a, b] {
        let half = r * r - (y - centre.1) * (y - centre.1);
        if half >= 0.0 {
            add(centre.0 - half.sqrt());
            add(centre.0 + half.sqrt());
        }
    }
    // Not `hypot`, whose care for the largest of numbers takes several times as long; this is asked for every row.
    let length = ((b.0 - a.0) * (b.0 - a.0) + (b.1 - a.1) * (b.1 - a.1)).sqrt();
    if length > 0.0 {
        let (nx, ny) = (r * (a.1 - b.1) / length, r * (b.0 - a.0) / length);
        let corners = [(a.0 + nx, a.1 + ny), (b.0 + nx, b.1 + ny), (b.0 - nx, b.1 - ny), (a.0 - nx, a.1 - ny)];
        for (i, p) in corners.iter().enumerate() {
            let q = corners[(i + 1) % 4];
            if p.1 != q.1 && p.1.min(q.1) <= y && y <= p.1.max(q.1) {
                add(p.0 + (y - p.1) * (q.0 - p.0) / (q.1 - p.1));
            }
        }
    }
    (low, high)
}
