//! Roads of an extract, with what their tags say.
use serde::{Deserialize, Serialize};

use super::road_node::RoadNode;
use super::steps::road_nodes;
use crate::base::words::{DrivingSide, RoadAccess, RoadClass};

/// Allowed direction of travel relative to the way's node order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub struct Sides {
    /// Left of the way.
    pub left: bool,
    /// Right of the way.
    pub right: bool,
}

/// A tunnel-like cover tagged on the way itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
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
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
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

/// A way a vehicle may drive.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Road {
    /// Way id.
    pub id: i64,
    /// Nodes in way order, at least two, consecutive duplicates removed. Where the extract misses
    /// nodes in the middle of a way the way is split: each piece is a `Road` with the same id.
    #[serde(with = "road_nodes")]
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
    /// `lit`: there are lamps.
    pub lit: bool,
    /// `sidewalk`: there is a pavement on some side.
    pub pavement: bool,
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
            lit: false,
            pavement: false,
            driving_side: None,
            name: None,
            reference: None,
        }
    }
}
