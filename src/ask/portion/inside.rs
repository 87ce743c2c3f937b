//! Whether something lies in the part that is asked for.
use super::near::NearLines;
use super::rings::RingEdges;
use crate::base::geodesy::Position;
use crate::layer::Bounds;

/// The part.
pub(super) enum PartShape {
    Whole,
    InBox(Bounds),
    Polygons(RingEdges),
    Near(NearLines, f64, Vec<Bounds>),
}

/// The whole earth.
static EVERYWHERE: Bounds = Bounds {
    min: Position { lon_e7: -1_800_000_000, lat_e7: -900_000_000 },
    max: Position { lon_e7: 1_800_000_000, lat_e7: 900_000_000 },
};

impl PartShape {
    /// Boxes that hold all of it.
    pub fn boxes(&self) -> &[Bounds] {
        match self {
            Self::Whole => std::slice::from_ref(&EVERYWHERE),
            Self::InBox(bounds) => std::slice::from_ref(bounds),
            Self::Polygons(edges) => &edges.boxes,
            Self::Near(_, _, boxes) => boxes,
        }
    }
    /// Whether a place lies in it.
    pub fn holds(&self, at: Position) -> bool {
        match self {
            Self::Whole => true,
            Self::InBox(bounds) => Bounds { min: at, max: at }.meets(*bounds),
            Self::Polygons(edges) => edges.hold(at),
            Self::Near(lines, buffer_m, _) => lines.within(at, *buffer_m),
        }
    }
    /// Whether a piece of road lies in it, with one of its vertices.
    pub fn touches(&self, line: &[Position]) -> bool {
        line.iter().any(|at| self.holds(*at))
    }
}
