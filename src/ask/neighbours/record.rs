//! What layers say about themselves, together.
use std::collections::BTreeMap;

use super::piece::OverlapTally;
use crate::base::count::{counted, noun};
use crate::base::words::InputRole;
use crate::layer::Layer;
use crate::layer::model::{BuildRecord, InputRecord};
use crate::layer::stop::LEFT_OUT_AT_RIM;

/// The record of layers that are asked together, without counts and kilometres.
pub(super) fn record(layers: &[Layer]) -> BuildRecord {
    let records: Vec<&BuildRecord> = layers.iter().map(Layer::record).collect();
    let Some(first) = records.first() else { return BuildRecord::default() };
    let mut inputs: Vec<InputRecord> = Vec::new();
    for input in records.iter().flat_map(|r| &r.inputs) {
        if inputs.iter().all(|known| (&known.sha256, known.role) != (&input.sha256, input.role)) {
            inputs.push(input.clone());
        }
    }
    // The oldest map stands for all wherever one date is told; a date that is not given is older than any.
    inputs.sort_by_key(|i| (i.role != InputRole::Extract, i.data_time.clone()));
    let mut versions: Vec<&str> = records.iter().map(|r| r.waymask_version.as_str()).collect();
    versions.sort_unstable();
    versions.dedup();
    let mut defects = BTreeMap::new();
    for (code, tally) in records.iter().flat_map(|r| &r.defects) {
        defects.entry(code.clone()).or_insert_with(crate::base::defect::Tally::default).add(tally);
    }
    BuildRecord {
        waymask_version: versions.join(" and "),
        schema_version: first.schema_version,
        mask_floor_deg: first.mask_floor_deg,
        inputs,
        profile: first.profile.clone(),
        timeline_start: first.timeline_start.clone(),
        assumed: assumed(layers),
        defects,
        ..BuildRecord::default()
    }
}

/// Sentences on what was assumed: those that all layers say once, the others with the file that says them.
fn assumed(layers: &[Layer]) -> Vec<String> {
    let says = |layer: &Layer, sentence: &String| layer.record().assumed.contains(sentence);
    let mut out: Vec<String> = Vec::new();
    for layer in layers {
        for sentence in &layer.record().assumed {
            let of_all = layers.iter().all(|other| says(other, sentence));
            let told = if of_all { sentence.clone() } else { format!("{}: {sentence}", name(layer)) };
            if !out.contains(&told) {
                out.push(told);
            }
        }
    }
    out
}

/// A layer as people know it.
pub(super) fn name(layer: &Layer) -> String {
    layer.path().display().to_string()
}

/// On which layers an answer rests, and how old their maps are.
pub(super) fn rests_on(layers: &[Layer]) -> String {
    let mut dates: Vec<Option<String>> = Vec::new();
    let told = |layer: &Layer| {
        let extracts = layer.record().inputs.iter().filter(|i| i.role == InputRole::Extract);
        let mut own: Vec<Option<String>> = extracts.map(|i| i.data_time.clone()).collect();
        own.sort();
        let date = own.into_iter().next().flatten();
        dates.push(date.clone());
        format!("{} (map data {})", name(layer), date.map_or("of unknown date".to_owned(), |d| format!("of {d}")))
    };
    let all: Vec<String> = layers.iter().map(told).collect();
    let oldest = dates.iter().min().cloned().flatten();
    let oldest = match (oldest, dates.windows(2).all(|w| w[0] == w[1])) {
        (Some(date), false) => format!("; the oldest map data are of {date}"),
        _ => String::new(),
    };
    format!("rests on {} asked together: {}{oldest}", counted(layers.len() as u64, "layer"), all.join(", "))
}

/// What is to be said of the road that several layers hold.
pub(super) fn of_overlap(tally: &OverlapTally) -> Vec<String> {
    let mut out = Vec::new();
    if tally.rated_otherwise > 0 {
        let (n, all) = (tally.rated_otherwise, counted(tally.shared, "piece"));
        let are = if n == 1 { "is" } else { "are" };
        out.push(format!(
            "of {all} of road that several layers hold, {n} {are} rated differently in them: the worse rating counts"
        ));
    }
    if tally.redrawn > 0 {
        let (n, are) = (tally.redrawn, if tally.redrawn == 1 { "is" } else { "are" });
        out.push(format!(
            "{n} {} {are} drawn differently in two layers, and taken from one of them: their maps are of different dates",
            noun(n, "road")
        ));
    }
    out
}

/// What is said of layers that no road joins with the first.
pub(super) fn of_gap(layers: &[Layer], apart: &[usize]) -> Option<String> {
    let first = name(layers.first()?);
    let others: Vec<String> = apart.iter().filter_map(|nth| layers.get(*nth)).map(name).collect();
    (!others.is_empty()).then(|| {
        format!(
            "no road joins {} with {first}: they share no node of the map; what lies between them is not known",
            others.join(" and ")
        )
    })
}

/// What is said of places to stop at the rim of a layer, which may be in none.
pub(super) fn of_rim(layers: &[Layer]) -> Vec<String> {
    let of_layer = |layer: &Layer| {
        let told = layer.record().assumed.iter().filter(|sentence| sentence.contains(LEFT_OUT_AT_RIM));
        told.map(|sentence| format!("{}: {sentence}; listed if another layer asked holds it", name(layer)))
            .collect::<Vec<_>>()
    };
    layers.iter().flat_map(of_layer).collect()
}

/// What is said of layers without sky masks.
pub(super) fn of_masks(layer: &Layer) -> String {
    format!("{} holds no sky masks: meetings held while driving on its roads are not simulated", name(layer))
}
