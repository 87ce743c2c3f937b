//! The shape of what the map draws as an area.
use crate::base::geodesy::Position;

/// A closed ring of positions, the first repeated at the end, at least four positions.
pub type Ring = Vec<Position>;

/// A polygon with holes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Area {
    /// Outer ring.
    pub outer: Ring,
    /// Holes.
    pub inners: Vec<Ring>,
}
