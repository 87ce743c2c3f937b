//! Reads elevation rasters through GDAL: one window per cell.
//!
//! In: files, folders and `.hgt.zip`, any CRS, resolution, nodata and vertical unit, in order of
//! preference. Out: [`crate::base::window::Elevation`] around a cell, in the raster's own pixels, metres. Voids stay voids.
//!
//! [`Sources`] is plain data and shared; GDAL's handles are not, so every thread makes its own [`Reader`].
mod absent;
mod archive;
mod block_sums;
mod calls;
mod files;
mod fit;
mod footprints;
mod kind;
mod mosaic;
mod natural;
mod overview;
mod plane_fit;
mod raster;
mod reach;
mod reader;
mod referred;
mod seam;
mod source;
mod sources;

pub use footprints::{BuildingOutline, FootprintFile, Footprints};
pub use kind::ElevationKind;
pub use reach::{FARTHEST_SEEN_M, Lookout, sight_m};
pub use reader::Reader;
pub use sources::{FileRecord, RasterInput, RasterPlace, RasterUse, Sources, file_bytes, file_record};

/// Version of the library that reads rasters, in its own words.
pub fn library_version() -> String {
    gdal::version::version_info("--version")
}
