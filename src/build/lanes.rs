//! Neighbours of every lane of a build, and how far covers run on along the strokes.
use crate::map::extract::model::Road;
use crate::map::network::model::{LaneStep, Network};
use crate::physics::scene::overheads::covers::{cover_runs, cover_tag};
use crate::rating::lanes::Links;

/// Neighbours along the strokes, and how far covers run on.
pub(crate) struct Lanes {
    /// Neighbours.
    pub links: Links,
    /// Per lane: how far its own cover runs on before and after it, metres.
    pub cover_runs_m: Vec<(f32, f32)>,
}

impl Lanes {
    /// Walks all strokes once.
    pub fn new(network: &Network, roads: &[Road]) -> Self {
        let links = Links::new(&network.strokes, network.segments.iter().map(|s| s.length_m).collect());
        let mut lanes = Self { links, cover_runs_m: vec![(0.0, 0.0); 2 * network.segments.len()] };
        for stroke in &network.strokes {
            let tag = |(s, d): &LaneStep| {
                let segment = &network.segments[s.at()];
                (cover_tag(&roads[segment.road.at()], segment, *d), segment.length_m)
            };
            let pieces: Vec<_> = stroke.driven().map(tag).collect();
            for ((s, d), (before_m, after_m)) in stroke.driven().zip(cover_runs(&pieces)) {
                lanes.cover_runs_m[s.lane(*d).at()] = (before_m as f32, after_m as f32);
            }
        }
        lanes
    }
}
