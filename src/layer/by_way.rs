//! Rows by the way they belong to: what layers are joined by.
use std::collections::BTreeSet;

use super::checked::Allowance;
use super::columns::Id;
use super::geometry::Bounds;
use super::model::{EdgeRow, LaneRow, OutageRow, SegmentRow};
use super::reader::Layer;
use super::schema::{KEY, Row, fetch};
use super::trouble::damaged;
use crate::base::error::Result;

impl Layer {
    /// Ids of all ways.
    pub(crate) fn way_ids(&self) -> Result<BTreeSet<i64>> {
        let table = SegmentRow::TABLE.name;
        let broken = |e: rusqlite::Error| self.broken(table, &e);
        let mut statement = self.connection.prepare("SELECT DISTINCT way_id FROM segments").map_err(broken)?;
        let mut rows = statement.query([]).map_err(broken)?;
        let (mut found, mut left) = (BTreeSet::new(), Allowance::of(self.bytes));
        while let Some(row) = rows.next().map_err(broken)? {
            let taken = left.row().and_then(|()| fetch::<Id>(row, "way_id"));
            found.insert(taken.map_err(|fact| damaged(self.path(), &format!("table {table} {fact}")))?);
        }
        Ok(found)
    }
    /// Ids of the ways that meet one of some boxes.
    pub(crate) fn ways_met(&self, boxes: &[Bounds]) -> Result<BTreeSet<i64>> {
        let broken = |e: rusqlite::Error| self.broken(SegmentRow::TABLE.name, &e);
        let sql = format!("SELECT way_id FROM segments WHERE {KEY} = ?");
        let mut found = self.connection.prepare(&sql).map_err(broken)?;
        let mut ways = BTreeSet::new();
        for key in self.keys_in_any(&SegmentRow::TABLE, boxes)? {
            ways.insert(self.way_of(&mut found, key)?);
        }
        Ok(ways)
    }
    /// Segments of a way, in its order.
    pub(crate) fn segments_of_way(&self, way_id: i64) -> Result<Vec<SegmentRow>> {
        self.query("WHERE way_id = ? ORDER BY part", [way_id])
    }
    /// Edges of a way, by id.
    pub(crate) fn edges_of_way(&self, way_id: i64) -> Result<Vec<EdgeRow>> {
        self.query("WHERE way_id = ? ORDER BY edge_id", [way_id])
    }
    /// Directions of a segment, by id.
    pub(crate) fn lanes_of(&self, segment_id: i64) -> Result<Vec<LaneRow>> {
        self.query("WHERE segment_id = ? ORDER BY lane_id", [segment_id])
    }
    /// Outages that begin on a segment, by id.
    pub(crate) fn outages_from(&self, segment_id: i64) -> Result<Vec<OutageRow>> {
        self.query("WHERE segment_from = ? ORDER BY outage_id", [segment_id])
    }
}
