//! Which files the user's paths stand for.
use std::path::{Path, PathBuf};

use super::archive::checked_names;
use crate::base::error::{Error, Result};
use crate::base::input::cannot_read;

/// Endings taken for rasters in a folder; a file named outright may end as it likes.
const RASTER_ENDINGS: [&str; 21] = [
    "tif", "tiff", "hgt", "vrt", "img", "asc", "dem", "bil", "flt", "jp2", "nc", "dt0", "dt1", "dt2", "grd", "rst",
    "kea", "bt", "ter", "xyz", "sdat",
];
const NEXT_STEP_FOLDER: &str =
    "give a folder that holds elevation rasters (.tif, .hgt, .hgt.zip, ...), or the raster files themselves";

/// One raster: the file on disk, and what GDAL opens.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct RasterFile {
    pub disk: PathBuf,
    pub open: PathBuf,
}

/// The rasters behind one path given by the user: the file itself, or those of a folder and of its
/// subfolders, by name.
pub(super) fn rasters_of(path: &Path) -> Result<Vec<RasterFile>> {
    let missing = |e: std::io::Error| cannot_read(path, &e, "check the path and its permissions");
    let metadata = std::fs::metadata(path).map_err(missing)?;
    if !metadata.is_dir() {
        // Opening a pipe would wait for its other end.
        if !metadata.is_file() {
            return Err(Error::file(path, "is a pipe or device, not a file", "save the raster to a file first"));
        }
        std::fs::File::open(path).map_err(missing)?;
        let found = inside(path)?;
        if found.is_empty() {
            return Err(Error::file(path, "this archive holds no raster", NEXT_STEP_FOLDER));
        }
        return Ok(found);
    }
    let mut found = Vec::new();
    for entry in sorted(path)? {
        if entry.is_dir() {
            for inner in sorted(&entry)? {
                collect(&inner, &mut found)?;
            }
        } else {
            collect(&entry, &mut found)?;
        }
    }
    if found.is_empty() {
        return Err(Error::file(path, "this folder holds no elevation rasters", NEXT_STEP_FOLDER));
    }
    Ok(found)
}

fn sorted(folder: &Path) -> Result<Vec<PathBuf>> {
    let failed = |e: std::io::Error| Error::io(folder, "cannot be listed", &e, "check the folder's permissions");
    let mut paths = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(failed)? {
        paths.push(entry.map_err(failed)?.path());
    }
    paths.sort();
    Ok(paths)
}

fn collect(path: &Path, found: &mut Vec<RasterFile>) -> Result<()> {
    if path.is_file() && (is_raster(path) || is_zip(path)) {
        found.extend(inside(path)?);
    }
    Ok(())
}

fn ending(path: &Path) -> String {
    path.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default()
}

fn is_raster(path: &Path) -> bool {
    RASTER_ENDINGS.contains(&ending(path).as_str())
}

fn is_zip(path: &Path) -> bool {
    ending(path) == "zip"
}

/// The raster itself, or those packed in a zip archive.
fn inside(path: &Path) -> Result<Vec<RasterFile>> {
    if !is_zip(path) {
        return Ok(vec![RasterFile { disk: path.to_owned(), open: path.to_owned() }]);
    }
    // GDAL takes what follows the prefix as it stands, so a relative path needs no second slash.
    let mut archive = std::ffi::OsString::from("/vsizip/");
    archive.push(path);
    let archive = PathBuf::from(archive);
    let names = checked_names(path, is_raster)?;
    Ok(names.into_iter().map(|name| RasterFile { disk: path.to_owned(), open: archive.join(name) }).collect())
}
