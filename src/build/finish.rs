//! From all parts of a plan to the layer.
use std::path::Path;

use super::parts::DonePart;
use super::plan::{BuildPlan, NeverSeen};
use super::stages::Stages;
use super::sums::PartSums;
use super::{backdrop, footprints, ground, record, strict};
use crate::base::error::{Error, Result};
use crate::base::progress::Progress;
use crate::layer::model::BuildRecord;
use crate::layer::{JoinedLayer, LayerJoin, PartFile, stops_left_out};

/// Joins parts and a file of names and water to a layer, and completes the record.
///
/// # Errors
/// Together the parts say that an input is the wrong one; with `strict` that it has defects; or the layer cannot be written.
pub(super) fn finish(
    plan: &BuildPlan,
    parts: &[DonePart],
    (mut layer, of_plan): (LayerJoin, &Path),
    stages: &mut Stages,
    progress: &dyn Progress,
    joined: JoinedLayer,
) -> Result<BuildRecord> {
    let mut record = plan.record.clone();
    let mut sums = PartSums::of_inputs(&plan.defects);
    for (_, of_part) in parts {
        of_part.add_to(&mut record);
        sums.add(of_part);
    }
    let elevation = plan.inputs.first_elevation();
    if let (Some(buildings), Some(counts)) = (&plan.inputs.buildings, sums.footprints) {
        footprints::check_all(buildings, counts)?;
    }
    ground::check_all_grades(elevation, sums.grades)?;
    ground::check_cover(elevation, sums.stations, progress)?;
    if plan.inputs.strict && !sums.defects.is_empty() {
        return Err(strict::strict_error_of(&plan.inputs.extract, &sums.defects));
    }
    if let Some(NeverSeen { path, fact, next }) = plan.never_seen.as_ref().filter(|_| sums.never_seen) {
        return Err(Error::file(Path::new(path), fact.clone(), next.clone()));
    }
    sums.few.values().flatten().for_each(|warning| progress.warn(warning));
    sums.sides.iter().filter(|v| v.doubt_it()).for_each(|v| progress.warn(&record::side_doubt(v)));
    record::finish(&mut record, &sums);
    if joined == JoinedLayer::WithoutMasks {
        record::without_masks(&mut record);
    }
    let files: Vec<PartFile> = parts.iter().map(|(file, _)| file.clone()).collect();
    record::leave_out_stops(&mut record, stops_left_out(&files));
    let segments = record.counts.get("segments").copied().unwrap_or(0);
    stages.counted("join", "districts", files.len(), |p| {
        let districts = files.iter().map(|file| file.links.district).collect();
        backdrop::fill(&mut layer, (of_plan, plan), &districts, &mut record)?;
        layer.finish(&files, &mut record, joined, &|| p.advance(1))
    })?;
    stages.made(segments, "segments");
    Ok(record)
}
