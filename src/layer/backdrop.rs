//! What maps are drawn on and found by, as stored: names of places, areas and lines of water.
use crate::base::geodesy::Position;
use crate::base::words::{GroundKind, GroundLineKind, MapObject, PlaceKind};

/// A row of `places` (POINT): a place with a name.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PlaceRow {
    /// Id, from 1.
    pub place_id: i64,
    /// Which object of the map it is.
    pub osm_type: MapObject,
    /// Its id there.
    pub osm_id: i64,
    /// Its name, in the language of the place.
    pub name: String,
    /// Its English name, where it is another one.
    pub name_en: Option<String>,
    /// Kind of place.
    pub kind: PlaceKind,
    /// How many people live there, where the map says it.
    pub population: Option<u32>,
    /// Which names are drawn first, from 0; see [`PlaceKind::rank`].
    pub rank: u8,
    /// Where it is.
    pub at: Position,
}

/// A row of `ground` (POLYGON): an area of water.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GroundRow {
    /// Id, from 1.
    pub ground_id: i64,
    /// Kind of water.
    pub kind: GroundKind,
    /// Its name.
    pub name: Option<String>,
    /// The outer ring, then the holes: each closed, its first position repeated at the end.
    pub rings: Vec<Vec<Position>>,
}

/// A row of `ground_lines` (LINESTRING): a coast, river or canal.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GroundLineRow {
    /// Id, from 1.
    pub ground_line_id: i64,
    /// Kind of line.
    pub kind: GroundLineKind,
    /// Its name.
    pub name: Option<String>,
    /// In the direction in which the map draws it: along a coast, the sea lies on the right.
    pub line: Vec<Position>,
}
