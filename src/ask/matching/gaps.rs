//! Gaps: points so far apart that their positions tell nothing of the way between them. A receiver has no fix in a tunnel
//! and is often switched off on a ferry. The roads tell the way, and its length and the times at both ends whether it can
//! have been driven.
use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::model::TrackPoint;
use super::roads::{LaneCandidate, RoadGraph};
use crate::base::geodesy::distance_m;
use crate::base::index::GraphLaneIndex;

/// A second where no point is to be expected, under a cover or on a ferry, counts as much as this of another: that there are
/// no points speaks for such a way.
const HIDDEN_WORTH: f64 = 0.7;
/// A way counts as hidden where more than this share of it is.
const MOSTLY: f64 = 0.5;
/// Longest way compared with the line across: with times or where it is mostly hidden, and otherwise. Assumed: valley roads
/// are up to twice as long as the line, tunnels hardly longer.
const LONGEST: f64 = 2.0;
const LONGEST_BY_LENGTH: f64 = 1.5;
/// And this much more, metres: the ends of a gap are off by noise and by the way to a junction.
const LONGER_M: f64 = 500.0;
/// Driven at most this much faster than the layer says, and seconds for clocks and rounding.
const FASTER: f64 = 2.0;
const FASTER_S: f64 = 60.0;
/// At most this much slower, and seconds of waiting: at works or in a queue, and for a ferry. Who took longer may have been
/// anywhere.
const SLOWER: f64 = 3.0;
pub(super) const WAITED_S: f64 = 900.0;
const BOARDED_S: f64 = 7_200.0;

/// Whether the gaps of a track are joined: it has times, or points near enough to show a road. Otherwise it is a list of
/// places to go through, and the roads between them are a question for a route.
pub(in crate::ask) fn joins_gaps(points: &[TrackPoint], gap_m: f64) -> bool {
    points.iter().any(|p| p.time_s.is_some()) || points.windows(2).any(|w| distance_m(w[0].at, w[1].at) <= gap_m)
}

/// Whether a vehicle can have gone from one point to the next by their times: no slower than in a day, no faster than any
/// does. So roads below a flight are not looked at.
pub(in crate::ask) fn may_be_driven(a: &TrackPoint, b: &TrackPoint) -> bool {
    const FASTEST_MPS: f64 = 70.0;
    const LONGEST_S: f64 = 86_400.0;
    let in_time = |s: f64| (0.0..=LONGEST_S).contains(&s) && distance_m(a.at, b.at) <= FASTEST_MPS * (s + FASTER_S);
    a.time_s.zip(b.time_s).is_none_or(|(a_s, b_s)| in_time(b_s - a_s))
}

/// What is known of a gap.
#[derive(Debug, Clone, Copy)]
pub(super) struct GapSpan {
    /// Straight across, metres.
    pub apart_m: f64,
    /// Between the points at its ends, seconds, where they have times.
    pub lasted_s: Option<f64>,
}

/// A part of a way over a gap, metres from the start of its lane.
#[derive(Debug, Clone, Copy)]
pub(super) struct GapPart {
    pub lane: GraphLaneIndex,
    pub from_m: f64,
    pub to_m: f64,
}

/// A way over a gap.
#[derive(Debug, Clone, Default)]
pub(super) struct GapWay {
    pub parts: Vec<GapPart>,
    pub length_m: f64,
    /// By the layer, seconds.
    pub time_s: f64,
    /// Below tunnels, galleries and roofs, metres.
    pub covered_m: f64,
    /// On ferries and car shuttle trains, metres.
    pub boarded_m: f64,
}

impl GapSpan {
    /// The longest way that is looked for, metres.
    fn most_m(self) -> f64 {
        LONGEST * self.apart_m + LONGER_M
    }
    /// Whether a way can have been driven.
    fn fits(self, way: &GapWay) -> bool {
        let hidden = way.covered_m + way.boarded_m > MOSTLY * way.length_m;
        let longest = if hidden || self.lasted_s.is_some() { LONGEST } else { LONGEST_BY_LENGTH };
        let waited_s = if way.boarded_m > 0.0 { BOARDED_S } else { WAITED_S };
        let in_time =
            |lasted_s: f64| way.time_s <= FASTER * lasted_s + FASTER_S && lasted_s <= SLOWER * way.time_s + waited_s;
        way.length_m <= longest * self.apart_m + LONGER_M && self.lasted_s.is_none_or(in_time)
    }
}

/// Search over gaps: the way of least time, without turning round.
pub(super) struct GapSearch<'a> {
    roads: &'a RoadGraph,
    /// What it costs to reach the start of each lane, and metres until there; valid where the stamp is that of the search.
    cost: Vec<f64>,
    done_m: Vec<f64>,
    before: Vec<Option<GraphLaneIndex>>,
    stamp: Vec<u32>,
    now: u32,
    heap: BinaryHeap<(Reverse<u64>, GraphLaneIndex)>,
}

impl<'a> GapSearch<'a> {
    pub fn new(roads: &'a RoadGraph) -> Self {
        let n = roads.lanes.len();
        Self {
            roads,
            cost: vec![0.0; n],
            done_m: vec![0.0; n],
            before: vec![None; n],
            stamp: vec![0; n],
            now: 0,
            heap: BinaryHeap::new(),
        }
    }
    /// Searches from a place; [`GapSearch::way`] then gives the ways.
    pub fn run(&mut self, from: LaneCandidate, gap: GapSpan) {
        let most_m = gap.most_m();
        self.now += 1;
        self.heap.clear();
        self.leave(from.lane, (0.0, 0.0), (self.roads.length_m(from.lane) - from.along_m).max(0.0), most_m);
        while let Some((Reverse(bits), at)) = self.heap.pop() {
            let cost = f64::from_bits(bits);
            if cost <= self.cost[at.at()] {
                self.leave(at, (cost, self.done_m[at.at()]), self.roads.length_m(at), most_m);
            }
        }
    }
    /// Goes on from a lane of which `length_m` are left to drive.
    fn leave(&mut self, lane: GraphLaneIndex, (cost, done_m): (f64, f64), length_m: f64, most_m: f64) {
        let roads = self.roads;
        let (twin, end_m) = (roads.twin(lane), done_m + length_m);
        if end_m > most_m {
            return;
        }
        let l = roads.lanes[lane.at()];
        let hidden = if l.boarded { 1.0 } else { roads.covered[l.road.at()].clamp(0.0, 1.0) };
        let cost = cost + length_m / l.mps * (1.0 - hidden * (1.0 - HIDDEN_WORTH));
        for next in roads.leaving[l.to.at()].iter().filter(|n| Some(**n) != twin) {
            let i = next.at();
            if self.stamp[i] != self.now || cost < self.cost[i] {
                (self.stamp[i], self.cost[i], self.done_m[i], self.before[i]) = (self.now, cost, end_m, Some(lane));
                // Non-negative floats order as their bits do.
                self.heap.push((Reverse(cost.to_bits()), *next));
            }
        }
    }
    /// The way between two places that can have been driven over a gap; the search must have run from the first.
    pub fn way(&self, a: LaneCandidate, b: LaneCandidate, gap: GapSpan) -> Option<GapWay> {
        let parts = if a.lane == b.lane && b.along_m >= a.along_m {
            vec![GapPart { lane: a.lane, from_m: a.along_m, to_m: b.along_m }]
        } else {
            self.parts(a, b)?
        };
        let mut way = GapWay::default();
        for part in &parts {
            let (lane, metres) = (self.roads.lanes[part.lane.at()], part.to_m - part.from_m);
            way.length_m += metres;
            way.time_s += metres / lane.mps;
            way.boarded_m += if lane.boarded { metres } else { 0.0 };
            way.covered_m += if lane.boarded { 0.0 } else { metres * self.roads.covered[lane.road.at()] };
        }
        way.parts = parts;
        gap.fits(&way).then_some(way)
    }
    fn parts(&self, a: LaneCandidate, b: LaneCandidate) -> Option<Vec<GapPart>> {
        if self.stamp[b.lane.at()] != self.now {
            return None;
        }
        let mut parts = vec![GapPart { lane: b.lane, from_m: 0.0, to_m: b.along_m }];
        let mut at = self.before[b.lane.at()]?;
        while at != a.lane && parts.len() <= self.before.len() {
            parts.push(GapPart { lane: at, from_m: 0.0, to_m: self.roads.length_m(at) });
            at = self.before[at.at()]?;
        }
        parts.push(GapPart { lane: a.lane, from_m: a.along_m, to_m: self.roads.length_m(a.lane) });
        parts.reverse();
        Some(parts)
    }
}
