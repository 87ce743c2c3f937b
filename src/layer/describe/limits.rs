//! What a column may hold, where that can be said: a range, or one of a fixed set of words.

/// The limits of a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limit {
    /// Whatever its type holds.
    Free,
    /// A range with both ends, ends included.
    Range(Range),
    /// One of some words.
    Words(Words),
}

/// A range under its name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    pub name: &'static str,
    pub min: f64,
    pub max: f64,
}

/// A set of words under its name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Words {
    pub name: &'static str,
    pub words: &'static [&'static str],
}

const fn range(name: &'static str, min: f64, max: f64) -> Limit {
    Limit::Range(Range { name, min, max })
}

const fn words(name: &'static str, words: &'static [&'static str]) -> Limit {
    Limit::Words(Words { name, words })
}

pub const SHARE: Limit = range("share", 0.0, 1.0);
pub const RATING: Limit = range("rating", 0.0, 4.0);
pub const BEARING: Limit = range("bearing", 0.0, 360.0);

// One line for each set, under the name of the constraint.
pub const HIGHWAY: Limit = words("highway", &HIGHWAYS);
pub const RATING_NAME: Limit = words("rating_name", &["steady", "blips", "gaps", "drops", "dark"]);
pub const CAUSE: Limit = words("cause", &["none", "cover", "deck", "building", "terrain", "canopy"]);
pub const ROAD_FROM: Limit = words("road_from", &["tag", "country", "default"]);
pub const SPEED_FROM: Limit = words("speed_from", &["tag", "country", "default", "climb"]);
pub const UNPAVED_FROM: Limit = words("unpaved_from", &["tag", "default"]);
pub const OVERHANG: Limit = words("overhang_reason", &["none", "crowns", "clearance", "both"]);
pub const OF_TERRAIN: Limit = words("evidence_terrain", &["raster", "part", "map", "none"]);
pub const OF_CANOPY: Limit = words("evidence_canopy", &["raster", "tag", "default", "map", "unknown"]);
pub const OF_BUILDING: Limit = words("evidence_building", &["raster", "tag", "default", "map", "unknown"]);
pub const EVIDENCE: Limit = words("evidence", &["data", "default", "unknown"]);
pub const ROAD_ACCESS: Limit = words("road_access", &["open", "destination", "private"]);
pub const OVERHEAD: Limit = words("overhead_kind", &OVERHEADS);
pub const UNDERSIDE_FROM: Limit = words("underside_from", &["tag", "elevation", "default"]);
pub const OSM_TYPE: Limit = words("osm_type", &["node", "way", "relation"]);
pub const STOP_KIND: Limit = words("stop_kind", &STOPS);
pub const STOP_ACCESS: Limit = words("stop_access", &["open", "customers", "private"]);
pub const ROOFED_FROM: Limit = words("roofed_from", &["tag", "roof", "parking", "none"]);
pub const STANDS_ON: Limit = words("stands_on", &["roof", "aisle", "pitch", "ground", "building", "point"]);

const HIGHWAYS: [&str; 17] = [
    "motorway",
    "motorway_link",
    "trunk",
    "trunk_link",
    "primary",
    "primary_link",
    "secondary",
    "secondary_link",
    "tertiary",
    "tertiary_link",
    "unclassified",
    "residential",
    "living_street",
    "service",
    "track",
    "ferry",
    "shuttle_train",
];
const OVERHEADS: [&str; 9] =
    ["tunnel", "passage", "gallery", "roof", "road_deck", "foot_deck", "rail_deck", "other_deck", "gantry"];
const STOPS: [&str; 9] =
    ["fuel", "rest_area", "services", "camp_site", "camp_pitch", "caravan_site", "picnic_site", "viewpoint", "parking"];
