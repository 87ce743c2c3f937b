//! A segment as the road that a track is laid on: some columns of its row, which is read far more often than all of it.
use super::columns::{Count, Id, Maybe, Share};
use super::geometry::decode_line;
use super::model::{RoadRow, SegmentRow};
use super::schema::{GEOMETRY, Row, fetch, fetch_shape};

/// The columns, in the order of the query.
pub(super) const COLUMNS: [&str; 7] =
    ["segment_id", "way_id", "part", "edge_forward", "edge_backward", "blocked_cover", GEOMETRY];

/// A query of these columns; `tail` begins with `WHERE` or `ORDER BY`.
pub(super) fn select_sql(tail: &str) -> String {
    format!("SELECT {} FROM {} {tail}", COLUMNS.join(", "), SegmentRow::TABLE.name)
}

/// A row of such a query.
pub(super) fn load(row: &rusqlite::Row<'_>) -> Result<RoadRow, String> {
    Ok(RoadRow {
        segment_id: fetch::<Id>(row, "segment_id")?,
        way_id: fetch::<Id>(row, "way_id")?,
        part: fetch::<Count>(row, "part")?,
        edge_forward: fetch::<Maybe<Id>>(row, "edge_forward")?,
        edge_backward: fetch::<Maybe<Id>>(row, "edge_backward")?,
        blocked_cover: fetch::<Share>(row, "blocked_cover")?,
        line: fetch_shape(row, decode_line)?,
    })
}
