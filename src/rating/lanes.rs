//! Every driven direction of every segment, and what is driven before and after it.
use crate::base::index::LaneIndex;
use crate::base::words::Direction;
use crate::map::network::model::{LaneStep, Segment, Stroke};

/// The directions a segment is driven in.
pub fn directions(segment: &Segment) -> impl Iterator<Item = Direction> + '_ {
    [Direction::Forward, Direction::Backward].into_iter().filter(|d| segment.driven(*d))
}

/// Neighbours along the strokes.
pub struct Links {
    before: Vec<Option<LaneIndex>>,
    after: Vec<Option<LaneIndex>>,
    /// Per segment.
    lengths_m: Vec<f64>,
}

impl Links {
    /// Links the lanes of segments of these lengths, metres.
    pub fn new(strokes: &[Stroke], lengths_m: Vec<f64>) -> Self {
        let n = 2 * lengths_m.len();
        let mut links = Self { before: vec![None; n], after: vec![None; n], lengths_m };
        for stroke in strokes {
            let lane = |(segment, direction): &LaneStep| segment.lane(*direction);
            for (a, b) in stroke.driven().map(lane).zip(stroke.driven().skip(1).map(lane)) {
                links.after[a.at()] = Some(b);
                links.before[b.at()] = Some(a);
            }
        }
        links
    }
    /// Length of a lane, metres.
    pub fn length_m(&self, lane: LaneIndex) -> f64 {
        self.lengths_m[lane.segment().at()]
    }
    /// The lanes driven just before (nearest first), as far back as `reach_m`.
    pub fn before(&self, lane: LaneIndex, reach_m: f64) -> Vec<LaneIndex> {
        self.walk(&self.before, lane, reach_m)
    }
    /// The lanes driven just after.
    pub fn after(&self, lane: LaneIndex, reach_m: f64) -> Vec<LaneIndex> {
        self.walk(&self.after, lane, reach_m)
    }

    fn walk(&self, links: &[Option<LaneIndex>], lane: LaneIndex, reach_m: f64) -> Vec<LaneIndex> {
        let mut out = Vec::new();
        let (mut at, mut done_m) = (lane, 0.0);
        while let Some(next) = links[at.at()].filter(|_| done_m < reach_m) {
            at = next;
            if at == lane {
                break;
            }
            out.push(at);
            done_m += self.length_m(at);
        }
        out
    }
}
