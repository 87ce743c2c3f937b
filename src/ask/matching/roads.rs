//! The roads near a track as a graph of lanes: a lane is a segment in one direction it may be driven in.
use std::collections::HashMap;

use rstar::{AABB, RTree, RTreeObject};

use crate::base::geodesy::{LocalPlane, Point, Position, distance_m, nearest_to_origin, turn_deg};
use crate::base::index::{GraphLaneIndex, SegmentIndex, VertexIndex};
use crate::layer::model::{EdgeRow, RoadRow};

/// A direction of travel on a segment.
#[derive(Debug, Clone, Copy)]
pub(super) struct GraphLane {
    /// Its segment.
    pub road: SegmentIndex,
    /// In node order.
    pub forward: bool,
    /// Vertex it begins and ends at.
    pub from: VertexIndex,
    pub to: VertexIndex,
    /// Speed by the layer, metres per second.
    pub mps: f64,
    /// A ferry or a car shuttle train.
    pub boarded: bool,
}

/// Speed where an edge gives none: 50 km/h.
const UNTOLD_MPS: f64 = 50.0 / 3.6;

/// Roads, lanes and an index of their lines.
pub struct RoadGraph {
    pub(super) ids: Vec<i64>,
    pub(super) lengths_m: Vec<f64>,
    /// Shares of the sky that tunnels, galleries and roofs hide.
    pub(super) covered: Vec<f64>,
    lines: Vec<Vec<Position>>,
    pub(super) lanes: Vec<GraphLane>,
    /// Lanes of a segment: forward, backward.
    pub(super) of_road: Vec<[Option<GraphLaneIndex>; 2]>,
    /// Lanes that begin and end at each vertex.
    pub(super) leaving: Vec<Vec<GraphLaneIndex>>,
    pub(super) arriving: Vec<Vec<GraphLaneIndex>>,
    /// Logarithm of the number of lanes that go on from the end of each lane, turning round left out.
    pub(super) choices: Vec<f64>,
    tree: RTree<Boxed>,
}

struct Boxed {
    road: SegmentIndex,
    low: [f64; 2],
    high: [f64; 2],
}

impl RTreeObject for Boxed {
    type Envelope = AABB<[f64; 2]>;
    fn envelope(&self) -> Self::Envelope {
        AABB::from_corners(self.low, self.high)
    }
}

/// A place on a lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LaneCandidate {
    pub lane: GraphLaneIndex,
    /// From the lane's start in the direction driven, metres.
    pub along_m: f64,
}

/// A place on a segment near a point.
#[derive(Debug, Clone, Copy)]
pub(super) struct SegmentPoint {
    pub road: SegmentIndex,
    pub on: RoadPoint,
}

/// A place on a line near a point.
#[derive(Debug, Clone, Copy)]
pub(in crate::ask) struct RoadPoint {
    /// From the start in node order, metres.
    pub along_m: f64,
    pub distance_m: f64,
}

/// What a vertex is: a node of the map, or a cut inside an edge.
#[derive(PartialEq, Eq, Hash)]
enum Vertex {
    Node(i64),
    /// The start of this part of this edge's way.
    Cut(i64, u32),
}

impl RoadGraph {
    /// Joins segments and edges, which must be those of whole ways (see [`crate::layer::Layer::ways_in`]).
    pub fn new(rows: &[RoadRow], edges: &[EdgeRow]) -> Self {
        let of_id: HashMap<i64, &EdgeRow> = edges.iter().map(|e| (e.edge_id, e)).collect();
        let spans = spans(rows);
        let mut roads = Self {
            ids: rows.iter().map(|r| r.segment_id).collect(),
            lengths_m: rows.iter().map(|r| crate::base::geodesy::length_m(&r.line)).collect(),
            covered: rows.iter().map(|r| r.blocked_cover).collect(),
            lines: rows.iter().map(|r| r.line.clone()).collect(),
            lanes: Vec::new(),
            of_road: vec![[None; 2]; rows.len()],
            leaving: Vec::new(),
            arriving: Vec::new(),
            choices: Vec::new(),
            tree: RTree::bulk_load(SegmentIndex::numbered(rows).map(|(i, r)| boxed(i, &r.line)).collect()),
        };
        let mut numbers: HashMap<Vertex, VertexIndex> = HashMap::new();
        for (road, row) in SegmentIndex::numbered(rows) {
            for (edge, forward) in [(row.edge_forward, true), (row.edge_backward, false)] {
                let Some(edge) = edge.and_then(|e| of_id.get(&e)) else { continue };
                let (low, high) = spans[&(edge.edge_id, forward)];
                let (from, to) = (edge.from_node, edge.to_node);
                let (start_node, end_node) = if forward { (from, to) } else { (to, from) };
                // Both directions of a road share the cuts between its segments.
                let start = if row.part == low { Vertex::Node(start_node) } else { Vertex::Cut(row.way_id, row.part) };
                let end = if row.part == high { Vertex::Node(end_node) } else { Vertex::Cut(row.way_id, row.part + 1) };
                let mut number = |v| {
                    let next = VertexIndex::new(numbers.len());
                    *numbers.entry(v).or_insert(next)
                };
                let (start, end) = (number(start), number(end));
                let (from, to) = if forward { (start, end) } else { (end, start) };
                roads.of_road[road.at()][usize::from(!forward)] = Some(GraphLaneIndex::new(roads.lanes.len()));
                let told = edge.length_m > 0.0 && edge.time_s > 0.0;
                let mps = if told { edge.length_m / edge.time_s } else { UNTOLD_MPS };
                roads.lanes.push(GraphLane { road, forward, from, to, mps, boarded: edge.highway.is_boarded() });
            }
        }
        roads.leaving = vec![Vec::new(); numbers.len()];
        roads.arriving = vec![Vec::new(); numbers.len()];
        for (i, lane) in GraphLaneIndex::numbered(&roads.lanes) {
            roads.leaving[lane.from.at()].push(i);
            roads.arriving[lane.to.at()].push(i);
        }
        let ways_on = |(i, lane): (GraphLaneIndex, &GraphLane)| {
            let twin = roads.twin(i);
            roads.leaving[lane.to.at()].iter().filter(|l| Some(**l) != twin).count()
        };
        roads.choices = GraphLaneIndex::numbered(&roads.lanes).map(|lane| (ways_on(lane).max(1) as f64).ln()).collect();
        roads
    }
    /// Length of a lane, metres.
    pub(super) fn length_m(&self, lane: GraphLaneIndex) -> f64 {
        self.lengths_m[self.lanes[lane.at()].road.at()]
    }
    /// The same segment in the other direction.
    pub(super) fn twin(&self, lane: GraphLaneIndex) -> Option<GraphLaneIndex> {
        let l = self.lanes[lane.at()];
        self.of_road[l.road.at()][usize::from(l.forward)]
    }
    /// Whether any road lies within a radius of a place.
    pub(crate) fn any_near(&self, at: Position, radius_m: f64) -> bool {
        !self.near(at, radius_m).is_empty()
    }
    /// Distance of a point from the road of a lane, metres.
    pub(super) fn off_m(&self, at: Position, lane: GraphLaneIndex) -> f64 {
        nearest(&LocalPlane::at_position(at), &self.lines[self.lanes[lane.at()].road.at()]).distance_m
    }
    /// The nearest place of every segment within a radius of a point, nearest first.
    pub(super) fn near(&self, at: Position, radius_m: f64) -> Vec<SegmentPoint> {
        let plane = LocalPlane::at_position(at);
        let (west, south) = plane.to_lon_lat(Point::new(-radius_m, -radius_m));
        let (east, north) = plane.to_lon_lat(Point::new(radius_m, radius_m));
        // Lines that cross the antimeridian have boxes that reach over it, eastwards or westwards.
        let turns = [0.0, 360.0, -360.0].into_iter();
        let turns = turns.filter(|t| *t == 0.0 || east + t > -181.0 && west + t < 181.0);
        let boxes = turns.map(|t| AABB::from_corners([west + t, south], [east + t, north]));
        let mut found: Vec<SegmentPoint> = boxes
            .flat_map(|around| self.tree.locate_in_envelope_intersecting(around))
            .map(|b| SegmentPoint { road: b.road, on: nearest(&plane, &self.lines[b.road.at()]) })
            .filter(|n| n.on.distance_m <= radius_m)
            .collect();
        found.sort_by(|a, b| a.on.distance_m.total_cmp(&b.on.distance_m).then(a.road.cmp(&b.road)));
        found.dedup_by_key(|n| n.road);
        found
    }
}

/// Lowest and highest part of every edge, by edge and direction.
fn spans(rows: &[RoadRow]) -> HashMap<(i64, bool), (u32, u32)> {
    let mut spans: HashMap<(i64, bool), (u32, u32)> = HashMap::new();
    for row in rows {
        for (edge, forward) in [(row.edge_forward, true), (row.edge_backward, false)] {
            if let Some(edge) = edge {
                let span = spans.entry((edge, forward)).or_insert((row.part, row.part));
                *span = (span.0.min(row.part), span.1.max(row.part));
            }
        }
    }
    spans
}

fn boxed(road: SegmentIndex, line: &[Position]) -> Boxed {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    let first_deg = line.first().map_or(0.0, |p| p.lon_deg());
    for p in line {
        let lon_deg = first_deg + turn_deg(first_deg, p.lon_deg());
        for (axis, value) in [lon_deg, p.lat_deg()].into_iter().enumerate() {
            low[axis] = low[axis].min(value);
            high[axis] = high[axis].max(value);
        }
    }
    Boxed { road, low, high }
}

/// The nearest place of a line to the origin of a plane.
pub(in crate::ask) fn nearest(plane: &LocalPlane, line: &[Position]) -> RoadPoint {
    let mut best = RoadPoint { along_m: 0.0, distance_m: f64::INFINITY };
    let mut done_m = 0.0;
    for pair in line.windows(2) {
        let (a, b) = (plane.to_plane(pair[0]), plane.to_plane(pair[1]));
        let (t, point) = nearest_to_origin(a, b);
        let away_m = point.distance_m(Point::default());
        let step_m = distance_m(pair[0], pair[1]);
        if away_m < best.distance_m {
            best = RoadPoint { along_m: done_m + t * step_m, distance_m: away_m };
        }
        done_m += step_m;
    }
    best
}
