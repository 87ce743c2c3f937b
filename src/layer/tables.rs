//! Tables whose rows have files of their own.
use rusqlite::types::ToSqlOutput;

use super::checked::{Coherent, Contradiction};
use super::columns::{
    Bytes, ColumnKind, Count, Degrees, Exact, Expected, Flag, Id, Maybe, Metres, PanelPlaces, Seconds, Share, Small,
    Text, Word,
};
use super::geometry::{self, Bounds};
use super::model::{GroundLineRow, GroundRow, NameRow, OutageRow, PlaceRow, RunRow, StopRow, WayNodesRow};
use super::schema::{
    Column, ColumnPlaces, Load, Row, Table, fetch_at, fetch_shape, line_shape, point_shape, store, table,
};
use super::way_nodes::PackedNodes;
use crate::base::fold::folded;
use crate::base::geodesy::Position;
use crate::base::words::{
    Cause, GroundKind, GroundLineKind, MapObject, NameKind, PlaceKind, Roofed, RoofedBy, StandsOn, StopAccess, StopKind,
};

table!(StopRow, "stops", "Places to stop and where a panel sees most", key stop_id, indexed &["segment_id"], {
    osm_type "osm_type" Word<MapObject>,
    osm_id "osm_id" Id,
    kind "kind" Word<StopKind>,
    name "name" Maybe<Text>,
    access "access" Word<StopAccess>,
    roofed "roofed" Word<Roofed>,
    roofed_from "roofed_from" Word<RoofedBy>,
    stands_on "stands_on" Word<StandsOn>,
    open_share "open_share" Share,
    main_cause "main_cause" Word<Cause>,
    segment_id "segment_id" Id,
    road "road" Text,
    along_m "along_m" Metres,
    road_distance_m "road_distance_m" Metres,
    best_distance_m "best_distance_m" Metres,
    best_bearing_deg "best_bearing_deg" Degrees,
    best_open_share "best_open_share" Share,
    gain "gain" Share,
    places "places" PanelPlaces,
    masks "masks" Bytes,
}, "POINT" at point_shape, geometry::decode_point);

table!(OutageRow, "outages", "Outages, each with its beginning and end", key outage_id, indexed &["stroke", "segment_from"], {
    stroke "stroke" Count,
    step_from "step_from" Count,
    step_to "step_to" Count,
    segment_from "segment_from" Id,
    segment_to "segment_to" Id,
    forward "forward" Flag,
    cause "cause" Word<Cause>,
    length_m "length_m" Metres,
    time_s "time_s" Seconds,
    outages "outages" Expected,
    outage_s "outage_s" Seconds,
    outage_p95_s "outage_p95_s" Seconds,
}, "LINESTRING" line line_shape, geometry::decode_line);

table!(RunRow, "runs", "What is driven before and after strokes", key run_id, indexed &[], {
    stroke "stroke" Count,
    nth "nth" Id,
    lane_id "lane_id" Id,
});

table!(WayNodesRow, "way_nodes", "Nodes of the map along segments", key segment_id, indexed &[], {
    nodes "packed" PackedNodes,
});

table!(PlaceRow, "places", "Names of places", key place_id, indexed &[], {
    osm_type "osm_type" Word<MapObject>,
    osm_id "osm_id" Id,
    name "name" Text,
    name_en "name_en" Maybe<Text>,
    kind "kind" Word<PlaceKind>,
    population "population" Maybe<Count>,
    rank "rank" Small,
}, "POINT" at point_shape, geometry::decode_point);

table!(GroundRow, "ground", "Areas of water", key ground_id, indexed &[], {
    kind "kind" Word<GroundKind>,
    name "name" Maybe<Text>,
}, "POLYGON" rings polygon_shape, geometry::decode_polygon);

table!(GroundLineRow, "ground_lines", "Coasts, rivers and canals", key ground_line_id, indexed &[], {
    kind "kind" Word<GroundLineKind>,
    name "name" Maybe<Text>,
}, "LINESTRING" line line_shape, geometry::decode_line);

fn polygon_shape(rings: &[Vec<Position>]) -> Result<(Vec<u8>, Bounds), String> {
    geometry::check_rings(rings)?;
    let around = rings.first().and_then(|outer| Bounds::around(outer)).ok_or("a polygon needs a ring")?;
    Ok((geometry::encode_polygon(rings, around), around))
}

impl Coherent for PlaceRow {
    fn contradiction(&self) -> Option<Contradiction> {
        if self.name.is_empty() {
            return Some(("name", "is empty".to_owned()));
        }
        let rank = self.kind.rank(self.population);
        (self.rank != rank).then(|| ("rank", format!("is not {rank}, which kind and population give")))
    }
}
impl Coherent for GroundRow {}
impl Coherent for GroundLineRow {}
impl Coherent for WayNodesRow {}

impl Coherent for RunRow {
    fn contradiction(&self) -> Option<Contradiction> {
        (self.nth == 0).then(|| ("nth", "0 is neither before nor after the stroke".to_owned()))
    }
}

impl Coherent for OutageRow {
    fn contradiction(&self) -> Option<Contradiction> {
        let backwards = self.step_to < self.step_from;
        backwards.then(|| ("step_to", format!("{} lies before step_from, {}", self.step_to, self.step_from)))
    }
}

table!(NameRow, "names", "Names to be found by", key name_id, indexed &["folded"], {
    folded "folded" Text,
    name "name" Text,
    kind "kind" Word<NameKind>,
    row_id "row_id" Id,
    near_id "near_id" Maybe<Id>,
    length_m "length_m" Maybe<Metres>,
    lat_deg "lat_deg" Exact,
    lon_deg "lon_deg" Exact,
});

impl Coherent for NameRow {
    fn contradiction(&self) -> Option<Contradiction> {
        if self.folded.is_empty() || folded(&self.name) != self.folded {
            return Some(("folded", "is not the spelling of name without marks".to_owned()));
        }
        let is_road = self.kind == NameKind::Road;
        (is_road != self.length_m.is_some())
            .then(|| ("length_m", format!("does not fit kind, {}: roads alone have a length", self.kind)))
    }
}
