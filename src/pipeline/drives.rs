//! Skies by latitude, and the simulated drives of all chains.
use std::borrow::Cow;
use std::collections::BTreeMap;

use rayon::prelude::*;

use super::lanes::lane;
use super::pieces::Piece;
use crate::error::Result;
use crate::link::drive::simulate;
use crate::link::model::{BreakStats, Stretch};
use crate::network::model::{Chain, Direction};
use crate::orbit::Sky;
use crate::orbit::cone::Cone;
use crate::orbit::model::SkyTape;
use crate::orbit::weights::{cone_weights, expected_in_cone};
use crate::profile::{Bearings, Profile, Terminal};
use crate::progress::Progress;
use crate::scene::overhead::Overhead;
use crate::sky::mask::{Mask, SkyGrid};

/// Length of a tape, seconds: long enough that two tapes give the same statistics.
pub(super) const TAPE_S: u32 = 3 * 3600;

/// Roads as the link stage sees them: of a build, or of a layer that is rated again.
pub struct Roads<'a> {
    /// Assumptions.
    pub profile: &'a Profile,
    /// By segment.
    pub pieces: &'a [Piece<'a>],
    /// Segments driven one after another.
    pub chains: &'a [Chain],
    /// What stands over every lane, in its own coordinate.
    pub own: &'a [Vec<Overhead>],
    /// Masks of a lane in the order driven; none where no sky was computed.
    pub masks: &'a (dyn Fn(usize) -> Result<Vec<Mask>> + Sync),
}

/// Skies of all latitudes of a region.
pub struct Skies {
    /// Grid of weights and masks.
    pub grid: SkyGrid,
    by_key: BTreeMap<i32, (Sky, Vec<f32>)>,
    /// Whether the usable sky turns with the vehicle.
    turns: bool,
    terminal: Terminal,
}

/// Builds the skies of every latitude that has roads. `tape_of` gives the tape of real satellites at a latitude key, where
/// there are such; else it is made of the profile's shells.
pub fn skies(
    profile: &Profile,
    pieces: &[Piece],
    grid: SkyGrid,
    tape_of: &(dyn Fn(i32) -> Option<SkyTape> + Sync),
) -> Skies {
    let mut keys: Vec<i32> = pieces.iter().map(Piece::latitude_key).collect();
    keys.sort_unstable();
    keys.dedup();
    let build = |key: &i32| {
        let sky = match tape_of(*key) {
            Some(tape) => Sky::with_tape(tape, &profile.constellation, &profile.link, grid),
            None => Sky::build(*key, &profile.constellation, &profile.link, grid, TAPE_S),
        };
        let weights = cone_weights(&sky.weights, grid, &profile.terminal, 0.0);
        (*key, (sky, weights))
    };
    let (terminal, turns) = (profile.terminal.clone(), Cone::new(&profile.terminal).turns());
    Skies { grid, by_key: keys.par_iter().map(build).collect(), turns, terminal }
}

impl Skies {
    fn of(&self, piece: &Piece) -> &(Sky, Vec<f32>) {
        // `skies` has looked at every piece, so the key is there.
        &self.by_key[&piece.latitude_key()]
    }
    /// Normalised weights of the usable sky over a segment driven with a heading.
    pub fn weights(&self, piece: &Piece, heading_deg: f64) -> Cow<'_, [f32]> {
        let (sky, upright) = self.of(piece);
        if !self.turns {
            return Cow::Borrowed(upright);
        }
        Cow::Owned(cone_weights(&sky.weights, self.grid, &self.terminal, heading_deg))
    }
    /// Normalised weights of the usable sky of a level panel near a segment, nothing of it hidden by a vehicle.
    pub fn level(&self, piece: &Piece) -> Vec<f32> {
        let (tilt_deg, bearings_from) = (0.0, Bearings::North);
        let level = Terminal { tilt_deg, bearings_from, blocked: Vec::new(), ..self.terminal.clone() };
        cone_weights(&self.of(piece).0.weights, self.grid, &level, 0.0)
    }
    /// Expected usable satellites in the usable sky by latitude, for the summary.
    pub fn expected(&self) -> impl Iterator<Item = (i32, f64)> + '_ {
        self.by_key.iter().map(|(k, (sky, _))| (*k, expected_in_cone(&sky.weights, self.grid, &self.terminal)))
    }
}

/// Statistics of every lane; zeros where it is not driven.
pub fn drive(roads: &Roads, skies: &Skies, progress: &dyn Progress) -> Result<Vec<BreakStats>> {
    let of_chain = |chain: &Chain| -> Result<Vec<BreakStats>> {
        let first = &roads.pieces[chain.steps[0].0 as usize];
        if first.boarded {
            progress.advance(1);
            return Ok(aboard(roads, chain));
        }
        let stretches = stretches(roads, chain)?;
        let stats = simulate(&stretches, &skies.of(first).0.tape, skies.grid, roads.profile, chain_key(roads, chain));
        progress.advance(1);
        Ok(stats)
    };
    let by_chain: Vec<Result<Vec<BreakStats>>> = roads.chains.par_iter().map(of_chain).collect();
    let mut out = vec![BreakStats::default(); 2 * roads.pieces.len()];
    for (chain, stats) in roads.chains.iter().zip(by_chain) {
        for ((segment, direction), stats) in chain.steps.iter().zip(stats?) {
            out[lane(*segment, *direction)] = stats;
        }
    }
    Ok(out)
}

/// Statistics of a crossing: one break from quay to quay.
fn aboard(roads: &Roads, chain: &Chain) -> Vec<BreakStats> {
    let piece = |id: &u32| &roads.pieces[*id as usize];
    let seconds = |(id, d): &(u32, Direction)| piece(id).seconds(*d, &roads.profile.vehicle);
    let crossing_s: f64 = chain.steps.iter().map(seconds).sum();
    let edges = &roads.profile.rating;
    let begins = |step: &(u32, Direction)| f64::from(chain.steps.first() == Some(step));
    let beyond = |edge_s: f64| f64::from(crossing_s > edge_s);
    let of_step = |step: &(u32, Direction)| BreakStats {
        down_share: 1.0,
        down_s: seconds(step),
        down_share_window: 1.0,
        breaks_per_10km: 10_000.0 / piece(&step.0).length_m.max(1.0),
        break_p50_s: crossing_s,
        break_p95_s: crossing_s,
        longest_break_s: crossing_s,
        beyond: [edges.blips_break_s, edges.gaps_break_s, edges.drops_break_s].map(|e| begins(step) * beyond(e)),
    };
    chain.steps.iter().map(of_step).collect()
}

/// Names a chain by the two places it begins with, so that its draws depend neither on what else is in
/// the extract nor on how its road is split into ways.
fn chain_key(roads: &Roads, chain: &Chain) -> u64 {
    let (segment, direction) = chain.steps[0];
    let [a, b] = roads.pieces[segment as usize].begins(direction);
    let mix = |key: u64, word: i32| (key.rotate_left(23) ^ u64::from(word as u32)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    [a.lon_e7, a.lat_e7, b.lon_e7, b.lat_e7].into_iter().fold(0, mix)
}

fn stretches(roads: &Roads, chain: &Chain) -> Result<Vec<Stretch>> {
    let of_step = |(id, direction): &(u32, Direction)| {
        let (piece, lane) = (&roads.pieces[*id as usize], lane(*id, *direction));
        Ok(Stretch {
            length_m: piece.length_m,
            speed_mps: piece.driven_kmh(*direction, &roads.profile.vehicle) / 3.6,
            masks: (roads.masks)(lane)?,
            headings_deg: piece.headings_deg(*direction),
            overheads: roads.own[lane].clone(),
        })
    };
    chain.steps.iter().map(of_step).collect()
}

#[cfg(test)]
#[path = "tests_risk.rs"]
mod tests_risk;
