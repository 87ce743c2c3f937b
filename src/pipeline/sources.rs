//! The rasters of a build, opened and checked.
use super::BuildOptions;
use super::readers::{Rasters, Readers};
use crate::error::Result;
use crate::terrain::{ElevationKind, FileRecord, Sources};

/// All rasters of a build; holds no open handle.
pub struct Opened {
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
    /// As workers read them.
    pub fn readers(&self) -> Rasters<'_> {
        Rasters {
            elevation: Readers::new(&self.elevation),
            canopy: Readers::new(&self.canopy),
            surface: Readers::new(&self.surface),
        }
    }
    /// Every file with its role and checksum.
    ///
    /// # Errors
    /// A file cannot be read any more.
    pub fn file_records(&self) -> Result<Vec<(&'static str, FileRecord)>> {
        let mut out = Vec::new();
        for (role, sources) in [("elevation", &self.elevation), ("surface", &self.surface), ("canopy", &self.canopy)] {
            out.extend(sources.file_records()?.into_iter().map(|file| (role, file)));
        }
        Ok(out)
    }
}
