//! What maps are drawn on and found by: names of places, water and coasts. Nothing is rated from it.
use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::area::Area;
use super::simplify::{simplified_area, simplified_line};
use super::steps::line;
use crate::base::district::{District, Reach};
use crate::base::geodesy::Position;
use crate::base::words::{GroundKind, GroundLineKind, MapObject, PlaceKind};

/// A place with a name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NamedPlace {
    /// Kind of object it is in the map.
    pub object: MapObject,
    /// Its id there.
    pub id: i64,
    /// Kind of place.
    pub kind: PlaceKind,
    /// `name`.
    pub name: Box<str>,
    /// `name:en`, where it is another one.
    pub name_en: Option<Box<str>>,
    /// `population`, where it is a plain number.
    pub population: Option<u32>,
    /// Where it is.
    pub at: Position,
}

/// An area of water, simplified.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WaterArea {
    /// What it is.
    pub kind: GroundKind,
    /// `name`.
    pub name: Option<Box<str>>,
    /// Where it is.
    pub area: Area,
}

/// A coast, river or canal, simplified.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WaterLine {
    /// What it is.
    pub kind: GroundLineKind,
    /// `name`.
    pub name: Option<Box<str>>,
    /// In the direction of its way.
    #[serde(with = "line")]
    pub line: Vec<Position>,
}

/// One thing of the backdrop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Backdrop {
    /// A place with a name.
    Place(NamedPlace),
    /// An area of water.
    Area(WaterArea),
    /// A coast, river or canal.
    Line(WaterLine),
}

/// The kinds of things, in their order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum BackdropKind {
    /// Places.
    Place,
    /// Areas of water.
    Area,
    /// Lines of water.
    Line,
}

/// A box that lies in no district.
const NOWHERE: Reach = Reach { south_e7: 1, north_e7: 0, west_e7: 1, east_e7: 0 };

impl Backdrop {
    /// Its kind.
    pub fn kind(&self) -> BackdropKind {
        match self {
            Self::Place(_) => BackdropKind::Place,
            Self::Area(_) => BackdropKind::Area,
            Self::Line(_) => BackdropKind::Line,
        }
    }
    /// The box around it.
    pub fn reach(&self) -> Reach {
        let around = match self {
            Self::Place(place) => Reach::around([place.at]),
            Self::Area(water) => Reach::around(water.area.outer.iter().copied()),
            Self::Line(water) => Reach::around(water.line.iter().copied()),
        };
        around.unwrap_or(NOWHERE)
    }
    /// The district in the south-west of its box, by which it is put in order; none for what lies nowhere.
    pub fn corner(&self) -> Option<District> {
        District::touched(&self.reach()).next()
    }
    /// Whether its box touches one of some districts; a place, whether it lies in one.
    pub fn meets(&self, districts: &BTreeSet<District>) -> bool {
        District::touched(&self.reach()).any(|district| districts.contains(&district))
    }
    /// With its object and area, of which a place keeps the point inside; nothing where too little is left of it.
    pub(crate) fn with_area(self, (object, id): (MapObject, i64), area: &Area, inside: Position) -> Option<Self> {
        match self {
            Self::Place(place) => Some(Self::Place(NamedPlace { object, id, at: inside, ..place })),
            Self::Area(water) => simplified_area(area).map(|area| Self::Area(WaterArea { area, ..water })),
            Self::Line(_) => None,
        }
    }
    /// With its line; nothing where too little is left of it.
    pub(crate) fn with_line(&self, line: &[Position]) -> Option<Self> {
        let Self::Line(water) = self else { return None };
        simplified_line(line).map(|line| Self::Line(WaterLine { line, kind: water.kind, name: water.name.clone() }))
    }
}
