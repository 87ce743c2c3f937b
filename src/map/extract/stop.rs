//! Places to stop as the map gives them.
use serde::{Deserialize, Serialize};

use super::area::Area;
use crate::base::geodesy::Position;
use crate::base::words::{MapObject, StopAccess, StopKind};

/// What the tags of a place say about a roof.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum Shelter {
    /// Nothing.
    #[default]
    Untold,
    /// `covered=yes` and the like.
    Covered,
    /// `covered=no`.
    Uncovered,
    /// Parking in sheds, carports or garage boxes.
    Sheds,
    /// Parking under ground or on several storeys: inside of something.
    Enclosed,
    /// Parking on top of a building.
    Rooftop,
}

/// A place where one may stop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StopPlace {
    /// Kind of object `id` is of.
    pub object: MapObject,
    /// OSM id.
    pub id: i64,
    /// Kind.
    pub kind: StopKind,
    /// `name`.
    pub name: Option<Box<str>>,
    /// A point inside.
    pub at: Position,
    /// Outline where mapped as an area.
    pub outline: Option<Area>,
    /// Roof by tags.
    pub shelter: Shelter,
    /// Who may use it.
    pub access: StopAccess,
}
