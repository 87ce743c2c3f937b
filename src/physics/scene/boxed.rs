//! Things in R-trees by the rectangle around them.
use rstar::AABB;
use rstar::primitives::{GeomWithData, Rectangle};

use crate::base::geodesy::{Point, Position, unwrapped_deg};

/// A thing with the rectangle it is found by: metres of a plane, or degrees.
pub(crate) type InBox<T> = GeomWithData<Rectangle<[f64; 2]>, T>;

/// Turns by which a query in degrees is repeated: what lies across the antimeridian may have been counted from either side.
pub const TURNS_DEG: [f64; 3] = [-360.0, 0.0, 360.0];

/// Corners of the box around positions, degrees, `first` being one of them; across the antimeridian longitudes run on past
/// 180 degrees. Never NaN, because positions are whole numbers.
pub(crate) fn box_of(first: &Position, positions: &[Position]) -> ([f64; 2], [f64; 2]) {
    let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
    for p in positions.iter().chain([first]) {
        let place = [unwrapped_deg(first.lon_deg(), p.lon_deg()), p.lat_deg()];
        for (axis, value) in place.into_iter().enumerate() {
            low[axis] = low[axis].min(value);
            high[axis] = high[axis].max(value);
        }
    }
    (low, high)
}

/// A query for one place; a place that is not finite finds nothing.
pub fn at(p: Point) -> AABB<[f64; 2]> {
    let finite = p.x_m.is_finite() && p.y_m.is_finite();
    AABB::from_point(if finite { [p.x_m, p.y_m] } else { [f64::MAX; 2] })
}
