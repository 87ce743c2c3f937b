//! Joins layers to one that is there for one run only.
use std::collections::{BTreeSet, HashMap};
use std::path::{Path, PathBuf};

use super::alike::check;
use super::beside::{backdrop, overheads, stops, stops_of};
use super::edges::EdgeCounts;
use super::links::LayerLinks;
use super::outages::{StrokeNumbers, outages};
use super::piece::OverlapTally;
use super::placed::{JoinedLane, PlacedRows};
use super::record::{name, of_gap, of_masks, of_overlap, of_rim, record, rests_on};
use super::ways::{JoinedWay, joined_way};
use crate::base::error::Result;
use crate::base::index::JunctionIndex;
use crate::base::words::{InputRole, RoadAccess};
use crate::layer::model::{BuildRecord, EdgeRow, LaneRow, OutageRow, OverheadRow, SegmentRow, WayNodesRow};
use crate::layer::{Bounds, FIRST_AT_RIM, Layer, LayerWriter, LentMasks};
use crate::map::network::local::{JunctionPair, local};
use crate::rating::summary::{count_segment, round_km};

/// Layers joined to one.
pub struct JoinedLayers {
    /// The one that is asked. Its file is gone when this is dropped.
    pub layer: Layer,
    /// What is said with every answer.
    pub told: Vec<String>,
    /// What is said where places to stop are listed.
    pub of_stops: Vec<String>,
    /// What is said where meetings are held.
    pub of_masks: Vec<String>,
}

/// Joins layers: at nodes of the map that have the same id, and where the line of a district cuts a road. `boxes` are where rows
/// are asked for; without any all are joined. The file lies in `folder`.
///
/// # Errors
/// Layers that cannot be asked together, one that cannot be read, or a folder that cannot be written.
pub fn joined(layers: Vec<Layer>, boxes: Option<&[Bounds]>, folder: &Path) -> Result<JoinedLayers> {
    let mut told = vec![rests_on(&layers)];
    told.extend(check(&layers)?);
    let mut work = JoinWork {
        writer: LayerWriter::create_held(folder).map_err(|e| match e.exit_code() {
            // Trying again may help: a full disk.
            3 => e,
            _ => e.with_next("layers asked together need a folder for a temporary file: name one in TMPDIR"),
        })?,
        layers: &layers,
        boxes,
        record: record(&layers),
        placed: PlacedRows::default(),
        links: LayerLinks::new(layers.len()),
        counts: EdgeCounts::default(),
        tally: OverlapTally::default(),
        overheads: 0,
        held: leads_on(&layers, boxes).then(Vec::new),
    };
    for way_id in work.wanted()? {
        work.way(way_id)?;
    }
    work.finish_edges()?;
    work.lanes()?;
    work.beside()?;
    if boxes.is_some() {
        work.links.look_farther(&layers)?;
    }
    told.extend(of_overlap(&work.tally));
    told.extend(of_gap(&layers, &work.links.apart()));
    let mut bare = Vec::new();
    for layer in &layers {
        if !layer.has_masks()? {
            bare.push(of_masks(layer));
        }
    }
    let of_stops = of_rim(&layers);
    let JoinWork { writer, mut record, placed, .. } = work;
    round_km(&mut record);
    record.assumed.extend(told.iter().map(|sentence| format!("this layer {sentence}")).take(1));
    record.assumed.extend(told.iter().skip(1).cloned());
    let rows = placed.ids().map(|id| placed.piece(id).filter(|p| p.is_whole).map(|p| (p.taken.layer, p.taken.id)));
    let rows = rows.collect();
    let shown = PathBuf::from(layers.iter().map(name).collect::<Vec<_>>().join(" with "));
    let layer = writer.finish_held(&record, &shown, LentMasks::new(layers, rows))?;
    Ok(JoinedLayers { layer, told, of_stops, of_masks: bare })
}

/// Whether roads that led nowhere in one layer may lead on in another: not where all are of one extract, which was looked at as a
/// whole, and not where only some roads are joined.
fn leads_on(layers: &[Layer], boxes: Option<&[Bounds]>) -> bool {
    let extracts = layers.iter().flat_map(|l| &l.record().inputs).filter(|i| i.role == InputRole::Extract);
    boxes.is_none() && extracts.map(|i| i.sha256.as_str()).collect::<BTreeSet<_>>().len() > 1
}

struct JoinWork<'a> {
    writer: LayerWriter,
    layers: &'a [Layer],
    boxes: Option<&'a [Bounds]>,
    record: BuildRecord,
    placed: PlacedRows,
    links: LayerLinks,
    counts: EdgeCounts,
    tally: OverlapTally,
    overheads: i64,
    /// Edges that wait until it is known where all lead; nothing where they are written at once.
    held: Option<Vec<EdgeRow>>,
}

impl JoinWork<'_> {
    /// Ids of the ways that are joined: whole ways that meet the boxes, those of places to stop there, and those with which an
    /// outage begins that runs there.
    fn wanted(&self) -> Result<BTreeSet<i64>> {
        let mut ways = BTreeSet::new();
        for layer in self.layers {
            ways.extend(match self.boxes {
                None => layer.way_ids()?,
                Some(boxes) => layer.ways_met(boxes)?,
            });
        }
        if self.boxes.is_none() {
            return Ok(ways);
        }
        let mut more = BTreeSet::new();
        for layer in self.layers {
            let mut segments: BTreeSet<i64> = stops_of(layer, self.boxes)?.iter().map(|s| s.segment_id).collect();
            for way in &ways {
                for row in layer.segments_of_way(*way)? {
                    let begun = layer.lanes_of(row.segment_id)?.into_iter().filter_map(|lane| lane.outage_from);
                    segments.extend(begun.map(|lane| JoinedLane::of_id(lane).segment));
                }
            }
            for id in segments {
                more.extend(layer.segment(id)?.map(|row| row.way_id));
            }
        }
        ways.extend(more);
        Ok(ways)
    }

    fn way(&mut self, way_id: i64) -> Result<()> {
        let JoinedWay { pieces, edges, nodes } = joined_way(self.layers, way_id, (&mut self.counts, &mut self.tally))?;
        let ids: Vec<i64> = pieces.iter().map(|piece| self.placed.add(piece)).collect();
        for (piece, segment_id) in pieces.iter().zip(&ids) {
            let row = SegmentRow { segment_id: *segment_id, ..piece.row.clone() };
            count_segment(&mut self.record, &row);
            self.writer.segment(&row)?;
            self.writer.way_nodes(&WayNodesRow { segment_id: *segment_id, nodes: piece.nodes.clone() })?;
        }
        for row in overheads(self.layers, &pieces, &ids)? {
            self.overheads += 1;
            self.writer.overhead(&OverheadRow { overhead_id: self.overheads, ..row })?;
        }
        for node in self.links.note(&pieces, nodes) {
            self.writer.node(&node)?;
        }
        match &mut self.held {
            Some(held) => held.extend(edges),
            None => edges.iter().try_for_each(|edge| self.writer.edge(edge))?,
        }
        Ok(())
    }

    /// Writes the edges that waited. One that led nowhere in its own layer leads on where the layers together show it.
    fn finish_edges(&mut self) -> Result<()> {
        let Some(edges) = self.held.take() else { return Ok(()) };
        let outside = JunctionIndex::new(0);
        let mut numbers: HashMap<i64, JunctionIndex> = HashMap::new();
        let mut number = |node: i64| {
            let next = JunctionIndex::new(numbers.len() + 1);
            if node < FIRST_AT_RIM { outside } else { *numbers.entry(node).or_insert(next) }
        };
        let pair = |e: &EdgeRow| JunctionPair {
            from: number(e.from_node),
            to: number(e.to_node),
            open: e.access == RoadAccess::Open,
        };
        let pairs: Vec<JunctionPair> = edges.iter().map(pair).collect();
        let leads_out = pairs.iter().any(|p| p.from == outside || p.to == outside).then_some(outside);
        let together = local(numbers.len() + 1, &pairs, leads_out);
        for (edge, together) in edges.into_iter().zip(together) {
            self.writer.edge(&EdgeRow { local: edge.local && together, ..edge })?;
        }
        Ok(())
    }

    /// Writes directions of travel and outages.
    fn lanes(&mut self) -> Result<()> {
        let (layers, placed) = (self.layers, &self.placed);
        let mut strokes = StrokeNumbers::default();
        let found = outages(layers, placed, &mut strokes)?;
        for (outage_id, outage) in (1..).zip(found.rows.values()) {
            self.writer.outage(&OutageRow { outage_id, ..outage.clone() })?;
        }
        let begins = found.begins(layers, placed, self.record.profile.rating.steady_outage_s)?;
        for segment_id in placed.ids() {
            let Some(piece) = placed.piece(segment_id) else { continue };
            for lane in layers[piece.taken.layer].lanes_of(piece.taken.id)? {
                let own = JoinedLane { segment: segment_id, forward: lane.forward };
                let stroke = strokes.of(piece.taken.layer, lane.stroke);
                // Where they stand is measured from the start of the row that was cut.
                let overheads = lane.overheads.filter(|_| piece.is_whole);
                let outage_from = begins.get(&own).map(|from| from.id());
                let row = LaneRow { lane_id: own.id(), segment_id, stroke, overheads, outage_from, ..lane };
                self.writer.lane(&row)?;
            }
        }
        self.count("outages", found.rows.len() as u64);
        Ok(())
    }

    /// Writes what lies beside roads, and counts all rows.
    fn beside(&mut self) -> Result<()> {
        let stops = stops(self.layers, self.boxes, &self.placed)?;
        stops.iter().try_for_each(|stop| self.writer.stop(stop))?;
        self.count("stops", stops.len() as u64);
        let [places, ground, lines] = backdrop(self.layers, self.boxes, &mut self.writer)?;
        let segments = self.placed.ids().count() as u64;
        for (what, rows) in [
            ("places", places),
            ("ground", ground),
            ("ground lines", lines),
            ("segments", segments),
            ("edges", self.counts.edges.unsigned_abs()),
            ("overheads", self.overheads.unsigned_abs()),
        ] {
            self.count(what, rows);
        }
        Ok(())
    }

    fn count(&mut self, what: &str, rows: u64) {
        self.record.counts.insert(what.to_owned(), rows);
    }
}
