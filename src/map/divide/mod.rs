//! Divides an extract of any size into the bundles of its districts, in little memory.
//!
//! In: a `.osm.pbf` file. Out: one file for each district, equal to what [`super::district::bundle::MapIndex::bundle`] takes
//! from the whole extract in memory; one file of the names and water of all of them, which nothing is rated from; and what is
//! counted on the way.
//!
//! The file is read in three passes (relations, ways, nodes). What is wanted goes to temporary files, split into shares by
//! scattered ids, and every question of the kind "which belongs to which" is answered one share at a time: places of nodes,
//! ways of relations, roads that meet at a node. Memory does not grow with the file but for 8 bytes for each way that a wanted
//! relation is made of, and some hundred for each tunnel, covered road and ferry.
mod backdrop_file;
mod bundle_file;
mod chunk_file;
mod filing;
mod passes;
mod places;
mod relations;
mod roads;
mod shares;
mod sheet;
mod stamp;
mod totals;
mod ways;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use rayon::prelude::*;

pub use backdrop_file::{BackdropFile, read_backdrop};
pub use bundle_file::{read_bundle, read_planned_bundle};
pub use shares::ShareSizes;
pub use totals::FeatureCounts;

use crate::base::defect::Defects;
use crate::base::district::District;
use crate::base::error::Result;
use crate::base::files::check_free;
use crate::base::geodesy::Position;
use crate::base::progress::Progress;
use crate::base::spill::{Records, Spill, SpillFolder, Spilled};
use crate::map::extract::frames::Frames;
use crate::map::extract::model::ExtractInfo;
use backdrop_file::BackdropKey;
use filing::{Filing, PieceNodes};
use passes::Passes;
use shares::DivideShares;
use sheet::Sheet;
use stamp::FileStamp;
use totals::DividedTotals;

/// Bytes of disk for each byte of the extract: temporary files at their most, and bundles. Measured: 2 to 6.4, the most for a
/// small extract around the corner of four districts, of which each holds most of it.
pub const DISK_FACTOR: u64 = 9;
/// Name of the file of names and water.
const BACKDROP: &str = "backdrop.part";
/// Districts whose bundles are written at a time: one may hold a large town and all around it.
const BUNDLES_AT_ONCE: usize = 2;

/// What dividing an extract gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Divided {
    /// About the file.
    pub info: ExtractInfo,
    /// Bad data met in the whole extract.
    pub defects: Defects,
    /// Features of the whole extract.
    pub counts: FeatureCounts,
    /// Bundles that were written, in order of their districts.
    pub districts: Vec<DistrictBundle>,
    /// Names of places and water of these districts.
    pub backdrop: BackdropFile,
    /// First nodes of some roads of the whole extract, at most 2,000: the same ones whatever the order of the file.
    pub road_sample: Vec<Position>,
    /// Mean latitude of the first nodes of all roads, degrees; nothing without roads.
    pub mean_road_lat_deg: Option<f64>,
    /// The most that lay on the disk at a time, bytes.
    pub disk_bytes: u64,
}

/// The bundle of one district.
#[derive(Debug, Clone, PartialEq)]
pub struct DistrictBundle {
    /// The district.
    pub district: District,
    /// Its file.
    pub path: PathBuf,
    /// SHA-256 of what is in it, lower-case hexadecimal.
    pub sha256: String,
    /// Length of the file, bytes.
    pub bytes: u64,
    /// Road inside the square, kilometres: steps from node to node of which the first lies in it.
    pub road_km: f64,
    /// Features in it, the surroundings included.
    pub counts: FeatureCounts,
}

/// Writes a bundle for each wanted district with roads or places to stop to the folder `work`.
///
/// # Errors
/// The extract cannot be read, is damaged or changes meanwhile; the disk of `work` has too little space. No bundle is left
/// then.
pub fn divide(
    path: &Path,
    work: &Path,
    wanted: &(dyn Fn(District) -> bool + Sync),
    progress: &dyn Progress,
) -> Result<Divided> {
    divide_by(path, work, wanted, progress, &ShareSizes::default())
}

/// The same with other sizes of what is held in memory; what comes out does not depend on them.
///
/// # Errors
/// See [`divide`].
pub fn divide_by(
    path: &Path,
    work: &Path,
    wanted: &(dyn Fn(District) -> bool + Sync),
    progress: &dyn Progress,
    sizes: &ShareSizes,
) -> Result<Divided> {
    let stamp = FileStamp::of(path)?;
    let frames = stamp.unchanged(passes::frames(path))?;
    let folder = SpillFolder::at(work);
    check_free(work, &format!("dividing {}", path.display()), frames.bytes * DISK_FACTOR)?;
    let shares = DivideShares::of(frames.bytes, sizes);
    let passes = stamp.unchanged(passes::FilePasses::new((path, &frames), &folder, shares, progress).run())?;
    Division { path, frames: &frames, folder: &folder, shares, wanted, progress }.run(passes, work)
}

/// What all steps of one division use.
struct Division<'a> {
    path: &'a Path,
    frames: &'a Frames,
    folder: &'a SpillFolder,
    shares: DivideShares,
    wanted: &'a (dyn Fn(District) -> bool + Sync),
    progress: &'a dyn Progress,
}

/// Where the features of all shares come together.
struct Collected<'a> {
    sheets: Spill<'a, District>,
    roads: Spill<'a, u32>,
    nodes: Spill<'a, u32>,
    covered: Vec<PieceNodes>,
    backdrop: Spill<'a, BackdropKey>,
    totals: DividedTotals,
}

impl Collected<'_> {
    fn take(&mut self, filing: Filing) -> Result<()> {
        for (districts, sheet) in filing.sheets {
            districts.into_iter().try_for_each(|district| self.sheets.put_bytes(district, &sheet))?;
        }
        put_all(&mut self.roads, filing.roads)?;
        put_all(&mut self.nodes, filing.nodes)?;
        self.covered.extend(filing.covered);
        filing.backdrop.into_iter().try_for_each(|(key, sheet)| self.backdrop.put_bytes(key, &sheet))?;
        self.totals.merge(filing.totals);
        Ok(())
    }
}

fn put_all<K: Ord + Copy>(spill: &mut Spill<K>, records: BTreeMap<K, Vec<u8>>) -> Result<()> {
    records.into_iter().try_for_each(|(key, bytes)| spill.put_bytes(key, &bytes))
}

impl<'a> Division<'a> {
    fn spill<K: Ord + Copy>(&self) -> Result<Spill<'a, K>> {
        Spill::new(self.folder, self.shares.buffer_bytes)
    }
    fn filing(&self) -> Filing<'a> {
        Filing::new(self.wanted, self.shares)
    }

    fn run(&self, passes: Passes<'a>, work: &Path) -> Result<Divided> {
        let info = passes.info.clone();
        let mut all = Collected {
            sheets: self.spill()?,
            roads: self.spill()?,
            nodes: self.spill()?,
            covered: Vec::new(),
            backdrop: self.spill()?,
            totals: DividedTotals::default(),
        };
        self.features(passes, &mut all)?;
        let Collected { mut sheets, roads, nodes, covered, backdrop, totals } = all;
        self.roads(&mut sheets, (roads.finish()?, nodes, covered))?;
        let found: BTreeSet<District> = totals.found.iter().copied().filter(|d| (self.wanted)(*d)).collect();
        let path = work.join(BACKDROP);
        let mut written = Written(vec![path.clone()]);
        let backdrop = backdrop_file::write(&path, &backdrop.finish()?, &found)?;
        self.folder.count(backdrop.bytes);
        let districts = self.bundles(&sheets.finish()?, (&found, &totals), work)?;
        written.0.clear();
        let (road_sample, mean_road_lat_deg) = (totals.sample(), totals.mean_lat_deg());
        let mut defects = totals.defects.finish();
        defects.merge(self.frames.passed_over());
        let disk_bytes = self.folder.most_bytes();
        let counts = totals.counts;
        Ok(Divided { info, defects, counts, districts, backdrop, road_sample, mean_road_lat_deg, disk_bytes })
    }

    /// Everything with its geometry.
    fn features(&self, mut passes: Passes<'a>, all: &mut Collected) -> Result<()> {
        let places = self.places(&passes, all)?;
        // What is done with gives its space back.
        (passes.uses, passes.nodes) = (self.spill()?.finish()?, self.spill()?.finish()?);
        let members = self.members(&passes)?;
        let (mut of_relations, mut waiting) = (self.spill()?, self.spill()?);
        let mut share = 0_u32;
        self.shares.each(
            self.progress,
            "features",
            |share| ways::complete(&passes, &places, &members, share, self.filing()),
            |done| {
                done.of_relations.into_iter().try_for_each(|(share, way)| of_relations.put_bytes(share, &way))?;
                waiting.put_bytes(share, &done.waiting)?;
                share += 1;
                all.take(done.filing)
            },
        )?;
        drop((places, members));
        passes.ways = self.spill()?.finish()?;
        let (of_relations, waiting) = (of_relations.finish()?, waiting.finish()?);
        let mut drawn = self.spill()?;
        self.shares.each(
            self.progress,
            "polygons",
            |share| relations::build(&passes, &of_relations, share, self.filing()),
            |done| {
                done.drawn.into_iter().try_for_each(|one| drawn.put(self.shares.of_object(one.0), &one))?;
                all.take(done.filing)
            },
        )?;
        drop((passes, of_relations));
        let drawn = drawn.finish()?;
        self.shares.each(
            self.progress,
            "outlines",
            |share| ways::finish(&waiting, &drawn, share, self.filing()),
            |filing| all.take(filing),
        )
    }

    /// Places of nodes, by the share of the way that uses them.
    fn places(&self, passes: &Passes, all: &mut Collected) -> Result<Spilled<'a, u32>> {
        let (mut places, mut missing, mut wanted) = (self.spill()?, 0, 0);
        self.shares.each(
            self.progress,
            "places",
            |share| places::join(passes, share, self.filing()),
            |joined| {
                missing += joined.missing;
                wanted += joined.wanted;
                joined.places.into_iter().try_for_each(|(share, bytes)| places.put_bytes(share, &bytes))?;
                all.take(joined.filing)
            },
        )?;
        self.frames.check_places(self.path, missing, wanted)?;
        places.finish()
    }

    /// The ways that relations are made of and the shares of these, by the share of the way.
    fn members(&self, passes: &Passes) -> Result<Spilled<'a, u32>> {
        let mut members = self.spill()?;
        for share in 0..self.shares.count {
            for way in relations::members(passes, share)? {
                members.put(self.shares.of_object(way), &(way, share))?;
            }
        }
        members.finish()
    }

    /// Roads to their districts.
    fn roads(
        &self,
        sheets: &mut Spill<District>,
        (roads, mut nodes, covered): (Spilled<u32>, Spill<u32>, Vec<PieceNodes>),
    ) -> Result<()> {
        let followed = roads::follow(&covered);
        for piece in covered {
            let districts = followed.get(&piece.way).cloned().unwrap_or_default();
            PieceNodes { districts, ..piece }.split(&self.shares, |share, bytes| nodes.put_bytes(share, &bytes))?;
        }
        let nodes = nodes.finish()?;
        let mut contacts = self.spill()?;
        self.shares.each(
            self.progress,
            "crossings",
            |share| roads::contacts(&nodes, &self.shares, share),
            |found| put_all(&mut contacts, found),
        )?;
        drop(nodes);
        let contacts = contacts.finish()?;
        self.shares.each(
            self.progress,
            "roads",
            |share| roads::sheets(&roads, &contacts, &followed, share),
            |found| put_all(sheets, found),
        )
    }

    /// Writes the bundles.
    fn bundles(
        &self,
        sheets: &Spilled<District>,
        (found, totals): (&BTreeSet<District>, &DividedTotals),
        work: &Path,
    ) -> Result<Vec<DistrictBundle>> {
        let districts: Vec<District> = found.iter().copied().collect();
        let (mut written, mut bundles) = (Written(Vec::new()), Vec::new());
        self.progress.begin("districts", "districts", Some(districts.len() as u64));
        for batch in districts.chunks(BUNDLES_AT_ONCE) {
            written.0.extend(batch.iter().map(|district| path_of(work, *district)));
            let done: Vec<Result<DistrictBundle>> =
                batch.par_iter().map(|district| self.bundle(sheets, totals, *district, work)).collect();
            for bundle in done {
                bundles.push(bundle?);
                self.progress.advance(1);
            }
        }
        self.progress.end();
        written.0.clear();
        Ok(bundles)
    }

    fn bundle(
        &self,
        sheets: &Spilled<District>,
        totals: &DividedTotals,
        district: District,
        work: &Path,
    ) -> Result<DistrictBundle> {
        let bytes = sheets.read(district)?;
        let mut own: Vec<Sheet> = Records::of(&bytes).collect::<Result<_>>()?;
        own.sort_unstable();
        let mut counts = FeatureCounts::default();
        own.iter().for_each(|sheet| *counts.of(sheet.kind) += 1);
        let path = path_of(work, district);
        let (sha256, bytes) = bundle_file::write(&path, &own)?;
        self.folder.count(bytes);
        let road_km = totals.road_mm.get(&district).map_or(0.0, |mm| *mm as f64 * 1e-6);
        Ok(DistrictBundle { district, path, sha256, bytes, road_km, counts })
    }
}

/// The file of a district's bundle in a folder.
pub fn path_of(work: &Path, district: District) -> PathBuf {
    work.join(format!("{district}.bundle"))
}

/// Files that are removed unless all of them were written.
struct Written(Vec<PathBuf>);

impl Drop for Written {
    fn drop(&mut self) {
        for path in &self.0 {
            // One that was not begun is not there.
            let _ = std::fs::remove_file(path);
        }
    }
}
