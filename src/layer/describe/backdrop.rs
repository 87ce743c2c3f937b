//! Columns of the tables of names and water.
use super::limits::{FREE, GROUND, GROUND_LINE, OSM_TYPE, PEOPLE, PLACE_KIND, RANK, ROW_ID, Told};

pub(super) const PLACES: &[Told] = &[
    ("place_id", ROW_ID, "Id of the place; every build gives new ones"),
    ("osm_type", OSM_TYPE, "Kind of object in the map: a node, or the way or relation of an island"),
    ("osm_id", FREE, "Its id in the map"),
    ("name", FREE, "Name of the place, in the language spoken there"),
    ("name_en", FREE, "Its English name; empty where the map has none, or the same"),
    ("kind", PLACE_KIND, "Kind of place"),
    ("population", PEOPLE, "How many people live there; empty where the map does not say it as a plain number"),
    ("rank", RANK, "Which names are drawn first, from 0, by kind and population"),
];

pub(super) const GROUND_AREAS: &[Told] = &[
    ("ground_id", ROW_ID, "Id of the area; every build gives new ones"),
    ("kind", GROUND, "Kind of water"),
    ("name", FREE, "Its name; empty where the map has none"),
];

pub(super) const GROUND_LINES: &[Told] = &[
    ("ground_line_id", ROW_ID, "Id of the line; every build gives new ones"),
    ("kind", GROUND_LINE, "Kind of line: along a coastline, the sea lies on the right"),
    ("name", FREE, "Its name; empty where the map has none"),
];
