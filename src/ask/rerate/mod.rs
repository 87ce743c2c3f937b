//! Rates a layer again from what it holds, under another profile: no extract, no rasters, no rays.
//!
//! The same functions as in a build run on the stored masks, prisms, speeds and strokes, so the unchanged profile gives
//! the stored figures back, to the last digit.
pub mod answers;
mod stored;
mod sweep;
#[cfg(test)]
mod tests_risk;
mod write;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::base::error::{Error, Result};
use crate::base::progress::Progress;
use crate::physics::link::model::OutageStats;
use crate::physics::link::rating::Rating;
use crate::physics::sky::margin::{Margin, under_margin};
use crate::physics::sky::mask::Mask;
use crate::profile::Profile;
use crate::rating::drives::{self, Roads, Skies};
use crate::rating::verdict::Verdicts;
use stored::Stored;

/// What is asked of a layer.
#[derive(Debug, Clone)]
pub struct Question {
    /// The layer.
    pub layer: PathBuf,
    /// Rate under this profile; without one every assumption is moved by itself.
    pub wanted: Wanted,
    /// Write the layer rated again here.
    pub output: Option<PathBuf>,
    /// Replace the output.
    pub overwrite: bool,
    /// Worker threads; all cores where not given.
    pub threads: Option<usize>,
}

/// What a layer is rated under.
#[derive(Debug, Clone)]
pub enum Wanted {
    /// Each assumption moved by itself, over the range it may well have.
    Sweep,
    /// One other profile.
    Profile(Box<Profile>),
    /// The profile of the layer with some values replaced (`section.key=value`).
    Values(Vec<String>),
}

/// Kilometres and outage time under one profile.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Outcome {
    /// Kilometres of road by rating name.
    pub km_by_rating: BTreeMap<&'static str, f64>,
    /// Share of all driving time without a link, both directions of every road driven once.
    pub outage_share: f64,
}

/// What one change does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// What was changed, as `section.key from -> to`, one per key.
    pub what: Vec<String>,
    /// Only close to a new build: canopy is stored in levels.
    pub near: bool,
    /// The result.
    pub outcome: Outcome,
    /// Kilometres rated better than stored.
    pub better_km: f64,
    /// Kilometres rated worse than stored.
    pub worse_km: f64,
    /// Kilometres by stored and new rating name, where they differ.
    pub moves: Vec<(&'static str, &'static str, f64)>,
}

/// The answer.
#[derive(Debug, Clone, Serialize)]
pub struct Answered {
    /// As stored.
    pub stored: Outcome,
    /// Kilometres whose rating is not the stored one under the unchanged profile: above 0 the layer was built by a
    /// program that rates otherwise. Known after a sweep.
    pub not_reproduced_km: Option<f64>,
    /// Changes, those that move most kilometres first.
    pub changes: Vec<Change>,
    /// Keys that stored masks cannot answer, and why.
    pub refused: Vec<(&'static str, &'static str)>,
}

/// Rates a layer again.
///
/// # Errors
/// The layer cannot be read or does not hold what the change asks for.
pub fn ask(question: &Question, progress: &dyn Progress) -> Result<Answered> {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(question.threads.unwrap_or(0))
        .build()
        .map_err(|e| Error::failed("worker threads", e.to_string(), "ask for fewer with --threads"))?;
    pool.install(|| run(question, progress))
}

fn run(question: &Question, progress: &dyn Progress) -> Result<Answered> {
    check_output(question)?;
    let stored = Stored::read(&question.layer)?;
    let wanted = match &question.wanted {
        Wanted::Sweep => return sweep::sweep(&stored, progress),
        Wanted::Profile(profile) => (**profile).clone(),
        Wanted::Values(values) => crate::profile::source::with_values(stored.profile(), values)?,
    };
    answers::check(stored.profile(), stored.masks.grid.floor_deg, &wanted)?;
    // Rating takes minutes: what cannot be written is said before.
    let writer = question.output.as_ref().map(|output| write::create(&stored, &wanted, output, question.overwrite));
    let writer = writer.transpose()?;
    let rated = Rated::of(&stored, &wanted, progress)?;
    if let Some(writer) = writer {
        write::write(&stored, &rated, writer)?;
    }
    let changes = vec![rated.change(&stored)?];
    Ok(Answered { stored: stored_outcome(&stored)?, not_reproduced_km: None, changes, refused: Vec::new() })
}

/// The layer read must not be the layer written.
fn check_output(question: &Question) -> Result<()> {
    let Some(output) = &question.output else { return Ok(()) };
    let place = |path: &Path| std::fs::canonicalize(path).ok();
    if place(output).is_some_and(|output| place(&question.layer) == Some(output)) {
        return Err(Error::file(output, "is the layer that is read", "choose another name with -o"));
    }
    Ok(())
}

/// A layer under one profile.
struct Rated {
    profile: Profile,
    skies: Skies,
    stats: Vec<OutageStats>,
}

impl Rated {
    fn of(stored: &Stored, profile: &Profile, progress: &dyn Progress) -> Result<Self> {
        let skies = drives::skies(profile, &stored.pieces, stored.masks.grid, &|_| None);
        let canopy = remargin(stored.profile(), profile);
        let stored_masks = &stored.masks;
        let masks = |lane: usize| -> Result<Vec<Mask>> {
            let mut masks = stored_masks.of(lane)?;
            if let Some(table) = &canopy {
                masks.iter_mut().flat_map(|m| &mut m.canopy).for_each(|c| *c = table[usize::from(*c)]);
            }
            Ok(masks)
        };
        let roads =
            Roads { profile, pieces: &stored.pieces, strokes: &stored.strokes, own: &stored.own, masks: &masks };
        let stats = drives::drive(&roads, &skies, progress)?;
        Ok(Self { profile: profile.clone(), skies, stats })
    }
    fn verdicts(&self) -> Verdicts<'_> {
        Verdicts { stats: &self.stats, profile: &self.profile }
    }
    /// Against what is stored.
    fn change(&self, stored: &Stored) -> Result<Change> {
        let verdicts = self.verdicts();
        let mut moved: BTreeMap<(Rating, Rating), f64> = BTreeMap::new();
        let mut outcome = Outcome::default();
        for (id, row) in (0..).zip(&stored.rows) {
            let now = verdicts.rating(verdicts.worse(&stored.judged(id)));
            let before = row.rating;
            *outcome.km_by_rating.entry(now.name()).or_default() += row.length_m / 1000.0;
            *moved.entry((before, now)).or_default() += row.length_m / 1000.0;
        }
        outcome.outage_share = self.outage_share(stored);
        moved.retain(|(before, now), _| before != now);
        let km = |keep: fn(&Rating, &Rating) -> bool| -> f64 {
            moved.iter().filter(|((b, n), _)| keep(n, b)).fold(0.0, |sum, (_, km)| sum + km)
        };
        let differing = answers::differing(stored.profile(), &self.profile)?;
        Ok(Change {
            what: differing.iter().map(|path| said(path, stored.profile(), &self.profile)).collect(),
            near: differing.iter().any(|path| answers::answer(path) == answers::Answer::Near),
            better_km: km(|now, before| now < before),
            worse_km: km(|now, before| now > before),
            moves: moved.into_iter().map(|((b, n), km)| (b.name(), n.name(), km)).collect(),
            outcome,
        })
    }
    fn outage_share(&self, stored: &Stored) -> f64 {
        let (mut outage_s, mut all_s) = (0.0, 0.0);
        for (segment, direction) in stored.strokes.iter().flat_map(|c| &c.steps) {
            outage_s += self.stats[crate::rating::lanes::lane(*segment, *direction)].outage_s;
            all_s += stored.pieces[*segment as usize].seconds(*direction, &self.profile.vehicle);
        }
        if all_s > 0.0 { outage_s / all_s } else { 0.0 }
    }
}

/// Canopy under another margin; nothing where the margin is the same.
fn remargin(stored: &Profile, wanted: &Profile) -> Option<[u8; 256]> {
    let margin = |p: &Profile| Margin { margin_db: p.link.margin_db, spread_ln: p.canopy.spread_ln };
    (margin(stored) != margin(wanted)).then(|| under_margin(margin(stored), margin(wanted)))
}

/// `link.slot_s 15.0 -> 30.0`.
fn said(path: &str, from: &Profile, to: &Profile) -> String {
    let value = |p: &Profile| {
        let table = toml::Table::try_from(p).unwrap_or_default();
        let found = path.split_once('.').and_then(|(section, key)| table.get(section)?.get(key).cloned());
        found.map_or("none".to_owned(), |v| match v {
            toml::Value::Array(items) => format!("[{} given]", items.len()),
            value => value.to_string(),
        })
    };
    format!("{path} {} -> {}", value(from), value(to))
}

/// Kilometres and outage time as the layer tells them.
fn stored_outcome(stored: &Stored) -> Result<Outcome> {
    let mut outcome = Outcome::default();
    for row in &stored.rows {
        *outcome.km_by_rating.entry(row.rating.name()).or_default() += row.length_m / 1000.0;
    }
    let (mut outage_s, mut all_s) = (0.0, 0.0);
    for edge in stored.layer.edges() {
        let edge = edge?;
        outage_s += edge.outage_s;
        all_s += edge.time_s;
    }
    outcome.outage_share = if all_s > 0.0 { outage_s / all_s } else { 0.0 };
    Ok(outcome)
}
