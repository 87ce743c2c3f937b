//! Rows of names and water, written and asked for.
use rusqlite::Connection;

use super::batch::Batch;
use super::geometry::Bounds;
use super::model::{GroundLineRow, GroundRow, PlaceRow};
use super::reader::Layer;
use super::schema::Row;
use super::target::Target;
use super::trouble::cannot_write;
use crate::base::error::Result;
use crate::base::geodesy::Position;

impl Layer {
    /// All places with a name, by id.
    pub fn named_places(&self) -> Result<Vec<PlaceRow>> {
        self.query("ORDER BY place_id", [])
    }
    /// Places with a name that lie in a box, by id.
    pub fn named_places_in(&self, bounds: Bounds) -> Result<Vec<PlaceRow>> {
        let mut rows: Vec<PlaceRow> = self.query_box(bounds)?;
        rows.retain(|place| Bounds { min: place.at, max: place.at }.meets(bounds));
        Ok(rows)
    }
    /// All areas of water, by id.
    pub fn ground(&self) -> Result<Vec<GroundRow>> {
        self.query("ORDER BY ground_id", [])
    }
    /// Areas of water whose boxes meet a box, by id.
    pub fn ground_in(&self, bounds: Bounds) -> Result<Vec<GroundRow>> {
        let mut rows: Vec<GroundRow> = self.query_box(bounds)?;
        rows.retain(|water| water.rings.first().is_some_and(|outer| meets(outer, bounds)));
        Ok(rows)
    }
    /// All coasts, rivers and canals, by id.
    pub fn ground_lines(&self) -> Result<Vec<GroundLineRow>> {
        self.query("ORDER BY ground_line_id", [])
    }
    /// Coasts, rivers and canals whose boxes meet a box, by id.
    pub fn ground_lines_in(&self, bounds: Bounds) -> Result<Vec<GroundLineRow>> {
        let mut rows: Vec<GroundLineRow> = self.query_box(bounds)?;
        rows.retain(|water| meets(&water.line, bounds));
        Ok(rows)
    }
}

fn meets(line: &[Position], bounds: Bounds) -> bool {
    Bounds::around(line).is_some_and(|own| own.meets(bounds))
}

/// Rows of the backdrop on their way to a layer.
#[derive(Default)]
pub(super) struct BackdropBatches {
    pub places: Batch<PlaceRow>,
    pub ground: Batch<GroundRow>,
    pub lines: Batch<GroundLineRow>,
}

impl BackdropBatches {
    /// Writes the rows that wait; the boxes around those of each table.
    ///
    /// # Errors
    /// The layer cannot be written.
    pub fn flush(&mut self, connection: &Connection, target: &Target) -> Result<[(&'static str, Option<Bounds>); 3]> {
        self.places.flush(connection, target)?;
        self.ground.flush(connection, target)?;
        self.lines.flush(connection, target)?;
        Ok([
            (PlaceRow::TABLE.name, self.places.bounds),
            (GroundRow::TABLE.name, self.ground.bounds),
            (GroundLineRow::TABLE.name, self.lines.bounds),
        ])
    }
}

/// Takes the backdrop of a layer that is joined.
pub struct BackdropSink<'a> {
    connection: &'a Connection,
    target: &'a Target,
    batches: BackdropBatches,
}

impl BackdropSink<'_> {
    /// Adds a place with a name.
    ///
    /// # Errors
    /// The layer cannot be written; so for the others.
    pub fn place(&mut self, row: &PlaceRow) -> Result<()> {
        self.batches.places.push(row, self.connection, self.target)
    }
    /// Adds an area of water.
    pub fn ground(&mut self, row: &GroundRow) -> Result<()> {
        self.batches.ground.push(row, self.connection, self.target)
    }
    /// Adds a coast, river or canal.
    pub fn ground_line(&mut self, row: &GroundLineRow) -> Result<()> {
        self.batches.lines.push(row, self.connection, self.target)
    }
}

/// Writes a whole backdrop; the boxes around the rows of each table.
///
/// # Errors
/// The layer cannot be written, or the error of `fill`.
pub(super) fn write(
    connection: &Connection,
    target: &Target,
    fill: impl FnOnce(&mut BackdropSink) -> Result<()>,
) -> Result<[(&'static str, Option<Bounds>); 3]> {
    let run = |sql: &str| connection.execute_batch(sql).map_err(|e| cannot_write(target.path(), &e));
    run("BEGIN")?;
    let mut sink = BackdropSink { connection, target, batches: BackdropBatches::default() };
    fill(&mut sink)?;
    let extents = sink.batches.flush(connection, target)?;
    run("COMMIT")?;
    Ok(extents)
}
