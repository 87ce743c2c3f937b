//! What a build is asked for.
use std::path::PathBuf;

use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::map::district::region::Region;
use crate::profile::{Profile, Season};
use crate::relief::{ElevationKind, FootprintFile, RasterInput};

/// What `build` is asked for.
#[derive(Debug, Clone)]
pub struct BuildOptions {
    /// Map extract.
    pub extract: PathBuf,
    /// Elevation rasters or folders, best first; empty rates without terrain.
    pub elevation: Vec<PathBuf>,
    /// What `elevation` holds the heights of, bare earth or a surface, where `elevation_kinds` does not say.
    pub elevation_kind: ElevationKind,
    /// The same for each of `elevation`, in its order; missing ones are of `elevation_kind`.
    pub elevation_kinds: Vec<Option<ElevationKind>>,
    /// Metres per value of `elevation`, instead of what the rasters declare.
    pub elevation_scale: Option<f64>,
    /// Canopy-height rasters or folders, best first.
    pub canopy: Vec<PathBuf>,
    /// Metres per value of `canopy`, instead of what the rasters declare.
    pub canopy_scale: Option<f64>,
    /// Surface models over the bare earth of `elevation`, best first.
    pub surface: Vec<PathBuf>,
    /// Buildings that replace those of the map where they overlap.
    pub buildings: Option<FootprintFile>,
    /// Metres per value of `surface`, instead of what the rasters declare.
    pub surface_scale: Option<f64>,
    /// Season instead of the profile's.
    pub season: Option<SeasonOf>,
    /// Layer to write.
    pub output: PathBuf,
    /// What is wanted of the extract.
    pub region: Region,
    /// Where finished parts are kept; next to the output, and only until it is written, where not given.
    pub work: Option<PathBuf>,
    /// Replace the output.
    pub overwrite: bool,
    /// Assumptions.
    pub profile: Profile,
    /// Who is credited for the map data; `None` for OpenStreetMap contributors.
    pub credit: Option<String>,
    /// Fail on defects of the input.
    pub strict: bool,
    /// Real satellites instead of the profile's shells.
    pub orbits: Option<OrbitOptions>,
    /// Worker threads; all cores where not given.
    pub threads: Option<usize>,
    /// Begin although the memory that it is forecast to take is not free.
    pub anyway: bool,
}

/// Season as asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeasonOf {
    /// By name.
    Named(Season),
    /// That of a date where the map is.
    Date(Date),
}

/// Real satellites for a build.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OrbitOptions {
    /// File of orbital elements.
    pub path: PathBuf,
    /// Timelines show the satellites themselves from this time on; made from the fitted shells where not given.
    pub timeline_start: Option<Timestamp>,
    /// Today, to tell how old elements are.
    pub today: Timestamp,
}

impl BuildOptions {
    /// Elevation rasters with their kinds and scale, best first.
    pub(crate) fn elevation_inputs(&self) -> Vec<RasterInput> {
        let kind = |i: usize| self.elevation_kinds.get(i).copied().flatten().unwrap_or(self.elevation_kind);
        let input = |(i, path): (usize, &PathBuf)| RasterInput {
            path: path.clone(),
            kind: kind(i),
            metres_per_value: self.elevation_scale,
        };
        self.elevation.iter().enumerate().map(input).collect()
    }
    /// A build with starting values: no rasters, default profile.
    pub fn new(extract: PathBuf, output: PathBuf) -> Self {
        Self {
            extract,
            elevation: Vec::new(),
            elevation_kind: ElevationKind::BareEarth,
            elevation_kinds: Vec::new(),
            elevation_scale: None,
            canopy: Vec::new(),
            canopy_scale: None,
            surface: Vec::new(),
            buildings: None,
            surface_scale: None,
            season: None,
            output,
            region: Region::Whole,
            work: None,
            overwrite: false,
            profile: Profile::default(),
            credit: None,
            strict: false,
            orbits: None,
            threads: None,
            anyway: false,
        }
    }
}
