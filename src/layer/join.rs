//! Joins parts to a layer: rows are copied one district after another, and ids are given here.
//!
//! Every id is that of the part plus what the parts before it hold, so that the same parts give the same bytes, whoever made
//! them and in whichever order. Memory grows with what crosses the lines of districts and with named places, not with rows.
use std::path::Path;

use rusqlite::{Connection, params};

use super::backdrop_rows::BackdropSink;
use super::crossings::{EdgeTotal, Known, PartFile, find, sum};
use super::geometry::Bounds;
use super::model::{
    BuildRecord, EdgeRow, EndMaskRow, LaneRow, MaskRow, NodeRow, OutageRow, OverheadRow, RunRow, SegmentRow, StopRow,
    WayNodesRow,
};
use super::part::{LaneRef, PartLinks, RowCounts, SegmentRef};
use super::schema::{Row, TABLES, Table};
use super::target::Target;
use super::trouble::cannot_write;
use super::writer::{complete, opened};
use super::{backdrop_rows, columns, container, geometry, name_rows};
use crate::base::error::Result;

/// How much of its parts a joined layer holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum JoinedLayer {
    /// All of them.
    #[default]
    Whole,
    /// No sky masks, which are most of a layer: it cannot be rated again, nor asked for the sky of a place.
    WithoutMasks,
}

/// Nodes below this, which no map has, are where edges end that are not whole in a layer.
pub(crate) const FIRST_AT_RIM: i64 = -4_000_000_000_000_000;

/// Places to stop that are left out of a layer joined from some parts: their road is of a district that is not among them.
pub fn stops_left_out(parts: &[PartFile]) -> u64 {
    let there: std::collections::BTreeSet<_> = parts.iter().map(|part| part.links.district).collect();
    let roads = parts.iter().flat_map(|part| &part.links.stop_roads);
    roads.filter(|(_, far)| !there.contains(&far.district)).count() as u64
}

/// A layer that grows from parts. Dropped before [`LayerJoin::finish`], it leaves everything as it was.
pub struct LayerJoin {
    // Before the target: the connection must be closed when the file is removed.
    connection: Connection,
    target: Target,
    /// Boxes around the rows of the backdrop.
    backdrop: Vec<(&'static str, Option<Bounds>)>,
}

impl LayerJoin {
    /// Begins a layer that will appear at `path`; refuses what [`super::LayerWriter::create`] does.
    pub fn create(path: &Path, overwrite: bool) -> Result<Self> {
        let target = Target::reserve(path, overwrite)?;
        Ok(Self { connection: opened(&target, &TABLES)?, target, backdrop: Vec::new() })
    }

    /// Takes names of places and water, which no part holds.
    ///
    /// # Errors
    /// The layer cannot be written, or the error of `fill`.
    pub fn backdrop(&mut self, fill: impl FnOnce(&mut BackdropSink) -> Result<()>) -> Result<()> {
        self.backdrop = backdrop_rows::write(&self.connection, &self.target, fill)?.to_vec();
        Ok(())
    }

    /// Copies all parts, in the order of their districts, and lets the layer appear under its name. `step` is called after
    /// each part. The record learns how many edges the layer has.
    ///
    /// # Errors
    /// A part cannot be read, or the layer cannot be written.
    pub fn finish(self, parts: &[PartFile], record: &mut BuildRecord, how: JoinedLayer, step: &dyn Fn()) -> Result<()> {
        let mut known = find(parts)?;
        let failed = |e: rusqlite::Error| cannot_write(self.target.path(), &e);
        let all = parts.iter().fold(RowCounts::default(), |all, part| sum(&all, &part.links.rows));
        let mut before = RowCounts::default();
        let mut runs = 0;
        for part in parts {
            self.copy(part, &before, (&all, how), (&mut known, &mut runs)).map_err(failed)?;
            before = sum(&before, &part.links.rows);
            step();
        }
        let mut rim = (all.nodes + known.adopted_nodes, 0);
        for (id, total) in &known.totals {
            self.total(*id, total, &mut rim).map_err(failed)?;
        }
        let mut extents: Vec<(&str, Option<Bounds>)> =
            TABLES.iter().filter(|t| t.geometry.is_some()).map(|t| (t.name, extent(parts, t.name))).collect();
        // Parts have none of these.
        extents.retain(|(name, _)| self.backdrop.iter().all(|(own, _)| own != name));
        extents.extend(&self.backdrop);
        // With those of districts that are not here, which segments here belong to.
        if let Some(edges) = record.counts.get_mut("edges") {
            *edges = (all.edges + known.adopted_edges).unsigned_abs();
        }
        record.counts.insert("outages".to_owned(), all.outages.unsigned_abs());
        self.connection.execute_batch("BEGIN").map_err(failed)?;
        let names = name_rows::write(&self.connection, &self.target)?;
        record.counts.insert("names".to_owned(), names);
        complete(&self.connection, record, &extents, true).map_err(failed)?;
        let Self { connection, target, .. } = self;
        connection.close().map_err(|(_, e)| cannot_write(target.path(), &e))?;
        target.publish()
    }

    fn copy(
        &self,
        file: &PartFile,
        before: &RowCounts,
        (all, how): (&RowCounts, JoinedLayer),
        (known, runs): (&mut Known, &mut i64),
    ) -> rusqlite::Result<()> {
        let path = file.path.to_string_lossy();
        self.connection.execute("ATTACH DATABASE ? AS part", [path.as_ref()])?;
        self.connection.execute_batch("BEGIN")?;
        let links = &file.links;
        let edges = self.edges(links, before, all, known)?;
        self.rows(links, before, &edges)?;
        if how == JoinedLayer::Whole {
            self.masks(before)?;
        }
        self.nodes(links, before, all, known)?;
        self.links(links, before, known, runs)?;
        self.connection.execute_batch("COMMIT; DETACH DATABASE part")
    }

    /// Copies edges; the ids of those that run through several districts, by their ids in the part.
    fn edges(
        &self,
        links: &PartLinks,
        before: &RowCounts,
        all: &RowCounts,
        known: &mut Known,
    ) -> rusqlite::Result<Vec<(i64, i64)>> {
        let (own, shift) = (links.rows.edges, before.edges);
        copy_rows(
            &self.connection,
            &EdgeRow::TABLE,
            &[("fid", shift), ("edge_id", shift)],
            &format!("WHERE fid <= {own}"),
        )?;
        let mut ids = Vec::new();
        for edge in &links.crossing {
            let key = (edge.way_id, edge.part, edge.forward);
            let id = match known.edges.get(&key) {
                Some(id) => *id,
                None => {
                    known.adopted_edges += 1;
                    let id = all.edges + known.adopted_edges;
                    known.edges.insert(key, id);
                    let shift = id - edge.edge_id;
                    let only = format!("WHERE fid = {}", edge.edge_id);
                    copy_rows(&self.connection, &EdgeRow::TABLE, &[("fid", shift), ("edge_id", shift)], &only)?;
                    id
                }
            };
            known.totals.entry(id).and_modify(|total| total.add(edge)).or_insert_with(|| EdgeTotal::of(edge));
            if edge.edge_id > own {
                ids.push((edge.edge_id, id));
            }
        }
        Ok(ids)
    }

    /// Copies the rows whose ids are moved alike.
    fn rows(&self, links: &PartLinks, before: &RowCounts, edges: &[(i64, i64)]) -> rusqlite::Result<()> {
        let c = &self.connection;
        let RowCounts { segments, edges: of_edges, overheads, strokes, stops, outages, .. } = *before;
        let own = links.rows.edges;
        c.execute_batch(
            "DROP TABLE IF EXISTS temp.crossing; CREATE TEMP TABLE crossing (here INTEGER PRIMARY KEY, there INTEGER)",
        )?;
        for (here, there) in edges {
            c.execute("INSERT INTO temp.crossing VALUES (?, ?)", params![here, there])?;
        }
        let edge = |column: &str| {
            format!(
                "CASE WHEN {column} > {own} THEN (SELECT there FROM temp.crossing WHERE here = {column}) ELSE {column} + {of_edges} END"
            )
        };
        let moved = |by: i64, columns: &[&'static str]| -> Vec<(&'static str, String)> {
            columns.iter().map(|column| (*column, format!("{column} + {by}"))).collect()
        };
        let mut of_segments = moved(segments, &["fid", "segment_id"]);
        of_segments.extend([("edge_forward", edge("edge_forward")), ("edge_backward", edge("edge_backward"))]);
        copy(c, &SegmentRow::TABLE, &of_segments, "")?;
        copy_index(c, &SegmentRow::TABLE, segments, "")?;
        copy(c, &WayNodesRow::TABLE, &moved(segments, &["fid", "segment_id"]), "")?;
        let with_segment =
            |by: i64, id: &'static str| [moved(by, &["fid", id]), moved(segments, &["segment_id"])].concat();
        copy(c, &OverheadRow::TABLE, &with_segment(overheads, "overhead_id"), "")?;
        copy_index(c, &OverheadRow::TABLE, overheads, "")?;
        let of_lanes =
            [with_segment(2 * segments, "lane_id"), moved(strokes, &["stroke"]), moved(2 * segments, &["outage_from"])];
        copy(c, &LaneRow::TABLE, &of_lanes.concat(), "")?;
        copy(c, &StopRow::TABLE, &with_segment(stops, "stop_id"), "")?;
        copy_index(c, &StopRow::TABLE, stops, "")?;
        let ends = moved(segments, &["segment_from", "segment_to"]);
        copy(
            c,
            &OutageRow::TABLE,
            &[moved(outages, &["fid", "outage_id"]), moved(strokes, &["stroke"]), ends].concat(),
            "",
        )?;
        copy_index(c, &OutageRow::TABLE, outages, "")
    }

    fn masks(&self, before: &RowCounts) -> rusqlite::Result<()> {
        let segments = before.segments;
        for (table, id, by) in [(&MaskRow::TABLE, "mask_id", 2), (&EndMaskRow::TABLE, "end_mask_id", 4)] {
            let moved = [("fid", by * segments), (id, by * segments), ("segment_id", segments)];
            copy_rows(&self.connection, table, &moved, "")?;
        }
        Ok(())
    }

    /// Copies nodes, each once.
    fn nodes(&self, links: &PartLinks, before: &RowCounts, all: &RowCounts, known: &mut Known) -> rusqlite::Result<()> {
        let c = &self.connection;
        let (own, shift) = (links.rows.nodes, before.nodes);
        copy_rows(c, &NodeRow::TABLE, &[("fid", shift)], &format!("WHERE fid <= {own}"))?;
        copy_index(c, &NodeRow::TABLE, shift, &format!("WHERE id <= {own}"))?;
        for (fid, node) in (own + 1..).zip(&links.far_nodes) {
            if known.nodes.insert(*node) {
                known.adopted_nodes += 1;
                let shift = all.nodes + known.adopted_nodes - fid;
                copy_rows(c, &NodeRow::TABLE, &[("fid", shift)], &format!("WHERE fid = {fid}"))?;
                copy_index(c, &NodeRow::TABLE, shift, &format!("WHERE id = {fid}"))?;
            }
        }
        Ok(())
    }

    /// Fills in what rows name of other districts.
    fn links(&self, links: &PartLinks, before: &RowCounts, known: &Known, runs: &mut i64) -> rusqlite::Result<()> {
        let c = &self.connection;
        let RowCounts { segments, strokes, stops, outages, .. } = *before;
        let lane_id = |lane: &LaneRef| {
            let segment_id = match lane.segment {
                SegmentRef::Own(id) => Some(id + segments),
                SegmentRef::Far(far) => known.segments.get(&far).copied(),
            };
            segment_id.map(|id| 2 * id - i64::from(lane.forward))
        };
        for (outage_id, far) in &links.outage_ends {
            if let Some(id) = known.segments.get(far) {
                c.execute("UPDATE outages SET segment_to = ? WHERE fid = ?", params![id, outage_id + outages])?;
            }
        }
        for (own, lane) in &links.outage_begins {
            c.execute("UPDATE lanes SET outage_from = ? WHERE fid = ?", params![lane_id(lane), own + 2 * segments])?;
        }
        let insert = RunRow::TABLE.insert_sql();
        for run in &links.runs {
            if let Some(lane_id) = lane_id(&run.lane) {
                *runs += 1;
                c.execute(&insert, params![*runs, *runs, i64::from(run.stroke) + strokes, run.nth, lane_id])?;
            }
        }
        for (stop_id, far) in &links.stop_roads {
            match known.segments.get(far) {
                Some(id) => c.execute("UPDATE stops SET segment_id = ? WHERE fid = ?", params![id, stop_id + stops])?,
                // Its road is not in this layer, so that nobody gets there by it.
                None => {
                    let index = container::rtree_name(&StopRow::TABLE);
                    c.execute(&format!("DELETE FROM {index} WHERE id = ?"), [stop_id + stops])?;
                    c.execute("DELETE FROM stops WHERE fid = ?", [stop_id + stops])?
                }
            };
        }
        Ok(())
    }

    /// Figures of an edge are those of its segments in all districts. One that is not whole here ends at nodes of its own;
    /// `rim` counts the rows of nodes, and of those.
    fn total(&self, id: i64, total: &EdgeTotal, rim: &mut (i64, i64)) -> rusqlite::Result<()> {
        let [time_s, outage_s, longest_s] =
            [total.time_s, total.outage_s, total.longest_outage_s].map(columns::stored_seconds);
        self.connection.execute(
            "UPDATE edges SET time_s = ?, outage_s = ?, longest_outage_s = ?, rating = ? WHERE fid = ?",
            params![time_s, outage_s, longest_s, total.rating.code(), id],
        )?;
        let Some(cut) = total.cut() else { return Ok(()) };
        let length_m = columns::stored_metres(total.length_m);
        self.connection.execute("UPDATE edges SET length_m = ? WHERE fid = ?", params![length_m, id])?;
        for (column, at) in ["from_node", "to_node"].into_iter().zip(cut) {
            let Some(at) = at else { continue };
            rim.0 += 1;
            rim.1 += 1;
            let node_id = FIRST_AT_RIM - rim.1;
            let geometry = geometry::encode_point(at);
            self.connection.execute(&NodeRow::TABLE.insert_sql(), params![rim.0, geometry, node_id])?;
            let index = container::rtree_name(&NodeRow::TABLE);
            let (lon, lat) = (at.lon_deg(), at.lat_deg());
            self.connection
                .execute(&format!("INSERT INTO {index} VALUES (?, ?, ?, ?, ?)"), params![rim.0, lon, lon, lat, lat])?;
            self.connection.execute(&format!("UPDATE edges SET {column} = ? WHERE fid = ?"), params![node_id, id])?;
        }
        Ok(())
    }
}

/// The box around the rows of a table in all parts.
fn extent(parts: &[PartFile], table: &str) -> Option<Bounds> {
    let of_part =
        |part: &PartFile| part.links.extents.iter().find(|(name, _)| name == table).and_then(|(_, bounds)| *bounds);
    parts.iter().filter_map(of_part).reduce(Bounds::joined)
}

/// Copies rows of a table, some columns moved by a number.
fn copy_rows(c: &Connection, table: &Table, moved: &[(&'static str, i64)], only: &str) -> rusqlite::Result<()> {
    let moved: Vec<_> = moved.iter().map(|(column, by)| (*column, format!("{column} + {by}"))).collect();
    copy(c, table, &moved, only)
}

/// Copies rows of a table in their order, some columns by an expression.
fn copy(c: &Connection, table: &Table, changed: &[(&'static str, String)], only: &str) -> rusqlite::Result<()> {
    let names = table.names();
    let value = |name: &&str| {
        changed.iter().find(|(column, _)| column == name).map_or((*name).to_owned(), |(_, sql)| sql.clone())
    };
    let values: Vec<String> = names.iter().map(value).collect();
    let sql = format!(
        "INSERT INTO main.{0} ({1}) SELECT {2} FROM part.{0} {only} ORDER BY fid",
        table.name,
        names.join(", "),
        values.join(", ")
    );
    c.execute(&sql, [])?;
    Ok(())
}

/// Copies the boxes of rows.
fn copy_index(c: &Connection, table: &Table, shift: i64, only: &str) -> rusqlite::Result<()> {
    let index = container::rtree_name(table);
    let sql = format!(
        "INSERT INTO main.{index} (id, minx, maxx, miny, maxy) SELECT id + {shift}, minx, maxx, miny, maxy FROM part.{index} \
         {only} ORDER BY id"
    );
    c.execute(&sql, [])?;
    Ok(())
}
