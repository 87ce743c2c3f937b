//! How much of each pixel a polygon or a strip covers.
//!
//! Pure geometry: spans `(row, columns, share)` are handed to a closure; row 0 is the southernmost, `share` is over 0 and at
//! most 1. What is decided by pixel centres jumps by a whole pixel where an outline moves by a centimetre; shares move
//! with it.
use std::ops::Range;

use super::raster::{Raster, capsule_row};
use crate::base::geodesy::Point;

/// Smaller shares are rounding.
const LEAST: f64 = 1e-6;

/// One pixel that an outline runs through: what it covers to the right of it, and of the pixel itself. Both are signed
/// by the direction of the outline.
struct OutlinePixel {
    /// Row in the upper half, column in the lower.
    at: u64,
    height: f64,
    area: f64,
}

/// Paints the share of every pixel that lies inside an odd number of closed rings, exactly (the sum of signed areas under
/// an outline, as in the rendering of fonts). Rings that cross themselves within a pixel are exact but there.
pub fn cover_rings(raster: &Raster, rings: &[Vec<Point>], mut paint: impl FnMut(usize, Range<usize>, f64)) {
    let mut crossed = Vec::new();
    for pair in rings.iter().flat_map(|ring| ring.windows(2)) {
        cross(raster, raster.pixel_of(pair[0]), raster.pixel_of(pair[1]), &mut crossed);
    }
    crossed.sort_unstable_by_key(|c| c.at);
    let (mut left, mut row_before) = (0.0, u64::MAX);
    let mut pixels = crossed.chunk_by(|a, b| a.at == b.at).peekable();
    while let Some(edges) = pixels.next() {
        let (row, column) = (edges[0].at >> 32, (edges[0].at & 0xffff_ffff) as usize);
        if row != row_before {
            (left, row_before) = (0.0, row);
        }
        let share = odd(left + edges.iter().map(|c| c.area).sum::<f64>());
        if share > LEAST {
            paint(row as usize, column..column + 1, share);
        }
        left += edges.iter().map(|c| c.height).sum::<f64>();
        let next = pixels.peek().map(|next| next[0].at).filter(|at| at >> 32 == row);
        let end = next.map_or(raster.size, |at| (at & 0xffff_ffff) as usize);
        if column + 1 < end && odd(left) > LEAST {
            paint(row as usize, column + 1..end, odd(left));
        }
    }
}

/// A sum of windings by the even-odd rule.
fn odd(sum: f64) -> f64 {
    let folded = sum.abs() % 2.0;
    folded.min(2.0 - folded)
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
        piece(raster.size, row << 32, (x_at(from), x_at(until)), sign * (until - from), out);
        from = until;
    }
}

/// Notes a piece of an edge within one row: from and to x, and its signed height.
fn piece(size: usize, row: u64, (x0, x1): (f64, f64), height: f64, out: &mut Vec<OutlinePixel>) {
    let (west, east, last) = (x0.min(x1), x0.max(x1), size as f64);
    let run = east - west;
    // Left of the raster it covers whole rows, right of it nothing.
    let share = |from: f64, to: f64| if run > 0.0 { (to - from) / run } else { 1.0 };
    if west < 0.0 {
        let outside = height * if run > 0.0 { share(west, east.min(0.0)) } else { 1.0 };
        out.push(OutlinePixel { at: row, height: outside, area: outside });
    }
    let mut from = west.max(0.0);
    if (run == 0.0 && west >= 0.0 || east > from) && from < last {
        let to = east.min(last);
        loop {
            let column = from as u64;
            let until = to.min(column as f64 + 1.0);
            let part = height * share(from, until);
            let right = 1.0 - ((from + until) / 2.0 - column as f64);
            out.push(OutlinePixel { at: row | column, height: part, area: part * right });
            from = until;
            if from >= to || from >= last {
                break;
            }
        }
    }
}

/// Paints the share of every pixel within `radius_m` of the straight piece from `a` to `b`.
///
/// Exact for sides along the raster; elsewhere the share is that of a side through the pixel at the same distance
/// from its centre, at most 0.1 off. Strips narrower than a pixel cover less of it than their own width would.
pub fn cover_capsule(
    raster: &Raster,
    a: Point,
    b: Point,
    radius_m: f64,
    mut paint: impl FnMut(usize, Range<usize>, f64),
) {
    let (a, b, r) = (raster.pixel_of(a), raster.pixel_of(b), radius_m / raster.pixel_m);
    let (outer, inner) = (r + 0.5, r - 0.5);
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
                let off = distance(a, b, centre);
                // A strip narrower than a pixel covers its width at most.
                let share = (r - off + 0.5).min(2.0 * r).clamp(0.0, 1.0);
                if share > LEAST {
                    paint(row, column..column + 1, share);
                }
            }
        };
        partly(all.start..whole.start.min(all.end));
        partly(whole.end.max(all.start)..all.end);
        if !whole.is_empty() {
            paint(row, whole, 1.0);
        }
    }
}

fn distance(a: (f64, f64), b: (f64, f64), p: Point) -> f64 {
    super::rings::distance_to_piece_m(p, Point::new(a.0, a.1), Point::new(b.0, b.1))
}
