//! From two layers and a question to the answer.
use super::builds::BuildsCompared;
use super::model::{DiffAnswer, DiffQuestion, LayerTold};
use super::pairs::KeyedPairs;
use super::segment::SegmentChange;
use super::stops;
use super::tally::RoadTally;
use crate::ask::elsewhere::check_roads;
use crate::base::error::Result;
use crate::base::files::is_same_file;
use crate::base::words::InputRole;
use crate::layer::model::BuildRecord;
use crate::layer::{Bounds, Layer};

/// Compares two layers. Segments with something to tell are handed to `take` as they are found, by way and part.
///
/// # Errors
/// A layer cannot be read or holds no roads, or those of `take`.
pub fn diff(
    old: &Layer,
    new: &Layer,
    question: &DiffQuestion,
    take: &mut dyn FnMut(&SegmentChange) -> Result<()>,
) -> Result<DiffAnswer> {
    check_roads(old)?;
    check_roads(new)?;
    let builds = BuildsCompared::of(old.record(), new.record())?;
    let mut tally = RoadTally::new(question.top);
    for pair in KeyedPairs::of(old.segments_by_key()?, new.segments_by_key()?) {
        let change = tally.count(pair?);
        if change.is_one() {
            take(&change)?;
        }
    }
    let moves = tally.finish();
    let (stretches, largest) = tally.largest.finish();
    let (stops, stops_differ) = stops::compare(old, new, question.top)?;
    let extents = (old.extent()?, new.extent()?);
    Ok(DiffAnswer {
        is_same_file: is_same_file(old.path(), new.path()),
        is_equal: !tally.differs && !stops_differ,
        segments_in_both: tally.in_both,
        changed_segments: tally.changed,
        extents_meet: extents.0.zip(extents.1).is_some_and(|(a, b)| a.meets(b)),
        km: tally.km,
        builds,
        old: layer_told(old, extents.0, tally.old),
        new: layer_told(new, extents.1, tally.new),
        moves,
        stretches,
        largest,
        stops,
    })
}

/// A layer with the kilometres that were counted.
fn layer_told(layer: &Layer, extent: Option<Bounds>, counted: BuildRecord) -> LayerTold {
    let record = layer.record();
    let extract = record.inputs.iter().find(|i| i.role == InputRole::Extract);
    LayerTold {
        path: layer.path().display().to_string(),
        waymask_version: record.waymask_version.clone(),
        schema_version: record.schema_version,
        data_time: extract.and_then(|i| i.data_time.clone()),
        extent_deg: extent.map(Bounds::degrees).unwrap_or_default(),
        km_by_rating: counted.km_by_rating,
        km_by_cause: counted.km_by_cause,
        km_by_evidence: counted.km_by_evidence,
        km_by_chance: record.km_by_chance,
    }
}
