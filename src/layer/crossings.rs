//! What parts name of each other, found before they are joined.
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OpenFlags, params};

use super::part::{self, CrossingEdge, FarNode, FarSegment, LaneRef, PartLinks, RowCounts, SegmentRef};
use super::trouble::cannot_read;
use crate::base::district::District;
use crate::base::error::Result;
use crate::base::geodesy::Position;
use crate::base::words::Rating;

/// A part on disk.
#[derive(Debug, Clone)]
pub struct PartFile {
    /// The file.
    pub path: PathBuf,
    /// What joins it with others.
    pub links: PartLinks,
}

impl PartFile {
    /// Reads what joins a part with others, and what it adds to the sums of a build.
    ///
    /// # Errors
    /// It is not a part, or cannot be read.
    pub fn open<T: serde::de::DeserializeOwned>(path: &Path) -> Result<(Self, T)> {
        let told = |e: rusqlite::Error| cannot_read(path, None, &e);
        let connection = connect(path).map_err(told)?;
        let links = part::read(&connection, "links").map_err(told)?;
        let sums = part::read(&connection, "sums").map_err(told)?;
        Ok((Self { path: path.to_owned(), links }, sums))
    }
}

fn connect(path: &Path) -> rusqlite::Result<Connection> {
    Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX)
}

/// What crosses the lines of districts, found.
#[derive(Default)]
pub(super) struct Known {
    pub segments: HashMap<FarSegment, i64>,
    /// By way, lowest part and direction.
    pub edges: HashMap<(i64, u32, bool), i64>,
    /// What their segments add up to, by id.
    pub totals: BTreeMap<i64, EdgeTotal>,
    /// Nodes that a part of their own district holds.
    pub nodes: BTreeSet<FarNode>,
    /// Edges and nodes that no part of the join has as its own, taken from the first that names them.
    pub adopted_edges: i64,
    pub adopted_nodes: i64,
}

/// Figures of an edge over those of its districts that are joined.
#[derive(Debug, Clone, Copy)]
pub(super) struct EdgeTotal {
    pub length_m: f64,
    pub time_s: f64,
    pub outage_s: f64,
    pub longest_outage_s: f64,
    pub rating: Rating,
    /// Segments of the whole edge, and of the districts joined.
    segments: [u32; 2],
    /// First and last of these, in the order driven.
    places: [u32; 2],
    /// Where they begin and end.
    ends: [Position; 2],
}

impl EdgeTotal {
    pub fn of(edge: &CrossingEdge) -> Self {
        let CrossingEdge { length_m, time_s, outage_s, longest_outage_s, rating, segments, places, ends, .. } = *edge;
        Self { length_m, time_s, outage_s, longest_outage_s, rating, segments, places, ends }
    }
    pub fn add(&mut self, edge: &CrossingEdge) {
        self.length_m += edge.length_m;
        self.time_s += edge.time_s;
        self.outage_s += edge.outage_s;
        self.longest_outage_s = self.longest_outage_s.max(edge.longest_outage_s);
        self.rating = self.rating.max(edge.rating);
        self.segments[1] += edge.segments[1];
        if edge.places[0] < self.places[0] {
            (self.places[0], self.ends[0]) = (edge.places[0], edge.ends[0]);
        }
        if edge.places[1] > self.places[1] {
            (self.places[1], self.ends[1]) = (edge.places[1], edge.ends[1]);
        }
    }
    /// Where an edge of which some segments are missing begins and ends instead of at its nodes: nobody may seem to get through
    /// what is not in the layer. Nothing where all of it is there.
    pub fn cut(&self) -> Option<[Option<Position>; 2]> {
        let [all, here] = self.segments;
        if here >= all {
            return None;
        }
        let begins_later = self.places[0] > 0;
        // One that lacks its middle ends before it, for whoever would drive on.
        let ends_earlier = self.places[1] + 1 < all || !begins_later;
        Some([begins_later.then_some(self.ends[0]), ends_earlier.then_some(self.ends[1])])
    }
}

/// Finds what parts name of each other.
pub(super) fn find(parts: &[PartFile]) -> Result<Known> {
    let place: HashMap<District, usize> = parts.iter().enumerate().map(|(at, p)| (p.links.district, at)).collect();
    let mut segments: Vec<BTreeSet<FarSegment>> = vec![BTreeSet::new(); parts.len()];
    let mut nodes: Vec<BTreeSet<FarNode>> = vec![BTreeSet::new(); parts.len()];
    for links in parts.iter().map(|p| &p.links) {
        let of_lane = |lane: &LaneRef| match lane.segment {
            SegmentRef::Far(far) => Some(far),
            SegmentRef::Own(_) => None,
        };
        let ends = links.outage_ends.iter().map(|(_, far)| *far).chain(links.stop_roads.iter().map(|(_, far)| *far));
        let begins = links.outage_begins.iter().filter_map(|(_, lane)| of_lane(lane));
        for far in ends.chain(begins).chain(links.runs.iter().filter_map(|run| of_lane(&run.lane))) {
            if let Some(at) = place.get(&far.district) {
                segments[*at].insert(far);
            }
        }
        for far in &links.far_nodes {
            if let Some(at) = place.get(&far.district) {
                nodes[*at].insert(*far);
            }
        }
    }
    let mut known = Known::default();
    let mut before = RowCounts::default();
    for (at, file) in parts.iter().enumerate() {
        let told = |e: rusqlite::Error| cannot_read(&file.path, None, &e);
        if !segments[at].is_empty() || !nodes[at].is_empty() {
            let connection = connect(&file.path).map_err(told)?;
            ask(&connection, &segments[at], &nodes[at], (before.segments, file.links.rows.nodes), &mut known)
                .map_err(told)?;
        }
        let own = file.links.crossing.iter().filter(|edge| edge.edge_id <= file.links.rows.edges);
        known.edges.extend(own.map(|edge| ((edge.way_id, edge.part, edge.forward), edge.edge_id + before.edges)));
        before = sum(&before, &file.links.rows);
    }
    Ok(known)
}

/// Asks one part for what others name of it.
fn ask(
    connection: &Connection,
    segments: &BTreeSet<FarSegment>,
    nodes: &BTreeSet<FarNode>,
    (segments_before, own_nodes): (i64, i64),
    known: &mut Known,
) -> rusqlite::Result<()> {
    let mut of_segment = connection.prepare("SELECT segment_id FROM segments WHERE way_id = ? AND part = ?")?;
    for far in segments {
        let mut found = of_segment.query(params![far.way_id, far.part])?;
        if let Some(row) = found.next()? {
            known.segments.insert(*far, row.get::<_, i64>(0)? + segments_before);
        }
    }
    let mut of_node = connection.prepare("SELECT EXISTS (SELECT 1 FROM nodes WHERE node_id = ? AND fid <= ?)")?;
    for far in nodes {
        if of_node.query_row(params![far.node_id, own_nodes], |row| row.get(0))? {
            known.nodes.insert(*far);
        }
    }
    Ok(())
}

/// Rows of two parts together.
pub(super) fn sum(a: &RowCounts, b: &RowCounts) -> RowCounts {
    RowCounts {
        segments: a.segments + b.segments,
        edges: a.edges + b.edges,
        nodes: a.nodes + b.nodes,
        overheads: a.overheads + b.overheads,
        strokes: a.strokes + b.strokes,
        stops: a.stops + b.stops,
        outages: a.outages + b.outages,
    }
}
