//! Skies by latitude, and the simulated drives of all strokes.
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use super::pieces::RoadPiece;
use crate::base::error::Result;
use crate::base::index::{LaneIndex, SegmentIndex};
use crate::base::progress::Progress;
use crate::base::words::{Case, Direction, PerCase, Rating};
use crate::map::network::model::Stroke;
use crate::physics::link::drive::{simulate, simulate_under};
use crate::physics::link::model::{OutageStats, RatedFigures, Stretch};
use crate::physics::link::rating::rating;
use crate::physics::link::sky::LinkSky;
use crate::physics::orbit::Sky;
use crate::physics::orbit::cone::Cone;
use crate::physics::orbit::model::Timeline;
use crate::physics::orbit::weights::{cone_weights, expected_in_cone};
use crate::physics::scene::overheads::overhead::Overhead;
use crate::physics::sky::leaves::LeafOdds;
use crate::physics::sky::mask::{Mask, SkyGrid};
use crate::physics::sky::shares::SeenThrough;
use crate::profile::{Bearings, Profile, Terminal};

/// Length of a timeline, seconds: long enough that two timelines give the same statistics.
pub(crate) const TIMELINE_S: u32 = 3 * 3600;

/// Roads as the link stage sees them: of a build, or of a layer that is rated again.
pub struct Roads<'a> {
    /// Assumptions.
    pub profile: &'a Profile,
    /// By segment.
    pub pieces: &'a [RoadPiece<'a>],
    /// Segments driven one after another.
    pub strokes: &'a [Stroke],
    /// What stands over every lane, in its own coordinate.
    pub own: &'a [Vec<Overhead>],
    /// Masks of a lane in the order driven, with what is assumed about the roadside at an end of its range or as stated; none where
    /// no sky was computed.
    pub masks: &'a (dyn Fn(LaneIndex, Case) -> Result<Vec<Mask>> + Sync),
    /// Whether the masks of a lane at either end are others than those as stated.
    pub apart: &'a (dyn Fn(LaneIndex) -> bool + Sync),
}

/// Skies of all latitudes of a region.
pub struct Skies {
    /// Grid of weights and masks.
    pub grid: SkyGrid,
    /// Probability that leaves block.
    pub leaf_odds: LeafOdds,
    by_key: BTreeMap<i32, (Sky, Vec<f32>)>,
    /// Ratings of roads with nothing beside and above them, by latitude.
    open_roads: BTreeMap<i32, Rating>,
    /// Whether the usable sky turns with the vehicle.
    turns: bool,
    terminal: Terminal,
}

/// Builds the skies of every latitude that has roads. `timeline_of` gives the timeline of real satellites at a latitude key, where
/// there are such; else it is made of the profile's shells.
pub fn skies(
    profile: &Profile,
    pieces: &[RoadPiece],
    grid: SkyGrid,
    timeline_of: &(dyn Fn(i32) -> Option<Timeline> + Sync),
) -> Skies {
    let mut keys: Vec<i32> = pieces.iter().map(RoadPiece::latitude_key).collect();
    keys.sort_unstable();
    keys.dedup();
    let build = |key: &i32| {
        let sky = match timeline_of(*key) {
            Some(timeline) => Sky::with_timeline(timeline, &profile.constellation, &profile.link, grid),
            None => Sky::build(*key, &profile.constellation, &profile.link, grid, TIMELINE_S),
        };
        let weights = cone_weights(&sky.weights, grid, &profile.terminal, 0.0);
        (*key, (sky, weights))
    };
    let (terminal, turns) = (profile.terminal.clone(), Cone::new(&profile.terminal).turns());
    let leaf_odds = LeafOdds::of(profile);
    let by_key: BTreeMap<i32, (Sky, Vec<f32>)> = keys.par_iter().map(build).collect();
    let open = |(key, (sky, _)): (&i32, &(Sky, Vec<f32>))| (*key, open_road(profile, sky, grid));
    let open_roads = by_key.par_iter().map(open).collect();
    Skies { grid, leaf_odds, by_key, open_roads, turns, terminal }
}

/// Rating of a road with nothing beside and above it: the middle of ten kilometres driven at 90 km/h.
fn open_road(profile: &Profile, sky: &Sky, grid: SkyGrid) -> Rating {
    const PIECES: usize = 41;
    let (masks, headings_deg, overheads) = (Vec::new(), Vec::new(), Vec::new());
    let piece = Stretch { length_m: 250.0, speed_mps: 25.0, masks, headings_deg, overheads };
    let stats = simulate(&vec![piece; PIECES], &sky.timeline, grid, profile, 0)[PIECES / 2];
    rating(stats.outage_p95_s, stats.outage_share, stats.outage_share_window, &profile.rating)
}

impl Skies {
    /// Rating of a road near a segment if nothing stood beside and above it.
    pub fn open_road(&self, piece: &RoadPiece) -> Rating {
        self.open_roads[&piece.latitude_key()]
    }
    /// Latitudes, degrees, at which such a road is not steady, with its rating.
    pub fn short_of_satellites(&self) -> impl Iterator<Item = (i32, Rating)> + '_ {
        self.open_roads.iter().map(|(key, rating)| (*key, *rating)).filter(|(_, rating)| *rating != Rating::Steady)
    }
    pub(crate) fn of(&self, piece: &RoadPiece) -> &(Sky, Vec<f32>) {
        // `skies` has looked at every piece, so the key is there.
        &self.by_key[&piece.latitude_key()]
    }
    /// Normalised weights of the usable sky over a segment driven with a heading.
    pub fn weights(&self, piece: &RoadPiece, heading_deg: f64) -> Cow<'_, [f32]> {
        let (sky, upright) = self.of(piece);
        if !self.turns {
            return Cow::Borrowed(upright);
        }
        Cow::Owned(cone_weights(&sky.weights, self.grid, &self.terminal, heading_deg))
    }
    /// The usable sky with such weights, and what leaves do to it.
    pub fn seen_through<'a>(&'a self, weights: &'a [f32]) -> SeenThrough<'a> {
        SeenThrough { grid: self.grid, odds: &self.leaf_odds, weights }
    }
    /// Normalised weights of the usable sky of a level panel near a segment, nothing of it hidden by a vehicle.
    pub fn level(&self, piece: &RoadPiece) -> Vec<f32> {
        let (tilt_deg, bearings_from) = (0.0, Bearings::North);
        let level = Terminal { tilt_deg, bearings_from, blocked: Vec::new(), ..self.terminal.clone() };
        cone_weights(&self.of(piece).0.weights, self.grid, &level, 0.0)
    }
    /// Whether no satellite ever stands high enough at any latitude.
    pub fn are_empty(&self) -> bool {
        self.by_key.values().all(|(sky, _)| sky.timeline.sightings.is_empty())
    }
    /// Expected usable satellites in the usable sky by latitude, for the summary.
    pub fn expected(&self) -> impl Iterator<Item = (i32, f64)> + '_ {
        self.by_key.iter().map(|(k, (sky, _))| (*k, expected_in_cone(&sky.weights, self.grid, &self.terminal)))
    }
}

/// Statistics of every lane; zeros where it is not driven.
pub fn drive(roads: &Roads, skies: &Skies, progress: &dyn Progress) -> Result<Vec<OutageStats>> {
    let skies = link_skies(roads, skies);
    let by_stroke = each_stroke(roads, progress, &|stroke| of_stroke(roads, &skies, stroke, Case::Likely))?;
    Ok(by_lane(roads, by_stroke.iter().map(Vec::as_slice)))
}

/// The same with what is assumed about the roadside at either end of its range as well. The three meet the same satellites and
/// gaps; where their masks are the same they are driven once.
pub fn drive_cases(roads: &Roads, skies: &Skies, progress: &dyn Progress) -> Result<PerCase<Vec<OutageStats>>> {
    let skies = link_skies(roads, skies);
    let by_stroke = each_stroke(roads, progress, &|stroke: &Stroke| {
        let likely = of_stroke(roads, &skies, stroke, Case::Likely)?;
        if !stroke.steps.iter().any(|(segment, direction)| (roads.apart)(segment.lane(*direction))) {
            return Ok(PerCase::of(|_| likely.clone()));
        }
        let [best, worst] = [Case::Best, Case::Worst].map(|case| of_stroke(roads, &skies, stroke, case));
        Ok(PerCase { best: best?, likely, worst: worst? })
    })?;
    Ok(PerCase::of(|case| by_lane(roads, by_stroke.iter().map(|stats| stats[case].as_slice()))))
}

fn each_stroke<T: Send>(
    roads: &Roads,
    progress: &dyn Progress,
    of: &(dyn Fn(&Stroke) -> Result<T> + Sync),
) -> Result<Vec<T>> {
    let told = |stroke: &Stroke| {
        let out = of(stroke);
        progress.advance(1);
        out
    };
    let all: Vec<Result<T>> = roads.strokes.par_iter().map(told).collect();
    all.into_iter().collect()
}

/// Statistics of the lanes of a stroke in the order driven.
fn of_stroke(roads: &Roads, skies: &BTreeMap<i32, LinkSky>, stroke: &Stroke, case: Case) -> Result<Vec<OutageStats>> {
    let first = &roads.pieces[stroke.steps[0].0.at()];
    if first.boarded {
        return Ok(aboard(roads, stroke));
    }
    let stretches = stretches(roads, stroke, case)?;
    let key = stroke_key(roads, stroke);
    Ok(simulate_under(&stretches, &skies[&first.latitude_key()], roads.profile, key))
}

/// Statistics in the order of lanes, from those of every stroke.
fn by_lane<'s>(roads: &Roads, by_stroke: impl Iterator<Item = &'s [OutageStats]>) -> Vec<OutageStats> {
    let mut out = vec![OutageStats::default(); 2 * roads.pieces.len()];
    for (stroke, stats) in roads.strokes.iter().zip(by_stroke) {
        for ((segment, direction), stats) in stroke.steps.iter().zip(stats) {
            out[segment.lane(*direction).at()] = *stats;
        }
    }
    out
}

/// The skies that drives of the strokes begin under, by latitude.
fn link_skies(roads: &Roads, skies: &Skies) -> BTreeMap<i32, LinkSky> {
    let first = |stroke: &Stroke| roads.pieces[stroke.steps[0].0.at()].latitude_key();
    let keys: BTreeSet<i32> = roads.strokes.iter().map(first).collect();
    let of_key = |key: &i32| (*key, LinkSky::new(&skies.by_key[key].0.timeline, skies.grid, roads.profile));
    keys.par_iter().map(of_key).collect()
}

/// Statistics of a crossing: one outage from quay to quay.
fn aboard(roads: &Roads, stroke: &Stroke) -> Vec<OutageStats> {
    let piece = |id: &SegmentIndex| &roads.pieces[id.at()];
    let seconds = |(id, d): &(SegmentIndex, Direction)| piece(id).seconds(*d, &roads.profile.vehicle);
    let crossing_s: f64 = stroke.steps.iter().map(seconds).sum();
    let edges = &roads.profile.rating;
    let begins = |step: &(SegmentIndex, Direction)| f64::from(stroke.steps.first() == Some(step));
    let beyond = |edge_s: f64| f64::from(crossing_s > edge_s);
    let certain = RatedFigures { outage_p95_s: crossing_s, outage_share: 1.0, outage_share_window: 1.0 };
    let edges_s = [edges.blips_outage_s, edges.gaps_outage_s, edges.drops_outage_s];
    let mut left_s = crossing_s;
    let of_step = |step: &(SegmentIndex, Direction)| {
        let here_s = left_s;
        left_s -= seconds(step);
        OutageStats {
            running: edges_s.map(|edge_s| (1.0 - begins(step)) * f64::from(here_s > edge_s)),
            halves: [certain; 2],
            goes_on: f64::from(stroke.steps.last() != Some(step)),
            outage_share: 1.0,
            outage_s: seconds(step),
            outage_share_window: 1.0,
            outages_per_10km: begins(step) * 10_000.0 / piece(&step.0).length_m.max(1.0),
            outage_p50_s: crossing_s,
            outage_p95_s: crossing_s,
            longest_outage_s: crossing_s,
            beyond: edges_s.map(|e| begins(step) * beyond(e)),
        }
    };
    stroke.steps.iter().map(of_step).collect()
}

/// Names a stroke by the two places it begins with, so that its draws depend neither on what else is in
/// the extract nor on how its road is split into ways.
pub(crate) fn stroke_key(roads: &Roads, stroke: &Stroke) -> u64 {
    let (segment, direction) = stroke.steps[0];
    let [a, b] = roads.pieces[segment.at()].begins(direction);
    let mix = |key: u64, word: i32| (key.rotate_left(23) ^ u64::from(word as u32)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    [a.lon_e7, a.lat_e7, b.lon_e7, b.lat_e7].into_iter().fold(0, mix)
}

pub(crate) fn stretches(roads: &Roads, stroke: &Stroke, case: Case) -> Result<Vec<Stretch>> {
    let of_step = |(id, direction): &(SegmentIndex, Direction)| {
        let (piece, lane) = (&roads.pieces[id.at()], id.lane(*direction));
        Ok(Stretch {
            length_m: piece.length_m,
            speed_mps: piece.driven_kmh(*direction, &roads.profile.vehicle) / 3.6,
            masks: (roads.masks)(lane, case)?,
            headings_deg: piece.headings_deg(*direction),
            overheads: roads.own[lane.at()].clone(),
        })
    };
    stroke.steps.iter().map(of_step).collect()
}
