//! Rows of the layer from what the stages found.
use super::drives::{Skies, driven_kmh};
use super::lanes::{directions, lane, of_lane};
use super::masks::{LaneSky, SkyOfAll};
use super::overheads::Overheads;
use super::{Run, record};
use crate::error::Result;
use crate::extract::model::Road;
use crate::layer::LayerWriter;
use crate::layer::model::{BuildRecord, EdgeRow, MaskRow, OverheadRow, SegmentRow};
use crate::link::model::BreakStats;
use crate::link::rating::{Rating, rating};
use crate::network::model::{Direction, Edge, Segment};
use crate::scene::canopy::HeightFrom;
use crate::scene::overhead::Overhead;
use crate::scene::overheads::centre_m;
use crate::sky::half_shadow::half_shadow_m;
use crate::sky::shares::Shares;

/// Blocked below this share in all names no main cause where the segment is steady all the same.
const NO_CAUSE_BELOW: f64 = 0.01;
/// Crowns close over a narrow road where they block more than this share of the usable sky; assumed.
const CROWNS_CLOSE_ABOVE: f64 = 0.2;

/// What all stages found.
pub struct Results<'a> {
    /// Inputs of the stages.
    pub run: &'a Run<'a>,
    /// What stands over every lane.
    pub overheads: &'a Overheads,
    /// Sky of every lane.
    pub sky: &'a SkyOfAll,
    /// Skies by latitude.
    pub skies: &'a Skies,
    /// Break statistics of every lane.
    pub stats: &'a [BreakStats],
    /// Elevation is that of a surface: trees and buildings are in it.
    pub tops: bool,
}

/// Writes every row and the record, which it completes with counts and kilometres.
pub fn write(results: &Results, mut writer: LayerWriter, record: &mut BuildRecord) -> Result<()> {
    let network = results.run.network;
    let mut overheads = 0;
    for id in 0..network.segments.len() as u32 {
        let row = results.segment(id);
        record::count_segment(record, &row);
        writer.segment(&row)?;
        for (row, n) in results.overhead_rows(id).into_iter().zip(overheads + 1..) {
            writer.overhead(&OverheadRow { overhead_id: n, ..row })?;
            overheads = n;
        }
        for direction in directions(&network.segments[id as usize]) {
            if let Some(lane_sky) = &results.sky.lanes[lane(id, direction)] {
                writer.masks(&MaskRow {
                    segment_id: segment_id(id),
                    forward: direction == Direction::Forward,
                    stations: lane_sky.stations,
                    packed: results.sky.spool.get(lane_sky.slot)?,
                })?;
            }
        }
    }
    for (i, edge) in network.edges.iter().enumerate() {
        writer.edge(&results.edge(i as i64 + 1, edge))?;
    }
    record::finish(record, results, overheads as u64);
    writer.finish(record)
}

/// Feature id of a segment.
fn segment_id(index: u32) -> i64 {
    i64::from(index) + 1
}

impl Results<'_> {
    fn road(&self, segment: &Segment) -> &Road {
        &self.run.extract.roads[segment.road as usize]
    }
    fn rating(&self, lane: usize) -> Rating {
        let s = &self.stats[lane];
        rating(s.break_p95_s, s.down_share, s.down_share_window, &self.run.profile.rating)
    }
    /// The lane that decides: the worse rating, then the larger down share.
    fn worse(&self, id: u32) -> usize {
        let lanes = directions(&self.run.network.segments[id as usize]).map(|d| lane(id, d));
        lanes
            .max_by(|a, b| {
                let by_share = self.stats[*a].down_share.total_cmp(&self.stats[*b].down_share);
                self.rating(*a).code().cmp(&self.rating(*b).code()).then(by_share).then(b.cmp(a))
            })
            .unwrap_or(lane(id, Direction::Forward))
    }

    fn segment(&self, id: u32) -> SegmentRow {
        let segment = &self.run.network.segments[id as usize];
        let (road, worse) = (self.road(segment), self.worse(id));
        let (_, direction) = of_lane(worse);
        let stats = &self.stats[worse];
        let no_sky = Shares { cover: 1.0, ..Shares::default() };
        let shares = self.sky.lanes[worse].map_or(no_sky, |l| l.shares);
        let speed =
            if direction == Direction::Forward { segment.speed_forward_kmh } else { segment.speed_backward_kmh };
        let rated = self.rating(worse);
        let code = |d| segment.driven(d).then(|| self.rating(lane(id, d)).code());
        let mut row = SegmentRow {
            segment_id: segment_id(id),
            way_id: road.id,
            part: segment.part,
            edge_forward: segment.edge_forward.map(|e| i64::from(e) + 1),
            edge_backward: segment.edge_backward.map(|e| i64::from(e) + 1),
            name: road.name.as_ref().map(ToString::to_string),
            reference: road.reference.as_ref().map(ToString::to_string),
            highway: format!("{}{}", road.class.name(), if road.link { "_link" } else { "" }),
            lanes: segment.section.lanes.value,
            lanes_from: segment.section.lanes.from.name(),
            width_m: f64::from(segment.section.width_m.value),
            width_from: segment.section.width_m.from.name(),
            speed_kmh: driven_kmh(segment, direction, self.run.profile),
            speed_from: speed.from.name(),
            length_m: segment.length_m,
            rating: rated.code(),
            rating_name: rated.name(),
            rating_forward: code(Direction::Forward),
            rating_backward: code(Direction::Backward),
            open_share: shares.open,
            open_share_min: shares.open_min,
            down_share: stats.down_share,
            breaks_per_10km: stats.breaks_per_10km,
            break_p50_s: stats.break_p50_s,
            break_p95_s: stats.break_p95_s,
            longest_break_s: stats.longest_break_s,
            main_cause: main_cause(&shares, rated == Rating::Steady),
            line: segment.line.clone(),
            ..SegmentRow::default()
        };
        self.fill_directions(&mut row, id);
        fill_blocked(&mut row, &shares);
        self.fill_clearance(&mut row, road, segment);
        self.fill_evidence(&mut row, id);
        row
    }

    /// Figures of each direction of its own, for questions about a drive.
    fn fill_directions(&self, row: &mut SegmentRow, id: u32) {
        let segment = &self.run.network.segments[id as usize];
        for d in directions(segment) {
            let stats = &self.stats[lane(id, d)];
            let time_s = segment.length_m * 3.6 / driven_kmh(segment, d, self.run.profile);
            let (time, down, p95) = match d {
                Direction::Forward => (&mut row.time_forward_s, &mut row.down_forward_s, &mut row.break_p95_forward_s),
                Direction::Backward => {
                    (&mut row.time_backward_s, &mut row.down_backward_s, &mut row.break_p95_backward_s)
                }
            };
            (*time, *down, *p95) = (Some(time_s), Some(stats.down_s), Some(stats.break_p95_s));
        }
    }

    fn fill_clearance(&self, row: &mut SegmentRow, road: &Road, segment: &Segment) {
        let posted = [road.maxheight_m, road.maxheight_physical_m].into_iter().flatten().map(f64::from);
        row.maxheight_m = posted.reduce(f64::min);
        let too_low = row.maxheight_m.is_some_and(|m| m < self.run.profile.vehicle.vehicle_height_m);
        // Crowns can only close over a road where there are crowns.
        let crowns = segment.section.crowns_close_above_m.is_some() && row.blocked_canopy > CROWNS_CLOSE_ABOVE;
        row.overhang = too_low || crowns;
        row.overhang_reason = match (crowns, too_low) {
            (true, true) => "both",
            (true, false) => "crowns",
            (false, true) => "clearance",
            (false, false) => "none",
        };
    }

    fn fill_evidence(&self, row: &mut SegmentRow, id: u32) {
        let segment = &self.run.network.segments[id as usize];
        let lanes: Vec<LaneSky> = directions(segment).filter_map(|d| self.sky.lanes[lane(id, d)]).collect();
        if lanes.is_empty() {
            // Its class decides, whatever stands around it.
            (row.evidence_terrain, row.evidence_canopy, row.evidence_building) = ("map", "map", "map");
            row.evidence = "data";
            return;
        }
        let (all, elevated) = lanes.iter().fold((0, 0), |(a, e), l| (a + l.stations, e + l.elevated));
        row.evidence_terrain = match elevated {
            0 => "none",
            n if n < all => "part",
            _ => "raster",
        };
        row.evidence_canopy = self.canopy_evidence(&lanes, all);
        row.evidence_building = match () {
            () if self.tops => "raster",
            () if self.run.extract.buildings.is_empty() => "unknown",
            () if row.blocked_building == 0.0 => "map",
            () if lanes.iter().any(|l| l.solids_assumed) => "default",
            () => "tag",
        };
        row.evidence = overall(row);
    }

    /// What the canopy answer of a segment with `stations` rests on: the weakest of what blocks.
    fn canopy_evidence(&self, lanes: &[LaneSky], stations: u32) -> &'static str {
        if self.tops {
            return "raster";
        }
        let shown: u32 = lanes.iter().map(|l| l.canopy_shown).sum();
        match lanes.iter().filter_map(|l| l.canopy_from).min() {
            Some(HeightFrom::Default) => "default",
            Some(HeightFrom::Tag) => "tag",
            Some(HeightFrom::Raster) => "raster",
            None if shown == stations && stations > 0 => "raster",
            None if self.run.extract.canopy.is_empty() => "unknown",
            None => "map",
        }
    }

    /// One row per overhead, by the direction that is driven: forward where both are, backward for what stands over
    /// that lane alone, as a footbridge that ends between the two.
    fn overhead_rows(&self, id: u32) -> Vec<OverheadRow> {
        let segment = &self.run.network.segments[id as usize];
        let length_m = segment.length_m;
        let mut rows = Vec::new();
        let mut taken: Vec<(f64, f64)> = Vec::new();
        for direction in directions(segment) {
            let forward = direction == Direction::Forward;
            let in_node_order = |o: &Overhead| {
                if forward { (o.start_m, o.end_m) } else { (length_m - o.end_m, length_m - o.start_m) }
            };
            let own = &self.overheads.own[lane(id, direction)];
            let is_new = |o: &Overhead| !taken.iter().any(|t| is_same_place(*t, in_node_order(o)));
            rows.extend(self.lane_overheads(id, direction, &is_new));
            taken.extend(own.iter().map(in_node_order));
        }
        rows
    }

    /// Rows of what stands over one lane and is wanted.
    fn lane_overheads(&self, id: u32, direction: Direction, wanted: &dyn Fn(&Overhead) -> bool) -> Vec<OverheadRow> {
        let segment = &self.run.network.segments[id as usize];
        let lane = lane(id, direction);
        let speed_mps = driven_kmh(segment, direction, self.run.profile) / 3.6;
        let heading_deg = self.overheads.own[lane].first().map_or(0.0, |o| o.heading_start_deg);
        let weights = self.skies.weights(self.run, segment, heading_deg);
        let inside = |along_m: f64| (0.0..=segment.length_m).contains(&along_m);
        let placed = self.overheads.own[lane].iter().zip(&self.overheads.at[lane]);
        placed
            .filter(|(o, _)| inside(centre_m(o)) && wanted(o))
            .map(|(o, at)| OverheadRow {
                overhead_id: 0,
                segment_id: segment_id(id),
                kind: o.kind.name(),
                osm_id: o.osm_id,
                name: self.overheads.names.get(&o.osm_id).cloned(),
                deck_width_m: o.deck_width_m,
                covered_m: o.end_m - o.start_m,
                underside_m: o.underside_above_road_m,
                underside_from: o.underside_from,
                maxheight_m: self.road(segment).maxheight_m.map(f64::from),
                shadow_s: half_shadow_m(self.sky.grid, &weights, o) / speed_mps,
                at: *at,
            })
            .collect()
    }

    fn edge(&self, edge_id: i64, edge: &Edge) -> EdgeRow {
        let network = self.run.network;
        let lanes = || edge.segments.iter().map(|s| (&network.segments[*s as usize], lane(*s, edge.direction)));
        let seconds = |s: &Segment| s.length_m * 3.6 / driven_kmh(s, edge.direction, self.run.profile);
        EdgeRow {
            edge_id,
            from_node: edge.from_node,
            to_node: edge.to_node,
            way_id: self.run.extract.roads[edge.road as usize].id,
            forward: edge.direction == Direction::Forward,
            length_m: edge.length_m,
            time_s: lanes().map(|(s, _)| seconds(s)).sum(),
            down_s: lanes().map(|(_, l)| self.stats[l].down_s).sum(),
            longest_break_s: lanes().map(|(_, l)| self.stats[l].longest_break_s).fold(0.0, f64::max),
            rating: lanes().map(|(_, l)| self.rating(l).code()).max().unwrap_or(0),
        }
    }
}

/// Whether a rating rests on data, on defaults that matter to it, or leaves out what nobody knows.
fn overall(row: &SegmentRow) -> &'static str {
    let causes = [
        (row.evidence_terrain, row.blocked_terrain),
        (row.evidence_canopy, row.blocked_canopy),
        (row.evidence_building, row.blocked_building),
    ];
    if causes.iter().any(|(evidence, _)| ["unknown", "none", "part"].contains(evidence)) {
        "unknown"
    } else if causes.iter().any(|(evidence, blocked)| *evidence == "default" && *blocked >= NO_CAUSE_BELOW) {
        "default"
    } else {
        "data"
    }
}

/// Whether what stands over one lane may be the same as what stands over the other, intervals in metres.
fn is_same_place(a: (f64, f64), b: (f64, f64)) -> bool {
    // A skewed deck crosses the other lane further on: by a lane or two times the tangent of its skew.
    const APART_M: f64 = 15.0;
    a.0 < b.1 + APART_M && b.0 < a.1 + APART_M
}

fn fill_blocked(row: &mut SegmentRow, shares: &Shares) {
    row.blocked_cover = shares.cover;
    row.blocked_deck = shares.deck;
    row.blocked_building = shares.solid;
    row.blocked_terrain = shares.terrain;
    row.blocked_canopy = shares.canopy;
}

/// The largest of the blocked shares; the first in order where two are equal. A segment that is not steady
/// names its cause however small: the mouth of a tunnel beyond its end may be all it has.
fn main_cause(shares: &Shares, steady: bool) -> &'static str {
    let causes = [
        ("cover", shares.cover),
        ("deck", shares.deck),
        ("building", shares.solid),
        ("terrain", shares.terrain),
        ("canopy", shares.canopy),
    ];
    let blocked = causes.iter().map(|c| c.1).sum::<f64>();
    if blocked <= 0.0 || steady && blocked < NO_CAUSE_BELOW {
        return "none";
    }
    let best = causes.iter().rev().max_by(|a, b| a.1.total_cmp(&b.1));
    best.map_or("none", |c| c.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_share_is_the_main_cause() {
        let shares = Shares { terrain: 0.2, canopy: 0.3, deck: 0.1, ..Shares::default() };
        assert_eq!(main_cause(&shares, true), "canopy");
        let little = Shares { canopy: 0.005, ..Shares::default() };
        assert_eq!((main_cause(&little, true), main_cause(&little, false)), ("none", "canopy"));
        assert_eq!(main_cause(&Shares { cover: 0.5, canopy: 0.5, ..Shares::default() }, false), "cover");
        assert_eq!(main_cause(&Shares { open: 1.0, ..Shares::default() }, false), "none");
    }
}
