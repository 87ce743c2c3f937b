//! A whole build: from inputs to the layer.
use std::path::Path;

use super::forecast::before_reading;
use super::options::BuildOptions;
use super::overall::Overall;
use super::parts::{look_ahead, pool};
use super::ready::Ready;
use super::stages::Stages;
use super::work::WorkFolder;
use super::{backdrop, finish};
use crate::base::error::Result;
use crate::base::progress::{Progress, StageTime};
use crate::layer::model::BuildRecord;
use crate::layer::{JoinedLayer, LayerJoin};

/// What a build did.
#[derive(Debug, Clone)]
pub struct Built {
    /// As stored in the layer.
    pub record: BuildRecord,
    /// Wall-clock time per stage; not stored, it differs from run to run.
    pub stages: Vec<StageTime>,
    /// Size of the layer, bytes.
    pub output_bytes: u64,
}

/// Builds a layer.
///
/// # Errors
/// An input is missing or broken, the elevation covers nothing, the output cannot be written; with
/// `strict` also any defect of the input. Nothing stands under the output's name unless it is whole.
pub fn build(options: &BuildOptions, progress: &dyn Progress) -> Result<Built> {
    in_pool(options.threads, || run(options, &whole_of(options, progress)))
}

/// One bar for a build from its extract on.
pub(super) fn whole_of<'a>(options: &BuildOptions, progress: &'a dyn Progress) -> Overall<'a> {
    // What cannot be looked at is told when it is read.
    let bytes = std::fs::metadata(&options.extract).map_or(0, |m| m.len());
    Overall::new(progress, before_reading(bytes, &options.profile, rayon::current_num_threads()))
}

/// Runs work with some number of threads.
pub(super) fn in_pool<T: Send>(threads: Option<usize>, work: impl FnOnce() -> Result<T> + Send) -> Result<T> {
    pool(threads.unwrap_or(0))?.install(work)
}

fn run(options: &BuildOptions, progress: &Overall) -> Result<Built> {
    let mut stages = Stages::new(progress);
    // Refused outputs and unreadable rasters should not cost a user the minutes in between.
    let layer = LayerJoin::create(&options.output, options.overwrite)?;
    let folder = WorkFolder::open(options.work.as_deref(), &options.output)?;
    let ready = Ready::new(options, folder.path(), &mut stages, progress)?;
    let (record, used) = ready.planned(|region, plan| {
        let mut of_plan = ready.backdrop().path.clone();
        if options.work.is_some() {
            of_plan = backdrop::keep_with_plan(folder.path(), plan, ready.backdrop())?;
        }
        let wanted: Vec<_> = plan.districts.iter().collect();
        look_ahead(plan, &wanted, (&folder, Some(&options.output)), options.anyway, progress)?;
        let parts = region.rate(&wanted, &folder, &mut stages)?;
        let record = finish::finish(plan, &parts, (layer, &of_plan), &mut stages, progress, JoinedLayer::Whole)?;
        Ok((record, parts.into_iter().map(|(file, _)| file.path).collect()))
    })?;
    // Its bundles lie in the folder.
    drop(ready);
    folder.finish(&used);
    Ok(built(record, &options.output, stages))
}

/// What is told of a layer that was written.
pub(super) fn built(record: BuildRecord, output: &Path, stages: Stages) -> Built {
    let output_bytes = std::fs::metadata(output).map_or(0, |m| m.len());
    Built { record, stages: stages.times, output_bytes }
}
