//! Skies by latitude, and the simulated drives of all chains.
use std::borrow::Cow;
use std::collections::BTreeMap;

use rayon::prelude::*;

use super::Run;
use super::lanes::lane;
use super::masks::SkyOfAll;
use super::overheads::Overheads;
use crate::error::Result;
use crate::geodesy::{LocalPlane, normal_deg};
use crate::link::drive::simulate;
use crate::link::model::{BreakStats, Stretch};
use crate::network::model::{Chain, Direction, Segment};
use crate::network::station::spaced;
use crate::orbit::weights::cone_weights;
use crate::orbit::{Sky, latitude_key};
use crate::profile::Profile;
use crate::progress::Progress;
use crate::sky::mask::SkyGrid;
use crate::sky::pack;

/// Length of a tape, seconds: long enough that two tapes give the same statistics.
const TAPE_S: u32 = 3 * 3600;

/// Skies of all latitudes of a region.
pub struct Skies {
    /// Grid of weights and masks.
    pub grid: SkyGrid,
    by_key: BTreeMap<i32, (Sky, Vec<f32>)>,
}

/// Builds the skies of every latitude that has roads.
pub fn skies(run: &Run) -> Skies {
    let profile = run.profile;
    let grid = SkyGrid { floor_deg: profile.terminal.floor_deg() };
    let mut keys: Vec<i32> = run.network.segments.iter().map(key).collect();
    keys.sort_unstable();
    keys.dedup();
    let build = |key: &i32| {
        let sky = Sky::build(*key, &profile.constellation, &profile.link, grid, TAPE_S);
        let weights = cone_weights(&sky.weights, grid, &profile.terminal, 0.0);
        (*key, (sky, weights))
    };
    Skies { grid, by_key: keys.par_iter().map(build).collect() }
}

fn key(segment: &Segment) -> i32 {
    latitude_key(segment.line[0].lat_deg())
}

impl Skies {
    fn of(&self, segment: &Segment) -> &(Sky, Vec<f32>) {
        // `skies` has looked at every segment, so the key is there.
        &self.by_key[&key(segment)]
    }
    /// Normalised weights of the usable sky over a segment driven with a heading.
    pub fn weights(&self, run: &Run, segment: &Segment, heading_deg: f64) -> Cow<'_, [f32]> {
        let (sky, upright) = self.of(segment);
        if run.profile.terminal.tilt_deg == 0.0 {
            return Cow::Borrowed(upright);
        }
        Cow::Owned(cone_weights(&sky.weights, self.grid, &run.profile.terminal, heading_deg))
    }
    /// Expected usable satellites in the cone by latitude, for the summary.
    pub fn expected(&self) -> impl Iterator<Item = (i32, f64)> + '_ {
        self.by_key.iter().map(|(k, (sky, _))| (*k, crate::orbit::weights::expected_usable(&sky.weights)))
    }
}

/// Speed driven on a segment, km/h.
pub fn driven_kmh(segment: &Segment, direction: Direction, profile: &Profile) -> f64 {
    (f64::from(segment.speed_kmh(direction)) * profile.vehicle.speed_factor).min(profile.vehicle.top_speed_kmh)
}

/// Statistics of every lane; zeros where it is not driven.
pub fn drive(
    run: &Run,
    overheads: &Overheads,
    sky: &SkyOfAll,
    skies: &Skies,
    progress: &dyn Progress,
) -> Result<Vec<BreakStats>> {
    let of_chain = |chain: &Chain| -> Result<Vec<BreakStats>> {
        let first = &run.network.segments[chain.steps[0].0 as usize];
        if run.is_boarded(first) {
            progress.advance(1);
            return Ok(aboard(run, chain));
        }
        let stretches = stretches(run, overheads, sky, chain)?;
        let stats = simulate(&stretches, &skies.of(first).0.tape, sky.grid, run.profile, chain_key(run, chain));
        progress.advance(1);
        Ok(stats)
    };
    let by_chain: Vec<Result<Vec<BreakStats>>> = run.network.chains.par_iter().map(of_chain).collect();
    let mut out = vec![BreakStats::default(); 2 * run.network.segments.len()];
    for (chain, stats) in run.network.chains.iter().zip(by_chain) {
        for ((segment, direction), stats) in chain.steps.iter().zip(stats?) {
            out[lane(*segment, *direction)] = stats;
        }
    }
    Ok(out)
}

/// Statistics of a crossing: one break from quay to quay.
fn aboard(run: &Run, chain: &Chain) -> Vec<BreakStats> {
    let segment = |id: &u32| &run.network.segments[*id as usize];
    let seconds = |(id, d): &(u32, Direction)| segment(id).length_m * 3.6 / driven_kmh(segment(id), *d, run.profile);
    let crossing_s: f64 = chain.steps.iter().map(seconds).sum();
    let of_step = |step: &(u32, Direction)| BreakStats {
        down_share: 1.0,
        down_s: seconds(step),
        down_share_window: 1.0,
        breaks_per_10km: 10_000.0 / segment(&step.0).length_m.max(1.0),
        break_p50_s: crossing_s,
        break_p95_s: crossing_s,
        longest_break_s: crossing_s,
    };
    chain.steps.iter().map(of_step).collect()
}

/// Names a chain by the two places it begins with, so that its draws depend neither on what else is in
/// the extract nor on how its road is split into ways.
fn chain_key(run: &Run, chain: &Chain) -> u64 {
    let (segment, direction) = chain.steps[0];
    let line = &run.network.segments[segment as usize].line;
    let [a, b] = match direction {
        Direction::Forward => [line[0], line[1]],
        Direction::Backward => [line[line.len() - 1], line[line.len() - 2]],
    };
    let mix = |key: u64, word: i32| (key.rotate_left(23) ^ u64::from(word as u32)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    [a.lon_e7, a.lat_e7, b.lon_e7, b.lat_e7].into_iter().fold(0, mix)
}

fn stretches(run: &Run, overheads: &Overheads, sky: &SkyOfAll, chain: &Chain) -> Result<Vec<Stretch>> {
    chain
        .steps
        .iter()
        .map(|(id, direction)| {
            let segment = &run.network.segments[*id as usize];
            let lane = lane(*id, *direction);
            let masks = match &sky.lanes[lane] {
                Some(lane_sky) => pack::unpack(&sky.spool.get(lane_sky.slot)?)?.1,
                None => Vec::new(),
            };
            Ok(Stretch {
                length_m: segment.length_m,
                speed_mps: driven_kmh(segment, *direction, run.profile) / 3.6,
                masks,
                headings_deg: headings_deg(segment, *direction),
                overheads: overheads.own[lane].clone(),
            })
        })
        .collect()
}

fn headings_deg(segment: &Segment, direction: Direction) -> Vec<f32> {
    let plane = LocalPlane::at_position(segment.line[0]);
    let line: Vec<_> = segment.line.iter().map(|p| plane.to_plane(*p)).collect();
    let mut headings: Vec<f32> = spaced(&line, segment.stations).iter().map(|p| p.heading_deg as f32).collect();
    if direction == Direction::Backward {
        headings.reverse();
        for h in &mut headings {
            *h = normal_deg(f64::from(*h) + 180.0) as f32;
        }
    }
    headings
}
