//! A junction, or the end of a road, as stored: a node of the map and where it lies.
use rusqlite::types::ToSqlOutput;

use super::columns::Id;
use super::geometry::{Bounds, decode_point};
use super::model::NodeRow;
use super::schema::{Load, Row, Table, fetch, fetch_shape, point_shape};

/// Ids come from the map and may be any number, also -1, which GDAL takes for no key: the file counts the keys.
impl Row for NodeRow {
    const TABLE: Table = Table {
        name: "nodes",
        title: "Junctions and ends of roads",
        id: "node_id",
        geometry: Some("POINT"),
        columns: &[],
        indexed: &[],
    };
    fn id(&self) -> i64 {
        self.node_id
    }
    fn fid(&self) -> Option<i64> {
        None
    }
    fn shape(&self) -> Result<Option<(Vec<u8>, Bounds)>, String> {
        point_shape(&self.at).map(Some)
    }
    fn cells(&self) -> Result<Vec<ToSqlOutput<'_>>, String> {
        Ok(Vec::new())
    }
}

impl Load for NodeRow {
    fn load(row: &rusqlite::Row<'_>) -> Result<Self, String> {
        Ok(Self { node_id: fetch::<Id>(row, "node_id")?, at: fetch_shape(row, decode_point)? })
    }
}
