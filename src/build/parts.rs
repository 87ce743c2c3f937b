//! The parts of a build: one file for each district, rated when it is not there yet.
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use rayon::prelude::*;

use super::forecast::{after_reading, ahead};
use super::named_parts::{NamedParts, PartKey, digest};
use super::overall::Overall;
use super::plan::{BuildPlan, PlannedDistrict};
use super::planned_rasters::{PlannedRasters, RasterSight, rasters};
use super::rate::{Shared, rate};
use super::sources::Opened;
use super::stages::{Stages, joined};
use super::sums::PartSums;
use super::work::WorkFolder;
use crate::base::district::District;
use crate::base::error::{Error, Result};
use crate::base::files::{check_both_free, check_free, folder_of};
use crate::base::memory;
use crate::base::progress::{Progress, StageTime};
use crate::base::words::InputRole;
use crate::layer::model::InputRecord;
use crate::layer::{PartFile, REPORT};
use crate::map::divide::{DistrictBundle, read_bundle, read_planned_bundle};
use crate::map::extract::model::Extract;
use crate::relief::library_version;

/// A finished part.
pub(super) type DonePart = (PartFile, PartSums);

/// A map that was divided, of which districts are rated.
pub(super) struct RatedRegion<'a> {
    shared: &'a Shared<'a>,
    bundles: BTreeMap<District, PathBuf>,
    rasters: Option<PlannedRasters<'a>>,
}

/// All districts of bundles, and what their parts depend on; the hash of the program first.
///
/// # Errors
/// The program or a bundle cannot be read.
pub(super) fn districts(
    shared: &Shared,
    bundles: &[DistrictBundle],
    sources: &Opened,
) -> Result<(String, Vec<PlannedDistrict>)> {
    let program = program()?;
    let rasters: Vec<_> = rasters(shared.record).zip(sources.places()).collect();
    let places: Vec<_> = rasters.iter().map(|(_, (_, place))| place.reach).collect();
    let lie = format!("{places:?} {:?}", sources.lattices());
    let common = [common(shared, &program)?, lie.into_bytes()].concat();
    let of = |bundle: &DistrictBundle| {
        // What a raster holds matters where it may be seen; that it is there, and where it lies, matters to all.
        let sight = match rasters.is_empty() {
            true => None,
            false => Some(RasterSight::of(&read_bundle(&bundle.path)?)),
        };
        let seen = rasters.iter().filter(|(_, (_, place))| sight.as_ref().is_none_or(|sight| sight.may_see(place)));
        let sums = seen.map(|(input, _)| input.sha256.as_bytes());
        let key = PartKey::of([common.as_slice(), bundle.sha256.as_bytes()].into_iter().chain(sums));
        Ok(PlannedDistrict { district: bundle.district, km: bundle.road_km, key, bundle: bundle.sha256.clone() })
    };
    let mut districts = bundles.par_iter().map(of).collect::<Result<Vec<PlannedDistrict>>>()?;
    districts.sort_by_key(|d| d.district);
    Ok((program, districts))
}

impl<'a> RatedRegion<'a> {
    /// Of the files of its districts; `rasters` are checked where the plan was made by another run.
    pub fn new(
        shared: &'a Shared<'a>,
        bundles: BTreeMap<District, PathBuf>,
        rasters: Option<PlannedRasters<'a>>,
    ) -> Self {
        Self { shared, bundles, rasters }
    }
    /// Rates districts that have no part yet; the parts in the order of their districts.
    ///
    /// # Errors
    /// That of the first district that has one; parts that are finished stay.
    pub fn rate(&self, wanted: &[&PlannedDistrict], folder: &WorkFolder, stages: &mut Stages) -> Result<Vec<DonePart>> {
        let mut all = wanted.to_vec();
        // The longest first, so that no thread is left with much when the others are done.
        all.sort_by(|a, b| b.km.total_cmp(&a.km).then(a.district.cmp(&b.district)));
        let threads = rayon::current_num_threads().max(1);
        let workers = threads.min(all.len()).max(1);
        let named = NamedParts::of(folder.path());
        let total: u64 = all.iter().map(|planned| planned.km.ceil() as u64).sum();
        stages.several("rating", "km", total, |progress| {
            let (next, failed) = (AtomicUsize::new(0), AtomicBool::new(false));
            let done = Mutex::new(Vec::new());
            let next = || all.get(next.fetch_add(1, Ordering::Relaxed)).filter(|_| !failed.load(Ordering::Relaxed));
            let work = || {
                while let Some(planned) = next() {
                    let part = self.one(planned, (folder, &named), progress);
                    failed.fetch_or(part.is_err(), Ordering::Relaxed);
                    if let Ok(mut done) = done.lock() {
                        done.push((planned.district, part));
                    }
                }
            };
            std::thread::scope(|scope| {
                let pools = (0..workers).map(|_| pool(threads.div_ceil(workers))).collect::<Result<Vec<_>>>()?;
                for pool in pools {
                    let work = &work;
                    scope.spawn(move || pool.install(work));
                }
                Ok(())
            })?;
            let mut done = done.into_inner().map_err(|e| Error::failed("rating districts", e.to_string(), REPORT))?;
            done.sort_by_key(|(district, _)| *district);
            let (mut parts, mut times) = (Vec::new(), Vec::new());
            for (_, part) in done {
                let (part, own) = part?;
                parts.push(part);
                times.push(own);
            }
            Ok((parts, joined(&times)))
        })
    }
    /// The part of one district, found or made, and how long its stages took.
    fn one(
        &self,
        planned: &PlannedDistrict,
        (folder, named): (&WorkFolder, &NamedParts),
        progress: &dyn Progress,
    ) -> Result<(DonePart, Vec<StageTime>)> {
        let (district, key) = (planned.district, &planned.key);
        let damaged = |path: &Path| progress.warn(&format!("{}: is damaged, and is made again", path.display()));
        let watcher = OfDistrict::new(progress, planned.km.ceil() as u64);
        let mut stages = Stages::new(&watcher);
        let path = match folder.part((named, district, key), &damaged) {
            Some(path) => path,
            None => {
                let bundle = self.bundle(planned)?;
                rate(self.shared, district, bundle, &folder.new_part(district), &mut stages)?;
                folder.keep(district, key)?
            }
        };
        let part = PartFile::open(&path)?;
        let times = stages.times;
        watcher.done();
        Ok((part, times))
    }
    fn bundle(&self, planned: &PlannedDistrict) -> Result<Extract> {
        let district = planned.district;
        let Some(path) = self.bundles.get(&district) else {
            return Err(Error::failed(format!("the bundle of {district}"), "is not there", REPORT));
        };
        let extract = read_planned_bundle(path, &planned.bundle)?;
        self.rasters.as_ref().map_or(Ok(()), |rasters| rasters.check(&extract))?;
        Ok(extract)
    }
}

/// What takes the memory, and what to do where there is not enough.
const RATING: &str = "the rating";
const LESS_MEMORY: &str = "ask for fewer threads with --threads (1 takes least), or rate on a machine with more memory; --anyway begins all the same";

/// Tells what lies ahead, and checks that there is room for it: memory for the rating, unless it is to begin anyway, and disk for the
/// parts that are not there yet and for the layer where one is written.
///
/// # Errors
/// The machine has too little memory, or the disk of the folder or of the layer too little space.
pub(super) fn look_ahead(
    plan: &BuildPlan,
    wanted: &[&PlannedDistrict],
    (folder, layer): (&WorkFolder, Option<&Path>),
    anyway: bool,
    progress: &Overall,
) -> Result<()> {
    let named = NamedParts::of(folder.path());
    let missing: Vec<_> = wanted.iter().copied().filter(|d| !named.has(d.district, &d.key)).collect();
    let threads = rayon::current_num_threads();
    let work = ahead((wanted, &missing), layer.is_some(), &plan.record.profile, threads);
    progress.learn(&after_reading(work.rating_s, work.join_s));
    progress.ahead(&work);
    if !anyway && !missing.is_empty() {
        memory::check_free(RATING, work.memory_bytes, LESS_MEMORY)?;
    }
    let parts = (folder.path(), "parts", work.parts_bytes);
    match layer {
        Some(layer) => check_both_free(parts, (folder_of(layer), "the layer", work.layer_bytes)),
        None => check_free(parts.0, parts.1, parts.2),
    }
}

/// Worker threads; 0 for as many as there are cores.
pub(super) fn pool(threads: usize) -> Result<rayon::ThreadPool> {
    let built = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    built.map_err(|e| Error::failed("worker threads", e.to_string(), "ask for fewer with --threads"))
}

/// Hash of the program and of what else gives bytes of its own: libraries outside of it, and the kind of processor.
pub(super) fn program() -> Result<String> {
    let program = std::env::current_exe().and_then(|path| digest(&path));
    let program = program.map_err(|e| Error::io_of("the program itself", "cannot be read", &e, "install it again"))?;
    let gdal = library_version();
    Ok(PartKey::of([program.as_bytes(), gdal.as_bytes(), std::env::consts::ARCH.as_bytes()]).digits().to_owned())
}

/// What every part depends on besides its bundle.
fn common(shared: &Shared, program: &str) -> Result<Vec<u8>> {
    let record = shared.record;
    let unsummed = |input: &InputRecord| InputRecord { sha256: String::new(), bytes: 0, ..input.clone() };
    let rasters: Vec<InputRecord> = rasters(record).map(unsummed).collect();
    let others = record.inputs.iter().filter(|input| is_read_whole(input)).cloned();
    let inputs: Vec<InputRecord> = rasters.into_iter().chain(others).collect();
    let told = (program, shared.profile, inputs, &record.timeline_start);
    serde_json::to_vec(&told).map_err(|e| Error::failed("what parts depend on", e.to_string(), REPORT))
}

/// The map is divided once for all, and what matters of it is in the bundles; rasters are seen in part.
fn is_read_whole(input: &InputRecord) -> bool {
    matches!(input.role, InputRole::Buildings | InputRole::Orbits)
}

/// Turns the progress of one district into kilometres of the whole.
struct OfDistrict<'a> {
    all: &'a dyn Progress,
    km: u64,
    /// Cells of the stage that takes the time, those done, and the kilometres told.
    cells: AtomicUsize,
    seen: AtomicUsize,
    told: Mutex<u64>,
    counts: AtomicBool,
}

/// The stage that takes most of the time, and is told of.
const LONGEST_STAGE: &str = "sky";

impl<'a> OfDistrict<'a> {
    fn new(all: &'a dyn Progress, km: u64) -> Self {
        let (cells, seen, told, counts) = Default::default();
        Self { all, km, cells, seen, told, counts }
    }
    fn tell(&self, km: u64) {
        if let Ok(mut told) = self.told.lock()
            && km > *told
        {
            self.all.advance(km - *told);
            *told = km;
        }
    }
    fn done(&self) {
        self.tell(self.km);
    }
}

impl Progress for OfDistrict<'_> {
    fn begin(&self, stage: &str, _: &'static str, total: Option<u64>) {
        self.counts.store(stage == LONGEST_STAGE, Ordering::Relaxed);
        if stage == LONGEST_STAGE {
            self.cells.store(total.unwrap_or(1).max(1) as usize, Ordering::Relaxed);
        }
    }
    fn advance(&self, steps: u64) {
        if self.counts.load(Ordering::Relaxed) {
            let seen = self.seen.fetch_add(steps as usize, Ordering::Relaxed) as u64 + steps;
            // The drives that follow take a share of the time as well.
            self.tell(self.km * seen * 2 / (3 * self.cells.load(Ordering::Relaxed) as u64));
        }
    }
    fn end(&self) {
        self.counts.store(false, Ordering::Relaxed);
    }
    fn warn(&self, message: &str) {
        self.all.warn(message);
    }
}
