//! A layer under one profile, compared with what is stored.
use std::collections::BTreeMap;

use rayon::ThreadPool;

use super::answers::{differing, told_value};
use super::model::{Change, Outcome};
use super::stored::Stored;
use crate::base::error::Result;
use crate::base::index::SegmentIndex;
use crate::base::progress::Progress;
use crate::base::words::{PerCase, Rating};
use crate::layer::Layer;
use crate::physics::link::model::OutageStats;
use crate::profile::Profile;
use crate::rating::drives::{self, Roads, Skies, StatsOfAll, latitude_keys};
use crate::rating::verdict::Verdicts;

/// A layer that is rated again, and what does the work.
pub(super) struct RerateWork<'a> {
    /// The layer.
    pub(super) layer: &'a Layer,
    /// What its ratings are based on.
    pub(super) stored: &'a Stored,
    /// Worker threads.
    pub(super) pool: &'a ThreadPool,
    /// Receives the progress made.
    pub(super) progress: &'a dyn Progress,
}

/// Drives all roads under some skies.
type DriveRoads<'d> = dyn Fn(&Roads, &Skies) -> Result<StatsOfAll> + Sync + 'd;

/// A layer under one profile.
pub(super) struct Rated {
    pub(super) profile: Profile,
    pub(super) skies: Skies,
    stats: StatsOfAll,
}

impl Rated {
    /// Rates a layer under a profile.
    pub(super) fn of(work: &RerateWork, profile: &Profile) -> Result<Self> {
        let (stored, progress) = (work.stored, work.progress);
        work.pool.install(|| Self::here(stored, profile, &|roads, skies| drives::drive_cases(roads, skies, progress)))
    }
    /// The same as stated alone: best and worst are not asked for.
    pub(super) fn as_stated(work: &RerateWork, profile: &Profile) -> Result<Self> {
        let (stored, progress) = (work.stored, work.progress);
        work.pool.install(|| Self::here(stored, profile, &|roads, skies| drives::drive(roads, skies, progress)))
    }
    fn here(stored: &Stored, profile: &Profile, drive: &DriveRoads) -> Result<Self> {
        let skies = drives::skies(profile, &latitude_keys(&stored.pieces), stored.masks.grid, &|_| None);
        let stored_masks = &stored.masks;
        let roads = Roads {
            profile,
            pieces: &stored.pieces,
            strokes: &stored.strokes,
            own: &stored.own,
            masks: &|lane, case| stored_masks.of(lane, case),
            apart: &|lane| stored_masks.apart(lane),
        };
        let stats = drive(&roads, &skies)?;
        Ok(Self { profile: profile.clone(), skies, stats })
    }
    pub(super) fn verdicts(&self) -> Verdicts<'_> {
        let PerCase { best, likely, worst } = &self.stats.lanes;
        Verdicts { stats: PerCase { best, likely, worst }, profile: &self.profile, skies: &self.skies }
    }
    /// Statistics as stated of all that is driven in every stroke.
    pub(super) fn stats_by_stroke(&self) -> &[Vec<OutageStats>] {
        &self.stats.strokes
    }
    /// Against what is stored.
    pub(super) fn change(&self, stored: &Stored) -> Result<Change> {
        let verdicts = self.verdicts();
        let mut moved: BTreeMap<(Rating, Rating), f64> = BTreeMap::new();
        let mut outcome = Outcome::default();
        for (id, row) in SegmentIndex::numbered(&stored.rows) {
            let now = verdicts.rating(verdicts.worse(&stored.judged(id)));
            let before = row.rating;
            *outcome.km_by_rating.entry(now).or_default() += row.length_m / 1000.0;
            *moved.entry((before, now)).or_default() += row.length_m / 1000.0;
        }
        outcome.outage_share = self.outage_share(stored);
        moved.retain(|(before, now), _| before != now);
        let km = |keep: fn(&Rating, &Rating) -> bool| -> f64 {
            moved.iter().filter(|((b, n), _)| keep(n, b)).fold(0.0, |sum, (_, km)| sum + km)
        };
        let differing = differing(&stored.profile, &self.profile)?;
        Ok(Change {
            what: differing.iter().map(|path| said(path, &stored.profile, &self.profile)).collect::<Result<_>>()?,
            better_km: km(|now, before| now < before),
            worse_km: km(|now, before| now > before),
            moves: moved.into_iter().map(|((b, n), km)| (b.name(), n.name(), km)).collect(),
            outcome,
        })
    }
    fn outage_share(&self, stored: &Stored) -> f64 {
        let (mut outage_s, mut all_s) = (0.0, 0.0);
        for (segment, direction) in stored.strokes.iter().flat_map(|c| &c.steps) {
            outage_s += self.stats.lanes.likely[segment.lane(*direction).at()].outage_s;
            all_s += stored.pieces[segment.at()].seconds(*direction, &self.profile.vehicle);
        }
        if all_s > 0.0 { outage_s / all_s } else { 0.0 }
    }
}

/// `link.slot_s 15.0 -> 30.0`.
fn said(path: &str, from: &Profile, to: &Profile) -> Result<String> {
    Ok(format!("{path} {} -> {}", told_value(path, from)?, told_value(path, to)?))
}

/// Kilometres and outage time as the layer gives them.
pub(super) fn stored_outcome(layer: &Layer, stored: &Stored) -> Result<Outcome> {
    let mut outcome = Outcome::default();
    for row in &stored.rows {
        *outcome.km_by_rating.entry(row.rating).or_default() += row.length_m / 1000.0;
    }
    let (mut outage_s, mut all_s) = (0.0, 0.0);
    for edge in layer.edges() {
        let edge = edge?;
        outage_s += edge.outage_s;
        all_s += edge.time_s;
    }
    outcome.outage_share = if all_s > 0.0 { outage_s / all_s } else { 0.0 };
    Ok(outcome)
}
