//! Rows of lanes, outages, masks, edges and nodes, and what joins them with those of other districts.
use super::ids::lowest;
use super::nodes;
use super::results::Results;
use crate::base::district::District;
use crate::base::error::Result;
use crate::base::index::{SegmentIndex, StrokeIndex};
use crate::base::words::{Case, Cause, Direction};
use crate::layer::LayerWriter;
use crate::layer::model::{EdgeRow, EndMaskRow, LaneRow, MaskRow};
use crate::layer::part::{CrossingEdge, FarNode, PartLinks, RunLink};
use crate::map::district::bundle::AROUND_M;
use crate::map::network::local;
use crate::map::network::model::{Edge, Network};
use crate::rating::lanes::directions;
use crate::rating::outages::OutageSources;

/// Stroke of every lane and its place in it.
fn steps(network: &Network) -> Vec<(StrokeIndex, u32)> {
    let mut out = vec![(StrokeIndex::new(0), 0); 2 * network.segments.len()];
    for (number, stroke) in StrokeIndex::numbered(&network.strokes) {
        for ((segment, direction), step) in stroke.steps.iter().zip(0..) {
            out[segment.lane(*direction).at()] = (number, step);
        }
    }
    out
}

impl Results<'_> {
    pub(super) fn write_masks(&self, id: SegmentIndex, writer: &mut LayerWriter) -> Result<()> {
        for direction in directions(&self.run.network.segments[id.at()]) {
            let lane = id.lane(direction);
            let Some(lane_sky) = &self.sky.lanes[lane.at()] else { continue };
            let (segment_id, lane_id) = (self.ids.segment(id), self.ids.lane(lane));
            let (forward, stations) = (direction == Direction::Forward, lane_sky.stations);
            for at in [Case::Best, Case::Worst].into_iter().filter(|_| lane_sky.apart()) {
                let packed = self.sky.spool.get(lane_sky.slots[at])?;
                let end_mask_id = EndMaskRow::id_of(lane_id, at);
                writer.end_masks(&EndMaskRow { end_mask_id, segment_id, forward, at, stations, packed })?;
            }
            let packed = self.sky.spool.get(lane_sky.slots.likely)?;
            writer.masks(&MaskRow { mask_id: lane_id, segment_id, forward, stations, packed })?;
        }
        Ok(())
    }

    /// Writes lanes and outages; notes what is driven before and after strokes.
    pub(super) fn write_strokes(
        &self,
        causes: &[Cause],
        writer: &mut LayerWriter,
        links: &mut PartLinks,
    ) -> Result<()> {
        let (network, roads, ids) = (self.run.network, &self.run.extract.roads, self.ids);
        // Segments of other districts are named by their index, and told apart by its sign.
        let id_of = |id: SegmentIndex| if ids.is_own(id) { ids.segment(id) } else { -id.row_id() };
        let sources = OutageSources {
            profile: self.run.profile,
            pieces: &self.run.pieces,
            strokes: &network.strokes,
            stats: self.by_stroke,
            causes,
            id_of: &id_of,
        };
        let outages = sources.find();
        let steps = steps(network);
        for row in ids.own().flat_map(|id| self.lane_rows(id, &steps)).map(|(lane, row)| {
            let from = outages.begun.get(&lane);
            let own = from.filter(|from| ids.is_own(from.segment())).map(|from| ids.lane(*from));
            let far = from.filter(|from| !ids.is_own(from.segment()));
            links.outage_begins.extend(far.map(|from| (row.lane_id, ids.lane_ref(network, roads, *from))));
            LaneRow { outage_from: own, ..row }
        }) {
            writer.lane(&row)?;
        }
        for mut row in outages.rows {
            if let Some(end) = SegmentIndex::of_row(-row.segment_to) {
                links.outage_ends.push((row.outage_id, ids.far(network, roads, end)));
                let stroke = &network.strokes[row.stroke as usize];
                row.segment_to = stroke.steps.last().map_or(row.segment_from, |(id, _)| ids.segment(*id));
            }
            writer.outage(&row)?;
            links.rows.outages += 1;
        }
        for (stroke, of) in (0..).zip(&network.strokes) {
            let before = (1..).zip(of.run_in.iter().rev()).map(|(nth, step)| (-nth, step));
            for (nth, (segment, direction)) in before.chain((1..).zip(&of.run_out)) {
                let lane = ids.lane_ref(network, roads, segment.lane(*direction));
                links.runs.push(RunLink { stroke, nth, lane });
            }
        }
        links.rows.strokes = network.strokes.len() as i64;
        Ok(())
    }

    /// Writes edges and where they begin and end.
    pub(super) fn write_edges(&self, writer: &mut LayerWriter, links: &mut PartLinks) -> Result<()> {
        let (network, roads, ids) = (self.run.network, &self.run.extract.roads, self.ids);
        let local = local::of_network(network, roads, &ids.district().reach(AROUND_M));
        for id in ids.edges() {
            let edge = &network.edges[id.at()];
            let row = EdgeRow { local: local[id.at()], ..self.edge(*id, edge) };
            if ids.crosses(edge) {
                links.crossing.push(self.crossing(edge, &row));
            }
            writer.edge(&row)?;
        }
        links.rows.edges = ids.own_edges() as i64;
        let nodes = nodes::rows(network, ids.edges().iter().map(|id| &network.edges[id.at()]));
        let (own, far): (Vec<_>, Vec<_>) = nodes.into_iter().partition(|n| District::of(n.at) == ids.district());
        links.rows.nodes = own.len() as i64;
        links.far_nodes = far.iter().map(|n| FarNode { district: District::of(n.at), node_id: n.node_id }).collect();
        own.iter().chain(&far).try_for_each(|row| writer.node(row))
    }

    /// What the segments here add to an edge that runs through several districts.
    fn crossing(&self, edge: &Edge, row: &EdgeRow) -> CrossingEdge {
        let (network, ids) = (self.run.network, self.ids);
        let own: Vec<usize> = (0..edge.segments.len()).filter(|at| ids.is_own(edge.segments[*at])).collect();
        let places = [own.first(), own.last()].map(|at| at.copied().unwrap_or(0));
        let segment = |at: usize| &network.segments[edge.segments[at].at()];
        let end = |at: usize, last: bool| {
            let line = &segment(at).line;
            line[if last == edge.direction.is_forward() { line.len() - 1 } else { 0 }]
        };
        CrossingEdge {
            way_id: row.way_id,
            part: lowest(edge).map_or(0, |s| network.segments[s.at()].part),
            forward: row.forward,
            edge_id: row.edge_id,
            segments: [edge.segments.len() as u32, own.len() as u32],
            places: places.map(|at| at as u32),
            ends: [end(places[0], false), end(places[1], true)],
            length_m: own.iter().map(|at| segment(*at).length_m).sum(),
            time_s: row.time_s,
            outage_s: row.outage_s,
            longest_outage_s: row.longest_outage_s,
            rating: row.rating,
        }
    }
}
