//! Whether something lies in the part that is asked for.
use geo::{Contains, Coord, MultiPolygon};

use super::question::PortionOf;
use crate::ask::boxes::along;
use crate::ask::matching::{MatchOptions, RoadGraph};
use crate::base::geodesy::Position;
use crate::layer::Bounds;
use crate::layer::model::RoadRow;

/// The part.
pub(super) enum Inside<'a> {
    Whole,
    Square(Bounds),
    Polygons(&'a MultiPolygon<f64>),
    Near(Box<NearTrack>),
}

/// What lies near a track.
pub(super) struct NearTrack {
    track: RoadGraph,
    buffer_m: f64,
    boxes: Vec<Bounds>,
}

impl<'a> Inside<'a> {
    pub fn of(part: &'a PortionOf) -> Self {
        match part {
            PortionOf::Whole => Self::Whole,
            PortionOf::Box(bounds) => Self::Square(*bounds),
            PortionOf::Polygons(polygons) => Self::Polygons(polygons),
            PortionOf::Along { track, buffer_m, .. } => {
                // A track that is out of sight of its road for a while is driven all the same: its points count, and the lines
                // between them.
                let row = |(segment_id, piece): (i64, &Vec<_>)| RoadRow {
                    segment_id,
                    line: piece.iter().map(|p: &crate::ask::matching::TrackPoint| p.at).collect(),
                    ..RoadRow::default()
                };
                let rows: Vec<RoadRow> = (1..).zip(&track.pieces).map(row).filter(|r| r.line.len() > 1).collect();
                let boxes = along(track, *buffer_m, MatchOptions::default().gap_m);
                Self::Near(Box::new(NearTrack { track: RoadGraph::new(&rows, &[]), buffer_m: *buffer_m, boxes }))
            }
        }
    }
    /// Boxes that hold all of it; nothing where it is the whole layer.
    pub fn boxes(&self) -> Option<Vec<Bounds>> {
        match self {
            Self::Whole => None,
            Self::Square(bounds) => Some(vec![*bounds]),
            Self::Polygons(polygons) => Some(polygons.iter().filter_map(around).collect()),
            Self::Near(near) => Some(near.boxes.clone()),
        }
    }
    /// Whether a place lies in it.
    pub fn holds(&self, at: Position) -> bool {
        match self {
            Self::Whole => true,
            Self::Square(bounds) => Bounds { min: at, max: at }.meets(*bounds),
            Self::Polygons(polygons) => polygons.contains(&Coord { x: at.lon_deg(), y: at.lat_deg() }),
            Self::Near(near) => near.track.any_near(at, near.buffer_m),
        }
    }
    /// Whether a piece of road lies in it: one of its ends, or its middle. Pieces are short.
    pub fn touches(&self, line: &[Position]) -> bool {
        let some = [line.first(), line.get(line.len() / 2), line.last()];
        some.into_iter().flatten().any(|at| self.holds(*at))
    }
}

fn around(polygon: &geo::Polygon<f64>) -> Option<Bounds> {
    let corners: Vec<Position> = polygon.exterior().coords().map(|c| Position::from_deg(c.x, c.y)).collect();
    Bounds::around(&corners)
}
