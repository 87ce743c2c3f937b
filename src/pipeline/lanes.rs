//! Every driven direction of every segment, and what is driven before and after it.
use crate::extract::model::Road;
use crate::network::model::{Direction, Network, Segment};
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

/// Neighbours along the chains, and how far covers run on.
pub struct Lanes {
    before: Vec<Option<u32>>,
    after: Vec<Option<u32>>,
    /// Per lane: how far its own cover runs on before and after it, metres.
    pub cover_runs_m: Vec<(f32, f32)>,
}

impl Lanes {
    /// Walks all chains once.
    pub fn new(network: &Network, roads: &[Road]) -> Self {
        let n = 2 * network.segments.len();
        let mut lanes = Self { before: vec![None; n], after: vec![None; n], cover_runs_m: vec![(0.0, 0.0); n] };
        for chain in &network.chains {
            let ids: Vec<usize> = chain.steps.iter().map(|(s, d)| lane(*s, *d)).collect();
            for pair in ids.windows(2) {
                lanes.after[pair[0]] = Some(pair[1] as u32);
                lanes.before[pair[1]] = Some(pair[0] as u32);
            }
            let tag = |(s, d): &(u32, Direction)| {
                let segment = &network.segments[*s as usize];
                (cover_tag(&roads[segment.road as usize], segment, *d), segment.length_m)
            };
            let pieces: Vec<_> = chain.steps.iter().map(tag).collect();
            for (id, (before_m, after_m)) in ids.iter().zip(cover_runs(&pieces)) {
                lanes.cover_runs_m[*id] = (before_m as f32, after_m as f32);
            }
        }
        lanes
    }

    /// The lanes driven just before (nearest first), as far back as `reach_m`.
    pub fn before(&self, network: &Network, lane: usize, reach_m: f64) -> Vec<usize> {
        walk(&self.before, network, lane, reach_m)
    }
    /// The lanes driven just after.
    pub fn after(&self, network: &Network, lane: usize, reach_m: f64) -> Vec<usize> {
        walk(&self.after, network, lane, reach_m)
    }
}

fn walk(links: &[Option<u32>], network: &Network, lane: usize, reach_m: f64) -> Vec<usize> {
    let mut out = Vec::new();
    let (mut at, mut done_m) = (lane, 0.0);
    while let Some(next) = links[at].filter(|_| done_m < reach_m) {
        at = next as usize;
        if at == lane {
            break;
        }
        out.push(at);
        done_m += network.segments[at / 2].length_m;
    }
    out
}
