//! A build made ready: inputs read and checked, nothing rated yet.
use super::options::BuildOptions;
use super::orbits::{self, Orbits};
use super::parts::RatedRegion;
use super::plan::BuildPlan;
use super::rate::Shared;
use super::sources::Opened;
use super::stages::Stages;
use super::strict::strict_error;
use super::{check, footprints, record, season};
use crate::base::defect::Defects;
use crate::base::district::District;
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::base::progress::Progress;
use crate::layer::model::BuildRecord;
use crate::map::district::bundle::districts;
use crate::map::district::region::Region;
use crate::map::extract;
use crate::map::extract::model::Extract;
use crate::map::place::places::Places;
use crate::profile::Profile;
use crate::rating::drives::SkyStore;

/// Everything that was read.
pub(super) struct Ready {
    options: BuildOptions,
    orbits: Option<Orbits>,
    sources: Opened,
    extract: Extract,
    profile: Profile,
    places: Places,
    record: BuildRecord,
    defects: Defects,
}

impl Ready {
    /// Reads and checks the inputs.
    ///
    /// # Errors
    /// One of them is missing, broken or the wrong one; with `strict`, also any defect.
    pub fn new(options: &BuildOptions, stages: &mut Stages, progress: &dyn Progress) -> Result<Self> {
        check::rasters(options)?;
        let orbits = orbits::read(options, progress)?;
        let options = orbits::in_force(options, orbits.as_ref());
        let sources = Opened::new(&options)?;
        check::output(&options, &sources)?;
        let mut extract = stages.whole(
            "extract",
            "objects",
            |p| extract::read(&options.extract, p),
            |e| e.info.nodes + e.info.ways + e.info.relations,
        )?;
        check::roads(&options, &extract)?;
        let read = record::ReadMap::of(&extract);
        let replaced = footprints::replace(&options, &mut extract)?;
        let profile = season::in_season(&options, &extract);
        let road_places = road_places(&extract, &options.region);
        if road_places.is_empty() {
            return Err(nothing_there(&options));
        }
        sources.check_nature(&road_places)?;
        sources.check_cover(&options, &road_places)?;
        if options.elevation.is_empty() {
            progress.warn("no --elevation: terrain is unknown, not clear; every row says so");
        }
        let mut defects = read.defects.clone();
        orbits.iter().for_each(|o| defects.merge(o.defects.clone()));
        replaced.iter().for_each(|r| defects.merge(r.defects.clone()));
        if options.strict && !defects.is_empty() {
            return Err(strict_error(&options.extract, &defects));
        }
        let mut record = record::begin(&options, &profile, &read, &sources)?;
        replaced.iter().for_each(|r| record::of_footprints(&mut record, r));
        orbits.iter().for_each(|o| o.write_down(&mut record));
        let places = Places::embedded()?;
        Ok(Self { options, orbits, sources, extract, profile, places, record, defects })
    }

    /// The districts that are wanted, planned, and handed to what rates them.
    ///
    /// # Errors
    /// None is wanted, or `work` fails.
    pub fn planned<T>(&self, work: impl FnOnce(&RatedRegion, &BuildPlan) -> Result<T>) -> Result<T> {
        let all = districts(&self.extract);
        let found = all.len();
        let wanted: Vec<_> = all.into_iter().filter(|d| self.options.region.takes(d.district)).collect();
        if wanted.is_empty() {
            return Err(nothing_there(&self.options));
        }
        let mut record = self.record.clone();
        record.assumed.extend(of_region(&self.options.region, wanted.len(), found));
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
        let region = RatedRegion::new(&shared, &self.extract)?;
        let mut plan = BuildPlan::new(region.program().to_owned(), record, region.plan(&wanted)?);
        plan.extract = self.options.extract.display().to_string();
        plan.elevation = self.options.elevation.first().map(|path| path.display().to_string());
        plan.strict = self.options.strict;
        plan.never_seen = self.orbits.as_ref().map(|o| o.never_seen(self.record.mask_floor_deg));
        plan.defects = self.defects.iter().map(|(d, t)| (d.code().to_owned(), t.clone())).collect();
        work(&region, &plan)
    }
}

fn nothing_there(options: &BuildOptions) -> Error {
    let fact = "has no road in the districts that the region given touches";
    Error::file(&options.extract, fact, "give a region that lies in the extract")
}

/// What the record says of a build of a part of its extract.
fn of_region(region: &Region, wanted: usize, all: usize) -> Option<String> {
    let what = match region {
        Region::Whole => return None,
        Region::Bounds(_) => "the box given",
        Region::Area(_) => "the area given",
        Region::Along { .. } => "the surroundings of the track given",
    };
    Some(format!("rated: {wanted} of the {all} districts of the extract, those that touch {what}"))
}

/// Where the roads that are wanted are, for looks at rasters.
fn road_places(extract: &Extract, region: &Region) -> Vec<Position> {
    let wanted = |p: &Position| region.takes(District::of(*p));
    let of = |boarded: bool| -> Vec<Position> {
        let roads = extract.roads.iter().filter(|r| boarded || !r.class.is_boarded());
        roads.flat_map(|r| &r.nodes).map(|n| n.at).filter(wanted).collect()
    };
    let driven = of(false);
    if driven.is_empty() { of(true) } else { driven }
}
