//! Columns of the tables of names and water, and of the one that names are found by.
use super::limits::{
    FREE, GROUND, GROUND_LINE, LATITUDE, LONGITUDE, NAME_KIND, OSM_TYPE, PEOPLE, PLACE_KIND, RANK, ROAD_LENGTH, ROW_ID,
    Told,
};

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

pub(super) const NAMES: &[Told] = &[
    ("name_id", ROW_ID, "Id of the row; every build gives new ones"),
    ("folded", FREE, "The name as it is looked for: lower case, without accents, words with one space between them"),
    ("name", FREE, "The name as the map has it, or its English form; of roads also the reference"),
    ("kind", NAME_KIND, "What has the name: a kind of place, a stop, or a road"),
    ("row_id", ROW_ID, "The row it points to: place_id, stop_id, or segment_id of a segment of the road"),
    ("near_id", ROW_ID, "Place_id of the larger place that it lies in or near; empty where there is none"),
    ("length_m", ROAD_LENGTH, "Length of the segments of the road there, metres; empty for places and stops"),
    ("lat_deg", LATITUDE, "Where it is, latitude, degrees; of a road, on the piece nearest to the place near_id"),
    ("lon_deg", LONGITUDE, "Where it is, longitude, degrees"),
];
