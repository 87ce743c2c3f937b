//! Rows that wait to be stored.
use rusqlite::{Connection, params};

use super::container;
use super::geometry::Bounds;
use super::schema::{Row, Table, stored};
use super::target::Target;
use super::trouble::{REPORT, cannot_write};
use crate::base::error::{Error, Result};

/// Rows stored by one prepared statement.
const BATCH_ROWS: usize = 1024;

/// Rows waiting to be stored, and the box around all rows so far.
pub(super) struct Batch<R> {
    rows: Vec<R>,
    pub bounds: Option<Bounds>,
}

impl<R> Default for Batch<R> {
    fn default() -> Self {
        Self { rows: Vec::new(), bounds: None }
    }
}

impl<R: Row + Clone> Batch<R> {
    /// Takes a row.
    ///
    /// # Errors
    /// The layer cannot be written.
    pub fn push(&mut self, row: &R, connection: &Connection, target: &Target) -> Result<()> {
        self.rows.push(row.clone());
        if self.rows.len() < BATCH_ROWS { Ok(()) } else { self.flush(connection, target) }
    }
    /// Stores the rows that wait.
    ///
    /// # Errors
    /// The layer cannot be written.
    pub fn flush(&mut self, connection: &Connection, target: &Target) -> Result<()> {
        let failed = |e: rusqlite::Error| cannot_write(target.path(), &e);
        let table = R::TABLE;
        let mut insert = connection.prepare(&table.insert_sql()).map_err(failed)?;
        let mut index = match table.geometry {
            Some(_) => Some(connection.prepare(&rtree_sql(&table)).map_err(failed)?),
            None => None,
        };
        for row in self.rows.drain(..) {
            let (values, bounds) = stored(&row).map_err(|fact| bad_row(&row, &fact))?;
            insert.execute(rusqlite::params_from_iter(values)).map_err(failed)?;
            let (Some(index), Some(bounds)) = (&mut index, bounds) else { continue };
            let [west, east, south, north] = bounds.degrees();
            index.execute(params![connection.last_insert_rowid(), west, east, south, north]).map_err(failed)?;
            self.bounds = Some(self.bounds.map_or(bounds, |all| all.joined(bounds)));
        }
        Ok(())
    }
}

fn rtree_sql(table: &Table) -> String {
    format!("INSERT INTO {} (id, minx, maxx, miny, maxy) VALUES (?, ?, ?, ?, ?)", container::rtree_name(table))
}

/// A row that cannot be stored: the stages before made it wrong.
fn bad_row<R: Row>(row: &R, fact: &str) -> Error {
    Error::failed(format!("row {} of {}", row.id(), R::TABLE.name), fact, REPORT)
}
