//! What one object of the extract becomes: the features its tags describe, waiting for geometry.
use serde::{Deserialize, Serialize};

use super::backdrop::{Backdrop, NamedPlace};
use super::model::{
    Area, Barred, BarredShape, Barrier, Building, Canopy, CanopyShape, CoverKind, Deck, DeckShape, GroundCover, Road,
    StopPlace, TollBooth,
};
use super::pbf::Tags;
use super::tags::Issues;
use super::{tags_backdrop, tags_barred, tags_cover, tags_deck, tags_road, tags_side, tags_stop};
use crate::base::geodesy::Position;
use crate::base::words::{MapObject, StopKind};

/// Keys of which an object needs at least one to be looked at.
pub(crate) const KEYS: [&str; 16] = [
    "highway",
    "railway",
    "route",
    "building",
    "building:part",
    "natural",
    "landuse",
    "barrier",
    "man_made",
    "bridge",
    "amenity",
    "tourism",
    "waterway",
    "wall",
    "leisure",
    "place",
];

/// A feature; its geometry is empty until [`Feature::with_area`] or [`Feature::with_line`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Feature {
    /// A road.
    Road(Box<Road>),
    /// Trees.
    Canopy(Canopy),
    /// A building.
    Building(Building),
    /// A wall or cliff.
    Barrier(Barrier),
    /// A deck.
    Deck(Deck),
    /// A place to stop.
    Stop(StopPlace),
    /// Water or tracks.
    Barred(Barred),
    /// Ground whose cover is mapped.
    GroundCover(GroundCover),
    /// A toll booth.
    TollBooth(TollBooth),
    /// A name or water that maps are drawn on.
    Backdrop(Box<Backdrop>),
}

/// What two features must share to be the same thing drawn twice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub(crate) enum AreaKind {
    /// Wood.
    Wood,
    /// Orchard.
    Orchard,
    /// Building, or building part.
    Building {
        /// Whether it is a part.
        part: bool,
    },
    /// Deck outline.
    Deck,
    /// Stop of a kind.
    Stop(StopKind),
    /// Water.
    Water,
    /// Cover of the ground.
    GroundCover(CoverKind),
    /// Water of the backdrop.
    BackdropWater,
    /// Island of the backdrop.
    BackdropIsland,
}

impl AreaKind {
    /// Whether it hides nothing, so that a broken outline costs a little evidence or a shape of the backdrop, and is not worth a
    /// word.
    pub(crate) fn is_quiet(self) -> bool {
        matches!(self, Self::GroundCover(_) | Self::BackdropWater | Self::BackdropIsland)
    }
}

impl Feature {
    /// A thing of the backdrop, in memory of its own: there are few, and every other feature would take as much.
    pub(crate) fn backdrop(thing: Backdrop) -> Self {
        Self::Backdrop(Box::new(thing))
    }

    /// The kind of an area feature; `None` for lines and points.
    pub(crate) fn area_kind(&self) -> Option<AreaKind> {
        match self {
            Self::Canopy(c) => match c.shape {
                CanopyShape::Wood(_) => Some(AreaKind::Wood),
                CanopyShape::Orchard(_) => Some(AreaKind::Orchard),
                _ => None,
            },
            Self::Building(b) => Some(AreaKind::Building { part: b.part }),
            Self::Deck(d) => matches!(d.shape, DeckShape::Outline(_)).then_some(AreaKind::Deck),
            Self::Stop(s) => Some(AreaKind::Stop(s.kind)),
            Self::Barred(b) => matches!(b.shape, BarredShape::Area(_)).then_some(AreaKind::Water),
            Self::GroundCover(c) => Some(AreaKind::GroundCover(c.kind)),
            Self::Backdrop(thing) => match **thing {
                Backdrop::Area(_) => Some(AreaKind::BackdropWater),
                Backdrop::Place(_) => Some(AreaKind::BackdropIsland),
                Backdrop::Line(_) => None,
            },
            Self::Road(_) | Self::Barrier(_) | Self::TollBooth(_) => None,
        }
    }

    /// The feature with its id and area; `inside` is a point of the area. Lines come back unchanged.
    pub(crate) fn with_area(mut self, (kind, object): (MapObject, i64), area: Area, inside: Position) -> Self {
        match &mut self {
            Self::Canopy(c) => {
                c.id = object;
                match &mut c.shape {
                    CanopyShape::Wood(a) | CanopyShape::Orchard(a) => *a = area,
                    _ => {}
                }
            }
            Self::Building(b) => (b.id, b.area) = (object, area),
            Self::GroundCover(c) => (c.id, c.area) = (object, area),
            Self::Deck(d) => (d.id, d.shape) = (object, DeckShape::Outline(area)),
            Self::Stop(s) => (s.object, s.id, s.at, s.outline) = (kind, object, inside, Some(area)),
            Self::Barred(b) => {
                b.id = object;
                if let BarredShape::Area(a) = &mut b.shape {
                    *a = area;
                }
            }
            Self::Road(_) | Self::Barrier(_) | Self::TollBooth(_) | Self::Backdrop(_) => {}
        }
        self
    }

    /// The feature with its id and line; `ends` are the line's end nodes. Areas and roads come back unchanged.
    pub(crate) fn with_line(mut self, object: i64, line: Vec<Position>, ends: [i64; 2]) -> Self {
        match &mut self {
            Self::Canopy(c) => {
                c.id = object;
                match &mut c.shape {
                    CanopyShape::Row(l) | CanopyShape::Hedge(l) => *l = line,
                    _ => {}
                }
            }
            Self::Barrier(b) => (b.id, b.line) = (object, line),
            Self::Deck(d) => (d.id, d.shape, d.end_nodes) = (object, DeckShape::Line(line), ends),
            Self::Barred(b) => {
                b.id = object;
                if let BarredShape::Line(l) = &mut b.shape {
                    *l = line;
                }
            }
            Self::Road(_) | Self::Building(_) | Self::Stop(_) => {}
            Self::GroundCover(_) | Self::TollBooth(_) | Self::Backdrop(_) => {}
        }
        self
    }
}

/// The features of a way, or of a multipolygon relation (`closed`).
pub fn of_way(tags: &Tags, closed: bool, issues: &mut Issues) -> Vec<Feature> {
    let mut features = Vec::new();
    features.extend(tags_road::parse(tags, issues).map(|r| Feature::Road(Box::new(r))));
    features.extend(tags_side::canopy(tags, issues).map(Feature::Canopy));
    features.extend(tags_side::building(tags, issues).map(Feature::Building));
    features.extend(tags_side::barrier(tags, issues).map(Feature::Barrier));
    features.extend(tags_deck::deck(tags, closed, issues).map(Feature::Deck));
    features.extend(tags_stop::stop(tags, issues).map(Feature::Stop));
    features.extend(tags_barred::barred(tags, issues).map(Feature::Barred));
    features.extend(tags_cover::cover(tags).map(Feature::GroundCover));
    features.extend(tags_backdrop::shapes(tags).map(Feature::backdrop));
    features
}

/// The area features of a multipolygon's own tags.
pub(crate) fn of_relation(tags: &Tags, issues: &mut Issues) -> Vec<Feature> {
    let mut features = of_way(tags, true, issues);
    features.retain(|f| f.area_kind().is_some());
    features
}

/// The features of a node, complete.
pub(crate) fn of_node(id: i64, at: Position, tags: &Tags, issues: &mut Issues) -> Vec<Feature> {
    let tree = tags_side::tree(tags, at, issues).map(|c| Feature::Canopy(Canopy { id, ..c }));
    let stop = tags_stop::stop(tags, issues).map(|s| Feature::Stop(StopPlace { id, at, ..s }));
    let toll = tags.is("barrier", "toll_booth").then_some(Feature::TollBooth(TollBooth { id, at }));
    let place = tags_backdrop::place(tags).map(|p| Feature::backdrop(Backdrop::Place(NamedPlace { id, at, ..p })));
    tree.into_iter().chain(stop).chain(toll).chain(place).collect()
}
