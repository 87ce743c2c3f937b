//! Roads around a drive, for a map of it.
use std::collections::HashSet;

use super::corridor::Corridor;
use crate::base::error::Result;
use crate::base::geodesy::{LocalPlane, Point, Position};
use crate::base::words::{Rating, RoadClass};
use crate::layer::{Bounds, Layer};

/// Half the side of the square whose roads may come on the map, as a share of the trip's larger side, and what is added,
/// metres: the map is up to twice as wide as high, or higher than wide, with room for its signs.
const HALF: f64 = 0.62;
const MORE_M: f64 = 500.0;

/// A road near the trip, for the map.
#[derive(Debug, Clone, PartialEq)]
pub struct NearRoad {
    /// Class, as the layer's `highway`.
    pub class: RoadClass,
    /// Rating of its worse direction.
    pub rating: Rating,
    /// Where it runs.
    pub line: Vec<Position>,
}

/// Roads near a drive; those driven are left out.
///
/// # Errors
/// The layer cannot be read.
pub fn roads_around(layer: &Layer, drive: &Corridor) -> Result<Vec<NearRoad>> {
    let line: Vec<Position> = drive.pieces.iter().flat_map(|p| p.line.iter().copied()).collect();
    let Some(bounds) = Bounds::around(&line) else { return Ok(Vec::new()) };
    let driven: HashSet<i64> = drive.pieces.iter().map(|p| p.segment_id).collect();
    let rows = layer.segments_in(square(bounds))?.into_iter();
    let others = rows.filter(|s| !driven.contains(&s.segment_id));
    Ok(others.map(|s| NearRoad { class: s.highway.class(), rating: s.rating, line: s.line }).collect())
}

/// The square of the map around the box of a drive.
fn square(drive: Bounds) -> Bounds {
    let plane = LocalPlane::at_position(drive.min);
    let far = plane.to_plane(drive.max);
    let half_m = HALF * far.x_m.max(far.y_m) + MORE_M;
    let corner = |by_m: f64| plane.to_lon_lat(Point::new(far.x_m / 2.0 + by_m, far.y_m / 2.0 + by_m));
    let ((west, south), (east, north)) = (corner(-half_m), corner(half_m));
    Bounds::from_deg(west, south, east, north)
}
