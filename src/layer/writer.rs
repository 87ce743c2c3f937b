//! Writes a layer: rows go to a temporary file beside the final one, which appears when all is written.
use std::path::Path;

use rusqlite::{Connection, config::DbConfig, params};

use crate::base::error::Result;

use super::backdrop_rows::BackdropBatches;
use super::batch::Batch;
use super::geometry::Bounds;
use super::model::{
    BuildRecord, EdgeRow, EndMaskRow, GroundLineRow, GroundRow, LaneRow, MaskRow, NodeRow, OutageRow, OverheadRow,
    PlaceRow, RunRow, SegmentRow, StopRow, WayNodesRow,
};
use super::part::{self, PartLinks};
use super::reader::{Layer, LentMasks};
use super::schema::{PART_TABLES, Row, STABLE_KEY, TABLES, Table};
use super::target::Target;
use super::trouble::{StepFailure, cannot_write};
use super::{container, credit, describe, metadata, name_rows, style};

/// Memory for the pages of a part that is written, KiB.
const PART_CACHE_KIB: u32 = 8_192;

/// Name by which what a killed run left of such a layer is known, and removed by the next.
const HELD: &str = "waymask-joined.gpkg";

/// Writes one layer. Dropped before [`LayerWriter::finish`], it leaves everything as it was.
pub struct LayerWriter {
    // Before the target: the connection must be closed when the file is removed.
    connection: Connection,
    segments: Batch<SegmentRow>,
    edges: Batch<EdgeRow>,
    nodes: Batch<NodeRow>,
    way_nodes: Batch<WayNodesRow>,
    overheads: Batch<OverheadRow>,
    lanes: Batch<LaneRow>,
    runs: Batch<RunRow>,
    masks: Batch<MaskRow>,
    end_masks: Batch<EndMaskRow>,
    stops: Batch<StopRow>,
    outages: Batch<OutageRow>,
    backdrop: BackdropBatches,
    target: Target,
}

impl LayerWriter {
    /// Begins a layer that will appear at `path`.
    ///
    /// Refuses a path that exists (unless `overwrite`), whose folder is missing or not writable, or
    /// whose name does not end in `.gpkg`.
    pub fn create(path: &Path, overwrite: bool) -> Result<Self> {
        Self::of_target(Target::reserve(path, overwrite)?, &TABLES)
    }
    fn of_target(target: Target, tables: &[Table]) -> Result<Self> {
        let connection = opened(&target, tables)?;
        connection.execute_batch("BEGIN").map_err(|e| cannot_write(target.path(), &e))?;
        Ok(Self {
            connection,
            segments: Batch::default(),
            edges: Batch::default(),
            nodes: Batch::default(),
            way_nodes: Batch::default(),
            overheads: Batch::default(),
            lanes: Batch::default(),
            runs: Batch::default(),
            masks: Batch::default(),
            end_masks: Batch::default(),
            stops: Batch::default(),
            outages: Batch::default(),
            backdrop: BackdropBatches::default(),
            target,
        })
    }
    /// Begins a part, of which several grow at a time: pages are kept in less memory. One that is there is replaced.
    ///
    /// # Errors
    /// As of [`Self::create`].
    pub fn create_part(path: &Path) -> Result<Self> {
        let writer = Self::of_target(Target::reserve_part(path)?, PART_TABLES)?;
        let pages = writer.connection.execute_batch(&format!("PRAGMA cache_size=-{PART_CACHE_KIB}"));
        pages.map_err(|e| cannot_write(writer.target.path(), &e))?;
        Ok(writer)
    }
    /// Begins a layer in a folder that is there for one run only, whatever ends it.
    ///
    /// # Errors
    /// As of [`Self::create`].
    pub fn create_held(folder: &Path) -> Result<Self> {
        Self::of_target(Target::reserve_part(&folder.join(HELD))?, &TABLES)
    }
    /// Adds a segment.
    pub fn segment(&mut self, row: &SegmentRow) -> Result<()> {
        self.segments.push(row, &self.connection, &self.target)
    }
    /// Adds an edge.
    pub fn edge(&mut self, row: &EdgeRow) -> Result<()> {
        self.edges.push(row, &self.connection, &self.target)
    }
    /// Adds an end of an edge.
    pub fn node(&mut self, row: &NodeRow) -> Result<()> {
        self.nodes.push(row, &self.connection, &self.target)
    }
    /// Adds the nodes along a segment.
    pub fn way_nodes(&mut self, row: &WayNodesRow) -> Result<()> {
        self.way_nodes.push(row, &self.connection, &self.target)
    }
    /// Adds what stands over a segment.
    pub fn overhead(&mut self, row: &OverheadRow) -> Result<()> {
        self.overheads.push(row, &self.connection, &self.target)
    }
    /// Adds a direction of a segment.
    pub fn lane(&mut self, row: &LaneRow) -> Result<()> {
        self.lanes.push(row, &self.connection, &self.target)
    }
    /// Adds a lane that is driven before or after a stroke.
    pub fn run(&mut self, row: &RunRow) -> Result<()> {
        self.runs.push(row, &self.connection, &self.target)
    }
    /// Adds the masks of a segment in one direction.
    pub fn masks(&mut self, row: &MaskRow) -> Result<()> {
        self.masks.push(row, &self.connection, &self.target)
    }
    /// Adds those at one end of what is assumed, where they differ.
    pub fn end_masks(&mut self, row: &EndMaskRow) -> Result<()> {
        self.end_masks.push(row, &self.connection, &self.target)
    }
    /// Adds a place to stop.
    pub fn stop(&mut self, row: &StopRow) -> Result<()> {
        self.stops.push(row, &self.connection, &self.target)
    }
    /// Adds an outage.
    pub fn outage(&mut self, row: &OutageRow) -> Result<()> {
        self.outages.push(row, &self.connection, &self.target)
    }
    /// Adds a place with a name.
    pub fn place(&mut self, row: &PlaceRow) -> Result<()> {
        self.backdrop.places.push(row, &self.connection, &self.target)
    }
    /// Adds an area of water.
    pub fn ground(&mut self, row: &GroundRow) -> Result<()> {
        self.backdrop.ground.push(row, &self.connection, &self.target)
    }
    /// Adds a coast, river or canal.
    pub fn ground_line(&mut self, row: &GroundLineRow) -> Result<()> {
        self.backdrop.lines.push(row, &self.connection, &self.target)
    }
    /// Writes what remains and lets the layer appear under its name. The record is stored with
    /// [`super::SCHEMA_VERSION`], whatever version it carries.
    pub fn finish(mut self, record: &BuildRecord) -> Result<()> {
        let mut extents = self.flush()?;
        extents.extend(self.backdrop.flush(&self.connection, &self.target)?);
        name_rows::write(&self.connection, &self.target)?;
        self.publish(record, &extents, None)
    }
    /// The same of a layer that is there for one run only: opens it, `name` being what people know it by.
    pub fn finish_held(mut self, record: &BuildRecord, name: &Path, lent: LentMasks) -> Result<Layer> {
        let mut extents = self.flush()?;
        extents.extend(self.backdrop.flush(&self.connection, &self.target)?);
        name_rows::write(&self.connection, &self.target)?;
        let failed = |e: rusqlite::Error| cannot_write(self.target.path(), &e);
        complete(&self.connection, record, &extents, true).map_err(failed)?;
        let Self { connection, target, .. } = self;
        connection.close().map_err(|(_, e)| cannot_write(target.path(), &e))?;
        Layer::open_held(target, name, lent)
    }
    /// The same for a part of a layer, with what joins it with others and what it adds to the sums of a build, JSON.
    pub fn finish_part(mut self, record: &BuildRecord, links: &PartLinks, sums: &str) -> Result<()> {
        let extents = self.flush()?;
        let named = extents.iter().map(|(name, bounds)| ((*name).to_owned(), *bounds)).collect();
        let links = PartLinks { extents: named, ..links.clone() };
        self.publish(record, &extents, Some((&links, sums)))
    }
    /// Writes the rows that wait; the boxes around those of tables with geometry.
    fn flush(&mut self) -> Result<Vec<(&'static str, Option<Bounds>)>> {
        self.segments.flush(&self.connection, &self.target)?;
        self.edges.flush(&self.connection, &self.target)?;
        self.nodes.flush(&self.connection, &self.target)?;
        self.way_nodes.flush(&self.connection, &self.target)?;
        self.overheads.flush(&self.connection, &self.target)?;
        self.lanes.flush(&self.connection, &self.target)?;
        self.runs.flush(&self.connection, &self.target)?;
        self.masks.flush(&self.connection, &self.target)?;
        self.end_masks.flush(&self.connection, &self.target)?;
        self.stops.flush(&self.connection, &self.target)?;
        self.outages.flush(&self.connection, &self.target)?;
        Ok(vec![
            (SegmentRow::TABLE.name, self.segments.bounds),
            (NodeRow::TABLE.name, self.nodes.bounds),
            (OverheadRow::TABLE.name, self.overheads.bounds),
            (StopRow::TABLE.name, self.stops.bounds),
            (OutageRow::TABLE.name, self.outages.bounds),
        ])
    }
    fn publish(
        self,
        record: &BuildRecord,
        extents: &[(&str, Option<Bounds>)],
        of_part: Option<(&PartLinks, &str)>,
    ) -> Result<()> {
        let failed = |e: rusqlite::Error| cannot_write(self.target.path(), &e);
        if let Some((links, sums)) = of_part {
            part::write(&self.connection, links, sums).map_err(failed)?;
        }
        complete(&self.connection, record, extents, of_part.is_none()).map_err(failed)?;
        let Self { connection, target, .. } = self;
        connection.close().map_err(|(_, e)| cannot_write(target.path(), &e))?;
        target.publish()
    }
}

/// The empty layer of a target, open for writing. The R-tree is filled with boxes known here: its triggers need the
/// geometry functions of a GIS, and are for programs that change the layer later.
pub(super) fn opened(target: &Target, tables: &[Table]) -> Result<Connection> {
    let temporary = target.temporary();
    let failed = |e: StepFailure| e.on(target.path(), temporary.parent().unwrap_or(temporary));
    container::create(temporary, tables).map_err(failed)?;
    let connection = container::open(temporary).map_err(|e| failed(e.into()))?;
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).map_err(|e| failed(e.into()))?;
    Ok(connection)
}

/// Everything that comes after the rows; ends the transaction. What is shown to people gets styles, and has names and water.
pub(super) fn complete(
    connection: &Connection,
    record: &BuildRecord,
    extents: &[(&str, Option<Bounds>)],
    shown: bool,
) -> rusqlite::Result<()> {
    let tables: &[Table] = if shown { &TABLES } else { PART_TABLES };
    create_indexes(connection, tables)?;
    for (table, bounds) in extents {
        let Some([west, east, south, north]) = bounds.map(Bounds::degrees) else { continue };
        connection.execute(
            "UPDATE gpkg_contents SET min_x = ?, max_x = ?, min_y = ?, max_y = ? WHERE table_name = ?",
            params![west, east, south, north, table],
        )?;
    }
    credit::write_record(connection, record)?;
    let date = metadata::write(connection, record, extents, tables)?;
    // Nobody looks at a part, and there may be thousands.
    if shown {
        style::write(connection, &record.profile.rating, &date)?;
    }
    // Of every table that is there.
    describe::write(connection)?;
    container::count_rows(connection)?;
    connection.execute_batch("COMMIT")
}

/// Ids and the stable key are unique; the other columns are looked up.
fn create_indexes(connection: &Connection, tables: &[Table]) -> rusqlite::Result<()> {
    let create = |kind: &str, table: &str, columns: &str| {
        let name = columns.replace(", ", "_");
        connection.execute_batch(&format!("CREATE {kind} {table}_{name} ON {table} ({columns})"))
    };
    for table in tables {
        create("UNIQUE INDEX", table.name, table.id)?;
        table.indexed.iter().try_for_each(|column| create("INDEX", table.name, column))?;
    }
    create("UNIQUE INDEX", SegmentRow::TABLE.name, STABLE_KEY)
}
