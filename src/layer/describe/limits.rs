//! What a column may hold, where that can be said: a range, or one of a fixed set of words.
use crate::base::words::{
    BlockerEvidence, Case, Cause, DrivingSide, Evidence, GroundKind, GroundLineKind, Highway, LAST_RANK, MOST_PEOPLE,
    MapObject, NameKind, Overhang, OverheadKind, PlaceKind, RatedBy, Rating, RoadAccess, Roofed, RoofedBy, SideFrom,
    StandsOn, StopAccess, StopKind, TerrainEvidence, ValueFrom, Words,
};

/// The limits of a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Limit {
    /// Whatever its type holds.
    Free,
    /// A range with both ends, ends included.
    Range(Range),
    /// One of some words.
    Words(WordSet),
}

/// A column without limits beyond its type.
pub(super) const FREE: Limit = Limit::Free;

/// A column, its limits and what it holds.
pub(crate) type Told = (&'static str, Limit, &'static str);

/// A range under its name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::layer) struct Range {
    pub name: &'static str,
    pub min: f64,
    pub max: f64,
}

/// A set of words under its name.
#[derive(Debug, Clone, Copy)]
pub(crate) struct WordSet {
    pub name: &'static str,
    /// Its words.
    pub words: fn() -> Vec<&'static str>,
}

impl PartialEq for WordSet {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name && (self.words)() == (other.words)()
    }
}

const fn range(name: &'static str, min: f64, max: f64) -> Limit {
    Limit::Range(Range { name, min, max })
}

const fn words<W: Words>(name: &'static str) -> Limit {
    Limit::Words(WordSet { name, words: texts::<W> })
}

fn texts<W: Words>() -> Vec<&'static str> {
    W::ALL.iter().map(|w| w.name()).collect()
}

// Ranges hold whatever a build may write, with room to spare; what lies beyond is damage, and a reader refuses it.
pub const SHARE: Limit = range("share", 0.0, 1.0);
pub(crate) const RATING: Limit = range("rating", 0.0, 4.0);
pub(crate) const BEARING: Limit = range("bearing", 0.0, 360.0);
/// Ids of rows: these begin with 1 and count segments, edges, lanes or stops.
pub(crate) const ROW_ID: Limit = range("row_id", 1.0, 8_589_934_592.0);
/// Numbers of parts, strokes and steps.
pub(crate) const PLACE: Limit = range("place", 0.0, 4_294_967_295.0);
pub(crate) const LANE_COUNT: Limit = range("lanes", 1.0, 60.0);
pub(crate) const WIDTH: Limit = range("width_m", 0.1, 1_000.0);
/// The slowest road (5 km/h) under the smallest factor of a profile is driven at 0.5 km/h.
pub(crate) const SPEED: Limit = range("speed_kmh", 0.1, 400.0);
/// Segments are cut at 250 m.
pub(crate) const SEGMENT_LENGTH: Limit = range("segment_length_m", 0.0, 5_000.0);
pub(crate) const SEGMENT_TIME: Limit = range("segment_time_s", 0.0, 36_000.0);
/// An edge may be a ferry across an ocean.
pub(crate) const EDGE_LENGTH: Limit = range("edge_length_m", 0.0, 20_000_000.0);
pub(crate) const EDGE_TIME: Limit = range("edge_time_s", 0.0, 31_536_000.0);
pub(crate) const PER_10KM: Limit = range("per_10km", 0.0, 10_000_000.0);
pub(crate) const PER_DRIVE: Limit = range("per_drive", 0.0, 100_000.0);
pub(crate) const CLEARANCE: Limit = range("maxheight_m", 0.0, 100.0);
/// Decks, tunnels and what they stand over.
pub(crate) const COVER_LENGTH: Limit = range("cover_length_m", 0.0, 1_000_000.0);
pub(crate) const UNDERSIDE: Limit = range("underside_m", -1_000.0, 10_000.0);
pub(crate) const CLIMB: Limit = range("climb", -100_000.0, 100_000.0);
pub(crate) const STATIONS: Limit = range("stations", 1.0, 10_000.0);
pub(crate) const ROAD_DISTANCE: Limit = range("road_distance_m", 0.0, 100_000.0);
pub(crate) const PANEL_DISTANCE: Limit = range("panel_distance_m", 0.0, 1_000.0);
pub(crate) const PEOPLE: Limit = range("population", 0.0, MOST_PEOPLE as f64);
/// All roads of one name near one place.
pub(crate) const ROAD_LENGTH: Limit = range("road_length_m", 0.0, 20_000_000.0);
pub(crate) const LATITUDE: Limit = range("latitude", -90.0, 90.0);
pub(crate) const LONGITUDE: Limit = range("longitude", -180.0, 180.0);
pub(crate) const RANK: Limit = range("rank", 0.0, LAST_RANK as f64);

// One line for each set, under the name of the constraint.
pub(crate) const HIGHWAY: Limit = words::<Highway>("highway");
pub(crate) const RATING_NAME: Limit = words::<Rating>("rating_name");
pub(crate) const RATED_BY: Limit = words::<RatedBy>("rated_by");
pub(crate) const END: Limit =
    Limit::Words(WordSet { name: "end", words: || vec![Case::Best.name(), Case::Worst.name()] });
pub(crate) const CAUSE: Limit = words::<Cause>("cause");
pub(crate) const VALUE_FROM: Limit = words::<ValueFrom>("value_from");
pub(crate) const KEEPS: Limit = words::<DrivingSide>("keeps");
pub(crate) const KEEPS_FROM: Limit = words::<SideFrom>("keeps_from");
pub(crate) const OVERHANG: Limit = words::<Overhang>("overhang_reason");
pub(crate) const OF_TERRAIN: Limit = words::<TerrainEvidence>("evidence_terrain");
pub(crate) const OF_CANOPY: Limit = words::<BlockerEvidence>("evidence_canopy");
pub(crate) const OF_BUILDING: Limit = words::<BlockerEvidence>("evidence_building");
pub(crate) const EVIDENCE: Limit = words::<Evidence>("evidence");
pub(crate) const ROAD_ACCESS: Limit = words::<RoadAccess>("road_access");
pub(crate) const OVERHEAD: Limit = words::<OverheadKind>("overhead_kind");
pub(crate) const OSM_TYPE: Limit = words::<MapObject>("osm_type");
pub(crate) const STOP_KIND: Limit = words::<StopKind>("stop_kind");
pub(crate) const STOP_ACCESS: Limit = words::<StopAccess>("stop_access");
pub(crate) const ROOFED: Limit = words::<Roofed>("roofed");
pub(crate) const ROOFED_FROM: Limit = words::<RoofedBy>("roofed_from");
pub(crate) const STANDS_ON: Limit = words::<StandsOn>("stands_on");
pub(crate) const PLACE_KIND: Limit = words::<PlaceKind>("place_kind");
pub(crate) const NAME_KIND: Limit = words::<NameKind>("name_kind");
pub(crate) const GROUND: Limit = words::<GroundKind>("ground_kind");
pub(crate) const GROUND_LINE: Limit = words::<GroundLineKind>("ground_line_kind");
