//! A build made ready from its plan: nothing of the map is read but the bundles of the districts that are rated.
use std::path::Path;

use super::options::BuildOptions;
use super::orbits::{self, Orbits};
use super::parts::{RatedRegion, program};
use super::plan::{BuildPlan, PLAN};
use super::planned_rasters::{PlannedRasters, check_others};
use super::rate::Shared;
use super::sources::Opened;
use super::work::bundles_in;
use crate::base::error::{Error, Result};
use crate::base::progress::Progress;
use crate::map::divide::path_of;
use crate::map::place::places::Places;
use crate::rating::drives::SkyStore;

/// Inputs of a plan, opened.
pub(super) struct PlannedBuild<'a> {
    plan: &'a BuildPlan,
    folder: &'a Path,
    options: BuildOptions,
    orbits: Option<Orbits>,
    sources: Opened,
    places: Places,
}

impl<'a> PlannedBuild<'a> {
    /// Opens the inputs of the plan in a work folder.
    ///
    /// # Errors
    /// The plan was made by another program, or an input is not there or not what it was.
    pub fn new(plan: &'a BuildPlan, folder: &'a Path, progress: &dyn Progress) -> Result<Self> {
        if program()? != plan.program {
            return Err(Error::file(
                &folder.join(PLAN),
                "was planned by another program, GDAL or kind of processor",
                "use one program file and one GDAL on every machine, or plan again with `waymask shards`",
            ));
        }
        let options = plan.inputs.options(&plan.record.profile, folder.join("layer.gpkg"));
        let orbits = orbits::read(&options, progress)?;
        check_others(&plan.record, options.buildings.as_ref(), orbits.as_ref())?;
        let sources = Opened::new(&options)?;
        Ok(Self { plan, folder, options, orbits, sources, places: Places::embedded()? })
    }
    /// Hands the districts to what rates them.
    ///
    /// # Errors
    /// Rasters are not those of the plan; as of `work`.
    pub fn rated<T>(&self, work: impl FnOnce(&RatedRegion) -> Result<T>) -> Result<T> {
        let rasters = self.sources.readers();
        let shared = Shared {
            options: &self.options,
            profile: &self.plan.record.profile,
            places: &self.places,
            rasters: &rasters,
            orbits: self.orbits.as_ref(),
            skies: SkyStore::default(),
            record: &self.plan.record,
        };
        let home = bundles_in(self.folder);
        let bundles = self.plan.districts.iter().map(|d| (d.district, path_of(&home, d.district))).collect();
        let checked = PlannedRasters::new(&self.plan.record, &self.sources)?;
        work(&RatedRegion::new(&shared, bundles, Some(checked)))
    }
}
