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

pub(in crate::ask) use gaps::{joins_gaps, may_be_driven};
pub use model::{JoinedGap, MatchOptions, Matched, Step, TrackPoint, Unmatched};
pub use roads::RoadGraph;
pub(in crate::ask) use roads::nearest;

/// Matches one unbroken piece of a track.
pub fn matched(roads: &RoadGraph, points: &[TrackPoint], options: &MatchOptions) -> Matched {
    matched_pieces(roads, &[points], options)
}

/// Matches the pieces of a track. Devices begin a new piece where they had no fix: what lies between two pieces is driven
/// where the times at its ends tell that it can have been, and otherwise is not part of the track.
pub fn matched_pieces<P: AsRef<[TrackPoint]>>(roads: &RoadGraph, pieces: &[P], options: &MatchOptions) -> Matched {
    let (mut spots, mut gaps_join) = (Vec::new(), false);
    for piece in pieces.iter().map(AsRef::as_ref) {
        let first = spots.len();
        spots.extend(gather::gathered(piece, 2.0 * options.sigma_m));
        spots[first..].iter_mut().take(1).for_each(|s| s.begins = first > 0);
        gaps_join |= joins_gaps(piece, options.gap_m);
    }
    let chains = chains::chains(roads, &spots, options, gaps_join);
    let mut out = assemble::steps(roads, &spots, &chains, options);
    out.points = pieces.iter().map(|p| p.as_ref().len()).sum();
    out
}
