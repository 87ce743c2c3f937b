//! Calls of GDAL: set up once, rasters opened, failures as text.
use std::path::Path;

use gdal::{Dataset, DatasetOptions, GdalOpenFlags};

/// A failed GDAL call as one line of text.
pub(super) fn gdal_fact(error: &gdal::errors::GdalError) -> String {
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
pub(super) fn set_up_gdal() {
    static ONCE: std::sync::Once = std::sync::Once::new();
    ONCE.call_once(|| {
        gdal::config::set_error_handler(|_, _, _| {});
        // Fails only on a zero byte in the text, and there is none.
        let _ = gdal::config::set_config_option("VRT_SHARED_SOURCE", "0");
        // Megabytes for blocks of rasters in the whole process: else it is a twentieth of the machine's memory.
        let _ = gdal::config::set_config_option("GDAL_CACHEMAX", "128");
    });
}

/// Opens a raster for reading.
pub(super) fn open(path: &Path) -> gdal::errors::Result<Dataset> {
    let open_flags = GdalOpenFlags::GDAL_OF_RASTER | GdalOpenFlags::GDAL_OF_READONLY;
    Dataset::open_ex(path, DatasetOptions { open_flags, ..DatasetOptions::default() })
}
