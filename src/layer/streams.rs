//! Rows handed out by a key that builds share, for comparing layers larger than memory.
use std::collections::VecDeque;

use rusqlite::params;

use super::model::{SegmentRow, StopRow, WayNodesRow};
use super::reader::Layer;
use super::schema::{Row, STABLE_KEY};
use super::trouble::{damaged, damaged_value};
use crate::base::error::{Error, Result};

/// Rows fetched at once.
const PAGE_ROWS: usize = 1024;

impl Layer {
    /// All segments by way and part, read in pages of bounded size.
    ///
    /// # Errors
    /// The layer has lost the index on these columns: without it every page walks through the whole table.
    pub fn segments_by_key(&self) -> Result<KeyedSegments<'_>> {
        let table = SegmentRow::TABLE.name;
        let sql = "SELECT count(*) FROM pragma_index_list(?) l WHERE l.\"unique\" AND NOT l.partial AND
            (SELECT group_concat(name, ', ') FROM (SELECT name FROM pragma_index_info(l.name) ORDER BY seqno)) = ?";
        let found = self.connection.query_row(sql, [table, STABLE_KEY], |row| row.get::<_, i64>(0));
        if found.map_err(|e| self.broken(table, &e))? == 0 {
            let fact = format!("table {table} has lost its index on {STABLE_KEY}, as happens when a file is converted");
            return Err(damaged(self.path(), &fact));
        }
        Ok(KeyedSegments { layer: self, page: VecDeque::new(), after: None, taken: 0, done: false })
    }
    /// Hands out the nodes along all segments one after another, by id.
    pub fn each_way_nodes(&self, mut take: impl FnMut(WayNodesRow) -> Result<()>) -> Result<()> {
        self.each("ORDER BY segment_id", [], &mut take)
    }
    /// The nodes along a segment.
    ///
    /// # Errors
    /// They are not there, or not those of its line.
    pub fn way_nodes(&self, segment: &SegmentRow) -> Result<WayNodesRow> {
        let id = segment.segment_id;
        let found: Option<WayNodesRow> = self.query("WHERE segment_id = ?", [id])?.pop();
        let row = found.ok_or_else(|| {
            damaged(self.path(), &format!("table way_nodes, segment_id {id}: there is no row for this segment"))
        })?;
        // A line may end where it was cut, at a vertex without a node; all before that have one.
        let noted = row.nodes.last().map_or(1, |last| last.vertex as usize + 1);
        let vertices = segment.line.len();
        if noted == vertices || noted + 1 == vertices {
            return Ok(row);
        }
        let fact = format!("tells of {noted} vertices of a line that has {vertices}");
        Err(damaged_value(self.path(), &WayNodesRow::TABLE, id, "packed", &fact))
    }
    /// Hands out all places to stop one after another, by id.
    pub fn each_stop(&self, mut take: impl FnMut(StopRow) -> Result<()>) -> Result<()> {
        self.each("ORDER BY stop_id", [], &mut take)
    }
}

/// Iterator over all segments by way and part, see [`Layer::segments_by_key`].
pub struct KeyedSegments<'a> {
    layer: &'a Layer,
    page: VecDeque<SegmentRow>,
    /// Key of the last row fetched.
    after: Option<(i64, u32)>,
    /// Rows fetched.
    taken: u64,
    done: bool,
}

impl KeyedSegments<'_> {
    fn turn_page(&mut self) -> Result<()> {
        let order = format!("ORDER BY {STABLE_KEY} LIMIT {PAGE_ROWS}");
        let rows: Vec<SegmentRow> = match self.after {
            None => self.layer.query(&order, [])?,
            Some((way_id, part)) => {
                self.layer.query(&format!("WHERE ({STABLE_KEY}) > (?, ?) {order}"), params![way_id, part])?
            }
        };
        for row in &rows {
            let key = (row.way_id, row.part);
            if self.after.is_some_and(|before| key <= before) {
                return Err(self.out_of_order(row));
            }
            self.after = Some(key);
        }
        self.taken += rows.len() as u64;
        self.done = rows.len() < PAGE_ROWS;
        self.page = rows.into();
        if self.done { self.check_count() } else { Ok(()) }
    }
    /// The index says that a row comes after another, and the rows that it does not.
    fn out_of_order(&self, row: &SegmentRow) -> Error {
        let fact = format!("way {} and part {} are out of order in their index", row.way_id, row.part);
        damaged_value(self.layer.path(), &SegmentRow::TABLE, row.segment_id, "way_id", &fact)
    }
    /// A row that the index has lost would read as a road that is gone.
    fn check_count(&self) -> Result<()> {
        let table = SegmentRow::TABLE.name;
        let sql = format!("SELECT count(*) FROM {table} NOT INDEXED");
        let there = self.layer.connection.query_row(&sql, [], |row| row.get::<_, i64>(0));
        let there = there.map_err(|e| self.layer.broken(table, &e))?;
        if u64::try_from(there) == Ok(self.taken) {
            return Ok(());
        }
        let fact = format!("table {table} has {there} rows, and its index on {STABLE_KEY} {}", self.taken);
        Err(damaged(self.layer.path(), &fact))
    }
}

impl Iterator for KeyedSegments<'_> {
    type Item = Result<SegmentRow>;
    fn next(&mut self) -> Option<Self::Item> {
        if self.page.is_empty()
            && !self.done
            && let Err(e) = self.turn_page()
        {
            self.page.clear();
            self.done = true;
            return Some(Err(e));
        }
        self.page.pop_front().map(Ok)
    }
}
