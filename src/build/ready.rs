//! A build made ready: inputs read and checked, nothing rated yet.
use std::path::Path;

use super::inputs::PlannedInputs;
use super::options::BuildOptions;
use super::orbits::{self, Orbits};
use super::parts::RatedRegion;
use super::plan::BuildPlan;
use super::rate::Shared;
use super::sources::Opened;
use super::stages::Stages;
use super::strict::strict_error;
use super::{check, footprints, parts, record, season};
use crate::base::count::counted;
use crate::base::defect::Defects;
use crate::base::district::District;
use crate::base::error::{Error, Result};
use crate::base::files::Replacement;
use crate::base::geodesy::{Position, distance_m};
use crate::base::progress::Progress;
use crate::layer::model::BuildRecord;
use crate::map::district::region::Region;
use crate::map::divide::{BackdropFile, DistrictBundle, Divided, divide, read_bundle};
use crate::map::place::places::Places;
use crate::profile::Profile;
use crate::rating::drives::SkyStore;

/// What the hidden folder is named after in which the map is divided.
const DIVIDING: &str = "dividing";

/// Everything that was read.
pub(super) struct Ready {
    options: BuildOptions,
    orbits: Option<Orbits>,
    sources: Opened,
    divided: Divided,
    profile: Profile,
    places: Places,
    record: BuildRecord,
    defects: Defects,
    /// Where bundles are; goes when dropped, at an interrupt, or with the next build.
    _bundles: Replacement,
}

impl Ready {
    /// Reads and checks the inputs; the map is divided within the folder given.
    ///
    /// # Errors
    /// One of them is missing, broken or the wrong one; with `strict`, also any defect.
    pub fn new(options: &BuildOptions, folder: &Path, stages: &mut Stages, progress: &dyn Progress) -> Result<Self> {
        check::rasters(options)?;
        let orbits = orbits::read(options, progress)?;
        let options = orbits::in_force(options, orbits.as_ref());
        let sources = Opened::new(&options)?;
        check::output(&options, &sources)?;
        let bundles = Replacement::begin_part(&folder.join(DIVIDING), "bundles")?;
        let hidden = bundles.temporary().parent().unwrap_or(folder);
        let wanted = |district: District| options.region.takes(district);
        let divided = stages.whole(
            "extract",
            "objects",
            |p| divide(&options.extract, hidden, &wanted, p),
            |read| read.info.nodes + read.info.ways + read.info.relations,
        )?;
        check::roads(&options, &divided)?;
        if divided.districts.is_empty() {
            return Err(nothing_there(&options));
        }
        let read = record::ReadMap::of(&divided);
        let profile = season::in_season(&options, divided.mean_road_lat_deg.unwrap_or_default());
        let longest = divided.districts.iter().max_by(|a, b| a.road_km.total_cmp(&b.road_km));
        longest.map_or(Ok(()), |bundle| footprints::look(&options, bundle.district))?;
        let road_places = road_places(&divided, &options.region)?;
        sources.check_nature(&road_places)?;
        sources.check_cover(&options, &road_places)?;
        if options.elevation.is_empty() {
            progress.warn("no --elevation: terrain is unknown, not clear; every row says so");
        }
        let mut defects = read.defects.clone();
        orbits.iter().for_each(|o| defects.merge(o.defects.clone()));
        if options.strict && !defects.is_empty() {
            return Err(strict_error(&options.extract, &defects));
        }
        let mut record = record::begin(&options, &profile, &read, &sources)?;
        orbits.iter().for_each(|o| o.write_down(&mut record));
        let places = Places::embedded()?;
        Ok(Self { options, orbits, sources, divided, profile, places, record, defects, _bundles: bundles })
    }

    /// The files of the districts.
    pub fn bundles(&self) -> &[DistrictBundle] {
        &self.divided.districts
    }

    /// The file of names and water.
    pub fn backdrop(&self) -> &BackdropFile {
        &self.divided.backdrop
    }

    /// The districts that are wanted, planned, and handed to what rates them.
    ///
    /// # Errors
    /// As of `work`.
    pub fn planned<T>(&self, work: impl FnOnce(&RatedRegion, &BuildPlan) -> Result<T>) -> Result<T> {
        let mut record = self.record.clone();
        record.assumed.extend(of_region(&self.options.region, self.divided.districts.len()));
        let rasters = self.sources.readers();
        let shared = Shared {
            options: &self.options,
            profile: &self.profile,
            places: &self.places,
            rasters: &rasters,
            orbits: self.orbits.as_ref(),
            skies: SkyStore::default(),
            record: &self.record,
        };
        let (program, districts) = parts::districts(&shared, &self.divided.districts, &self.sources)?;
        let bundles = self.divided.districts.iter().map(|bundle| (bundle.district, bundle.path.clone())).collect();
        let region = RatedRegion::new(&shared, bundles, None);
        let mut plan = BuildPlan::new(program, PlannedInputs::of(&self.options)?, record, districts);
        plan.backdrop = self.divided.backdrop.sha256.clone();
        plan.never_seen = self.orbits.as_ref().map(|o| o.never_seen(self.record.mask_floor_deg));
        plan.defects = self.defects.iter().map(|(d, t)| (d.code().to_owned(), t.clone())).collect();
        work(&region, &plan)
    }
}

fn nothing_there(options: &BuildOptions) -> Error {
    let fact = "has no road in the districts that the region given touches";
    let next = "give a region that lies in the extract; GeoJSON has longitude first, --bounds has south first";
    Error::file(&options.extract, fact, next)
}

/// What the record says of a build of a part of its extract.
fn of_region(region: &Region, wanted: usize) -> Option<String> {
    let what = match region {
        Region::Whole => return None,
        Region::Bounds(_) => "the box given",
        Region::Area(_) => "the area given",
        Region::Along { .. } => "the surroundings of the track given",
    };
    Some(format!("rated: {} of the extract, no more than touch {what}", counted(wanted, "district")))
}

/// Fewer places than this say little about rasters.
const FEW_PLACES: usize = 50;

/// Where roads that are wanted are, for looks at rasters.
fn road_places(divided: &Divided, region: &Region) -> Result<Vec<Position>> {
    let wanted = divided.road_sample.iter().copied().filter(|p| region.takes(District::of(*p)));
    let mut places: Vec<Position> = wanted.collect();
    let longest = divided.districts.iter().max_by(|a, b| a.road_km.total_cmp(&b.road_km));
    if let Some(bundle) = longest.filter(|_| places.len() < FEW_PLACES) {
        let extract = read_bundle(&bundle.path)?;
        let of = |boarded: bool| {
            let roads = extract.roads.iter().filter(|r| boarded || !r.class.is_boarded());
            let along = roads.flat_map(|r| r.nodes.windows(2)).flat_map(|pair| between(pair[0].at, pair[1].at));
            along.filter(|p| District::of(*p) == bundle.district).collect::<Vec<_>>()
        };
        let driven = of(false);
        places.extend(if driven.is_empty() { of(true) } else { driven });
    }
    Ok(places)
}

/// Places from one node to the next, some hundred metres apart.
fn between(a: Position, b: Position) -> impl Iterator<Item = Position> {
    const STEP_M: f64 = 300.0;
    let steps = (distance_m(a, b) / STEP_M).ceil().clamp(1.0, 1_000.0) as i64;
    let (east, north) = (i64::from(b.lon_e7) - i64::from(a.lon_e7), i64::from(b.lat_e7) - i64::from(a.lat_e7));
    // Across 180 degrees the ends will do.
    let steps = if east.abs() > 1_800_000_000 { 1 } else { steps };
    let at = move |k: i64| Position {
        lon_e7: (i64::from(a.lon_e7) + east * k / steps) as i32,
        lat_e7: (i64::from(a.lat_e7) + north * k / steps) as i32,
    };
    (0..steps).map(at).chain([b])
}
