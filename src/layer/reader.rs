//! Reads a layer: all that later commands need, without rasters and without GDAL.
use std::collections::VecDeque;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OpenFlags, Params, params};
use serde_json::{Map, Value};

use crate::base::error::{Error, Result};
use crate::base::foreign as border;
use crate::base::input;

use super::container::rtree_name;
use super::credit::RECORD_TABLE;
use super::fixed::SCHEMA_VERSION;
use super::geometry;
use super::geometry::Bounds;
use super::model::{BuildRecord, EdgeRow, LaneRow, MaskRow, NodeRow, OverheadRow, RoadRow, SegmentRow, StopRow};
use super::schema::{KEY, Load, Row, TABLES};
use super::target::{JOURNAL, beside};
use super::trouble::{cannot_read, damaged, is_in_wal_mode, message};

/// `GPKG` in ASCII, at offset 68 of the file (OGC 12-128r18, requirement 2).
const APPLICATION_ID: i64 = 0x4750_4B47;
/// Rows fetched at once by [`Layer::edges`].
const PAGE_ROWS: usize = 4096;

/// A layer opened for reading.
pub struct Layer {
    connection: Connection,
    path: PathBuf,
    record: BuildRecord,
}

impl Layer {
    /// Opens a layer. Refuses files that waymask did not write or that a newer version wrote.
    pub fn open(path: &Path) -> Result<Self> {
        let next = "give the path of a layer written by `waymask build`";
        let refused = |e: std::io::Error| input::cannot_read(path, &e, next);
        let file = std::fs::metadata(path).map_err(refused)?;
        if file.is_dir() {
            return Err(refused(std::io::ErrorKind::IsADirectory.into()));
        }
        if !file.is_file() {
            return Err(Error::file(path, "is a pipe or device, not a file: a layer is read in many places", next));
        }
        std::fs::File::open(path).map_err(refused)?;
        let connection = connect(path).map_err(|e| cannot_read(path, None, &e))?;
        check_kind(&connection, path)?;
        let record = border::foreign("build records", || read_record(&connection, path))
            .map_err(|broken| damaged(path, &broken.to_string()))??;
        check_tables(&connection, path)?;
        Ok(Self { connection, path: path.to_owned(), record })
    }
    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.path
    }
    /// What the build read, assumed and counted.
    pub fn record(&self) -> &BuildRecord {
        &self.record
    }
    /// Number of rows by table: `segments`, `edges`, `nodes`, `overheads`, `lanes`, `masks`, `stops`.
    pub fn counts(&self) -> Result<Vec<(&'static str, u64)>> {
        let count = |name: &'static str| {
            let sql = format!("SELECT count(*) FROM {name}");
            let rows: i64 = self
                .connection
                .query_row(&sql, [], |r| r.get(0))
                .map_err(|e| cannot_read(&self.path, Some(name), &e))?;
            Ok((name, rows.max(0) as u64))
        };
        TABLES.iter().map(|t| count(t.name)).collect()
    }
    /// A segment by id.
    pub fn segment(&self, segment_id: i64) -> Result<Option<SegmentRow>> {
        Ok(self.query("WHERE segment_id = ?", [segment_id])?.pop())
    }
    /// Segments whose bounding box meets a box, by id.
    pub fn segments_in(&self, bounds: Bounds) -> Result<Vec<SegmentRow>> {
        let rows: Vec<SegmentRow> = self.query_box(bounds)?;
        Ok(rows.into_iter().filter(|s| Bounds::around(&s.line).is_some_and(|b| b.meets(bounds))).collect())
    }
    /// What stands in a box, by id.
    pub fn overheads_in(&self, bounds: Bounds) -> Result<Vec<OverheadRow>> {
        let rows: Vec<OverheadRow> = self.query_box(bounds)?;
        Ok(rows.into_iter().filter(|o| Bounds { min: o.at, max: o.at }.meets(bounds)).collect())
    }
    /// Places to stop whose vehicle stands in a box, by id.
    pub fn stops_in(&self, bounds: Bounds) -> Result<Vec<StopRow>> {
        let rows: Vec<StopRow> = self.query_box(bounds)?;
        Ok(rows.into_iter().filter(|s| Bounds { min: s.at, max: s.at }.meets(bounds)).collect())
    }
    /// All places to stop, by id.
    pub fn stops(&self) -> Result<Vec<StopRow>> {
        self.query("ORDER BY stop_id", [])
    }
    /// All ends of edges, by id.
    pub fn nodes(&self) -> Result<Vec<NodeRow>> {
        self.query("ORDER BY node_id", [])
    }
    /// What stands over a segment, by id.
    pub fn overheads(&self, segment_id: i64) -> Result<Vec<OverheadRow>> {
        self.query("WHERE segment_id = ? ORDER BY overhead_id", [segment_id])
    }
    /// All segments, by id.
    pub fn segments(&self) -> Result<Vec<SegmentRow>> {
        self.query("ORDER BY segment_id", [])
    }
    /// All directions of all segments, by id.
    pub fn lanes(&self) -> Result<Vec<LaneRow>> {
        self.query("ORDER BY lane_id", [])
    }
    /// One direction of a segment.
    pub fn lane(&self, segment_id: i64, forward: bool) -> Result<Option<LaneRow>> {
        Ok(self.query("WHERE segment_id = ? AND forward = ?", params![segment_id, forward])?.pop())
    }
    /// Hands out the masks of all segments one after another, in the order they were written.
    pub fn each_masks(&self, mut take: impl FnMut(MaskRow) -> Result<()>) -> Result<()> {
        let failed = |e: rusqlite::Error| cannot_read(&self.path, Some(MaskRow::TABLE.name), &e);
        let sql = MaskRow::TABLE.select_sql("ORDER BY mask_id");
        let mut statement = self.connection.prepare(&sql).map_err(failed)?;
        let mut rows = statement.query([]).map_err(failed)?;
        while let Some(row) = rows.next().map_err(failed)? {
            take(self.loaded(row)?)?;
        }
        Ok(())
    }
    /// The masks of a segment in one direction.
    pub fn masks(&self, segment_id: i64, forward: bool) -> Result<Option<MaskRow>> {
        Ok(self.query("WHERE segment_id = ? AND forward = ?", params![segment_id, forward])?.pop())
    }
    /// An edge by id.
    pub fn edge(&self, edge_id: i64) -> Result<Option<EdgeRow>> {
        Ok(self.query("WHERE edge_id = ?", [edge_id])?.pop())
    }
    /// Edges that leave a node, by id.
    pub fn edges_from(&self, node: i64) -> Result<Vec<EdgeRow>> {
        self.query("WHERE from_node = ? ORDER BY edge_id", [node])
    }
    /// Segments of an edge in the order they are driven.
    pub fn segments_of(&self, edge: &EdgeRow) -> Result<Vec<SegmentRow>> {
        let tail = match edge.forward {
            true => "WHERE edge_forward = ? ORDER BY part",
            false => "WHERE edge_backward = ? ORDER BY part DESC",
        };
        self.query(tail, [edge.edge_id])
    }
    /// All edges, by id, read in pages of bounded size.
    pub fn edges(&self) -> Edges<'_> {
        Edges { layer: self, page: VecDeque::new(), after: None, done: false }
    }
    /// Every way that meets one of the boxes, whole: its segments by id and its edges by id.
    pub fn ways_in(&self, boxes: &[Bounds]) -> Result<(Vec<RoadRow>, Vec<EdgeRow>)> {
        let broken = |e: rusqlite::Error| cannot_read(&self.path, Some(SegmentRow::TABLE.name), &e);
        let tree = rtree_name(&SegmentRow::TABLE);
        let sql = format!(
            "SELECT DISTINCT way_id FROM segments WHERE {KEY} IN \
             (SELECT id FROM {tree} WHERE maxx >= ? AND minx <= ? AND maxy >= ? AND miny <= ?)"
        );
        let mut near = self.connection.prepare(&sql).map_err(broken)?;
        let mut ways = std::collections::BTreeSet::new();
        for bounds in boxes {
            let ids = near.query_map(bounds.degrees(), |r| r.get::<_, i64>(0)).map_err(broken)?;
            for id in ids {
                ways.insert(id.map_err(broken)?);
            }
        }
        let columns = "segment_id, way_id, part, edge_forward, edge_backward, geom";
        let sql = format!("SELECT {columns} FROM segments WHERE way_id = ? ORDER BY segment_id");
        let mut of_way = self.connection.prepare(&sql).map_err(broken)?;
        let sql = EdgeRow::TABLE.select_sql("WHERE way_id = ? ORDER BY edge_id");
        let mut edges_of_way = self.connection.prepare(&sql).map_err(broken)?;
        let (mut roads, mut edges) = (Vec::new(), Vec::new());
        for way in ways {
            let mut rows = of_way.query([way]).map_err(broken)?;
            while let Some(row) = rows.next().map_err(broken)? {
                roads.push(self.road(row)?);
            }
            let mut rows = edges_of_way.query([way]).map_err(broken)?;
            while let Some(row) = rows.next().map_err(broken)? {
                edges.push(self.loaded(row)?);
            }
        }
        Ok((roads, edges))
    }
    fn road(&self, row: &rusqlite::Row<'_>) -> Result<RoadRow> {
        let broken = |fact: String| broken_row::<SegmentRow>(&self.path, &fact);
        let of = |e: rusqlite::Error| broken(message(&e));
        let shape: Vec<u8> = row.get(5).map_err(of)?;
        Ok(RoadRow {
            segment_id: row.get(0).map_err(of)?,
            way_id: row.get(1).map_err(of)?,
            part: row.get(2).map_err(of)?,
            edge_forward: row.get(3).map_err(of)?,
            edge_backward: row.get(4).map_err(of)?,
            line: geometry::decode_line(&shape).map_err(broken)?,
        })
    }
    /// Rows of a table; `tail` selects and orders.
    fn query<R: Load>(&self, tail: &str, params: impl Params) -> Result<Vec<R>> {
        let failed = |e: rusqlite::Error| cannot_read(&self.path, Some(R::TABLE.name), &e);
        // Asked for every segment of a drive: the statement is kept.
        let sql = R::TABLE.select_sql(tail);
        let mut statement = self.connection.prepare_cached(&sql).map_err(failed)?;
        let mut rows = statement.query(params).map_err(failed)?;
        let mut found = Vec::new();
        while let Some(row) = rows.next().map_err(failed)? {
            found.push(self.loaded(row)?);
        }
        Ok(found)
    }
    fn loaded<R: Load>(&self, row: &rusqlite::Row<'_>) -> Result<R> {
        R::load(row).map_err(|fact| broken_row::<R>(&self.path, &fact))
    }
    /// Candidates from the R-tree, whose boxes are rounded outwards.
    fn query_box<R: Load>(&self, bounds: Bounds) -> Result<Vec<R>> {
        let table = R::TABLE;
        let tail = format!(
            "WHERE {KEY} IN (SELECT id FROM {tree} WHERE maxx >= ? AND minx <= ? AND maxy >= ? AND miny <= ?) ORDER BY {id}",
            tree = rtree_name(&table),
            id = table.id
        );
        self.query(&tail, bounds.degrees())
    }
}

/// Iterator over all edges, see [`Layer::edges`].
pub struct Edges<'a> {
    layer: &'a Layer,
    page: VecDeque<EdgeRow>,
    after: Option<i64>,
    done: bool,
}

impl Edges<'_> {
    fn turn_page(&mut self) -> Result<()> {
        let order = format!("ORDER BY edge_id LIMIT {PAGE_ROWS}");
        let rows = match self.after {
            None => self.layer.query(&order, [])?,
            Some(after) => self.layer.query(&format!("WHERE edge_id > ? {order}"), [after])?,
        };
        self.page = rows.into();
        self.after = self.page.back().map(|e| e.edge_id);
        self.done = self.page.len() < PAGE_ROWS;
        Ok(())
    }
}

impl Iterator for Edges<'_> {
    type Item = Result<EdgeRow>;
    fn next(&mut self) -> Option<Self::Item> {
        if self.page.is_empty()
            && !self.done
            && let Err(e) = self.turn_page()
        {
            self.done = true;
            return Some(Err(e));
        }
        self.page.pop_front().map(Ok)
    }
}

/// Opens the file for reading. One in WAL mode is opened as for writing, so that what SQLite puts beside it goes when it is
/// closed: left there, it would look as if a program still had it open. One whose last change was broken off is opened so,
/// too, for SQLite to take back the half of it that was written. Nothing else is written.
fn connect(path: &Path) -> rusqlite::Result<Connection> {
    let file = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let tidied = is_in_wal_mode(path) || beside(&file, JOURNAL).exists();
    let access = if tidied { OpenFlags::SQLITE_OPEN_READ_WRITE } else { OpenFlags::SQLITE_OPEN_READ_ONLY };
    let connection = Connection::open_with_flags(path, access | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    if tidied {
        connection.execute_batch("PRAGMA query_only = ON")?;
    }
    Ok(connection)
}

fn broken_row<R: Row>(path: &Path, fact: &str) -> Error {
    damaged(path, &format!("table {}: {fact}", R::TABLE.name))
}

fn foreign(path: &Path, fact: &str) -> Error {
    Error::file(path, format!("is not a layer of waymask: {fact}"), "give a file written by `waymask build`")
}

fn check_kind(connection: &Connection, path: &Path) -> Result<()> {
    let id = connection.query_row("PRAGMA application_id", [], |r| r.get::<_, i64>(0));
    match id {
        Ok(APPLICATION_ID) => Ok(()),
        Ok(_) => Err(foreign(path, "an SQLite file, but no GeoPackage")),
        Err(e) if e.sqlite_error_code() == Some(rusqlite::ErrorCode::NotADatabase) => {
            Err(foreign(path, "no GeoPackage"))
        }
        Err(e) => Err(cannot_read(path, None, &e)),
    }
}

fn has_table(connection: &Connection, name: &str) -> rusqlite::Result<bool> {
    connection.query_row("SELECT count(*) FROM sqlite_master WHERE name = ?", [name], |r| Ok(r.get::<_, i64>(0)? > 0))
}

fn check_tables(connection: &Connection, path: &Path) -> Result<()> {
    let trees = TABLES.iter().filter(|t| t.geometry.is_some()).map(rtree_name);
    for name in TABLES.iter().map(|t| t.name.to_owned()).chain(trees) {
        if !has_table(connection, &name).map_err(|e| cannot_read(path, None, &e))? {
            return Err(damaged(path, &format!("table {name} is missing")));
        }
    }
    Ok(())
}

fn read_record(connection: &Connection, path: &Path) -> Result<BuildRecord> {
    let broken = |e: rusqlite::Error| cannot_read(path, Some(RECORD_TABLE), &e);
    if !has_table(connection, RECORD_TABLE).map_err(broken)? {
        return Err(foreign(path, "a GeoPackage without build record"));
    }
    let wrong = |e: serde_json::Error| damaged(path, &format!("table {RECORD_TABLE}: {e}"));
    let mut statement = connection.prepare(&format!("SELECT key, value FROM {RECORD_TABLE}")).map_err(broken)?;
    let rows = statement.query_map([], |r| Ok((r.get::<_, String>(0)?, r.get::<_, String>(1)?))).map_err(broken)?;
    let mut parts = Map::new();
    for row in rows {
        let (key, value) = row.map_err(broken)?;
        parts.insert(key, serde_json::from_str(&value).map_err(wrong)?);
    }
    check_version(&parts, path)?;
    serde_json::from_value(Value::Object(parts)).map_err(wrong)
}

/// Before the record is understood as a whole: a newer one may have other parts.
fn check_version(parts: &Map<String, Value>, path: &Path) -> Result<()> {
    match parts.get("schema_version").and_then(Value::as_u64) {
        None => Err(damaged(path, "its record does not give a schema version")),
        Some(version) if version > u64::from(SCHEMA_VERSION) => Err(Error::file(
            path,
            format!("was written by a newer waymask (schema {version}, this one reads up to {SCHEMA_VERSION})"),
            "use the newer waymask, or write it anew with this one",
        )),
        Some(version) if version < u64::from(SCHEMA_VERSION) => Err(Error::file(
            path,
            format!("was written by an older waymask (schema {version}, this one reads {SCHEMA_VERSION})"),
            "write it anew with `waymask build`",
        )),
        Some(_) => Ok(()),
    }
}
