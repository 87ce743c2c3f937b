//! Rows of the layer from what the stages found.
use std::collections::BTreeSet;

use super::caster::LaneSky;
use super::record;
use super::results::Results;
use crate::base::error::Result;
use crate::base::geodesy::{Position, length_m};
use crate::base::index::{EdgeIndex, LaneIndex, SegmentIndex, StrokeIndex};
use crate::base::words::{
    BlockerEvidence, Cause, Direction, Evidence, Highway, Overhang, PerDirection, TerrainEvidence,
};
use crate::layer::LayerWriter;
use crate::layer::model::{BuildRecord, EdgeRow, LaneRow, OverheadRow, SegmentRow, StopRow, WayNode, WayNodesRow};
use crate::layer::part::PartLinks;
use crate::map::extract::model::Road;
use crate::map::network::model::{Edge, Segment, Stroke};
use crate::map::network::surface::unpaved;
use crate::physics::scene::overheads::prisms;
use crate::physics::scene::trees::crown::HeightFrom;
use crate::rating::lanes::directions;
use crate::rating::outages::note_causes;
use crate::rating::overheads::listed;
use crate::rating::summary;
use crate::rating::verdict::{Judged, NO_CAUSE_BELOW, Verdicts, agree, leave_worst_unknown};

/// Crowns hang over a segment where they do over one station in this many; assumed.
const CROWNS_OVER_ONE_IN: u32 = 10;
/// Pixels are coarse for a segment where one station in this many stands beside ground that may hide a rock face; assumed.
const COARSE_ONE_IN: u32 = 10;

/// Writes every row of the district that is rated, and adds counts and kilometres to the record; what joins them with those of
/// other districts.
pub fn write(results: &Results, writer: &mut LayerWriter, record: &mut BuildRecord) -> Result<PartLinks> {
    let (run, ids) = (results.run, results.ids);
    let (network, roads) = (run.network, &run.extract.roads);
    let mut links = PartLinks::of(ids.district());
    let beside_unknown = results.beside_unknown();
    let mut causes = vec![Cause::None; 2 * network.segments.len()];
    for id in results.driven() {
        let mut row = results.segment(id);
        note_causes(&mut causes, id, &row);
        if !ids.is_own(id) {
            continue;
        }
        if beside_unknown.contains(&id) {
            row.evidence = Evidence::Unknown;
            leave_worst_unknown(&mut row);
        }
        summary::count_segment(record, &row);
        summary::count_chance(record, &row, results.verdicts().is_by_chance(&results.judged(id)));
        writer.segment(&row)?;
        writer.way_nodes(&results.way_nodes(id))?;
        for row in results.overhead_rows(id) {
            links.rows.overheads += 1;
            writer.overhead(&OverheadRow { overhead_id: links.rows.overheads, ..row })?;
        }
        results.write_masks(id, writer)?;
    }
    links.rows.segments = ids.own().count() as i64;
    results.write_strokes(&causes, writer, &mut links)?;
    results.write_edges(writer, &mut links)?;
    for row in &results.sky.stops {
        let road = SegmentIndex::of_row(row.segment_id);
        let far = road.filter(|id| !ids.is_own(*id)).map(|id| ids.far(network, roads, id));
        links.stop_roads.extend(far.map(|far| (row.stop_id, far)));
        writer.stop(&StopRow { segment_id: road.map_or(0, |id| ids.segment(id)), ..row.clone() })?;
    }
    links.rows.stops = results.sky.stops.len() as i64;
    record::count(record, results, ids, links.rows.overheads as u64);
    Ok(links)
}

impl Results<'_> {
    /// Segments of the district and those that are driven before and after its strokes.
    fn driven(&self) -> BTreeSet<SegmentIndex> {
        let strokes = self.run.network.strokes.iter();
        strokes.flat_map(Stroke::driven).map(|(segment, _)| *segment).chain(self.ids.own()).collect()
    }

    fn road(&self, segment: &Segment) -> &Road {
        &self.run.extract.roads[segment.road.at()]
    }
    fn verdicts(&self) -> Verdicts<'_> {
        Verdicts { stats: self.stats, profile: self.run.profile, skies: self.skies }
    }
    fn judged(&self, id: SegmentIndex) -> Judged<'_> {
        let segment = &self.run.network.segments[id.at()];
        Judged {
            id,
            piece: &self.run.pieces[id.at()],
            edges: PerDirection {
                forward: segment.edge_forward.map(|edge| self.ids.edge(edge)),
                backward: segment.edge_backward.map(|edge| self.ids.edge(edge)),
            },
            speeds_from: [segment.speed_forward_kmh.from, segment.speed_backward_kmh.from],
        }
    }

    fn segment(&self, id: SegmentIndex) -> SegmentRow {
        let segment = &self.run.network.segments[id.at()];
        let road = self.road(segment);
        let mut row = SegmentRow {
            segment_id: self.ids.segment(id),
            way_id: road.id,
            part: segment.part,
            name: road.name.as_ref().map(ToString::to_string),
            reference: road.reference.as_ref().map(ToString::to_string),
            highway: Highway::of(road.class, road.link),
            lanes: segment.section.lanes.value,
            lanes_from: segment.section.lanes.from,
            width_m: f64::from(segment.section.width_m.value),
            width_from: segment.section.width_m.from,
            keeps: segment.section.side,
            keeps_from: segment.keeps_from,
            country: segment.country.map(|c| c.code().to_owned()),
            length_m: segment.length_m,
            line: segment.line.clone(),
            ..SegmentRow::default()
        };
        self.verdicts().fill(&mut row, &self.judged(id), &|lane| self.sky.lanes[lane.at()].map(|l| l.shares));
        self.fill_clearance(&mut row, road, id);
        self.fill_evidence(&mut row, id);
        if row.evidence == Evidence::Unknown {
            leave_worst_unknown(&mut row);
        }
        row
    }

    /// The map's nodes along a segment.
    fn way_nodes(&self, id: SegmentIndex) -> WayNodesRow {
        let nodes = self.run.network.segments[id.at()].nodes.iter();
        let nodes = nodes.map(|node| WayNode { vertex: node.vertex, id: node.id }).collect();
        WayNodesRow { segment_id: self.ids.segment(id), nodes }
    }

    /// Segments driven just before or after one where a cause could not be known: what may stand there is seen from their end
    /// as well, and an outage that it makes runs on into them.
    fn beside_unknown(&self) -> BTreeSet<SegmentIndex> {
        let is_unknown = |id: &SegmentIndex| self.segment(*id).evidence == Evidence::Unknown;
        let unknown: BTreeSet<SegmentIndex> = self.driven().into_iter().filter(is_unknown).collect();
        let mut beside = BTreeSet::new();
        for stroke in &self.run.network.strokes {
            for ((a, _), (b, _)) in stroke.driven().zip(stroke.driven().skip(1)) {
                beside.extend(unknown.contains(a).then_some(*b));
                beside.extend(unknown.contains(b).then_some(*a));
            }
        }
        beside
    }

    /// Posted clearance, and what hangs too low.
    fn fill_clearance(&self, row: &mut SegmentRow, road: &Road, id: SegmentIndex) {
        let segment = &self.run.network.segments[id.at()];
        row.maxheight_m = clearance_m(road);
        let too_low = row.maxheight_m.is_some_and(|m| m < self.run.profile.vehicle.vehicle_height_m);
        let mut lanes = directions(segment).filter_map(|d| self.sky.lanes[id.lane(d).at()]);
        let crowns = lanes.any(|l| l.crowns_over * CROWNS_OVER_ONE_IN >= l.stations);
        row.overhang = too_low || crowns;
        row.overhang_reason = Overhang::of(crowns, too_low);
    }

    fn fill_evidence(&self, row: &mut SegmentRow, id: SegmentIndex) {
        let segment = &self.run.network.segments[id.at()];
        let lanes: Vec<LaneSky> = directions(segment).filter_map(|d| self.sky.lanes[id.lane(d).at()]).collect();
        if lanes.is_empty() {
            // Its class decides, whatever stands around it.
            row.evidence_terrain = TerrainEvidence::Map;
            (row.evidence_canopy, row.evidence_building) = (BlockerEvidence::Map, BlockerEvidence::Map);
            row.evidence = Evidence::Data;
            return;
        }
        let (all, elevated) = lanes.iter().fold((0, 0), |(a, e), l| (a + l.stations, e + l.elevated));
        let coarse: u32 = lanes.iter().map(|l| l.coarse).sum();
        // Voids hide of what is seen from stations with elevation; the others know nothing.
        let voids = lanes.iter().map(|l| l.void_share * f64::from(l.stations)).sum::<f64>() / f64::from(all.max(1));
        row.terrain_unknown_share = (voids + f64::from(all - elevated) / f64::from(all.max(1))).min(1.0);
        row.terrain_coarse_share = f64::from(coarse) / f64::from(all.max(1));
        row.evidence_terrain = match elevated {
            0 => TerrainEvidence::None,
            n if n < all || row.terrain_unknown_share >= NO_CAUSE_BELOW => TerrainEvidence::Part,
            _ if coarse * COARSE_ONE_IN >= all => TerrainEvidence::Coarse,
            _ => TerrainEvidence::Raster,
        };
        let tops = lanes.iter().all(|l| l.on_surface == l.stations);
        row.evidence_canopy = match elevated {
            _ if tops => BlockerEvidence::Raster,
            0 if row.blocked_canopy > 0.0 && self.is_long_bridge(segment) => BlockerEvidence::Unknown,
            _ => self.canopy_evidence(segment, &lanes, all),
        };
        let may_hide = lanes.iter().map(|l| l.solids_may_hide).fold(0.0, f64::max);
        let shown = lanes.iter().map(|l| l.solids_shown).sum::<u32>() == all;
        let mapped = shown || self.run.beside.neighbourhood.buildings_mapped(segment.middle());
        row.evidence_building = match () {
            () if tops || row.blocked_building == 0.0 && shown => BlockerEvidence::Raster,
            () if !mapped => BlockerEvidence::Unknown,
            () if lanes.iter().any(|l| l.solids_assumed) || may_hide >= NO_CAUSE_BELOW => BlockerEvidence::Default,
            () if row.blocked_building == 0.0 => BlockerEvidence::Map,
            () if lanes.iter().any(|l| l.solids_measured) => BlockerEvidence::Raster,
            () => BlockerEvidence::Tag,
        };
        row.evidence = overall(row, may_hide);
    }

    /// Whether a segment is on a bridge of which nobody knows how high it stands above the trees beside it, should there be
    /// no elevation.
    fn is_long_bridge(&self, segment: &Segment) -> bool {
        let line: Vec<Position> = self.road(segment).nodes.iter().map(|n| n.at).collect();
        segment.bridge && length_m(&line) > self.run.profile.canopy.low_bridge_m
    }

    /// What the canopy answer of a segment with `stations` is based on: the weakest of what blocks.
    fn canopy_evidence(&self, segment: &Segment, lanes: &[LaneSky], stations: u32) -> BlockerEvidence {
        let shown: u32 = lanes.iter().map(|l| l.canopy_shown).sum();
        let mapped = self.run.beside.neighbourhood.trees_mapped(segment.middle());
        match lanes.iter().filter_map(|l| l.canopy_from).min() {
            Some(HeightFrom::Tag | HeightFrom::Default) if !mapped => BlockerEvidence::Unknown,
            None if !mapped && shown < stations => BlockerEvidence::Unknown,
            Some(HeightFrom::Default) => BlockerEvidence::Default,
            Some(HeightFrom::Tag) => BlockerEvidence::Tag,
            Some(HeightFrom::Raster) => BlockerEvidence::Raster,
            None if shown == stations && stations > 0 => BlockerEvidence::Raster,
            // A height nobody measured may be why the sky is open.
            None if lanes.iter().any(|l| l.canopy_may_from == Some(HeightFrom::Default)) => BlockerEvidence::Default,
            None => BlockerEvidence::Map,
        }
    }

    fn overhead_rows(&self, id: SegmentIndex) -> Vec<OverheadRow> {
        let segment = &self.run.network.segments[id.at()];
        let (own, piece) = (&self.overheads.own, &self.run.pieces[id.at()]);
        let row = |(lane, i): (LaneIndex, usize)| {
            let o = &own[lane.at()][i];
            OverheadRow {
                overhead_id: 0,
                segment_id: self.ids.segment(id),
                kind: o.kind,
                osm_id: o.osm_id,
                name: self.overheads.names.get(&o.osm_id).cloned(),
                deck_width_m: o.deck_width_m,
                covered_m: o.end_m - o.start_m,
                underside_m: o.underside_above_road_m,
                underside_from: o.underside_from,
                maxheight_m: self.road(segment).maxheight_m.map(f64::from),
                half_shadow_s: self.verdicts().shadow_s(self.skies, piece, lane, &own[lane.at()], i),
                at: self.overheads.at[lane.at()][i],
            }
        };
        listed(id, segment.length_m, directions(segment), own).into_iter().map(row).collect()
    }

    /// Rows of the directions of a segment; `steps` tells the stroke of every lane and its place in it.
    pub(super) fn lane_rows(&self, id: SegmentIndex, steps: &[(StrokeIndex, u32)]) -> Vec<(LaneIndex, LaneRow)> {
        let (judged, piece) = (self.judged(id), &self.run.pieces[id.at()]);
        let row = |direction: Direction| {
            let lane = id.lane(direction);
            let backward = usize::from(direction == Direction::Backward);
            let (stroke, step) = steps[lane.at()];
            let own = &self.overheads.own[lane.at()];
            let row = LaneRow {
                lane_id: self.ids.lane(lane),
                segment_id: self.ids.segment(id),
                forward: direction == Direction::Forward,
                stroke: stroke.row_number(),
                step,
                road_kmh: f64::from(piece.speeds_kmh[backward]),
                road_kmh_from: judged.speeds_from[backward],
                climb: piece.climb_in(direction),
                overheads: if own.is_empty() { None } else { Some(prisms::pack(own)) },
                outage_from: None,
            };
            (lane, row)
        };
        judged.directions().map(row).collect()
    }

    pub(super) fn edge(&self, id: EdgeIndex, edge: &Edge) -> EdgeRow {
        let road = &self.run.extract.roads[edge.road.at()];
        let unpaved = unpaved(road);
        let mut row = EdgeRow {
            edge_id: self.ids.edge(id),
            from_node: edge.from_node,
            to_node: edge.to_node,
            way_id: road.id,
            forward: edge.direction == Direction::Forward,
            length_m: edge.length_m,
            highway: Highway::of(road.class, road.link),
            access: road.access,
            unpaved: unpaved.value,
            unpaved_from: unpaved.from,
            maxheight_m: clearance_m(road),
            ..EdgeRow::default()
        };
        self.verdicts().fill_edge(&mut row, &self.ids.own_of(edge), &self.run.pieces);
        row
    }
}

/// Lowest posted or measured clearance, metres.
fn clearance_m(road: &Road) -> Option<f64> {
    [road.maxheight_m, road.maxheight_physical_m].into_iter().flatten().map(f64::from).reduce(f64::min)
}

/// Whether a rating is based on data, on defaults that matter to it, or leaves out what is not known.
fn overall(row: &SegmentRow, buildings_may_hide: f64) -> Evidence {
    // A height nobody measured may be why the sky is blocked, and as well why it is open.
    let by_building = row.blocked_building.max(buildings_may_hide);
    let blockers = [(row.evidence_canopy, row.blocked_canopy), (row.evidence_building, by_building)];
    let unknown = blockers.iter().any(|(evidence, _)| *evidence == BlockerEvidence::Unknown);
    let assumed = |(evidence, blocked): &(BlockerEvidence, f64)| {
        *evidence == BlockerEvidence::Default && *blocked >= NO_CAUSE_BELOW
    };
    if unknown || row.evidence_terrain.is_unknown() {
        Evidence::Unknown
    } else if row.evidence_terrain == TerrainEvidence::Coarse || blockers.iter().any(assumed) || !agree(row) {
        Evidence::Default
    } else {
        Evidence::Data
    }
}
