//! Rows that lie in a box, or in any of several that may overlap: each is read once.
use super::checked::{Allowance, Coherent};
use super::geometry::Bounds;
use super::reader::Layer;
use super::schema::{KEY, Load, Row, Table};
use super::tree::{BoxTree, TreeTrouble};
use crate::base::error::Result;

impl Layer {
    /// Rows whose boxes meet one of some boxes, by id. Boxes are rounded outwards: a few more may be among them.
    pub(crate) fn rows_in<R: Load + Coherent>(&self, boxes: &[Bounds]) -> Result<Vec<R>> {
        self.rows_of(self.keys_in_any(&R::TABLE, boxes)?)
    }
    /// Rows whose boxes meet a box, by id. Boxes are rounded outwards: a few more may be among them.
    pub(super) fn query_box<R: Load + Coherent>(&self, bounds: Bounds) -> Result<Vec<R>> {
        self.rows_of(self.keys_in(&R::TABLE, bounds)?)
    }
    /// Rows of some keys, by id.
    pub(crate) fn rows_of<R: Load + Coherent>(&self, keys: Vec<i64>) -> Result<Vec<R>> {
        let table = R::TABLE;
        let sql = table.select_sql(&format!("WHERE {KEY} = ?"));
        let mut statement = self.connection.prepare_cached(&sql).map_err(|e| self.broken(table.name, &e))?;
        let mut left = Allowance::of(self.bytes);
        let mut found: Vec<R> = Vec::new();
        for key in keys {
            let before = found.len();
            self.take(&mut statement, [key], &mut left, &mut |row| {
                found.push(row);
                Ok(())
            })?;
            if found.len() == before {
                return Err(self.bad_tree(&table, TreeTrouble::Fact(format!("row {key} is missing"))));
            }
        }
        found.sort_by_key(Row::id);
        Ok(found)
    }
    /// Keys of rows whose boxes meet one of some boxes, each once.
    pub(crate) fn keys_in_any(&self, table: &Table, boxes: &[Bounds]) -> Result<Vec<i64>> {
        let mut keys = Vec::new();
        for bounds in boxes {
            keys.extend(self.keys_in(table, *bounds)?);
        }
        keys.sort_unstable();
        keys.dedup();
        Ok(keys)
    }
    fn keys_in(&self, table: &Table, bounds: Bounds) -> Result<Vec<i64>> {
        BoxTree::of(&self.connection, table).keys(bounds).map_err(|why| self.bad_tree(table, why))
    }
}
