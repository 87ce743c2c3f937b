//! Shortest ways from one lane to others, within a bound.
use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::roads::RoadGraph;
use crate::base::index::GraphLaneIndex;

/// Turning round costs as much as driving this far, metres: noise alone must not turn a vehicle.
pub(super) const TURN_ROUND_M: f64 = 100.0;

/// Search state, reused between searches.
pub(super) struct LaneSearch<'a> {
    /// Where it searches.
    pub(super) roads: &'a RoadGraph,
    /// Metres to the start of each lane, valid where the stamp is that of the search.
    start_m: Vec<f64>,
    before: Vec<Option<GraphLaneIndex>>,
    /// Sum of `ln k` over the junctions passed on the way there.
    choices: Vec<f64>,
    stamp: Vec<u32>,
    now: u32,
    heap: BinaryHeap<(Reverse<u64>, GraphLaneIndex)>,
}

impl<'a> LaneSearch<'a> {
    pub fn new(roads: &'a RoadGraph) -> Self {
        let n = roads.lanes.len();
        Self {
            roads,
            start_m: vec![0.0; n],
            before: vec![None; n],
            choices: vec![0.0; n],
            stamp: vec![0; n],
            now: 0,
            heap: BinaryHeap::new(),
        }
    }
    fn reach(&mut self, lane: GraphLaneIndex, at_m: f64, before: GraphLaneIndex, choices: f64) {
        let i = lane.at();
        if self.stamp[i] != self.now || at_m < self.start_m[i] {
            (self.stamp[i], self.start_m[i], self.before[i]) = (self.now, at_m, Some(before));
            self.choices[i] = choices;
            // Non-negative floats order as their bits do.
            self.heap.push((Reverse(at_m.to_bits()), lane));
        }
    }
    /// From `along_m` on a lane to the start of every lane within `limit_m`. The first lane itself is not entered
    /// again unless a loop leads back to it.
    pub fn run(&mut self, lane: GraphLaneIndex, along_m: f64, limit_m: f64) {
        let roads = self.roads;
        self.now += 1;
        self.heap.clear();
        self.leave(lane, (roads.length_m(lane) - along_m).max(0.0), limit_m, 0.0);
        while let Some((Reverse(bits), at)) = self.heap.pop() {
            let start_m = f64::from_bits(bits);
            if start_m <= self.start_m[at.at()] {
                self.leave(at, start_m + roads.length_m(at), limit_m, self.choices[at.at()]);
            }
        }
    }
    fn leave(&mut self, lane: GraphLaneIndex, end_m: f64, limit_m: f64, choices: f64) {
        let roads = self.roads;
        let twin = roads.twin(lane);
        let choices = choices + roads.choices[lane.at()];
        for next in &roads.leaving[roads.lanes[lane.at()].to.at()] {
            let cost_m = end_m + if Some(*next) == twin { TURN_ROUND_M } else { 0.0 };
            if cost_m <= limit_m {
                self.reach(*next, cost_m, lane, choices);
            }
        }
    }
    /// Metres to the start of a lane, where it was reached.
    pub fn to_m(&self, lane: GraphLaneIndex) -> Option<f64> {
        (self.stamp[lane.at()] == self.now).then(|| self.start_m[lane.at()])
    }
    /// Sum of the logarithms of the number of ways on over the junctions before a lane that was reached.
    pub(crate) fn choices(&self, lane: GraphLaneIndex) -> f64 {
        self.choices[lane.at()]
    }
    /// The lanes from the one after `first` to `last`, both reached by the last search.
    pub fn path(&self, first: GraphLaneIndex, last: GraphLaneIndex) -> Vec<GraphLaneIndex> {
        let mut path = vec![last];
        let mut at = last;
        while let Some(before) = self.before[at.at()].filter(|b| *b != first)
            && path.len() <= self.before.len()
        {
            at = before;
            path.push(at);
        }
        path.reverse();
        path
    }
}
