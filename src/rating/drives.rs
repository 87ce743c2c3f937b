//! Skies by latitude, and the simulated drives of all strokes.
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex};

use rayon::prelude::*;

use super::pieces::RoadPiece;
use crate::base::error::Result;
use crate::base::index::{LaneIndex, SegmentIndex};
use crate::base::progress::Progress;
use crate::base::words::{Case, Direction, PerCase, Rating};
use crate::map::network::model::Stroke;
use crate::physics::link::model::{OutageStats, RatedFigures, Stretch};
use crate::physics::link::rating::rating;
use crate::physics::link::simulate::{simulate, simulate_together, simulate_under};
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
    by_key: BTreeMap<i32, Arc<SkyOfLatitude>>,
    /// Whether the usable sky turns with the vehicle.
    turns: bool,
    terminal: Terminal,
}

/// The latitudes under which the skies of some roads are found.
pub fn latitude_keys<'p>(pieces: impl IntoIterator<Item = &'p RoadPiece<'p>>) -> BTreeSet<i32> {
    pieces.into_iter().map(RoadPiece::latitude_key).collect()
}

/// The sky of one latitude.
struct SkyOfLatitude {
    sky: Sky,
    /// Weights for a panel that does not turn with the vehicle.
    upright: Vec<f32>,
    /// Rating of a road with nothing beside and above it.
    open_road: Rating,
}

/// Skies that are made once for many roads, by latitude key and zone.
#[derive(Default)]
pub struct SkyStore {
    made: Mutex<BTreeMap<(i32, i32), Arc<SkyOfLatitude>>>,
}

/// A timeline of real satellites at a latitude key, where there are such.
type TimelineOf<'t> = dyn Fn(i32) -> Option<Timeline> + Sync + 't;

/// Builds the skies of latitudes. `timeline_of` gives the timeline of real satellites at a latitude key, where
/// there are such; else it is made of the profile's shells.
pub fn skies(profile: &Profile, keys: &BTreeSet<i32>, grid: SkyGrid, timeline_of: &TimelineOf) -> Skies {
    skies_of(profile, keys, grid, timeline_of, (&SkyStore::default(), 0))
}

/// The same with those that a store holds already, all of one profile and grid; real satellites differ from zone to zone.
pub fn skies_of(
    profile: &Profile,
    keys: &BTreeSet<i32>,
    grid: SkyGrid,
    timeline_of: &TimelineOf,
    (store, zone): (&SkyStore, i32),
) -> Skies {
    let build = |key: &i32| {
        // Two that ask at the same time both make it, and one of the two is kept: they are the same.
        if let Some(made) = store.made.lock().ok().and_then(|made| made.get(&(*key, zone)).cloned()) {
            return (*key, made);
        }
        let sky = match timeline_of(*key) {
            Some(timeline) => Sky::with_timeline(timeline, &profile.constellation, &profile.link, grid),
            None => Sky::build(*key, &profile.constellation, &profile.link, grid, TIMELINE_S),
        };
        let upright = cone_weights(&sky.weights, grid, &profile.terminal, 0.0);
        let open_road = open_road(profile, &sky, grid);
        let made = Arc::new(SkyOfLatitude { sky, upright, open_road });
        if let Ok(mut all) = store.made.lock() {
            all.insert((*key, zone), Arc::clone(&made));
        }
        (*key, made)
    };
    let (terminal, turns) = (profile.terminal.clone(), Cone::new(&profile.terminal).turns());
    let by_key = keys.par_iter().map(build).collect();
    Skies { grid, leaf_odds: LeafOdds::of(profile), by_key, turns, terminal }
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
        self.of(piece).open_road
    }
    /// Latitudes, degrees, at which such a road is not steady, with its rating.
    pub fn short_of_satellites(&self) -> impl Iterator<Item = (i32, Rating)> + '_ {
        self.by_key.iter().map(|(key, of)| (*key, of.open_road)).filter(|(_, rating)| *rating != Rating::Steady)
    }
    fn of(&self, piece: &RoadPiece) -> &SkyOfLatitude {
        // `skies` has looked at every piece, so the key is there.
        &self.by_key[&piece.latitude_key()]
    }
    /// The sky that a segment lies under.
    #[cfg(test)]
    pub(crate) fn sky(&self, piece: &RoadPiece) -> &Sky {
        &self.of(piece).sky
    }
    /// Normalised weights of the usable sky over a segment driven with a heading.
    pub fn weights(&self, piece: &RoadPiece, heading_deg: f64) -> Cow<'_, [f32]> {
        let of = self.of(piece);
        if !self.turns {
            return Cow::Borrowed(&of.upright);
        }
        Cow::Owned(cone_weights(&of.sky.weights, self.grid, &self.terminal, heading_deg))
    }
    /// The usable sky with such weights, and what leaves do to it.
    pub fn seen_through<'a>(&'a self, weights: &'a [f32]) -> SeenThrough<'a> {
        SeenThrough { grid: self.grid, odds: &self.leaf_odds, weights }
    }
    /// Normalised weights of the usable sky of a level panel near a segment, nothing of it hidden by a vehicle.
    pub fn level(&self, piece: &RoadPiece) -> Vec<f32> {
        let (tilt_deg, bearings_from) = (0.0, Bearings::North);
        let level = Terminal { tilt_deg, bearings_from, blocked: Vec::new(), ..self.terminal.clone() };
        cone_weights(&self.of(piece).sky.weights, self.grid, &level, 0.0)
    }
    /// Whether no satellite ever stands high enough at any latitude.
    pub fn are_empty(&self) -> bool {
        self.by_key.values().all(|of| of.sky.timeline.sightings.is_empty())
    }
    /// Expected usable satellites in the usable sky by latitude, for the summary.
    pub fn expected(&self) -> impl Iterator<Item = (i32, f64)> + '_ {
        self.by_key.iter().map(|(k, of)| (*k, expected_in_cone(&of.sky.weights, self.grid, &self.terminal)))
    }
}

/// Statistics of all drives.
pub struct StatsOfAll {
    /// By lane; zeros where it is not driven.
    pub lanes: PerCase<Vec<OutageStats>>,
    /// As stated, by stroke, of all that is driven in it.
    pub strokes: Vec<Vec<OutageStats>>,
}

/// Statistics as stated, which stand for best and worst too.
pub fn drive(roads: &Roads, skies: &Skies, progress: &dyn Progress) -> Result<StatsOfAll> {
    let skies = link_skies(roads, skies);
    let strokes = each_stroke(roads, progress, &|stroke| of_stroke(roads, &skies, stroke, Case::Likely))?;
    let lanes = by_lane(roads, &|nth| strokes[nth].as_slice());
    Ok(StatsOfAll { lanes: PerCase::of(|_| lanes.clone()), strokes })
}

/// The same with what is assumed about the roadside at either end of its range as well. The three meet the same satellites and
/// gaps; where their masks are the same they are driven once.
pub fn drive_cases(roads: &Roads, skies: &Skies, progress: &dyn Progress) -> Result<StatsOfAll> {
    let skies = link_skies(roads, skies);
    let by_stroke = each_stroke(roads, progress, &|stroke: &Stroke| {
        let apart = stroke.driven().any(|(segment, direction)| (roads.apart)(segment.lane(*direction)));
        let first = &roads.pieces[stroke.steps[0].0.at()];
        let Some(sky) = skies.get(&first.latitude_key()).filter(|_| apart && !first.boarded) else {
            return Ok((of_stroke(roads, &skies, stroke, Case::Likely)?, None));
        };
        let of_case = |case: Case| stretches(roads, stroke, case);
        let [best, likely, worst] = [of_case(Case::Best)?, of_case(Case::Likely)?, of_case(Case::Worst)?];
        let [best, likely, worst] =
            simulate_together([&best, &likely, &worst], sky, roads.profile, stroke_key(roads, stroke));
        Ok((likely, Some([best, worst])))
    })?;
    let of_case = |case: Case, nth: usize| match (&by_stroke[nth], case) {
        ((_, Some([best, _])), Case::Best) => best.as_slice(),
        ((_, Some([_, worst])), Case::Worst) => worst.as_slice(),
        ((likely, _), _) => likely.as_slice(),
    };
    let lanes = PerCase::of(|case| by_lane(roads, &|nth| of_case(case, nth)));
    Ok(StatsOfAll { lanes, strokes: by_stroke.into_iter().map(|(likely, _)| likely).collect() })
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

/// Statistics of all that is driven in a stroke, in order.
fn of_stroke(roads: &Roads, skies: &BTreeMap<i32, LinkSky>, stroke: &Stroke, case: Case) -> Result<Vec<OutageStats>> {
    let first = &roads.pieces[stroke.steps[0].0.at()];
    if first.boarded {
        return Ok(aboard(roads, stroke));
    }
    let stretches = stretches(roads, stroke, case)?;
    let key = stroke_key(roads, stroke);
    Ok(simulate_under(&stretches, &skies[&first.latitude_key()], roads.profile, key))
}

/// Statistics in the order of lanes, from those of every stroke. A lane has those of the stroke that it is a step of; one that
/// belongs to another district those it is driven before or after with.
fn by_lane<'s>(roads: &Roads, of_stroke: &dyn Fn(usize) -> &'s [OutageStats]) -> Vec<OutageStats> {
    let mut out = vec![OutageStats::default(); 2 * roads.pieces.len()];
    for own in [false, true] {
        for (nth, stroke) in roads.strokes.iter().enumerate() {
            let told = stroke.driven().zip(of_stroke(nth)).enumerate();
            for (_, ((segment, direction), stats)) in told.filter(|(at, _)| !own || stroke.own().contains(at)) {
                out[segment.lane(*direction).at()] = *stats;
            }
        }
    }
    out
}

/// The skies that drives of the strokes begin under, by latitude.
fn link_skies(roads: &Roads, skies: &Skies) -> BTreeMap<i32, LinkSky> {
    let first = |stroke: &Stroke| roads.pieces[stroke.steps[0].0.at()].latitude_key();
    let keys: BTreeSet<i32> = roads.strokes.iter().map(first).collect();
    let of_key = |key: &i32| (*key, LinkSky::new(&skies.by_key[key].sky.timeline, skies.grid, roads.profile));
    keys.par_iter().map(of_key).collect()
}

/// Statistics of a crossing: one outage from quay to quay, however many districts lie between.
fn aboard(roads: &Roads, stroke: &Stroke) -> Vec<OutageStats> {
    let piece = |id: &SegmentIndex| &roads.pieces[id.at()];
    let seconds = |(id, d): &(SegmentIndex, Direction)| piece(id).seconds(*d, &roads.profile.vehicle);
    let (first, last) = (stroke.driven().next(), stroke.driven().last());
    let crossing_s: f64 = stroke.driven().map(seconds).sum();
    let edges = &roads.profile.rating;
    let begins = |step: &(SegmentIndex, Direction)| f64::from(first == Some(step));
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
            goes_on: f64::from(last != Some(step)),
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
    stroke.driven().map(of_step).collect()
}

/// Names a stroke by the two places it begins with, so that its draws depend neither on what else is in
/// the extract nor on how its road is split into ways.
pub(crate) fn stroke_key(roads: &Roads, stroke: &Stroke) -> u64 {
    let (segment, direction) = stroke.steps[0];
    let [a, b] = roads.pieces[segment.at()].begins(direction);
    let mix = |key: u64, word: i32| (key.rotate_left(23) ^ u64::from(word as u32)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    [a.lon_e7, a.lat_e7, b.lon_e7, b.lat_e7].into_iter().fold(0, mix)
}

/// All that is driven, in order: its own steps and what lies before and after them.
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
    stroke.driven().map(of_step).collect()
}
