//! Reads elevation rasters through GDAL: one window per cell.
//!
//! In: files, folders and `.hgt.zip`, any CRS, resolution, nodata and vertical unit, in order of
//! preference. Out: [`crate::base::window::Elevation`] around a cell, in the raster's own pixels, metres. Voids stay voids.
//!
//! [`Sources`] is plain data and shared; GDAL's handles are not, so every thread makes its own [`Reader`].
mod files;
mod fit;

mod raster;
mod reader;
mod sources;

pub use reader::{Reader, halo_m};
pub use sources::{ElevationKind, FileRecord, Sources};

/// A failed GDAL call as one line of text.
fn gdal_fact(error: &gdal::errors::GdalError) -> String {
    use gdal::errors::GdalError;
    match error {
        GdalError::CplError { msg, .. } if !msg.trim().is_empty() => msg.trim().to_owned(),
        GdalError::NullPointer { msg, .. } if !msg.trim().is_empty() => msg.trim().to_owned(),
        GdalError::NullPointer { .. } => "its format is not recognised".into(),
        other => other.to_string(),
    }
}

/// Sets GDAL up once: its own chatter stays off the terminal (failures arrive as errors), and mosaics
/// made for one thread never share a file handle with another's.
fn set_up_gdal() {
    static ONCE: std::sync::Once = std::sync::Once::new();
    ONCE.call_once(|| {
        gdal::config::set_error_handler(|_, _, _| {});
        // Fails only on a zero byte in the text, and there is none.
        let _ = gdal::config::set_config_option("VRT_SHARED_SOURCE", "0");
    });
}
