//! How much of each pixel a polygon or a strip covers, and where in it.
//!
//! Pure geometry: spans `(row, columns, cover)` are handed to a closure; row 0 is the southernmost. What is decided by
//! pixel centres jumps by a whole pixel where an outline moves by a centimetre; shares move with it.
use std::ops::Range;

use super::raster::{Raster, capsule_row};
use super::rings::nearest_on_piece;
use crate::base::geodesy::Point;

/// Smaller shares are rounding.
const LEAST: f64 = 1e-6;

/// What is covered of a pixel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PixelCover {
    /// Share of the pixel, over 0 and at most 1.
    pub share: f64,
    /// Where what is covered lies from the middle of the pixel; only the direction counts. Zero where no side is nearer.
    pub towards: [f64; 2],
    /// What is open again behind it in that direction: a strip may end within a pixel.
    pub beyond: f64,
}

impl PixelCover {
    /// From where to where it reaches in its direction, in pixels from the far side.
    pub(crate) fn span(&self) -> (f64, f64) {
        (1.0 - self.beyond - self.share, 1.0 - self.beyond)
    }
}

/// An area within a pixel, and its first moments: signed while an outline is gone along.
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    area: f64,
    x: f64,
    y: f64,
}

impl Moments {
    /// What lies right of a straight piece of outline within a pixel; both ends count from the pixel's corner, `height` is signed.
    fn right_of((x0, y0): (f64, f64), (x1, y1): (f64, f64), height: f64) -> Self {
        let squares = (x0 * x0 + x0 * x1 + x1 * x1) / 3.0;
        let mixed = (x0 * y0 + x1 * y1) / 3.0 + (x0 * y1 + x1 * y0) / 6.0;
        Self {
            area: height * (1.0 - (x0 + x1) / 2.0),
            x: height * (1.0 - squares) / 2.0,
            y: height * ((y0 + y1) / 2.0 - mixed),
        }
    }
    fn add(self, other: Self) -> Self {
        Self { area: self.area + other.area, x: self.x + other.x, y: self.y + other.y }
    }
    /// By the even-odd rule: whole pixels twice over are none, and what is over one is taken out of it.
    fn odd(self) -> Self {
        let sign = self.area.signum();
        let twice = (sign * self.area / 2.0).floor();
        let rest = Self { area: sign * self.area - 2.0 * twice, x: sign * self.x - twice, y: sign * self.y - twice };
        if rest.area > 1.0 { Self { area: 2.0 - rest.area, x: 1.0 - rest.x, y: 1.0 - rest.y } } else { rest }
    }
    /// As a cover; `None` where it is next to nothing.
    fn cover(self) -> Option<PixelCover> {
        let odd = self.odd();
        if odd.area <= LEAST {
            return None;
        }
        // Off the middle by less is rounding.
        let off = |moment: f64| Some(moment / odd.area - 0.5).filter(|off| off.abs() > LEAST).unwrap_or(0.0);
        Some(PixelCover { share: odd.area.min(1.0), towards: [off(odd.x), off(odd.y)], beyond: 0.0 })
    }
}

/// One pixel that an outline runs through: what it covers of the pixel itself, and of those right of it.
struct OutlinePixel {
    /// Row in the upper half, column in the lower.
    at: u64,
    here: Moments,
    beside: Moments,
}

/// Paints every pixel that lies inside an odd number of closed rings, its share exact (the sum of signed areas under
/// an outline, as in the rendering of fonts). Rings that cross themselves within a pixel are exact but there.
pub fn cover_rings(raster: &Raster, rings: &[Vec<Point>], mut paint: impl FnMut(usize, Range<usize>, PixelCover)) {
    let mut crossed = Vec::new();
    for pair in rings.iter().flat_map(|ring| ring.windows(2)) {
        cross(raster, raster.pixel_of(pair[0]), raster.pixel_of(pair[1]), &mut crossed);
    }
    crossed.sort_unstable_by_key(|c| c.at);
    let (mut left, mut row_before) = (Moments::default(), u64::MAX);
    let mut pixels = crossed.chunk_by(|a, b| a.at == b.at).peekable();
    while let Some(edges) = pixels.next() {
        let (row, column) = (edges[0].at >> 32, (edges[0].at & 0xffff_ffff) as usize);
        if row != row_before {
            (left, row_before) = (Moments::default(), row);
        }
        if let Some(cover) = edges.iter().fold(left, |sum, c| sum.add(c.here)).cover() {
            paint(row as usize, column..column + 1, cover);
        }
        left = edges.iter().fold(left, |sum, c| sum.add(c.beside));
        let next = pixels.peek().map(|next| next[0].at).filter(|at| at >> 32 == row);
        let end = next.map_or(raster.size, |at| (at & 0xffff_ffff) as usize);
        if column + 1 < end
            && let Some(cover) = left.cover()
        {
            paint(row as usize, column + 1..end, cover);
        }
    }
}

/// Notes the pixels that one edge runs through.
fn cross(raster: &Raster, a: (f64, f64), b: (f64, f64), out: &mut Vec<OutlinePixel>) {
    let finite = [a.0, a.1, b.0, b.1].iter().all(|v| v.is_finite());
    if !finite || a.1 == b.1 {
        return;
    }
    let (low, high, sign) = if a.1 < b.1 { (a, b, 1.0) } else { (b, a, -1.0) };
    let size = raster.size as f64;
    let per_row = (high.0 - low.0) / (high.1 - low.1);
    let x_at = |y: f64| low.0 + (y - low.1) * per_row;
    let (mut from, to) = (low.1.max(0.0), high.1.min(size));
    while from < to {
        let row = from as u64;
        let until = to.min(row as f64 + 1.0);
        let within = |y: f64| (x_at(y), y - row as f64);
        piece(raster.size, row << 32, (within(from), within(until)), sign, out);
        from = until;
    }
}

/// Notes a piece of an edge within one row, from its lower to its upper end, both counted from the start of the row.
fn piece(size: usize, row: u64, (low, high): ((f64, f64), (f64, f64)), sign: f64, out: &mut Vec<OutlinePixel>) {
    let (west, east) = if low.0 <= high.0 { (low, high) } else { (high, low) };
    let run = east.0 - west.0;
    let y_at = |x: f64| if run > 0.0 { west.1 + (east.1 - west.1) * ((x - west.0) / run) } else { west.1 };
    let mut note = |at: u64, corner: f64, from: (f64, f64), to: (f64, f64)| {
        let height = sign * (to.1 - from.1).abs();
        let here = Moments::right_of((from.0 - corner, from.1), (to.0 - corner, to.1), height);
        out.push(OutlinePixel { at, here, beside: Moments::right_of((0.0, from.1), (0.0, to.1), height) });
    };
    // Left of the raster it covers whole rows, right of it nothing.
    if west.0 < 0.0 {
        let end = east.0.min(0.0);
        let end_y = if east.0 <= 0.0 { east.1 } else { y_at(end) };
        note(row, 0.0, (0.0, west.1), (0.0, end_y));
    }
    let (mut from, last) = (west.0.max(0.0), size as f64);
    if run == 0.0 && west.0 >= 0.0 && from < last {
        let column = from as u64;
        note(row | column, column as f64, west, east);
    } else if east.0 > from {
        let to = east.0.min(last);
        while from < to {
            let column = from as u64;
            let until = to.min(column as f64 + 1.0);
            note(row | column, column as f64, (from, y_at(from)), (until, y_at(until)));
            from = until;
        }
    }
}

/// Paints every pixel within `radius_m` of the straight piece from `a` to `b`.
///
/// The share is exact for sides along the raster; elsewhere the share is that of a side through the pixel at the same distance
/// from its centre, at most 0.1 off. Strips narrower than a pixel cover less of it than their own width would.
pub fn cover_capsule(
    raster: &Raster,
    a: Point,
    b: Point,
    radius_m: f64,
    mut paint: impl FnMut(usize, Range<usize>, PixelCover),
) {
    let (a, b, r) = (raster.pixel_of(a), raster.pixel_of(b), radius_m / raster.pixel_m);
    let (outer, inner) = (r + 0.5, r - 0.5);
    let ends = (Point::new(a.0, a.1), Point::new(b.0, b.1));
    // On the middle line either side is as near.
    let across = if a == b { [1.0, 0.0] } else { [a.1 - b.1, b.0 - a.0] };
    let rows = raster.first_centre(a.1.min(b.1) - outer)..raster.first_centre(a.1.max(b.1) + outer);
    for row in rows {
        let y = row as f64 + 0.5;
        let span = |radius: f64| {
            let (low, high) = capsule_row(a, b, radius, y);
            raster.first_centre(low)..raster.first_centre(high)
        };
        let all = span(outer);
        let whole = if inner > 0.0 { span(inner) } else { 0..0 };
        let whole = if whole.is_empty() { all.end..all.end } else { whole };
        let mut partly = |columns: Range<usize>| {
            for column in columns {
                let centre = Point::new(column as f64 + 0.5, y);
                let nearest = nearest_on_piece(centre, ends.0, ends.1);
                let towards = [nearest.x_m - centre.x_m, nearest.y_m - centre.y_m];
                // Not `hypot`: see `capsule_row`.
                let off = (towards[0] * towards[0] + towards[1] * towards[1]).sqrt();
                // A strip narrower than a pixel covers its width at most.
                let beyond = (0.5 - off - r).clamp(0.0, 1.0);
                let share = (r - off + 0.5).min(2.0 * r).clamp(0.0, 1.0);
                if share > LEAST {
                    let towards = if off > LEAST { towards } else { across };
                    paint(row, column..column + 1, PixelCover { share, towards, beyond });
                }
            }
        };
        partly(all.start..whole.start.min(all.end));
        partly(whole.end.max(all.start)..all.end);
        if !whole.is_empty() {
            paint(row, whole, PixelCover { share: 1.0, towards: across, beyond: 0.0 });
        }
    }
}
