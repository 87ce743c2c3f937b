//! Whether elevation could hide a rock face beside the road.
//!
//! The pixel a road lies in says nothing about what stands beside it: a face between two pixel centres is a slope in the raster,
//! and its foot and top may lie anywhere within one pixel. Where neighbouring pixels differ by less than a face that matters, there is
//! none (or the raster is wrong).
use crate::base::geodesy::Point;
use crate::base::window::Elevation;

/// Largest difference between neighbouring pixels within about one pixel of a place, metres; `None` without elevation
/// there.
pub fn rise_beside_m(elevation: &Elevation, at: Point) -> Option<f64> {
    let grid = elevation.best(at)?;
    let (column, row) = grid.map.apply(at);
    // The four pixels around the place and the ring around them.
    let span =
        |v: f64, count: usize| (v.floor() - 1.0).max(0.0) as usize..((v.floor() + 3.0).max(0.0) as usize).min(count);
    let mut most_m = 0.0_f32;
    for r in span(row, grid.rows) {
        for c in span(column, grid.columns) {
            let i = r * grid.columns + c;
            let beside = (c + 1 < span(column, grid.columns).end).then_some(i + 1);
            let below = (r + 1 < span(row, grid.rows).end).then_some(i + grid.columns);
            for j in beside.into_iter().chain(below) {
                // A difference to a void is NaN, which no maximum takes.
                most_m = most_m.max((grid.values_m[i] - grid.values_m[j]).abs());
            }
        }
    }
    Some(f64::from(most_m))
}
