//! The inputs of a plan: with them a shard is rated without the command that planned it.
use std::path::{Path, PathBuf, absolute};

use serde::{Deserialize, Serialize};

use super::options::{BuildOptions, OrbitOptions};
use crate::base::error::{Error, Result};
use crate::profile::Profile;
use crate::relief::{ElevationKind, FootprintFile};

/// Where the inputs of a build are, by absolute paths, and how they are read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlannedInputs {
    /// The extract. Shards do not need it: they have bundles.
    pub extract: PathBuf,
    /// Elevation rasters or folders, best first.
    elevation: Vec<(ElevationKind, PathBuf)>,
    elevation_scale: Option<f64>,
    canopy: Vec<PathBuf>,
    canopy_scale: Option<f64>,
    surface: Vec<PathBuf>,
    surface_scale: Option<f64>,
    /// Buildings that replace those of the map.
    pub buildings: Option<FootprintFile>,
    orbits: Option<OrbitOptions>,
    /// Fail on defects.
    pub strict: bool,
}

impl PlannedInputs {
    /// Those of a build.
    ///
    /// # Errors
    /// The working folder is gone, so that a path cannot be completed.
    pub fn of(options: &BuildOptions) -> Result<Self> {
        let full = |path: &PathBuf| {
            absolute(path).map_err(|e| Error::io(path, "cannot be completed", &e, "give it from the root of the disk"))
        };
        let all = |paths: &[PathBuf]| paths.iter().map(full).collect::<Result<Vec<_>>>();
        let of_kind = options.elevation_inputs().into_iter();
        let of_buildings = |b: &FootprintFile| Ok(FootprintFile { path: full(&b.path)?, ..b.clone() });
        let of_orbits = |o: &OrbitOptions| Ok(OrbitOptions { path: full(&o.path)?, ..o.clone() });
        Ok(Self {
            extract: full(&options.extract)?,
            elevation: of_kind.map(|input| Ok((input.kind, full(&input.path)?))).collect::<Result<_>>()?,
            elevation_scale: options.elevation_scale,
            canopy: all(&options.canopy)?,
            canopy_scale: options.canopy_scale,
            surface: all(&options.surface)?,
            surface_scale: options.surface_scale,
            buildings: options.buildings.as_ref().map(of_buildings).transpose()?,
            orbits: options.orbits.as_ref().map(of_orbits).transpose()?,
            strict: options.strict,
        })
    }
    /// The first elevation raster; nothing where terrain is not known.
    pub fn first_elevation(&self) -> Option<&Path> {
        self.elevation.first().map(|(_, path)| path.as_path())
    }
    /// The build that was planned, under the profile in force.
    pub fn options(&self, profile: &Profile, output: PathBuf) -> BuildOptions {
        let (kinds, elevation): (Vec<_>, Vec<_>) = self.elevation.iter().cloned().unzip();
        BuildOptions {
            elevation,
            elevation_kinds: kinds.into_iter().map(Some).collect(),
            elevation_scale: self.elevation_scale,
            canopy: self.canopy.clone(),
            canopy_scale: self.canopy_scale,
            surface: self.surface.clone(),
            surface_scale: self.surface_scale,
            buildings: self.buildings.clone(),
            orbits: self.orbits.clone(),
            strict: self.strict,
            profile: profile.clone(),
            ..BuildOptions::new(self.extract.clone(), output)
        }
    }
}
