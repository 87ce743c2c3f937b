//! Whether something lies in the part that is asked for.
use geo::{Contains, Coord, MultiPolygon};

use super::near::NearLines;
use crate::base::geodesy::Position;
use crate::layer::Bounds;

/// The part.
pub(super) enum Inside<'a> {
    Whole,
    InBox(Bounds),
    Polygons(&'a MultiPolygon<f64>, Vec<Bounds>),
    Near(NearLines, f64, Vec<Bounds>),
}

impl<'a> Inside<'a> {
    /// What lies in polygons.
    pub fn polygons(polygons: &'a MultiPolygon<f64>) -> Self {
        Self::Polygons(polygons, polygons.iter().filter_map(around).collect())
    }
    /// Boxes that hold all of it; nothing where it is the whole layer.
    pub fn boxes(&self) -> Option<&[Bounds]> {
        match self {
            Self::Whole => None,
            Self::InBox(bounds) => Some(std::slice::from_ref(bounds)),
            Self::Polygons(_, boxes) | Self::Near(_, _, boxes) => Some(boxes),
        }
    }
    /// Whether a place lies in it.
    pub fn holds(&self, at: Position) -> bool {
        match self {
            Self::Whole => true,
            Self::InBox(bounds) => Bounds { min: at, max: at }.meets(*bounds),
            Self::Polygons(polygons, boxes) => boxes.iter().zip(*polygons).any(|(bounds, polygon)| {
                Bounds { min: at, max: at }.meets(*bounds)
                    && polygon.contains(&Coord { x: at.lon_deg(), y: at.lat_deg() })
            }),
            Self::Near(lines, buffer_m, _) => lines.within(at, *buffer_m),
        }
    }
    /// Whether a piece of road lies in it, with one of its vertices.
    pub fn touches(&self, line: &[Position]) -> bool {
        line.iter().any(|at| self.holds(*at))
    }
}

fn around(polygon: &geo::Polygon<f64>) -> Option<Bounds> {
    let corners: Vec<Position> = polygon.exterior().coords().map(|c| Position::from_deg(c.x, c.y)).collect();
    Bounds::around(&corners)
}
