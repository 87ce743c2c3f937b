//! Rows of the layer, as plain data. Column names are the field names.
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::base::defect::Tally;
use crate::base::geodesy::Position;
use crate::base::words::{
    BlockerEvidence, Case, Cause, DrivingSide, Evidence, Highway, InputRole, Overhang, OverheadKind, PerDirection,
    RatedBy, Rating, RoadAccess, SideFrom, TerrainEvidence, ValueFrom,
};
use crate::profile::Profile;

pub use super::backdrop::{GroundLineRow, GroundRow, PlaceRow};
pub use super::name::NameRow;
pub use super::outage::OutageRow;
pub use super::run::RunRow;
pub use super::stop::{PanelPlace, StopRow};
pub use super::way_nodes::{WayNode, WayNodesRow};

/// A row of `segments` (LINESTRING). Figures of both directions are the worse one's, unless named.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SegmentRow {
    /// Feature id, from 1.
    pub segment_id: i64,
    /// Way id of the map.
    pub way_id: i64,
    /// Number of the piece within the way.
    pub part: u32,
    /// `name` of the road.
    pub name: Option<String>,
    /// `ref` of the road.
    pub reference: Option<String>,
    /// `highway` value, with `_link` where it is one, or `ferry` or `shuttle_train`.
    pub highway: Highway,
    /// Lanes of both directions.
    pub lanes: u8,
    /// Where the number came from.
    pub lanes_from: ValueFrom,
    /// Carriageway width, metres.
    pub width_m: f64,
    /// Where it came from.
    pub width_from: ValueFrom,
    /// Speed the outages were computed at, km/h (the slower direction).
    pub speed_kmh: f64,
    /// Where it came from.
    pub speed_from: ValueFrom,
    /// Side that traffic keeps to.
    pub keeps: DrivingSide,
    /// What says so.
    pub keeps_from: SideFrom,
    /// ISO 3166-1 code of the country of the way, where known.
    pub country: Option<String>,
    /// Length, metres.
    pub length_m: f64,
    /// The worse direction.
    pub rating: Rating,
    /// Which figure decides it.
    pub rated_by: RatedBy,
    /// Figures of each direction by itself; `None` where it is not driven so.
    pub driven: PerDirection<Option<Driven>>,
    /// Mean open share.
    pub open_share: f64,
    /// Lowest open share of a station.
    pub open_share_min: f64,
    /// With what is assumed about the roadside at the favourable end of its range.
    pub rating_best: Rating,
    /// At the unfavourable end; nothing where a cause could not be known.
    pub rating_worst: Option<Rating>,
    /// Expected share of driving time without a link.
    pub outage_share: f64,
    /// The same, as `rating_best`.
    pub outage_share_best: f64,
    /// The same, as `rating_worst`.
    pub outage_share_worst: Option<f64>,
    /// Outages that touch the segment per 10 km.
    pub outages_per_10km: f64,
    /// Median over drives of the longest outage that touches the segment, seconds.
    pub outage_p50_s: f64,
    /// 95th percentile over drives of the same, seconds.
    pub outage_p95_s: f64,
    /// Mean over drives of the same, seconds.
    pub longest_outage_s: f64,
    /// Share of the usable sky blocked by tunnels, galleries and roofs.
    pub blocked_cover: f64,
    /// By decks.
    pub blocked_deck: f64,
    /// By buildings, walls and cliffs.
    pub blocked_building: f64,
    /// By terrain.
    pub blocked_terrain: f64,
    /// By canopy.
    pub blocked_canopy: f64,
    /// The largest of these, `none` below one per cent in all.
    pub main_cause: Cause,
    /// Lowest posted clearance, metres.
    pub maxheight_m: Option<f64>,
    /// Crowns close over the road, or a posted clearance is below the vehicle's height.
    pub overhang: bool,
    /// Why.
    pub overhang_reason: Overhang,
    /// What the terrain answer is based on.
    pub evidence_terrain: TerrainEvidence,
    /// Share of its stations beside which pixels may hide a rock face.
    pub terrain_coarse_share: f64,
    /// Share of the usable sky that ground of unknown height could hide.
    pub terrain_unknown_share: f64,
    /// What the answer on trees is based on.
    pub evidence_canopy: BlockerEvidence,
    /// What the answer on buildings and walls is based on.
    pub evidence_building: BlockerEvidence,
    /// What the rating is based on as a whole.
    pub evidence: Evidence,
    /// Geometry.
    pub line: Vec<Position>,
}

/// What one direction of a segment is like.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Driven {
    /// Id of the edge that drives it.
    pub edge: i64,
    /// Rating.
    pub rating: Rating,
    /// As in [`SegmentRow::rating_best`].
    pub rating_best: Rating,
    /// As in [`SegmentRow::rating_worst`].
    pub rating_worst: Option<Rating>,
    /// As in [`SegmentRow::outage_share_best`].
    pub outage_share_best: f64,
    /// As in [`SegmentRow::outage_share_worst`].
    pub outage_share_worst: Option<f64>,
    /// Driving time, seconds.
    pub time_s: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// 95th percentile over drives of the longest outage that touches the segment, seconds.
    pub outage_p95_s: f64,
    /// Expected outages per drive that begin here and are longer than the edge of blips.
    pub beyond_blips: f64,
    /// The same, longer than the edge of gaps.
    pub beyond_gaps: f64,
    /// The same, longer than the edge of drops.
    pub beyond_drops: f64,
    /// Share of drives in which an outage runs at its start with more left than the edge of blips.
    pub running_blips: f64,
    /// The same, more than the edge of gaps.
    pub running_gaps: f64,
    /// The same, more than the edge of drops.
    pub running_drops: f64,
    /// What blocks the sky most, driving this way.
    pub main_cause: Cause,
}

/// A row of `edges`: one direction of travel between two junctions.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct EdgeRow {
    /// Id, from 1.
    pub edge_id: i64,
    /// First node id.
    pub from_node: i64,
    /// Last node id.
    pub to_node: i64,
    /// Way id.
    pub way_id: i64,
    /// In node order of the way.
    pub forward: bool,
    /// Length, metres.
    pub length_m: f64,
    /// Driving time, seconds.
    pub time_s: f64,
    /// Expected seconds without a link; adds up along a path.
    pub outage_s: f64,
    /// Expected longest outage, seconds.
    pub longest_outage_s: f64,
    /// Worst rating of its segments in this direction; its code in tables.
    #[serde(serialize_with = "Rating::as_code")]
    pub rating: Rating,
    /// As in [`SegmentRow::highway`].
    pub highway: Highway,
    /// Who may drive there.
    pub access: RoadAccess,
    /// Serves only the ends of a drive, see [`crate::map::network::local`].
    pub local: bool,
    /// Loose surface.
    pub unpaved: bool,
    /// Where that came from.
    pub unpaved_from: ValueFrom,
    /// Lowest posted clearance, metres.
    pub maxheight_m: Option<f64>,
}

/// What map matching needs of a segment: its place in the network, without figures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RoadRow {
    /// Feature id of the segment.
    pub segment_id: i64,
    /// Way id.
    pub way_id: i64,
    /// Number of the piece within the way: segments of one edge follow each other by it.
    pub part: u32,
    /// Id of the edge that drives it in node order.
    pub edge_forward: Option<i64>,
    /// Id of the edge that drives it against node order.
    pub edge_backward: Option<i64>,
    /// As in [`SegmentRow::blocked_cover`].
    pub blocked_cover: f64,
    /// Geometry, in node order.
    pub line: Vec<Position>,
}

/// A row of `nodes` (POINT): an end of an edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct NodeRow {
    /// Id of the node in the map, as edges name it.
    pub node_id: i64,
    /// Where it lies.
    pub at: Position,
}

/// A row of `overheads` (POINT).
#[derive(Debug, Clone, PartialEq)]
pub struct OverheadRow {
    /// Id, from 1.
    pub overhead_id: i64,
    /// Segment it stands over.
    pub segment_id: i64,
    /// Kind.
    pub kind: OverheadKind,
    /// Id of what crosses.
    pub osm_id: i64,
    /// Name of what crosses.
    pub name: Option<String>,
    /// Width across the deck (length along the road for covers), metres.
    pub deck_width_m: f64,
    /// Length of road under it, metres.
    pub covered_m: f64,
    /// Underside above the road, metres.
    pub underside_m: f64,
    /// Where that came from.
    pub underside_from: ValueFrom,
    /// Posted clearance of the road below, metres.
    pub maxheight_m: Option<f64>,
    /// Seconds at the segment's speed during which it alone hides more than half of the usable sky.
    pub half_shadow_s: f64,
    /// Where the middle of it stands over the lane.
    pub at: Position,
}

/// A row of `lanes` (no geometry): one direction of travel along a segment, with what rating it again needs besides
/// its masks.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LaneRow {
    /// Id: twice the segment's, less one in node order.
    pub lane_id: i64,
    /// Segment.
    pub segment_id: i64,
    /// In node order of the way.
    pub forward: bool,
    /// Number of the stroke of segments that is driven in one go.
    pub stroke: u32,
    /// Place in the stroke, from 0.
    pub step: u32,
    /// Speed of the road before the profile, km/h.
    pub road_kmh: f64,
    /// Where it came from.
    pub road_kmh_from: ValueFrom,
    /// Rise over run in this direction; nothing without elevation.
    pub climb: Option<f64>,
    /// What stands over the lane, packed by [`crate::physics::scene::overheads::prisms`]; nothing where nothing does.
    pub overheads: Option<Vec<u8>>,
    /// The lane that the outage through this one begins with; nothing where there is none.
    pub outage_from: Option<i64>,
}

/// A row of `masks` (no geometry): the packed masks of one segment in one direction.
#[derive(Debug, Clone, PartialEq)]
pub struct MaskRow {
    /// Id of the lane they belong to.
    pub mask_id: i64,
    /// Segment.
    pub segment_id: i64,
    /// In node order of the way.
    pub forward: bool,
    /// Number of masks, evenly spaced along the segment.
    pub stations: u32,
    /// Packed by [`crate::physics::sky::pack`].
    pub packed: Vec<u8>,
}

/// A row of `end_masks` (no geometry): the masks of a direction of a segment with what is assumed about the roadside at one end
/// of its range. There are none where these are the masks as stated.
#[derive(Debug, Clone, PartialEq)]
pub struct EndMaskRow {
    /// Id: twice that of the lane they belong to, less one at the favourable end.
    pub end_mask_id: i64,
    /// Segment.
    pub segment_id: i64,
    /// In node order of the way.
    pub forward: bool,
    /// Best or worst.
    pub at: Case,
    /// Number of masks, evenly spaced along the segment.
    pub stations: u32,
    /// Packed by [`crate::physics::sky::pack`].
    pub packed: Vec<u8>,
}

impl EndMaskRow {
    /// The id of the masks of a lane at an end.
    pub(crate) fn id_of(lane_id: i64, at: Case) -> i64 {
        2 * lane_id - i64::from(at == Case::Best)
    }
}

/// One input file.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct InputRecord {
    /// File name without folders (paths would make equal builds differ).
    pub name: String,
    /// What it was used for.
    pub role: InputRole,
    /// Size, bytes.
    pub bytes: u64,
    /// SHA-256, lower-case hexadecimal.
    pub sha256: String,
    /// Date of the data where the file gives it, RFC 3339.
    pub data_time: Option<String>,
    /// Who must be credited.
    pub attribution: Option<String>,
    /// How a raster's heights were read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub raster: Option<RasterRecord>,
}

/// How the heights of a raster were read.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct RasterRecord {
    /// What they are heights of: `bare-earth`, `surface` or `canopy`.
    pub kind: String,
    /// Side of a pixel, metres, roughly.
    pub pixel_m: f64,
    /// Metres per value.
    pub metres_per_value: f64,
}

/// Name of the count of rows of `end_masks`.
pub(crate) const END_MASKS: &str = "end masks";

/// Stands for the rating at worst where a cause could not be known.
pub(crate) const NOT_KNOWN: &str = "not known";
/// Stands for the country where the side of the traffic is known and the country is not.
pub(crate) const NO_COUNTRY: &str = "elsewhere";

/// What a build read, assumed and counted: kept in the layer, printed by `info`. Holds nothing that
/// differs between two equal builds (no wall-clock times).
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct BuildRecord {
    /// Version of the program.
    pub waymask_version: String,
    /// Version of the layer's schema.
    pub schema_version: u32,
    /// Lowest elevation of the masks, degrees.
    pub mask_floor_deg: f64,
    /// Inputs.
    pub inputs: Vec<InputRecord>,
    /// Profile in force.
    pub profile: Profile,
    /// Start of the timelines where drives are under real satellites instead of the profile's shells, RFC 3339.
    #[serde(default)]
    pub timeline_start: Option<String>,
    /// Counts by name (`nodes`, `ways`, `segments`, `masks`, ...).
    pub counts: BTreeMap<String, u64>,
    /// Kilometres of road by rating name.
    pub km_by_rating: BTreeMap<String, f64>,
    /// The same with what is assumed about the roadside at the favourable end.
    #[serde(default)]
    pub km_by_rating_best: BTreeMap<String, f64>,
    /// The same at the unfavourable end; `not known` where a cause could not be known.
    #[serde(default)]
    pub km_by_rating_worst: BTreeMap<String, f64>,
    /// Kilometres of road that about as many drives under another seed would rate otherwise: the luck of the draws. Estimated
    /// from drives of even and odd number rated apart.
    #[serde(default)]
    pub km_by_chance: f64,
    /// Kilometres of road by main cause.
    pub km_by_cause: BTreeMap<String, f64>,
    /// Kilometres of road by the side traffic keeps to and the country, such as `left GB`; `assumed` where
    /// neither is known, `elsewhere` where the country alone is not.
    #[serde(default)]
    pub km_by_side: BTreeMap<String, f64>,
    /// Sentences: what was assumed.
    pub assumed: Vec<String>,
    /// Kilometres of road by what an answer is based on, such as `terrain raster`.
    pub km_by_evidence: BTreeMap<String, f64>,
    /// Defects by code.
    pub defects: BTreeMap<String, Tally>,
}
