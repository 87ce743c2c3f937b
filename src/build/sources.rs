//! The rasters of a build, opened and checked.
use std::path::Path;

use super::options::BuildOptions;
use super::readers::{Rasters, Readers};
use crate::base::error::{Error, Result};
use crate::base::words::InputRole;
use crate::map::network::model::Network;
use crate::relief::{ElevationKind, FileRecord, Sources};

/// Places of roads looked up to see whether a raster covers them.
const ASKED: usize = 2000;

/// All rasters of a build; holds no open handle.
pub(crate) struct Opened {
    elevation: Sources,
    canopy: Sources,
    surface: Sources,
}

impl Opened {
    /// Opens what the options name.
    ///
    /// # Errors
    /// A raster is missing, broken or says too little about itself.
    pub fn new(options: &BuildOptions) -> Result<Self> {
        Ok(Self {
            elevation: Sources::open(&options.elevation, options.elevation_kind)?,
            canopy: Sources::open_scaled(&options.canopy, ElevationKind::CanopyHeight, options.canopy_scale)?,
            surface: Sources::open(&options.surface, ElevationKind::Surface)?,
        })
    }
    /// Every file that is read, those of folders by themselves.
    pub(crate) fn files(&self) -> impl Iterator<Item = &Path> {
        [&self.elevation, &self.canopy, &self.surface].into_iter().flat_map(Sources::files)
    }
    /// As workers read them.
    pub fn readers(&self) -> Rasters<'_> {
        Rasters {
            elevation: Readers::new(&self.elevation),
            canopy: Readers::new(&self.canopy),
            surface: Readers::new(&self.surface),
        }
    }
    /// Rasters of trees that were given but show nothing where roads are are the wrong ones.
    ///
    /// # Errors
    /// None of up to [`ASKED`] places spread over the roads lies in them.
    pub(crate) fn check_cover(&self, options: &BuildOptions, network: &Network) -> Result<()> {
        let step = (network.segments.len() / ASKED).max(1);
        let places: Vec<_> = network.segments.iter().step_by(step).map(|s| s.line[0]).collect();
        for (sources, paths, option) in
            [(&self.canopy, &options.canopy, "--canopy"), (&self.surface, &options.surface, "--surface")]
        {
            if let Some(first) = paths.first() {
                let reader = sources.reader()?;
                let mut covered = false;
                for place in &places {
                    covered = covered || reader.height_m(*place)?.is_some();
                }
                if !covered {
                    let (low, high) = sources.kind().plausible_m().into_inner();
                    let fact = format!("shows no height from {low} to {high} m at any of the roads asked");
                    let unit = if option == "--canopy" { ", say what its unit is with --canopy-scale" } else { "" };
                    let next = format!("give rasters of the extract's region{unit}, or leave out {option}");
                    return Err(Error::file(first, fact, next));
                }
            }
        }
        Ok(())
    }
    /// Every file with its role and checksum.
    ///
    /// # Errors
    /// A file cannot be read any more.
    pub fn file_records(&self) -> Result<Vec<(InputRole, FileRecord)>> {
        let mut out = Vec::new();
        for (role, sources) in [
            (InputRole::Elevation, &self.elevation),
            (InputRole::Surface, &self.surface),
            (InputRole::Canopy, &self.canopy),
        ] {
            out.extend(sources.file_records()?.into_iter().map(|file| (role, file)));
        }
        Ok(out)
    }
}
