//! Every driven direction of every segment, and what is driven before and after it.
use crate::base::index::SegmentIndex;
use crate::map::network::model::{Direction, Segment, Stroke};

/// Number of a lane: a segment in one direction.
pub fn lane(segment: SegmentIndex, direction: Direction) -> usize {
    2 * segment.at() + usize::from(direction == Direction::Backward)
}

/// Segment and direction of a lane.
pub fn of_lane(lane: usize) -> (SegmentIndex, Direction) {
    (SegmentIndex::new(lane / 2), if lane.is_multiple_of(2) { Direction::Forward } else { Direction::Backward })
}

/// The directions a segment is driven in.
pub fn directions(segment: &Segment) -> impl Iterator<Item = Direction> + '_ {
    [Direction::Forward, Direction::Backward].into_iter().filter(|d| segment.driven(*d))
}

/// Neighbours along the strokes.
pub struct Links {
    before: Vec<Option<u32>>,
    after: Vec<Option<u32>>,
    /// Per segment.
    lengths_m: Vec<f64>,
}

impl Links {
    /// Links the lanes of segments of these lengths, metres.
    pub fn new(strokes: &[Stroke], lengths_m: Vec<f64>) -> Self {
        let n = 2 * lengths_m.len();
        let mut links = Self { before: vec![None; n], after: vec![None; n], lengths_m };
        for stroke in strokes {
            for pair in stroke.steps.windows(2) {
                let [a, b] = [pair[0], pair[1]].map(|(s, d)| lane(s, d));
                links.after[a] = Some(b as u32);
                links.before[b] = Some(a as u32);
            }
        }
        links
    }
    /// Length of a lane, metres.
    pub fn length_m(&self, lane: usize) -> f64 {
        self.lengths_m[lane / 2]
    }
    /// The lanes driven just before (nearest first), as far back as `reach_m`.
    pub fn before(&self, lane: usize, reach_m: f64) -> Vec<usize> {
        self.walk(&self.before, lane, reach_m)
    }
    /// The lanes driven just after.
    pub fn after(&self, lane: usize, reach_m: f64) -> Vec<usize> {
        self.walk(&self.after, lane, reach_m)
    }

    fn walk(&self, links: &[Option<u32>], lane: usize, reach_m: f64) -> Vec<usize> {
        let mut out = Vec::new();
        let (mut at, mut done_m) = (lane, 0.0);
        while let Some(next) = links[at].filter(|_| done_m < reach_m) {
            at = next as usize;
            if at == lane {
                break;
            }
            out.push(at);
            done_m += self.length_m(at);
        }
        out
    }
}
