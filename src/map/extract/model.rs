//! What an extract holds once read: roads and the things beside and above them.
//!
//! Geometry is in [`Position`]s, lengths in metres, speeds in km/h. `None` means the tag is silent:
//! no default is applied here, so that later stages can say where a value came from.
use crate::base::defect::Defects;
use crate::base::geodesy::Position;

use crate::base::words::{DrivingSide, RoadAccess, RoadClass};

pub use super::area::{Area, Ring};
pub use super::barred::{Barred, BarredBy, BarredShape};
pub use super::stop::{Shelter, StopPlace};

/// Allowed direction of travel relative to the way's node order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Oneway {
    /// Both directions.
    #[default]
    Both,
    /// In node order only.
    Forward,
    /// Against node order only (`-1`).
    Backward,
}

/// Left and right of a way, looking in node order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Sides {
    /// Left of the way.
    pub left: bool,
    /// Right of the way.
    pub right: bool,
}

/// A tunnel-like cover tagged on the way itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TunnelKind {
    /// `tunnel=yes` and other closed tunnels.
    Tunnel,
    /// `tunnel=building_passage`.
    Passage,
    /// `tunnel=avalanche_protector`: a gallery with the named sides open.
    Gallery {
        /// Open to the left of the way.
        open_left: bool,
        /// Open to the right of the way.
        open_right: bool,
    },
}

/// A speed limit as tagged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SpeedLimit {
    /// Number, converted to km/h.
    Kmh(f32),
    /// `none`: no limit.
    Unlimited,
    /// `walk`: walking pace.
    Walk,
    /// `CC:zone` (`FR:rural`): the zone's default applies; the zone part in lower case (`rural`).
    Zone(Zone),
}

/// The zone of a `CC:zone` speed limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Zone {
    /// `urban`
    Urban,
    /// `rural`
    Rural,
    /// `trunk`
    Trunk,
    /// `motorway`
    Motorway,
    /// `living_street`
    LivingStreet,
}

/// One node of a road.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RoadNode {
    /// Node id.
    pub id: i64,
    /// Where it is.
    pub at: Position,
}

/// A way a vehicle may drive.
#[derive(Debug, Clone, PartialEq)]
pub struct Road {
    /// Way id.
    pub id: i64,
    /// Nodes in way order, at least two, consecutive duplicates removed. Where the extract misses
    /// nodes in the middle of a way the way is split: each piece is a `Road` with the same id.
    pub nodes: Vec<RoadNode>,
    /// Class by `highway` or `route`.
    pub class: RoadClass,
    /// Whether it is a `*_link`.
    pub link: bool,
    /// Direction of travel; roundabouts and motorways are one-way unless tagged otherwise.
    pub oneway: Oneway,
    /// `junction=roundabout` or `circular`.
    pub roundabout: bool,
    /// `lanes`: of this way, both directions together.
    pub lanes: Option<u8>,
    /// `lanes:forward`.
    pub lanes_forward: Option<u8>,
    /// `lanes:backward`.
    pub lanes_backward: Option<u8>,
    /// `width:carriageway`, else `width` (or `est_width`), metres.
    pub width_m: Option<f32>,
    /// Speed limit forward (`maxspeed:forward`, else `maxspeed`).
    pub maxspeed_forward: Option<SpeedLimit>,
    /// Speed limit backward.
    pub maxspeed_backward: Option<SpeedLimit>,
    /// `surface`, lower case.
    pub surface: Option<Box<str>>,
    /// `tracktype` 1..=5.
    pub tracktype: Option<u8>,
    /// `smoothness`, lower case.
    pub smoothness: Option<Box<str>>,
    /// Who may use it (`motor_vehicle`, `vehicle`, `access`, in that order).
    pub access: RoadAccess,
    /// `layer`, -5..=5: order only where things cross.
    pub layer: i8,
    /// On a bridge.
    pub bridge: bool,
    /// In a tunnel, passage or gallery.
    pub tunnel: Option<TunnelKind>,
    /// `covered=yes` (or `arcade`, `colonnade`).
    pub covered: bool,
    /// Sides with a cutting.
    pub cutting: Sides,
    /// `cutting=hollow_way`: worn in between steep banks.
    pub hollow_way: bool,
    /// Sides with an embankment.
    pub embankment: Sides,
    /// Sides with planted trees (`tree_lined`); `yes` counts as both.
    pub tree_lined: Sides,
    /// Posted clearance (`maxheight`, legal limit), metres.
    pub maxheight_m: Option<f32>,
    /// Measured clearance (`maxheight:physical`), metres.
    pub maxheight_physical_m: Option<f32>,
    /// `driving_side` on the way.
    pub driving_side: Option<DrivingSide>,
    /// `name`.
    pub name: Option<Box<str>>,
    /// `ref`.
    pub reference: Option<Box<str>>,
}

impl Road {
    /// A road of which the map says nothing but class and course.
    pub fn untagged(id: i64, class: RoadClass, nodes: Vec<RoadNode>) -> Self {
        Self {
            id,
            nodes,
            class,
            link: false,
            oneway: Oneway::Both,
            roundabout: false,
            lanes: None,
            lanes_forward: None,
            lanes_backward: None,
            width_m: None,
            maxspeed_forward: None,
            maxspeed_backward: None,
            surface: None,
            tracktype: None,
            smoothness: None,
            access: RoadAccess::Open,
            layer: 0,
            bridge: false,
            tunnel: None,
            covered: false,
            cutting: Sides::default(),
            hollow_way: false,
            embankment: Sides::default(),
            tree_lined: Sides::default(),
            maxheight_m: None,
            maxheight_physical_m: None,
            driving_side: None,
            name: None,
            reference: None,
        }
    }
}

/// Leaf type of trees.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
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
#[derive(Debug, Clone, PartialEq)]
pub enum CanopyShape {
    /// `natural=wood`, `landuse=forest`.
    Wood(Area),
    /// `landuse=orchard`.
    Orchard(Area),
    /// `natural=tree_row`.
    Row(Vec<Position>),
    /// `barrier=hedge` as a line.
    Hedge(Vec<Position>),
    /// `natural=tree`.
    Tree(Position),
}

/// Trees on the map.
#[derive(Debug, Clone, PartialEq)]
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

/// A building, building part or roof.
#[derive(Debug, Clone, PartialEq)]
pub struct Building {
    /// OSM id, for messages.
    pub id: i64,
    /// Footprint.
    pub area: Area,
    /// A `building:part`; its outline `building` covers the same ground, unless it is tagged as both.
    pub part: bool,
    /// `building=roof`, `carport` or `canopy`, `wall=no`, or a covered fuel or bus station: open below.
    pub roof_only: bool,
    /// `height`, else `est_height`: top including the roof, metres above the ground.
    pub height_m: Option<f32>,
    /// `min_height`, else from `building:min_level` at 3 m a level: underside, metres above the ground.
    pub min_height_m: Option<f32>,
    /// `building:levels`, without roof levels.
    pub levels: Option<f32>,
    /// `roof:levels`.
    pub roof_levels: Option<f32>,
    /// `roof:height`, metres.
    pub roof_height_m: Option<f32>,
    /// `layer`.
    pub layer: i8,
}

/// Kind of a solid line beside roads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
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
#[derive(Debug, Clone, PartialEq)]
pub struct Barrier {
    /// OSM id, for messages.
    pub id: i64,
    /// Kind.
    pub kind: BarrierKind,
    /// The line.
    pub line: Vec<Position>,
    /// `height`, metres above the ground.
    pub height_m: Option<f32>,
}

/// What a deck carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
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
#[derive(Debug, Clone, PartialEq)]
pub enum DeckShape {
    /// The centre line of what the deck carries.
    Line(Vec<Position>),
    /// The deck's outline (`man_made=bridge` area, `building=bridge`).
    Outline(Area),
}

/// Something that spans open space and may stand over a road.
#[derive(Debug, Clone, PartialEq)]
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
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TollBooth {
    /// Node id.
    pub id: i64,
    /// Where it is.
    pub at: Position,
}

/// What the file says about itself, and what was counted in it.
#[derive(Debug, Clone, PartialEq, Default)]
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
#[derive(Debug, Clone, PartialEq, Default)]
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
    /// Toll booths on roads (`barrier=toll_booth`).
    pub toll_booths: Vec<TollBooth>,
    /// About the file.
    pub info: ExtractInfo,
    /// Bad data met.
    pub defects: Defects,
}
