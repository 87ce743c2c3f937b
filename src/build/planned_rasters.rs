//! Whether rasters, buildings and elements are still those of a plan, which may have been made on another machine.
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::OnceLock;

use super::orbits::Orbits;
use super::record::file_name;
use super::sources::Opened;
use crate::base::district::{District, Reach};
use crate::base::error::{Error, Result};
use crate::base::words::InputRole;
use crate::layer::model::{BuildRecord, InputRecord};
use crate::map::extract::model::Extract;
use crate::relief::{FARTHEST_SEEN_M, FootprintFile, RasterPlace, file_bytes, file_record};

const NEXT: &str = "give every machine the same files under the same paths, or plan again with `waymask shards`";

/// Rasters of a plan. Each is hashed once, before a district that may see it is rated: a shard need not read what a continent
/// has.
pub(super) struct PlannedRasters<'a> {
    all: Vec<(&'a InputRecord, RasterPlace<'a>)>,
    /// Whether each is still what it was, as soon as one district has asked; others wait for the answer.
    same: Vec<OnceLock<bool>>,
}

impl<'a> PlannedRasters<'a> {
    /// The files that are here now, by what the record of the plan says of them; names and sizes are compared at once.
    ///
    /// # Errors
    /// There are more, fewer or others.
    pub fn new(record: &'a BuildRecord, sources: &'a Opened) -> Result<Self> {
        let mut planned = rasters(record);
        let mut all = Vec::new();
        for (role, place) in sources.places() {
            let here = (role, file_name(place.path), file_bytes(place.path));
            match planned.next() {
                Some(input) if (input.role, input.name.clone(), Some(input.bytes)) == here => all.push((input, place)),
                Some(input) if (input.role, &input.name) == (here.0, &here.1) => {
                    return Err(Error::file(place.path, "has another size than when the build was planned", NEXT));
                }
                _ => return Err(Error::file(place.path, "was not among the rasters that were planned", NEXT)),
            }
        }
        match planned.next() {
            Some(gone) => Err(Error::failed(gone.name.clone(), "was planned with, and is not here", NEXT)),
            None => Ok(Self { same: all.iter().map(|_| OnceLock::new()).collect(), all }),
        }
    }
    /// Checks those that may be seen from the roads of a bundle.
    ///
    /// # Errors
    /// One of them holds something else than when the build was planned.
    pub fn check(&self, bundle: &Extract) -> Result<()> {
        let sight = RasterSight::of(bundle);
        for ((input, place), same) in self.all.iter().zip(&self.same) {
            if sight.may_see(place) && !*same.get_or_init(|| check_sum(place.path, input).is_ok()) {
                // Once more, for its words.
                check_sum(place.path, input)?;
                return Err(changed(place.path));
            }
        }
        Ok(())
    }
}

/// Where rasters may be seen from the roads of a district.
pub(super) struct RasterSight(Vec<Reach>);

impl RasterSight {
    /// From all roads of a bundle: those that lead over the lines of the district are driven, too.
    pub fn of(bundle: &Extract) -> Self {
        let nodes = bundle.roads.iter().flat_map(|road| &road.nodes);
        let districts: BTreeSet<District> = nodes.map(|node| District::of(node.at)).collect();
        Self(districts.into_iter().map(|d| d.reach(FARTHEST_SEEN_M)).collect())
    }
    /// Whether anything of a raster may be; one that lies nobody knows where, always.
    pub fn may_see(&self, place: &RasterPlace) -> bool {
        place.reach.is_none_or(|reach| self.0.iter().any(|seen| seen.meets(&reach)))
    }
}

/// The rasters of a record, in order.
pub(super) fn rasters(record: &BuildRecord) -> impl Iterator<Item = &InputRecord> {
    let is_raster = |role| matches!(role, InputRole::Elevation | InputRole::Surface | InputRole::Canopy);
    record.inputs.iter().filter(move |input| is_raster(input.role))
}

/// Compares what is read whole by every shard: buildings and orbital elements.
///
/// # Errors
/// One of them is another file than when the build was planned.
pub(super) fn check_others(
    record: &BuildRecord,
    buildings: Option<&FootprintFile>,
    orbits: Option<&Orbits>,
) -> Result<()> {
    let planned = |role| record.inputs.iter().find(|input| input.role == role);
    if let (Some(file), Some(input)) = (buildings, planned(InputRole::Buildings)) {
        check_sum(&file.path, input)?;
    }
    match (orbits, planned(InputRole::Orbits)) {
        (Some(orbits), Some(input)) if orbits.sha256() != input.sha256 => Err(changed(orbits.path())),
        _ => Ok(()),
    }
}

fn check_sum(path: &Path, input: &InputRecord) -> Result<()> {
    if file_record(path)?.sha256 == input.sha256 { Ok(()) } else { Err(changed(path)) }
}

fn changed(path: &Path) -> Error {
    Error::file(path, "is not what it was when the build was planned", NEXT)
}
