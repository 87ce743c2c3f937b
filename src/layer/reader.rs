//! Reads a layer: all that later commands need, without rasters and without GDAL.
use std::collections::{HashMap, HashSet, VecDeque};
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OptionalExtension, Params, Statement, params};

use crate::base::error::{Error, Result};
use crate::base::geodesy::length_m;

use super::checked::{Allowance, Coherent, TableRules};
use super::columns::Id;
use super::geometry::Bounds;
use super::model::{
    BuildRecord, EdgeRow, LaneRow, NodeRow, OutageRow, OverheadRow, RoadRow, RunRow, SegmentRow, StopRow,
};
use super::open::{OpenedLayer, open};
use super::road;
use super::schema::{Load, Row, TABLES, Table, fetch};
use super::target::Target;
use super::tree::{BoxTree, TreeTrouble, node_table};
use super::trouble::{cannot_read, damaged, damaged_value};

/// Rows fetched at once by [`Layer::edges`].
const PAGE_ROWS: usize = 4096;

/// Lengths of an edge and of its segments that differ by no more are the same, metres (and a hundredth of it): both are
/// rounded, segment by segment.
const SAME_M: f64 = 1.0;
/// Most nodes remembered as looked up, of layers larger than memory.
const MOST_KNOWN: usize = 1 << 20;

/// A layer opened for reading.
pub struct Layer {
    pub(super) connection: Connection,
    path: PathBuf,
    record: BuildRecord,
    rules: TableRules,
    /// Size of the file.
    pub(super) bytes: u64,
    /// Masks that lie in other layers, of one that was joined of them.
    pub(super) lent: Option<LentMasks>,
    /// A file that goes with this run. After the connection, which must be closed then.
    _held: Option<Target>,
}

/// Where the masks lie of a layer that was joined of others for one run: most of a layer are masks, and few of them are asked
/// for, so that they stay where they are.
pub struct LentMasks {
    pub(super) layers: Vec<Layer>,
    /// By segment, from id 1: the layer and the id there; nothing where a segment there was cut otherwise than here.
    pub(super) rows: Vec<Option<(usize, i64)>>,
}

impl Layer {
    /// Opens a layer. Refuses files that waymask did not write, that another version wrote, or that do more than hold rows.
    pub fn open(path: &Path) -> Result<Self> {
        let OpenedLayer { connection, record, bytes } = open(path)?;
        let (path, rules) = (path.to_owned(), TableRules::new());
        Ok(Self { connection, path, record, rules, bytes, lent: None, _held: None })
    }
    /// Opens a layer that is there for one run only, and whose masks lie in others; `name` is what people know it by.
    pub(super) fn open_held(target: Target, name: &Path, lent: LentMasks) -> Result<Self> {
        let opened = Self::open(target.temporary())?;
        Ok(Self { path: name.to_owned(), lent: Some(lent), _held: Some(target), ..opened })
    }
    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.path
    }
    /// What the build read, assumed and counted.
    pub fn record(&self) -> &BuildRecord {
        &self.record
    }
    /// Number of rows by table, in the order of these.
    pub fn counts(&self) -> Result<Vec<(&'static str, u64)>> {
        let count = |name: &'static str| {
            let sql = format!("SELECT count(*) FROM {name}");
            let rows: i64 = self.connection.query_row(&sql, [], |r| r.get(0)).map_err(|e| self.broken(name, &e))?;
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
    /// A place to stop by id.
    pub fn stop(&self, stop_id: i64) -> Result<Option<StopRow>> {
        Ok(self.query("WHERE stop_id = ?", [stop_id])?.pop())
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
    /// All outages, by id.
    pub fn outages(&self) -> Result<Vec<OutageRow>> {
        self.query("ORDER BY outage_id", [])
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
    /// What is driven before and after strokes, by stroke and place.
    pub fn runs(&self) -> Result<Vec<RunRow>> {
        self.query("ORDER BY stroke, nth", [])
    }
    /// One direction of a segment.
    pub fn lane(&self, segment_id: i64, forward: bool) -> Result<Option<LaneRow>> {
        Ok(self.query("WHERE segment_id = ? AND forward = ?", params![segment_id, forward])?.pop())
    }
    /// The outage that goes through a segment in one direction.
    pub fn outage_over(&self, segment_id: i64, forward: bool) -> Result<Option<OutageRow>> {
        let Some(lane) = self.lane(segment_id, forward)? else { return Ok(None) };
        let Some(from) = lane.outage_from else { return Ok(None) };
        let (segment_from, forward) = ((from + 1) / 2, from % 2 == 1);
        Ok(self.query("WHERE segment_from = ? AND forward = ?", params![segment_from, forward])?.pop())
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
        let rows: Vec<SegmentRow> = self.query(tail, [edge.edge_id])?;
        if rows.is_empty() {
            let fact = format!("table edges, edge_id {}: no row in segments belongs to it", edge.edge_id);
            return Err(damaged(&self.path, &fact));
        }
        Ok(rows)
    }
    /// All edges, by id, read in pages of bounded size.
    pub fn edges(&self) -> Edges<'_> {
        Edges { layer: self, page: VecDeque::new(), nodes: HashSet::new(), after: None, done: false }
    }
    /// The box around all roads; nothing where the layer holds none.
    pub fn extent(&self) -> Result<Option<Bounds>> {
        let table = SegmentRow::TABLE;
        BoxTree::of(&self.connection, &table).extent().map_err(|why| self.bad_tree(&table, why))
    }
    /// The segment of the road that a place to stop names.
    pub fn segment_of(&self, stop: &StopRow) -> Result<SegmentRow> {
        let gone = || {
            let fact = format!("there is no segment {}", stop.segment_id);
            damaged_value(&self.path, &StopRow::TABLE, stop.stop_id, "segment_id", &fact)
        };
        self.segment(stop.segment_id)?.ok_or_else(gone)
    }
    /// Every way that meets one of the boxes, whole: its segments by id and its edges by id.
    pub fn ways_in(&self, boxes: &[Bounds]) -> Result<(Vec<RoadRow>, Vec<EdgeRow>)> {
        let broken = |e: rusqlite::Error| self.broken(SegmentRow::TABLE.name, &e);
        let ways = self.ways_met(boxes)?;
        let sql = road::select_sql("WHERE way_id = ? ORDER BY segment_id");
        let mut of_way = self.connection.prepare(&sql).map_err(broken)?;
        let sql = EdgeRow::TABLE.select_sql("WHERE way_id = ? ORDER BY edge_id");
        let mut edges_of_way = self.connection.prepare(&sql).map_err(broken)?;
        let (mut roads, mut edges) = (Vec::new(), Vec::<EdgeRow>::new());
        let mut left = Allowance::of(self.bytes);
        for way in ways {
            let first = roads.len();
            let mut rows = of_way.query([way]).map_err(broken)?;
            while let Some(row) = rows.next().map_err(broken)? {
                roads.push(self.rules.road(row, &mut left).map_err(|fact| damaged(&self.path, &fact))?);
            }
            let first_edge = edges.len();
            self.take(&mut edges_of_way, [way], &mut left, &mut |edge| {
                edges.push(edge);
                Ok(())
            })?;
            self.check_edges(&roads[first..], &edges[first_edge..])?;
        }
        Ok((roads, edges))
    }
    /// The way of the segment that a box leads to. Only its whole rows, which pass the gate, are used in answers.
    pub(super) fn way_of(&self, found: &mut Statement<'_>, key: i64) -> Result<i64> {
        let table = SegmentRow::TABLE;
        let way = found.query_row([key], |row| Ok(fetch::<Id>(row, "way_id"))).optional();
        match way.map_err(|e| self.broken(table.name, &e))? {
            Some(Ok(way)) => Ok(way),
            Some(Err(fact)) => Err(damaged(&self.path, &format!("table {}, row {key}, {fact}", table.name))),
            None => Err(self.bad_tree(&table, TreeTrouble::Fact(format!("row {key} is missing")))),
        }
    }
    /// Edges of whole ways are as long as their segments together: an index that has lost rows would shorten roads in
    /// silence.
    ///
    /// # Errors
    /// One is not.
    pub fn check_lengths(&self, roads: &[RoadRow], edges: &[EdgeRow]) -> Result<()> {
        let mut found_m: HashMap<i64, f64> = HashMap::new();
        for road in roads {
            let length_m = length_m(&road.line);
            let named = [road.edge_forward, road.edge_backward];
            named.into_iter().flatten().for_each(|edge| *found_m.entry(edge).or_default() += length_m);
        }
        for edge in edges {
            let sum_m = found_m.get(&edge.edge_id).copied().unwrap_or(0.0);
            if (sum_m - edge.length_m).abs() > 0.01 * edge.length_m + SAME_M {
                let fact = format!("its segments are {sum_m:.0} m long, but the edge {:.0} m", edge.length_m);
                return Err(damaged_value(&self.path, &EdgeRow::TABLE, edge.edge_id, "length_m", &fact));
            }
        }
        Ok(())
    }
    /// Segments of a way name edges of that way, which come by id, in the direction these drive.
    fn check_edges(&self, roads: &[RoadRow], edges: &[EdgeRow]) -> Result<()> {
        let forward = |id: i64| edges.binary_search_by_key(&id, |e| e.edge_id).map(|i| edges[i].forward);
        for road in roads {
            let named = [("edge_forward", road.edge_forward, true), ("edge_backward", road.edge_backward, false)];
            for (column, edge, direction) in named {
                if let Some(edge) = edge.filter(|e| forward(*e) != Ok(direction)) {
                    let fact = format!("way {} has no edge {edge} in this direction", road.way_id);
                    return Err(damaged_value(&self.path, &SegmentRow::TABLE, road.segment_id, column, &fact));
                }
            }
        }
        Ok(())
    }
    /// Edges begin and end at nodes of the layer; `known` are those that were looked up.
    fn check_nodes(&self, edges: &[EdgeRow], known: &mut HashSet<i64>) -> Result<()> {
        let broken = |e: rusqlite::Error| self.broken(NodeRow::TABLE.name, &e);
        let sql = "SELECT 1 FROM nodes WHERE node_id = ?";
        let mut statement = self.connection.prepare_cached(sql).map_err(broken)?;
        if known.len() > MOST_KNOWN {
            known.clear();
        }
        for edge in edges {
            for (column, node) in [("from_node", edge.from_node), ("to_node", edge.to_node)] {
                if known.insert(node) && !statement.exists([node]).map_err(broken)? {
                    let fact = format!("there is no node {node}");
                    return Err(damaged_value(&self.path, &EdgeRow::TABLE, edge.edge_id, column, &fact));
                }
            }
        }
        Ok(())
    }
    /// Rows of a table; `tail` selects and orders.
    pub(super) fn query<R: Load + Coherent>(&self, tail: &str, params: impl Params) -> Result<Vec<R>> {
        let mut found = Vec::new();
        self.each(tail, params, &mut |row| {
            found.push(row);
            Ok(())
        })?;
        Ok(found)
    }
    /// Hands out rows of a table one after another.
    pub(super) fn each<R: Load + Coherent>(
        &self,
        tail: &str,
        params: impl Params,
        take: &mut dyn FnMut(R) -> Result<()>,
    ) -> Result<()> {
        // Asked for every segment of a drive: the statement is kept.
        let sql = R::TABLE.select_sql(tail);
        let statement = self.connection.prepare_cached(&sql);
        let mut statement = statement.map_err(|e| self.broken(R::TABLE.name, &e))?;
        self.take(&mut statement, params, &mut Allowance::of(self.bytes), take)
    }
    /// Hands out the rows of a statement made by [`Table::select_sql`]; `left` is what the whole question may still take.
    pub(super) fn take<R: Load + Coherent>(
        &self,
        statement: &mut Statement<'_>,
        params: impl Params,
        left: &mut Allowance,
        take: &mut dyn FnMut(R) -> Result<()>,
    ) -> Result<()> {
        let broken = |e: rusqlite::Error| self.broken(R::TABLE.name, &e);
        let mut rows = statement.query(params).map_err(broken)?;
        while let Some(row) = rows.next().map_err(broken)? {
            take(self.rules.read(row, left).map_err(|fact| damaged(&self.path, &fact))?)?;
        }
        Ok(())
    }
    pub(super) fn bad_tree(&self, table: &Table, why: TreeTrouble) -> Error {
        match why {
            TreeTrouble::Sql(e) => self.broken(&node_table(table), &e),
            TreeTrouble::Fact(fact) => damaged(&self.path, &format!("R-tree of {}: {fact}", table.name)),
        }
    }
    pub(super) fn broken(&self, table: &str, e: &rusqlite::Error) -> Error {
        cannot_read(&self.path, Some(table), e)
    }
}

/// Iterator over all edges, see [`Layer::edges`].
pub struct Edges<'a> {
    layer: &'a Layer,
    page: VecDeque<EdgeRow>,
    /// Nodes that are known to be there.
    nodes: HashSet<i64>,
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
        self.layer.check_nodes(&rows, &mut self.nodes)?;
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
