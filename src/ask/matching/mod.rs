//! Map matching: which roads a track was driven on, and in which direction.
//!
//! A hidden Markov model as in P. Newson and J. Krumm, "Hidden Markov map matching through noise and sparseness",
//! 17th ACM SIGSPATIAL, 2009: a point is scattered around the road by a Gaussian, and the way driven between two points
//! is about as long as the line between them. In: points and roads. Out: lanes driven, and what could not be matched.
mod assemble;
mod chains;
mod gaps;
mod gather;
mod model;
mod roads;
mod routes;

pub(in crate::ask) use gaps::joins_gaps;
pub use model::{JoinedGap, MatchOptions, Matched, Step, TrackPoint, Unmatched};
pub use roads::RoadGraph;
pub(in crate::ask) use roads::nearest;

/// Matches one unbroken piece of a track.
pub fn matched(roads: &RoadGraph, points: &[TrackPoint], options: &MatchOptions) -> Matched {
    let spots = gather::gathered(points, 2.0 * options.sigma_m);
    let chains = chains::chains(roads, &spots, options, joins_gaps(points, options.gap_m));
    let mut out = assemble::steps(roads, &spots, &chains, options);
    out.points = points.len();
    out
}
