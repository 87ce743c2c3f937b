//! From a place to spots on roads near it.
use super::cost::Totals;
use super::table::{EdgeTable, Refusal, RouteRules};
use crate::ask::matching::nearest;
use crate::ask::road_name::road_name;
use crate::base::geodesy::{LocalPlane, Position, along, length_m};
use crate::base::index::{EdgeIndex, JunctionIndex};
use crate::base::words::Direction;
use crate::layer::model::SegmentRow;

/// A place on a road near a place asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct RouteSpot {
    /// Name and reference of the road, or its class.
    pub road: String,
    /// Where.
    pub at: Position,
    /// From the place asked for, metres.
    pub distance_m: f64,
    /// Directions in which drives may leave and arrive.
    pub lanes: Vec<SpotLane>,
}

/// A spot in one direction of travel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpotLane {
    /// Edge, by its place in the table.
    pub edge: EdgeIndex,
    /// From the start of the edge, metres.
    pub at_m: f64,
    /// From here to its end, metres.
    pub left_m: f64,
    /// Cost from the start of the edge to here.
    pub before: Totals,
    /// Cost from here to its end.
    pub after: Totals,
}

/// A spot this near to the end of an edge lies at the junction there, metres: places are typed to a metre.
const AT_JUNCTION_M: f64 = 1.5;

impl SpotLane {
    /// Whether it lies where its edge begins or ends at a junction.
    fn touches(&self, table: &EdgeTable, junction: JunctionIndex) -> bool {
        let e = table.edge(self.edge);
        self.at_m <= AT_JUNCTION_M && e.from == junction || self.left_m <= AT_JUNCTION_M && e.to == junction
    }
    /// The junction it lies at.
    fn junction(&self, table: &EdgeTable) -> Option<JunctionIndex> {
        let e = table.edge(self.edge);
        [e.from, e.to].into_iter().find(|j| self.touches(table, *j))
    }
}

impl RouteSpot {
    /// The junction it lies at, if it lies at one: then a drive may leave and arrive on every edge that touches it.
    pub(super) fn junction(&self, table: &EdgeTable) -> Option<JunctionIndex> {
        self.lanes.iter().find_map(|l| l.junction(table))
    }
    /// Adds the lanes of another spot that touch a junction.
    pub(super) fn take_in(&mut self, other: &Self, table: &EdgeTable, junction: JunctionIndex) {
        for lane in other.lanes.iter().filter(|l| l.touches(table, junction)) {
            if self.lanes.iter().all(|l| l.edge != lane.edge) {
                self.lanes.push(*lane);
            }
        }
    }
    /// Whether another spot may lie at the same junction, by how far both are from the place asked for.
    pub(super) fn may_meet(&self, distance_m: f64) -> bool {
        (distance_m - self.distance_m).abs() <= 2.0 * AT_JUNCTION_M
    }
}

/// The nearest place of a segment.
#[derive(Debug, Clone)]
pub(crate) struct NearSegment {
    /// The segment.
    pub row: SegmentRow,
    /// How far along it in node order, as a share of its length.
    pub share: f64,
    /// From the place asked for, metres.
    pub distance_m: f64,
    /// Where.
    pub at: Position,
}

/// Segments within a distance of a place, nearest first.
pub fn near(at: Position, rows: Vec<SegmentRow>, within_m: f64) -> Vec<NearSegment> {
    let plane = LocalPlane::at_position(at);
    let of = |row: SegmentRow| {
        let found = nearest(&plane, &row.line);
        let whole_m = length_m(&row.line);
        let share = if whole_m > 0.0 { (found.along_m / whole_m).clamp(0.0, 1.0) } else { 0.0 };
        NearSegment {
            share,
            distance_m: found.distance_m,
            at: along(&row.line, found.along_m).unwrap_or_default(),
            row,
        }
    };
    let mut all: Vec<NearSegment> = rows.into_iter().map(of).filter(|n| n.distance_m <= within_m).collect();
    all.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m).then(a.row.segment_id.cmp(&b.row.segment_id)));
    all
}

impl NearSegment {
    /// Edges that drive the segment, by their place in the table and forward or not. No drive begins on a ferry.
    fn edges(&self, table: &EdgeTable) -> impl Iterator<Item = (EdgeIndex, bool)> {
        let known =
            Direction::BOTH.into_iter().filter_map(|d| Some((table.index(self.row.driven[d]?.edge)?, d.is_forward())));
        known.filter(|(i, _)| !table.edge(*i).boarded)
    }
    /// Why no edge of the segment is used; nothing if one is.
    pub fn refusal(&self, table: &EdgeTable, rules: &RouteRules) -> Option<Refusal> {
        let reasons: Vec<_> = self.edges(table).map(|(i, _)| table.edge(i).refusal(rules)).collect();
        if reasons.contains(&None) { None } else { reasons.into_iter().flatten().min() }
    }
    /// What people call the road.
    pub fn road(&self) -> String {
        road_name(&self.row)
    }
    /// The spot in the directions that may be driven; `of_edge` gives the segments of an edge in the order driven.
    pub fn spot<E>(
        &self,
        table: &EdgeTable,
        rules: &RouteRules,
        of_edge: &mut impl FnMut(i64) -> Result<Vec<SegmentRow>, E>,
    ) -> Result<RouteSpot, E> {
        let mut lanes = Vec::new();
        for (edge, forward) in self.edges(table) {
            let e = table.edge(edge);
            if e.refusal(rules).is_none() {
                lanes.extend(self.lane(edge, forward, &of_edge(e.id)?));
            }
        }
        Ok(RouteSpot { road: self.road(), at: self.at, distance_m: self.distance_m, lanes })
    }
    /// The spot in one direction; `rows` are the segments of the edge in the order driven.
    fn lane(&self, edge: EdgeIndex, forward: bool, rows: &[SegmentRow]) -> Option<SpotLane> {
        let here = rows.iter().position(|r| r.segment_id == self.row.segment_id)?;
        let share = if forward { self.share } else { 1.0 - self.share };
        let seconds = |r: &SegmentRow| r.driven[Direction::of(forward)].map_or((0.0, 0.0), |d| (d.time_s, d.outage_s));
        let sum = |rows: &[SegmentRow], own: f64| {
            let (time_s, outage_s) = seconds(&self.row);
            let (t, d) = rows.iter().map(seconds).fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
            Totals::of_seconds(t + own * time_s, d + own * outage_s)
        };
        let metres = |rows: &[SegmentRow]| rows.iter().map(|r| r.length_m).sum::<f64>();
        Some(SpotLane {
            edge,
            at_m: metres(&rows[..here]) + share * self.row.length_m,
            left_m: metres(&rows[here + 1..]) + (1.0 - share) * self.row.length_m,
            before: sum(&rows[..here], share),
            after: sum(&rows[here + 1..], 1.0 - share),
        })
    }
}
