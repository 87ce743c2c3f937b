//! Things in R-trees by the rectangle around them.
use rstar::AABB;
use rstar::primitives::{GeomWithData, Rectangle};

use crate::base::geodesy::Point;

/// A thing with the rectangle it is found by: metres of a plane, or degrees.
pub(crate) type InBox<T> = GeomWithData<Rectangle<[f64; 2]>, T>;

/// A query for one place; a place that is not finite finds nothing.
pub fn at(p: Point) -> AABB<[f64; 2]> {
    let finite = p.x_m.is_finite() && p.y_m.is_finite();
    AABB::from_point(if finite { [p.x_m, p.y_m] } else { [f64::MAX; 2] })
}
