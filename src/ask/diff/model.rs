//! What is asked of two layers, and what is answered.
use std::collections::BTreeMap;

use serde::Serialize;

use super::builds::BuildsCompared;
use super::largest::ChangedStretch;
use super::segment::ChangeKind;
use super::stops::StopsCompared;
use crate::base::words::Rating;

/// What is asked of two layers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DiffQuestion {
    /// How many of the largest changes are listed.
    pub top: usize,
}

/// Kilometres by what became of them. Those in both layers are as long as in the new one.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct DiffKm {
    /// In both layers: the sum of those below but for `only_*`, `cut_*` and `redrawn_old`.
    pub both: f64,
    /// In the old layer alone.
    pub only_old: f64,
    /// In the new layer alone.
    pub only_new: f64,
    /// Rated better.
    pub better: f64,
    /// Rated worse.
    pub worse: f64,
    /// Rated the same.
    pub same: f64,
    /// Evidence became unknown; not in `better`, `worse` and `same`.
    pub became_unknown: f64,
    /// Evidence was unknown; not in `better`, `worse` and `same`.
    pub became_known: f64,
    /// Redrawn, as long as in the old layer.
    pub redrawn_old: f64,
    /// Redrawn, as long as in the new layer.
    pub redrawn_new: f64,
    /// Of `only_old`, parts of ways that both layers have: the way is cut into fewer parts now.
    pub cut_old: f64,
    /// Of `only_new`, the same: more parts.
    pub cut_new: f64,
    /// Of `same`, those whose main cause or outage time changed.
    pub same_but_changed: f64,
}

/// Kilometres that went from one rating to another, or kept theirs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RatingMove {
    /// What became of the evidence: `became_unknown`, `became_known`, or nothing where ratings are compared.
    pub evidence: Option<ChangeKind>,
    /// In the old layer.
    pub from: Rating,
    /// In the new layer.
    pub to: Rating,
    /// As long as in the new layer.
    pub km: f64,
}

/// A layer and what its roads add up to, summed row by row.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct LayerTold {
    /// File.
    pub path: String,
    /// Version of the program that wrote it.
    pub waymask_version: String,
    /// Version of its tables.
    pub schema_version: u32,
    /// Date of the map data where the extract gives it, RFC 3339.
    pub data_time: Option<String>,
    /// West, east, south and north end of its roads, degrees.
    pub extent_deg: [f64; 4],
    /// Kilometres by rating.
    pub km_by_rating: BTreeMap<String, f64>,
    /// By main cause.
    pub km_by_cause: BTreeMap<String, f64>,
    /// By what an answer is based on, such as `terrain: raster`.
    pub km_by_evidence: BTreeMap<String, f64>,
    /// Kilometres that another seed would rate otherwise, see [`crate::layer::model::BuildRecord::km_by_chance`].
    pub km_by_chance: f64,
}

/// What changed.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct DiffAnswer {
    /// Both names lead to one file.
    pub is_same_file: bool,
    /// Nothing that is compared differs, not even by little: which roads there are and where, lengths, ratings, main causes,
    /// outage times, evidence, places to stop and what they see.
    pub is_equal: bool,
    /// Segments that both layers have.
    pub segments_in_both: u64,
    /// Segments that a file of changes holds.
    pub changed_segments: u64,
    /// The boxes around the roads of either layer meet.
    pub extents_meet: bool,
    /// Kilometres by what became of them.
    pub km: DiffKm,
    /// Whether the two can be compared.
    pub builds: BuildsCompared,
    /// The old layer.
    pub old: LayerTold,
    /// The new layer.
    pub new: LayerTold,
    /// Kilometres by rating before and after, of segments in both that were not redrawn.
    pub moves: Vec<RatingMove>,
    /// Stretches whose outage time changed.
    pub stretches: u64,
    /// Those that changed most, the largest change first.
    pub largest: Vec<ChangedStretch>,
    /// Places to stop.
    pub stops: StopsCompared,
}
