//! A build in pieces: planned, rated shard by shard, on one machine or on many, and joined.
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::forecast::{after_reading, ahead};
use super::named_parts::NamedParts;
use super::options::BuildOptions;
use super::overall::Overall;
use super::parts::{DonePart, RatedRegion, look_ahead};
use super::plan::{BuildPlan, PLAN, PlannedDistrict};
use super::planned::PlannedBuild;
use super::ready::Ready;
use super::stages::Stages;
use super::whole::{Built, built, in_pool, whole_of};
use super::work::{WorkFolder, check_outside};
use super::{backdrop, finish};
use crate::base::count::counted;
use crate::base::district::District;
use crate::base::error::{Error, Result};
use crate::base::files::{Replacement, check_apart};
use crate::base::progress::{Progress, StageTime, WorkAhead};
use crate::layer::{JoinedLayer, LayerJoin, PartFile};
use crate::map::district::region::Region;

/// Districts named in a message.
const NAMED: usize = 6;
/// What the hidden folder is named after in which the map is divided for an estimate.
const ESTIMATE: &str = "waymask-estimate";

/// One of several shards of a build.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shard {
    /// Which, from 1.
    pub nth: usize,
    /// Of how many.
    pub count: usize,
}

/// What one run for a shard did.
#[derive(Debug, Clone)]
pub struct RatedShard {
    /// Where the parts are.
    pub folder: PathBuf,
    /// Districts of the shard, and kilometres of road in them.
    pub districts: usize,
    /// Kilometres.
    pub km: f64,
    /// Districts of the whole build.
    pub of: usize,
    /// Wall-clock time per stage.
    pub stages: Vec<StageTime>,
}

/// Where a plan of shards is made.
#[derive(Debug, Clone)]
pub struct ShardOptions {
    /// What is built.
    pub build: BuildOptions,
    /// The work folder.
    pub work: PathBuf,
}

/// Joins the parts of some work folders.
#[derive(Debug, Clone)]
pub struct MergeOptions {
    /// Work folders of shards of one build.
    pub folders: Vec<PathBuf>,
    /// Layer to write.
    pub output: PathBuf,
    /// Replace it.
    pub overwrite: bool,
    /// Which districts.
    pub region: Region,
    /// With masks or without.
    pub how: JoinedLayer,
}

/// A plan that is there, and what of it is not done.
#[derive(Debug, Clone)]
pub struct FoundPlan {
    /// The plan.
    pub plan: BuildPlan,
    /// Districts of which no part is named in the folder.
    pub missing: BTreeSet<District>,
}

/// Reads the plan of a work folder.
///
/// # Errors
/// There is none, or it is damaged or of another version.
pub fn found_plan(folder: &Path) -> Result<FoundPlan> {
    let plan = BuildPlan::read(folder)?;
    let named = NamedParts::of(folder);
    let missing = plan.districts.iter().filter(|d| !named.has(d.district, &d.key));
    Ok(FoundPlan { missing: missing.map(|d| d.district).collect(), plan })
}

/// Plans a build without rating anything; the plan and the bundles of its districts are put into the work folder.
///
/// # Errors
/// As of [`super::build`], up to the rating.
pub fn plan_shards(options: &ShardOptions, progress: &dyn Progress) -> Result<()> {
    in_pool(options.build.threads, || {
        let progress = &whole_of(&options.build, progress);
        let mut stages = Stages::new(progress);
        let folder = WorkFolder::open_to_plan(&options.work)?;
        let ready = Ready::new(&options.build, folder.path(), &mut stages, progress)?;
        ready.planned(|_, plan| {
            // Without its plan a half-made set of bundles is not taken for a whole one.
            BuildPlan::remove(folder.path())?;
            folder.keep_bundles(ready.bundles())?;
            backdrop::keep_with_plan(folder.path(), plan, ready.backdrop()).map(drop)
        })
    })
}

/// What a build takes; nothing is left behind.
///
/// # Errors
/// As of [`super::build`], up to the rating.
pub fn estimate(options: &BuildOptions, progress: &dyn Progress) -> Result<WorkAhead> {
    in_pool(options.threads, || {
        // An interrupt removes it, too, and the next estimate what a killed one left.
        let temporary = std::env::temp_dir();
        let begun = Replacement::begin_part(&temporary.join(ESTIMATE), "work").map_err(|e| match e.exit_code() {
            3 => e,
            _ => e.with_next("point TMPDIR to a folder you may write to"),
        })?;
        let overall = whole_of(options, progress);
        let folder = begun.temporary().parent().unwrap_or(&temporary);
        let ready = Ready::new(options, folder, &mut Stages::new(&overall), &overall)?;
        ready.planned(|_, plan| {
            let all: Vec<_> = plan.districts.iter().collect();
            Ok(ahead((&all, &all), true, &plan.record.profile, rayon::current_num_threads()))
        })
    })
}

/// Rates one shard of a build into a work folder. Doing it again does nothing more.
///
/// # Errors
/// As of [`super::build`]; the folder holds the plan of another build; the shard is not one of those.
pub fn rate_shard(options: &ShardOptions, shard: Shard, progress: &dyn Progress) -> Result<RatedShard> {
    in_pool(options.build.threads, || {
        let overall = whole_of(&options.build, progress);
        let mut stages = Stages::new(&overall);
        let folder = WorkFolder::open_shared(&options.work)?;
        let ready = Ready::new(&options.build, folder.path(), &mut stages, &overall)?;
        ready.planned(|region, plan| {
            if let Some(what) = BuildPlan::read(folder.path()).ok().and_then(|there| there.differs(plan)) {
                return Err(Error::file(
                    &folder.path().join(PLAN),
                    format!("is the plan of another build: its {what} differs"),
                    "give the inputs and options of that build, or another folder with --work",
                ));
            }
            backdrop::keep_with_plan(folder.path(), plan, ready.backdrop())?;
            rated((plan, shard, options.build.anyway), region, &folder, &mut stages, &overall)
        })
    })
}

/// Rates one shard of the plan in a work folder, from its bundles: no extract is needed. Doing it again does nothing more.
///
/// # Errors
/// There is no plan, or it is of another version or program; an input or a bundle is not what it was when the build was planned;
/// a raster cannot be read, or a part cannot be written.
pub fn rate_planned_shard(
    work: &Path,
    (threads, anyway): (Option<usize>, bool),
    shard: Shard,
    progress: &dyn Progress,
) -> Result<RatedShard> {
    in_pool(threads, || {
        let plan = BuildPlan::read(work)?;
        let folder = WorkFolder::open_shared(work)?;
        let overall = Overall::new(progress, after_reading(1.0, 0.0).to_vec());
        let planned = PlannedBuild::new(&plan, work, &overall)?;
        planned.rated(|region| rated((&plan, shard, anyway), region, &folder, &mut Stages::new(&overall), &overall))
    })
}

fn rated(
    (plan, shard, anyway): (&BuildPlan, Shard, bool),
    region: &RatedRegion,
    folder: &WorkFolder,
    stages: &mut Stages,
    progress: &Overall,
) -> Result<RatedShard> {
    let own = plan.shards(shard.count).into_iter().nth(shard.nth.saturating_sub(1)).unwrap_or_default();
    look_ahead(plan, &own, (folder, None), anyway, progress)?;
    region.rate(&own, folder, stages)?;
    Ok(RatedShard {
        folder: folder.path().to_owned(),
        districts: own.len(),
        km: own.iter().map(|d| d.km).sum(),
        of: plan.districts.len(),
        stages: std::mem::take(&mut stages.times),
    })
}

/// Joins shards to a layer.
///
/// # Errors
/// The folders are of different builds, parts are missing or damaged, or the layer cannot be written.
pub fn merge(options: &MergeOptions, progress: &dyn Progress) -> Result<Built> {
    let mut stages = Stages::new(progress);
    let plans = options.folders.iter().map(|f| Ok((f, BuildPlan::read(f)?))).collect::<Result<Vec<_>>>()?;
    let Some((first, plan)) = plans.first() else {
        return Err(Error::usage("merge", "needs a work folder", "give those of `waymask build --shard`"));
    };
    for (other, of_other) in &plans[1..] {
        if let Some(what) = plan.differs(of_other) {
            return Err(Error::file(
                other,
                format!("is of another build than {}: its {what} differs", first.display()),
                "merge shards of one build: of the same program, inputs and options",
            ));
        }
    }
    let wanted: Vec<&PlannedDistrict> = plan.districts.iter().filter(|d| options.region.takes(d.district)).collect();
    if wanted.is_empty() {
        let next = "give a region that lies in the extract that was built; GeoJSON has longitude first, --bounds has south first";
        return Err(Error::file(first, "has no district in the region given", next));
    }
    options.folders.iter().try_for_each(|folder| check_outside(&options.output, folder))?;
    let paths = found(&options.folders, &wanted)?;
    let of_plan = backdrop::find(&options.folders, plan)?;
    check_apart(paths.iter().map(PathBuf::as_path), [options.output.as_path()])?;
    let layer = LayerJoin::create(&options.output, options.overwrite)?;
    let parts = paths.iter().map(|path| PartFile::open(path)).collect::<Result<Vec<DonePart>>>()?;
    let mut plan = plan.clone();
    if wanted.len() < plan.districts.len() {
        plan.record.assumed.push(format!("merged: {} of {}", wanted.len(), counted(plan.districts.len(), "district")));
    }
    let record = finish::finish(&plan, &parts, (layer, &of_plan), &mut stages, progress, options.how)?;
    Ok(built(record, &options.output, stages))
}

/// The part of every district, in order.
fn found(folders: &[PathBuf], wanted: &[&PlannedDistrict]) -> Result<Vec<PathBuf>> {
    let (mut paths, mut missing, mut damaged) = (Vec::new(), Vec::new(), BTreeMap::new());
    let folders_parts: Vec<NamedParts> = folders.iter().map(|folder| NamedParts::of(folder)).collect();
    for planned in wanted {
        let mut whole = None;
        for named in &folders_parts {
            let (part, bad) = named.whole(planned.district, &planned.key);
            whole = whole.or(part);
            bad.into_iter().for_each(|path| {
                damaged.insert(planned.district, path);
            });
        }
        match whole {
            Some(path) => paths.push(path),
            None => missing.push(planned.district),
        }
    }
    if missing.is_empty() {
        return Ok(paths);
    }
    let named: BTreeSet<String> = missing.iter().take(NAMED).map(ToString::to_string).collect();
    let more = if missing.len() > NAMED { ", ..." } else { "" };
    let list = named.into_iter().collect::<Vec<_>>().join(", ");
    let folder: &Path = folders.first().map_or(Path::new("."), PathBuf::as_path);
    let bad = missing.iter().filter_map(|d| damaged.get(d)).next();
    let note = bad.map_or(String::new(), |path| format!("; {} is damaged", path.display()));
    Err(Error::file(
        folder,
        format!("parts of {} of {} are missing: {list}{more}{note}", missing.len(), counted(wanted.len(), "district")),
        "rate the missing shards with `waymask build --shard`, or give their folders too",
    ))
}
