//! What is asked when a layer is rated again, and what is answered.
use std::collections::BTreeMap;
use std::path::PathBuf;

use serde::Serialize;

use crate::base::words::Rating;
use crate::profile::{Profile, keys};

/// What is asked of a layer.
#[derive(Debug, Clone)]
pub struct RerateQuestion {
    /// Rate under this profile; without one every assumption is moved by itself.
    pub wanted: Wanted,
    /// Write the layer as rated under the changed profile. A layer is written row by row into its file, so this names one.
    pub output: Option<NewLayer>,
    /// Worker threads; all cores where not given.
    pub threads: Option<usize>,
}

/// A layer to be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewLayer {
    /// Where.
    pub path: PathBuf,
    /// Replace what is there.
    pub overwrite: bool,
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
    /// Kilometres of road by rating.
    pub km_by_rating: BTreeMap<Rating, f64>,
    /// Share of all driving time without a link, both directions of every road driven once.
    pub outage_share: f64,
}

/// What one change does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// What was changed, as `section.key from -> to`, one per key.
    pub what: Vec<String>,
    /// The result.
    pub outcome: Outcome,
    /// Kilometres rated better than stored.
    pub better_km: f64,
    /// Kilometres rated worse than stored.
    pub worse_km: f64,
    /// Kilometres by stored and new rating name, where they differ.
    pub moves: Vec<(&'static str, &'static str, f64)>,
}

impl Change {
    /// Kilometres rated otherwise than stored.
    pub fn moved_km(&self) -> f64 {
        self.better_km + self.worse_km
    }
}

/// The answer.
#[derive(Debug, Clone, Serialize)]
pub struct RerateAnswer {
    /// As stored.
    pub stored: Outcome,
    /// Kilometres whose rating is not the stored one under the unchanged profile: above 0 the layer was built by a
    /// program that rates otherwise. Known after a sweep.
    pub not_reproduced_km: Option<f64>,
    /// Kilometres whose best and worst are not rated alike, or whose worst is not known: what is assumed about the roadside moves.
    pub roadside_km: f64,
    /// Changes, those that move most kilometres first.
    pub changes: Vec<Change>,
    /// Keys that stored masks cannot answer.
    pub refused: Vec<Refused>,
}

/// A key that stored masks cannot answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Refused {
    /// The key.
    pub key: &'static str,
    /// Why.
    pub why: &'static str,
    /// Whether best and worst of every road hold both ends of its range.
    pub in_best_and_worst: bool,
}

impl Refused {
    /// A key and why.
    pub(super) fn new(key: &'static str, why: &'static str) -> Self {
        let in_best_and_worst = keys::VALUES.iter().any(|k| k.path == key && k.worse.is_some());
        Self { key, why, in_best_and_worst }
    }
}
