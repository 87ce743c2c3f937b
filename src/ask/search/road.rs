//! From the middle of a place to a road: names stand on squares and in meadows.
use crate::ask::boxes::around;
use crate::base::error::Result;
use crate::base::geodesy::{LocalPlane, Point, Position, nearest_to_origin};
use crate::base::words::RoadClass;
use crate::layer::Layer;
use crate::layer::model::SegmentRow;

/// How far roads are looked for, one distance after the other, metres.
const LOOKED_M: [f64; 3] = [200.0, 800.0, 3_000.0];
/// A yard or a track is taken where every other road is this much farther, metres: nobody arrives in a village there.
const YARD_M: f64 = 150.0;

/// The place on the nearest road, if there is one within 3 km; a service road or a track only where others are much farther.
///
/// # Errors
/// The layer cannot be read.
pub(super) fn on_road(layer: &Layer, at: Position) -> Result<Option<Position>> {
    let plane = LocalPlane::at_position(at);
    for within_m in LOOKED_M {
        let mut best: Option<(f64, Point)> = None;
        for bounds in around(at, within_m) {
            for row in layer.segments_in(bounds)? {
                let worse_m = if is_yard(&row) { YARD_M } else { 0.0 };
                let Some((away_m, point)) = nearest_of(&plane, &row.line).filter(|(m, _)| *m <= within_m) else {
                    continue;
                };
                if best.is_none_or(|(least, _)| away_m + worse_m < least) {
                    best = Some((away_m + worse_m, point));
                }
            }
        }
        if let Some((_, point)) = best {
            return Ok(Some(plane.to_position(point)));
        }
    }
    Ok(None)
}

fn is_yard(row: &SegmentRow) -> bool {
    row.highway.is_boarded() || matches!(row.highway.class(), RoadClass::Service | RoadClass::Track)
}

/// The place of a line nearest to the origin of a plane, and how far it is, metres.
fn nearest_of(plane: &LocalPlane, line: &[Position]) -> Option<(f64, Point)> {
    let of_pair = |pair: &[Position]| {
        let (_, point) = nearest_to_origin(plane.to_plane(pair[0]), plane.to_plane(pair[1]));
        (point.distance_m(Point::default()), point)
    };
    line.windows(2).map(of_pair).min_by(|a, b| a.0.total_cmp(&b.0))
}
