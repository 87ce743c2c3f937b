//! Parts: a layer of one district, with what is needed to join it with those of other districts.
//!
//! A part counts its rows by itself, from 1. Edges of which segments lie in another district are the last of its edges, their
//! far ends the last of its nodes; what its rows name of other districts stands in its [`PartLinks`].
use rusqlite::{Connection, params};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::geometry::Bounds;
use crate::base::district::District;
use crate::base::geodesy::Position;
use crate::base::words::Rating;

/// Table of what a part says about itself besides its rows, as key and JSON.
pub(super) const PART_TABLE: &str = "part";

/// Rows of a part that are its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct RowCounts {
    /// Segments.
    pub segments: i64,
    /// Edges that begin there.
    pub edges: i64,
    /// Nodes that lie there.
    pub nodes: i64,
    /// What stands over segments.
    pub overheads: i64,
    /// Strokes.
    pub strokes: i64,
    /// Places to stop.
    pub stops: i64,
    /// Outages that begin there.
    pub outages: i64,
}

/// A segment of another district.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct FarSegment {
    /// Where.
    pub district: District,
    /// Way id.
    pub way_id: i64,
    /// Number of the piece within the way.
    pub part: u32,
}

/// A node of another district.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct FarNode {
    /// Where.
    pub district: District,
    /// Id.
    pub node_id: i64,
}

/// An edge that runs through several districts: what its segments here add to it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CrossingEdge {
    /// Way id.
    pub way_id: i64,
    /// Its lowest part.
    pub part: u32,
    /// In node order of the way.
    pub forward: bool,
    /// Its id in the part.
    pub edge_id: i64,
    /// How many segments it has in all its districts, and how many of them lie here.
    pub segments: [u32; 2],
    /// Places of the first and last segment here, in the order driven, from 0.
    pub places: [u32; 2],
    /// Where the first of them begins and the last ends.
    pub ends: [Position; 2],
    /// Length of its segments here, metres.
    pub length_m: f64,
    /// Driving time here, seconds.
    pub time_s: f64,
    /// Expected time without a link here, seconds.
    pub outage_s: f64,
    /// Expected longest outage of its segments here, seconds.
    pub longest_outage_s: f64,
    /// Worst rating of its segments here.
    pub rating: Rating,
}

/// A segment as rows of a part name it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum SegmentRef {
    /// Its id in the part.
    Own(i64),
    /// Of another district.
    Far(FarSegment),
}

/// A direction of a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct LaneRef {
    /// The segment.
    pub segment: SegmentRef,
    /// In node order of its way.
    pub forward: bool,
}

/// A lane that is driven before or after a stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct RunLink {
    /// Number of the stroke in the part.
    pub stroke: u32,
    /// Where, as in `runs`.
    pub nth: i64,
    /// Lane.
    pub lane: LaneRef,
}

/// What joins a part with others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PartLinks {
    /// Its district.
    pub district: District,
    /// Its own rows.
    pub rows: RowCounts,
    /// Edges through several districts: first those that begin here, then the others, which are the last of its edges.
    pub crossing: Vec<CrossingEdge>,
    /// The last of its nodes.
    pub far_nodes: Vec<FarNode>,
    /// Outages that end in another district.
    pub outage_ends: Vec<(i64, FarSegment)>,
    /// Lanes through which an outage runs that began in another district.
    pub outage_begins: Vec<(i64, LaneRef)>,
    /// What is driven before and after strokes.
    pub runs: Vec<RunLink>,
    /// Places to stop whose road is of another district.
    pub stop_roads: Vec<(i64, FarSegment)>,
    /// Boxes around the rows of tables with geometry, by name.
    pub extents: Vec<(String, Option<Bounds>)>,
}

impl PartLinks {
    /// Of a part without anything that other districts have to do with.
    pub fn of(district: District) -> Self {
        Self {
            district,
            rows: RowCounts::default(),
            crossing: Vec::new(),
            far_nodes: Vec::new(),
            outage_ends: Vec::new(),
            outage_begins: Vec::new(),
            runs: Vec::new(),
            stop_roads: Vec::new(),
            extents: Vec::new(),
        }
    }
}

/// Stores what a part says about itself.
pub(super) fn write(connection: &Connection, links: &PartLinks, sums: &str) -> rusqlite::Result<()> {
    connection
        .execute_batch(&format!("CREATE TABLE {PART_TABLE} (key TEXT PRIMARY KEY NOT NULL, value TEXT NOT NULL)"))?;
    let links = serde_json::to_string(links).map_err(|e| rusqlite::Error::ToSqlConversionFailure(Box::new(e)))?;
    for (key, value) in [("links", links.as_str()), ("sums", sums)] {
        connection.execute(&format!("INSERT INTO {PART_TABLE} VALUES (?, ?)"), params![key, value])?;
    }
    Ok(())
}

/// Reads one of the two back.
pub(super) fn read<T: DeserializeOwned>(connection: &Connection, key: &str) -> rusqlite::Result<T> {
    let sql = format!("SELECT value FROM {PART_TABLE} WHERE key = ?");
    let text: String = connection.query_row(&sql, [key], |row| row.get(0))?;
    serde_json::from_str(&text)
        .map_err(|e| rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Text, Box::new(e)))
}
