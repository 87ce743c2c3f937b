//! What an extract holds once read: roads and the things beside and above them.
//!
//! Geometry is in [`Position`]s, lengths in metres, speeds in km/h. `None` means the tag is silent:
//! no default is applied here, so that later stages can say where a value came from.
use serde::{Deserialize, Serialize};

use crate::base::defect::Defects;
use crate::base::geodesy::Position;

use super::steps::line;
use crate::base::words::RoadClass;

pub use super::area::{Area, Ring};
pub use super::backdrop::{Backdrop, BackdropKind, NamedPlace, WaterArea, WaterLine};
pub use super::barred::{Barred, BarredBy, BarredShape};
pub use super::building::{Building, BuildingKind, LARGEST_BUILDING_M2};
pub use super::cover::{CoverKind, GroundCover};
pub use super::road::{Oneway, Road, Sides, SpeedLimit, TunnelKind, Zone};
pub use super::road_node::RoadNode;
pub use super::stop::{Shelter, StopPlace};

/// Leaf type of trees.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum LeafType {
    /// Broad leaves.
    Broadleaved,
    /// Needles.
    Needleleaved,
    /// Both.
    Mixed,
    /// No leaves.
    Leafless,
    /// Not tagged.
    #[default]
    Unknown,
}

/// Whether leaves fall.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum LeafCycle {
    /// Never bare.
    Evergreen,
    /// Bare in the cold or dry season (`deciduous`, `semi_deciduous`).
    Deciduous,
    /// Both.
    Mixed,
    /// Not tagged.
    #[default]
    Unknown,
}

/// Where the trees of a feature stand.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum CanopyShape {
    /// `natural=wood`, `landuse=forest`.
    Wood(Area),
    /// `landuse=orchard`.
    Orchard(Area),
    /// `natural=tree_row`.
    Row(#[serde(with = "line")] Vec<Position>),
    /// `barrier=hedge` as a line.
    Hedge(#[serde(with = "line")] Vec<Position>),
    /// `natural=tree`.
    Tree(Position),
}

/// Trees on the map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Canopy {
    /// OSM id, for messages.
    pub id: i64,
    /// Where they stand.
    pub shape: CanopyShape,
    /// `leaf_type`.
    pub leaf_type: LeafType,
    /// `leaf_cycle`.
    pub leaf_cycle: LeafCycle,
    /// `height`, else `est_height`, metres above the ground.
    pub height_m: Option<f32>,
    /// `diameter_crown`, metres.
    pub crown_diameter_m: Option<f32>,
}

/// Kind of a solid line beside roads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum BarrierKind {
    /// `barrier=wall`, `city_wall`.
    Wall,
    /// `barrier=retaining_wall`: the high side is on the left of the line.
    RetainingWall,
    /// `wall=noise_barrier` or `barrier=noise_barrier`.
    NoiseBarrier,
    /// `natural=cliff`: the high side is on the left of the line.
    Cliff,
    /// `natural=earth_bank`, and edges of earthworks drawn as lines (`man_made=embankment`, `cutting`): the high side is
    /// on the left of the line.
    Bank,
}

/// A wall, barrier or cliff.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Barrier {
    /// OSM id, for messages.
    pub id: i64,
    /// Kind.
    pub kind: BarrierKind,
    /// The line.
    #[serde(with = "line")]
    pub line: Vec<Position>,
    /// `height`, metres above the ground.
    pub height_m: Option<f32>,
}

/// What a deck carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum DeckUse {
    /// A road.
    Road(RoadClass),
    /// A path, footway, cycleway or steps.
    Foot,
    /// A railway, tram, light rail.
    Rail,
    /// A canal or aqueduct.
    Water,
    /// A pipeline or conveyor.
    Pipe,
    /// A sign gantry (`man_made=gantry`).
    Gantry,
    /// A bridge outline (`man_made=bridge`) or `building=bridge` without a known use.
    Structure,
}

/// Shape of a deck.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum DeckShape {
    /// The centre line of what the deck carries.
    Line(#[serde(with = "line")] Vec<Position>),
    /// The deck's outline (`man_made=bridge` area, `building=bridge`).
    Outline(Area),
}

/// Something that spans open space and may stand over a road.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Deck {
    /// OSM id; for road decks the same as the road's.
    pub id: i64,
    /// What it carries.
    pub carries: DeckUse,
    /// Where it is.
    pub shape: DeckShape,
    /// End nodes of a line, so that consecutive pieces can be joined; 0 for outlines.
    pub end_nodes: [i64; 2],
    /// `width`, metres, where tagged.
    pub width_m: Option<f32>,
    /// `lanes` or `tracks`, where tagged.
    pub lanes: Option<u8>,
    /// `layer`.
    pub layer: i8,
    /// `min_height` or `maxheight`-like underside above the ground, metres, where tagged (`building=bridge`).
    pub min_height_m: Option<f32>,
    /// `name`.
    pub name: Option<Box<str>>,
}

/// A place on a road where toll is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct TollBooth {
    /// Node id.
    pub id: i64,
    /// Where it is.
    pub at: Position,
}

/// What the file says about itself, and what was counted in it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ExtractInfo {
    /// Nodes in the file.
    pub nodes: u64,
    /// Ways in the file.
    pub ways: u64,
    /// Relations in the file.
    pub relations: u64,
    /// Data blocks in the file.
    pub blocks: u64,
    /// Bytes read.
    pub bytes: u64,
    /// SHA-256 of the file, lower-case hexadecimal.
    pub sha256: String,
    /// Program named in the header.
    pub writing_program: Option<String>,
    /// Time of the data (replication time of the header), seconds since 1970 UTC.
    pub data_time_unix_s: Option<i64>,
}

/// Everything waymask wants from an extract. Order: by id, then by place in the way, whatever the
/// order in the file.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Extract {
    /// Roads and ferries.
    pub roads: Vec<Road>,
    /// Trees.
    pub canopy: Vec<Canopy>,
    /// Buildings and roofs.
    pub buildings: Vec<Building>,
    /// Walls and cliffs.
    pub barriers: Vec<Barrier>,
    /// Decks that may stand over roads (road decks included).
    pub decks: Vec<Deck>,
    /// Places to stop.
    pub stops: Vec<StopPlace>,
    /// Water and railway tracks.
    pub barred: Vec<Barred>,
    /// Ground whose cover is mapped.
    pub covers: Vec<GroundCover>,
    /// Toll booths on roads (`barrier=toll_booth`).
    pub toll_booths: Vec<TollBooth>,
    /// Names of places and water; nothing is rated from it, and bundles have none.
    pub backdrop: Vec<Backdrop>,
    /// About the file.
    #[serde(skip)]
    pub info: ExtractInfo,
    /// Bad data met.
    #[serde(skip)]
    pub defects: Defects,
}
