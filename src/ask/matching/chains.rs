//! The most likely lane for every point (Viterbi), in chains that break where no way joins two points.
use super::gaps::{GapSearch, GapSpan, WAITED_S};
use super::gather::TrackSpot;
use super::model::MatchOptions;
use super::roads::{LaneCandidate, RoadGraph, SegmentPoint};
use super::routes::{LaneSearch, TURN_ROUND_M};
use crate::base::geodesy::distance_m;
use crate::base::index::GraphLaneIndex;

/// States this far below the best in log likelihood are given up: a point at the edge of the default radius (28) holds.
const BEAM: f64 = 40.0;
/// Most segments near one point that are considered: with 16 the road driven is not among them in an interchange, where
/// noise of 20 m has more on either side.
const CANDIDATES: usize = 48;
/// A vehicle that takes each of `k` ways on alike takes one of them with a log likelihood of `-ln k`, which the paper
/// leaves out; without it a way through many junctions fits noise too easily. Half of it, since drivers do not wander:
/// a main road is not left at every junction. Tuned on the seeds that `tests/suite/ask/drives.rs` names.
const CHOICE_WEIGHT: f64 = 0.5;
/// Points that fit nowhere and are passed over before a chain is broken.
const PASSED_OVER: usize = 3;
/// Points that a receiver takes at most to settle behind a tunnel. Assumed.
const SETTLING: usize = 50;
/// Places before a gap from which ways over it are looked for, the most likely.
const GAP_PLACES: usize = 8;

/// Points and their places, joined by ways.
pub(super) type Chain = Vec<(usize, LaneCandidate)>;

/// How a place is reached from the one before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Hop {
    /// On the same lane.
    Ahead(f64),
    /// Noise puts the point behind the one before.
    Behind(f64),
    /// The vehicle turns round on the spot and drives back.
    Round(f64),
    /// Over other lanes.
    Over(f64),
}

impl Hop {
    /// Metres as the transition counts them.
    fn cost_m(self) -> f64 {
        match self {
            Self::Ahead(m) | Self::Over(m) => m,
            Self::Behind(m) => -m,
            Self::Round(m) => m + TURN_ROUND_M,
        }
    }
}

/// Longest way searched between points a distance apart, metres.
pub(super) fn limit_m(apart_m: f64) -> f64 {
    3.0 * apart_m + 1_000.0
}

/// The shortest way between two places; the search must have run from the first.
pub(super) fn hop(search: &LaneSearch, a: LaneCandidate, b: LaneCandidate, slip_m: f64) -> Option<Hop> {
    let roads = search.roads;
    if a.lane == b.lane {
        let m = b.along_m - a.along_m;
        if m >= 0.0 {
            return Some(Hop::Ahead(m));
        }
        if -m <= slip_m {
            return Some(Hop::Behind(-m));
        }
    }
    if roads.twin(a.lane) == Some(b.lane) {
        let m = b.along_m - (roads.length_m(a.lane) - a.along_m);
        if m >= 0.0 {
            return Some(Hop::Round(m));
        }
    }
    let over = search.to_m(b.lane).map(|m| m + b.along_m);
    match behind_m(roads, a.lane, a.along_m, b, slip_m, 0) {
        Some(m) if over.is_none_or(|o| o > m + slip_m) => Some(Hop::Behind(m)),
        _ => over.map(Hop::Over),
    }
}

/// How far a place lies behind another along the lanes that lead to it, up to a limit, metres.
fn behind_m(
    roads: &RoadGraph,
    lane: GraphLaneIndex,
    along_m: f64,
    target: LaneCandidate,
    limit_m: f64,
    depth: u32,
) -> Option<f64> {
    const DEEPEST: u32 = 4;
    if along_m > limit_m || depth > DEEPEST {
        return None;
    }
    let twin = roads.twin(lane);
    let before = roads.arriving[roads.lanes[lane.at()].from.at()].iter().filter(|l| Some(**l) != twin);
    let found = before.filter_map(|l| {
        let length_m = roads.length_m(*l);
        let here_m = along_m + length_m - target.along_m;
        if *l == target.lane {
            return (here_m <= limit_m).then_some(here_m);
        }
        behind_m(roads, *l, along_m + length_m, target, limit_m, depth + 1)
    });
    found.min_by(f64::total_cmp)
}

/// A point, its places on lanes, and how likely the best way to each is.
struct TrellisColumn {
    point: usize,
    places: Vec<LaneCandidate>,
    score: Vec<f64>,
    back: Vec<usize>,
}

/// What is known between two points.
pub(super) fn gap(points: &[TrackSpot], a: usize, b: usize) -> GapSpan {
    let lasted_s = points[a].times_s.zip(points[b].times_s).map(|(a, b)| b.0 - a.1);
    GapSpan { apart_m: distance_m(points[a].at, points[b].at), lasted_s }
}

/// What lies between two points of a track.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Between {
    /// A step.
    Step,
    /// A gap.
    Gap,
    /// Nobody knows what.
    Unknown,
}

/// What lies between two points. Between pieces of a track it is known only by the times at its ends.
pub(super) fn between(points: &[TrackSpot], a: usize, b: usize, options: &MatchOptions) -> Between {
    let GapSpan { apart_m, lasted_s } = gap(points, a, b);
    let far = apart_m > options.gap_m;
    if !points[a + 1..=b].iter().any(|p| p.begins) {
        return if far { Between::Gap } else { Between::Step };
    }
    match lasted_s {
        Some(s) if s >= 0.0 && far => Between::Gap,
        Some(s) if (0.0..=WAITED_S).contains(&s) => Between::Step,
        _ => Between::Unknown,
    }
}

/// Whether what lies between two points is one leap, and not a way along points that fit no road. Few such points say nothing:
/// a receiver that comes out of a tunnel takes some to settle.
fn leaps(points: &[TrackSpot], a: usize, b: usize) -> bool {
    let apart_m = distance_m(points[a].at, points[b].at);
    let leap = |w: &[TrackSpot]| distance_m(w[0].at, w[1].at) >= 0.5 * apart_m;
    let between = b - a - 1;
    between <= PASSED_OVER || between <= SETTLING && points[a..=b].windows(2).any(leap)
}

/// Finds the chains of a track; `gaps_join`: also over points farther apart than the options say, where a way fits.
pub(super) fn chains(roads: &RoadGraph, points: &[TrackSpot], options: &MatchOptions, gaps_join: bool) -> Vec<Chain> {
    let mut trellis = Trellis { search: LaneSearch::new(roads), gaps: GapSearch::new(roads), options };
    let (mut out, mut open, mut passed) = (Vec::new(), Vec::<TrellisColumn>::new(), Vec::new());
    let mut at = 0;
    while at <= points.len() {
        let end = at == points.len();
        let (step, apart_m) = match (open.last(), points.get(at)) {
            (Some(last), Some(point)) => {
                let step = match between(points, last.point, at, options) {
                    // Many points that fit no road are not a gap: they show a way that the layer does not know.
                    Between::Gap if !gaps_join || !leaps(points, last.point, at) => Between::Unknown,
                    step => step,
                };
                (step, distance_m(points[last.point].at, point.at))
            }
            _ => (Between::Step, 0.0),
        };
        if end || step == Between::Unknown || passed.len() > PASSED_OVER {
            out.extend(best(&open));
            open.clear();
            // What was passed over may belong to a drive elsewhere.
            if let Some(first) = passed.first().copied() {
                at = first;
                passed.clear();
            } else if end {
                break;
            }
        }
        let Some(point) = points.get(at) else { break };
        let (places, emission) = candidates(roads, point, options);
        if !places.is_empty() {
            let new = TrellisColumn { point: at, back: vec![0; places.len()], places, score: emission };
            match open.last() {
                None => open.push(new),
                Some(last) if step == Between::Gap => match trellis.across(last, new, gap(points, last.point, at)) {
                    Some(column) => {
                        passed.clear();
                        open.push(column);
                    }
                    // What is known ends here. The point, or those passed over before it, may belong to a drive elsewhere.
                    None => {
                        out.extend(best(&open));
                        open.clear();
                        at = passed.first().copied().unwrap_or(at);
                        passed.clear();
                        continue;
                    }
                },
                Some(last) => match trellis.advanced(last, new, apart_m) {
                    Some(column) => {
                        passed.clear();
                        open.push(column);
                    }
                    None => passed.push(at),
                },
            }
        }
        at += 1;
    }
    out
}

/// Lanes near a point and the log likelihood of the point on each.
fn candidates(roads: &RoadGraph, point: &TrackSpot, options: &MatchOptions) -> (Vec<LaneCandidate>, Vec<f64>) {
    let (mut places, mut scores) = (Vec::new(), Vec::new());
    for SegmentPoint { road, on } in roads.near(point.at, options.radius_m).into_iter().take(CANDIDATES) {
        let [forward, backward] = roads.of_road[road.at()];
        let length_m = roads.lengths_m[road.at()];
        let places_here = [(forward, on.along_m), (backward, length_m - on.along_m)];
        for (lane, along_m) in places_here {
            if let Some(lane) = lane {
                places.push(LaneCandidate { lane, along_m: along_m.clamp(0.0, length_m) });
                // Equation 1 of the paper, without the constant.
                scores.push(-0.5 * point.weight * (on.distance_m / options.sigma_m).powi(2));
            }
        }
    }
    (places, scores)
}

/// What joins one column to the next.
struct Trellis<'a> {
    search: LaneSearch<'a>,
    gaps: GapSearch<'a>,
    options: &'a MatchOptions,
}

impl Trellis<'_> {
    /// The next column with its best predecessors; `None` where nothing leads to it. `new.score` holds the emissions.
    fn advanced(&mut self, last: &TrellisColumn, mut new: TrellisColumn, apart_m: f64) -> Option<TrellisColumn> {
        let likely = self.joined(last, &mut new, apart_m, BEAM);
        // Only a way far longer than the line joins them: every state is as unlikely, and the beam says nothing.
        let score = likely.or_else(|| self.joined(last, &mut new, apart_m, f64::INFINITY))?;
        new.score.iter_mut().zip(&score).for_each(|(emission, s)| *emission += s);
        Some(new)
    }
    /// The same over a gap; `None` where no way that fits leads over it.
    fn across(&mut self, last: &TrellisColumn, mut new: TrellisColumn, gap: GapSpan) -> Option<TrellisColumn> {
        let top = last.score.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut likely: Vec<usize> = (0..last.places.len()).filter(|i| top - last.score[*i] <= BEAM).collect();
        likely.sort_by(|a, b| last.score[*b].total_cmp(&last.score[*a]).then(a.cmp(b)));
        likely.truncate(GAP_PLACES);
        let mut score = vec![f64::NEG_INFINITY; new.places.len()];
        let beta_m = self.options.beta_m + self.options.beta_share * gap.apart_m;
        for i in likely {
            let from = last.places[i];
            self.gaps.run(from, gap);
            for (j, to) in new.places.iter().enumerate() {
                let Some(way) = self.gaps.way(from, *to, gap) else { continue };
                let s = last.score[i] - (gap.apart_m - way.length_m).abs() / beta_m;
                if s > score[j] {
                    (score[j], new.back[j]) = (s, i);
                }
            }
        }
        score.iter().any(|s| s.is_finite()).then_some(())?;
        new.score.iter_mut().zip(&score).for_each(|(emission, s)| *emission += s);
        Some(new)
    }
    /// Scores of the ways to each place of a column, which learns where they come from; `None` where there is no way.
    fn joined(&mut self, last: &TrellisColumn, new: &mut TrellisColumn, apart_m: f64, beam: f64) -> Option<Vec<f64>> {
        let mut score = vec![f64::NEG_INFINITY; new.places.len()];
        let top = last.score.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let slip_m = 4.0 * self.options.sigma_m;
        let beta_m = self.options.beta_m + self.options.beta_share * apart_m;
        for (i, from) in last.places.iter().enumerate() {
            let left = beam - (top - last.score[i]);
            if left < 0.0 || last.score[i] == f64::NEG_INFINITY {
                continue;
            }
            // A longer way would fall out of the beam by itself.
            self.search.run(from.lane, from.along_m, limit_m(apart_m).min(apart_m + left * beta_m));
            for (j, to) in new.places.iter().enumerate() {
                let Some(hop) = hop(&self.search, *from, *to, slip_m) else { continue };
                // Equations 2 and 3 of the paper, without the constant.
                let choices = if let Hop::Over(_) = hop { self.search.choices(to.lane) } else { 0.0 };
                let s = last.score[i] - (apart_m - hop.cost_m()).abs() / beta_m - CHOICE_WEIGHT * choices;
                if s > score[j] {
                    (score[j], new.back[j]) = (s, i);
                }
            }
        }
        score.iter().any(|s| s.is_finite()).then_some(score)
    }
}

/// The most likely places of a chain.
fn best(columns: &[TrellisColumn]) -> Option<Chain> {
    let last = columns.last()?;
    let mut at = (0..last.score.len()).max_by(|a, b| last.score[*a].total_cmp(&last.score[*b]).then(b.cmp(a)))?;
    let mut chain = Vec::with_capacity(columns.len());
    for column in columns.iter().rev() {
        chain.push((column.point, column.places[at]));
        at = column.back[at];
    }
    chain.reverse();
    Some(chain)
}
