//! The packed sky masks of a lane, as stored.
use rusqlite::types::ToSqlOutput;

use super::columns::{Bytes, ColumnKind, Count, Flag, Id};
use super::geometry::Bounds;
use super::model::MaskRow;
use super::schema::{Column, Load, Row, Table, fetch};

const MASK_COLUMNS: &[Column] = &[
    Column { name: "segment_id", sql: Id::SQL, nullable: false },
    Column { name: "forward", sql: Flag::SQL, nullable: false },
    Column { name: "stations", sql: Count::SQL, nullable: false },
    Column { name: "packed", sql: Bytes::SQL, nullable: false },
];

impl Row for MaskRow {
    const TABLE: Table = Table {
        name: "masks",
        title: "Sky masks by segment and direction",
        id: "mask_id",
        geometry: None,
        columns: MASK_COLUMNS,
        indexed: &["segment_id"],
    };
    fn id(&self) -> i64 {
        self.mask_id
    }
    fn shape(&self) -> Result<Option<(Vec<u8>, Bounds)>, String> {
        Ok(None)
    }
    fn cells(&self) -> Result<Vec<ToSqlOutput<'_>>, String> {
        Ok(vec![
            Id::store(&self.segment_id)?,
            Flag::store(&self.forward)?,
            Count::store(&self.stations)?,
            Bytes::store(&self.packed)?,
        ])
    }
}

impl Load for MaskRow {
    fn load(row: &rusqlite::Row<'_>) -> Result<Self, String> {
        Ok(Self {
            mask_id: fetch::<Id>(row, Self::TABLE.id)?,
            segment_id: fetch::<Id>(row, "segment_id")?,
            forward: fetch::<Flag>(row, "forward")?,
            stations: fetch::<Count>(row, "stations")?,
            packed: fetch::<Bytes>(row, "packed")?,
        })
    }
}
