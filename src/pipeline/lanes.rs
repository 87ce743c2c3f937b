//! Every driven direction of every segment, and what is driven before and after it.
use crate::extract::model::Road;
use crate::network::model::{Chain, Direction, Network, Segment};
use crate::scene::covers::{cover_runs, cover_tag};

/// Number of a lane: a segment in one direction.
pub fn lane(segment: u32, direction: Direction) -> usize {
    2 * segment as usize + usize::from(direction == Direction::Backward)
}

/// Segment and direction of a lane.
pub fn of_lane(lane: usize) -> (u32, Direction) {
    ((lane / 2) as u32, if lane.is_multiple_of(2) { Direction::Forward } else { Direction::Backward })
}

/// The directions a segment is driven in.
pub fn directions(segment: &Segment) -> impl Iterator<Item = Direction> + '_ {
    [Direction::Forward, Direction::Backward].into_iter().filter(|d| segment.driven(*d))
}

/// Neighbours along the chains.
pub struct Links {
    before: Vec<Option<u32>>,
    after: Vec<Option<u32>>,
    /// Per segment.
    lengths_m: Vec<f64>,
}

/// Neighbours along the chains, and how far covers run on.
pub struct Lanes {
    /// Neighbours.
    pub links: Links,
    /// Per lane: how far its own cover runs on before and after it, metres.
    pub cover_runs_m: Vec<(f32, f32)>,
}

impl Links {
    /// Links the lanes of segments of these lengths, metres.
    pub fn new(chains: &[Chain], lengths_m: Vec<f64>) -> Self {
        let n = 2 * lengths_m.len();
        let mut links = Self { before: vec![None; n], after: vec![None; n], lengths_m };
        for chain in chains {
            for pair in chain.steps.windows(2) {
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

impl Lanes {
    /// Walks all chains once.
    pub fn new(network: &Network, roads: &[Road]) -> Self {
        let links = Links::new(&network.chains, network.segments.iter().map(|s| s.length_m).collect());
        let mut lanes = Self { links, cover_runs_m: vec![(0.0, 0.0); 2 * network.segments.len()] };
        for chain in &network.chains {
            let tag = |(s, d): &(u32, Direction)| {
                let segment = &network.segments[*s as usize];
                (cover_tag(&roads[segment.road as usize], segment, *d), segment.length_m)
            };
            let pieces: Vec<_> = chain.steps.iter().map(tag).collect();
            for ((s, d), (before_m, after_m)) in chain.steps.iter().zip(cover_runs(&pieces)) {
                lanes.cover_runs_m[lane(*s, *d)] = (before_m as f32, after_m as f32);
            }
        }
        lanes
    }
}
