//! Roads around a drive, for a map of it.
use std::collections::HashSet;

use super::boxes;
use super::corridor::Corridor;
use crate::base::error::Result;
use crate::base::geodesy::{LocalPlane, Point, Position};
use crate::base::words::{Rating, RoadClass};
use crate::layer::model::PlaceRow;
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
    let driven: HashSet<i64> = drive.pieces.iter().map(|p| p.segment_id).collect();
    let mut rows = Vec::new();
    for square in squares(&line) {
        rows.extend(layer.segments_in(square)?);
    }
    rows.sort_by_key(|s| s.segment_id);
    rows.dedup_by_key(|s| s.segment_id);
    let others = rows.into_iter().filter(|s| !driven.contains(&s.segment_id));
    Ok(others.map(|s| NearRoad { class: s.highway.class(), rating: s.rating, line: s.line }).collect())
}

/// Named places near a drive.
///
/// # Errors
/// The layer cannot be read.
pub fn places_around(layer: &Layer, drive: &Corridor) -> Result<Vec<PlaceRow>> {
    let line: Vec<Position> = drive.pieces.iter().flat_map(|p| p.line.iter().copied()).collect();
    layer.rows_in(&squares(&line))
}

/// The square of the map around the box of a drive; two halves of it where it reaches over the antimeridian.
fn squares(line: &[Position]) -> Vec<Bounds> {
    let Some(first) = line.first() else { return Vec::new() };
    let plane = LocalPlane::at_position(*first);
    let corners = line.iter().map(|p| plane.to_plane(*p)).map(|p| (p, p));
    let joined = |a: (Point, Point), b: (Point, Point)| {
        let low = Point::new(a.0.x_m.min(b.0.x_m), a.0.y_m.min(b.0.y_m));
        (low, Point::new(a.1.x_m.max(b.1.x_m), a.1.y_m.max(b.1.y_m)))
    };
    let (low, high) = corners.reduce(joined).unwrap_or_default();
    let half_m = HALF * (high.x_m - low.x_m).max(high.y_m - low.y_m) + MORE_M;
    boxes::around(plane.to_position(low.towards(high, 0.5)), half_m)
}
