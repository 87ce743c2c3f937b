//! The most likely lane for every point (Viterbi), in chains that break where no way joins two points.
use super::Options;
use super::gather::Spot;
use super::roads::Roads;
use super::routes::{Search, TURN_ROUND_M};
use crate::base::geodesy::distance_m;

/// States this far below the best in log likelihood are given up: a point at the edge of the default radius (28) holds.
const BEAM: f64 = 40.0;
/// Most segments near one point that are considered: with 16 the road driven is not among them in an interchange, where
/// noise of 20 m has more on either side.
const CANDIDATES: usize = 48;
/// A vehicle that takes each of `k` ways on alike takes one of them with a log likelihood of `-ln k`, which the paper
/// leaves out; without it a way through many junctions fits noise too easily. Half of it, since drivers do not wander:
/// a main road is not left at every junction. Tuned on the seeds that `tests/suite/trip/drives.rs` names.
const CHOICE_WEIGHT: f64 = 0.5;
/// Points that fit nowhere and are passed over before a chain is broken.
const PASSED_OVER: usize = 3;

/// A place on a lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub lane: u32,
    /// From the lane's start in the direction driven, metres.
    pub along_m: f64,
}

/// Points and their places, joined by ways.
pub(super) type Chain = Vec<(usize, Place)>;

/// How a place is reached from the one before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Way {
    /// On the same lane.
    Ahead(f64),
    /// Noise puts the point behind the one before.
    Behind(f64),
    /// The vehicle turns round on the spot and drives back.
    Round(f64),
    /// Over other lanes.
    Over(f64),
}

impl Way {
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
pub(super) fn way(roads: &Roads, search: &Search, a: Place, b: Place, slip_m: f64) -> Option<Way> {
    if a.lane == b.lane {
        let m = b.along_m - a.along_m;
        if m >= 0.0 {
            return Some(Way::Ahead(m));
        }
        if -m <= slip_m {
            return Some(Way::Behind(-m));
        }
    }
    if roads.twin(a.lane) == Some(b.lane) {
        let m = b.along_m - (roads.length_m(a.lane) - a.along_m);
        if m >= 0.0 {
            return Some(Way::Round(m));
        }
    }
    let over = search.to_m(b.lane).map(|m| m + b.along_m);
    match behind_m(roads, a.lane, a.along_m, b, slip_m, 0) {
        Some(m) if over.is_none_or(|o| o > m + slip_m) => Some(Way::Behind(m)),
        _ => over.map(Way::Over),
    }
}

/// How far a place lies behind another along the lanes that lead to it, up to a limit, metres.
fn behind_m(roads: &Roads, lane: u32, along_m: f64, target: Place, limit_m: f64, depth: u32) -> Option<f64> {
    const DEEPEST: u32 = 4;
    if along_m > limit_m || depth > DEEPEST {
        return None;
    }
    let twin = roads.twin(lane);
    let before = roads.arriving[roads.lanes[lane as usize].from as usize].iter().filter(|l| Some(**l) != twin);
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

struct Column {
    point: usize,
    places: Vec<Place>,
    score: Vec<f64>,
    back: Vec<u32>,
}

/// Finds the chains of a track.
pub(super) fn chains(roads: &Roads, points: &[Spot], options: &Options) -> Vec<Chain> {
    let mut search = Search::new(roads);
    let (mut out, mut open, mut passed) = (Vec::new(), Vec::<Column>::new(), Vec::new());
    let mut at = 0;
    while at <= points.len() {
        let end = at == points.len();
        let apart_m = match (open.last(), points.get(at)) {
            (Some(last), Some(point)) => distance_m(points[last.point].at, point.at),
            _ => 0.0,
        };
        if end || apart_m > options.gap_m || passed.len() > PASSED_OVER {
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
            let new = Column { point: at, back: vec![0; places.len()], places, score: emission };
            match open.last() {
                None => open.push(new),
                Some(last) => match advanced(roads, &mut search, last, new, apart_m, options) {
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
fn candidates(roads: &Roads, point: &Spot, options: &Options) -> (Vec<Place>, Vec<f64>) {
    let (mut places, mut scores) = (Vec::new(), Vec::new());
    for near in roads.near(point.at, options.radius_m).into_iter().take(CANDIDATES) {
        let [forward, backward] = roads.of_road[near.road as usize];
        let length_m = roads.lengths_m[near.road as usize];
        let places_here = [(forward, near.along_m), (backward, length_m - near.along_m)];
        for (lane, along_m) in places_here {
            if let Some(lane) = lane {
                places.push(Place { lane, along_m: along_m.clamp(0.0, length_m) });
                // Equation 1 of the paper, without the constant.
                scores.push(-0.5 * point.weight * (near.distance_m / options.sigma_m).powi(2));
            }
        }
    }
    (places, scores)
}

/// The next column with its best predecessors; `None` where nothing leads to it. `new.score` holds the emissions.
fn advanced(
    roads: &Roads,
    search: &mut Search,
    last: &Column,
    mut new: Column,
    apart_m: f64,
    options: &Options,
) -> Option<Column> {
    let likely = joined(roads, search, last, &mut new, apart_m, options, BEAM);
    // Only a way far longer than the line joins them: every state is as unlikely, and the beam says nothing.
    let score = likely.or_else(|| joined(roads, search, last, &mut new, apart_m, options, f64::INFINITY))?;
    new.score.iter_mut().zip(&score).for_each(|(emission, s)| *emission += s);
    Some(new)
}

/// Scores of the ways to each place of a column, which learns where they come from; `None` where there is no way.
fn joined(
    roads: &Roads,
    search: &mut Search,
    last: &Column,
    new: &mut Column,
    apart_m: f64,
    options: &Options,
    beam: f64,
) -> Option<Vec<f64>> {
    let mut score = vec![f64::NEG_INFINITY; new.places.len()];
    let top = last.score.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let slip_m = 4.0 * options.sigma_m;
    let beta_m = options.beta_m + options.beta_share * apart_m;
    for (i, from) in last.places.iter().enumerate() {
        let left = beam - (top - last.score[i]);
        if left < 0.0 || last.score[i] == f64::NEG_INFINITY {
            continue;
        }
        // A longer way would fall out of the beam by itself.
        search.run(roads, from.lane, from.along_m, limit_m(apart_m).min(apart_m + left * beta_m));
        for (j, to) in new.places.iter().enumerate() {
            let Some(way) = way(roads, search, *from, *to, slip_m) else { continue };
            // Equations 2 and 3 of the paper, without the constant.
            let choices = if let Way::Over(_) = way { search.choices(to.lane) } else { 0.0 };
            let s = last.score[i] - (apart_m - way.cost_m()).abs() / beta_m - CHOICE_WEIGHT * choices;
            if s > score[j] {
                (score[j], new.back[j]) = (s, i as u32);
            }
        }
    }
    score.iter().any(|s| s.is_finite()).then_some(score)
}

/// The most likely places of a chain.
fn best(columns: &[Column]) -> Option<Chain> {
    let last = columns.last()?;
    let mut at = (0..last.score.len()).max_by(|a, b| last.score[*a].total_cmp(&last.score[*b]).then(b.cmp(a)))?;
    let mut chain = Vec::with_capacity(columns.len());
    for column in columns.iter().rev() {
        chain.push((column.point, column.places[at]));
        at = column.back[at] as usize;
    }
    chain.reverse();
    Some(chain)
}
