//! Elevation sources in order of preference: mosaics of like rasters.
use std::fmt::Write as _;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use sha2::{Digest, Sha256};

use super::calls::set_up_gdal;
use super::files::rasters_of;
use super::kind::ElevationKind;
use super::mosaic::{Mosaic, grouped};
use super::raster::inspect;
use super::reader::Reader;
use crate::base::error::{Error, Result};
use crate::base::foreign::{BrokeOff, foreign};
use crate::base::input::cannot_read;

/// One file that went into a build.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileRecord {
    /// As the user named it, or as found in the user's folder.
    pub path: PathBuf,
    /// Size, bytes.
    pub bytes: u64,
    /// SHA-256, lower-case hexadecimal.
    pub sha256: String,
}

/// Every elevation source of a run, best first. Holds no open handle; see [`Sources::reader`].
#[derive(Debug)]
pub struct Sources {
    kind: ElevationKind,
    mosaics: Vec<Arc<Mosaic>>,
    files: Vec<PathBuf>,
}

impl Sources {
    /// Opens rasters, archives of rasters and folders, in order of preference. Within a folder finer
    /// rasters come first, then by name.
    pub fn open(paths: &[PathBuf], kind: ElevationKind) -> Result<Self> {
        Self::open_scaled(paths, kind, None)
    }
    /// The same for rasters whose values are not metres and do not say so: `metres_per_value` replaces the unit, scale and
    /// offset the rasters declare.
    pub(crate) fn open_scaled(paths: &[PathBuf], kind: ElevationKind, metres_per_value: Option<f64>) -> Result<Self> {
        set_up_gdal();
        let mut sources = Self { kind, mosaics: Vec::new(), files: Vec::new() };
        for path in paths {
            let rasters = rasters_of(path)?
                .iter()
                .map(|file| {
                    let broke_off = |broken: BrokeOff| {
                        Error::file(&file.disk, broken.to_string(), "download the file again or leave it out")
                    };
                    foreign("rasters", || inspect(file, kind, metres_per_value)).map_err(broke_off)?
                })
                .collect::<Result<Vec<_>>>()?;
            for raster in &rasters {
                if !sources.files.contains(&raster.file.disk) {
                    sources.files.push(raster.file.disk.clone());
                }
            }
            for group in grouped(rasters) {
                sources.mosaics.push(Arc::new(Mosaic::of(group)?));
            }
        }
        Ok(sources)
    }
    /// What the heights are heights of.
    pub fn kind(&self) -> ElevationKind {
        self.kind
    }
    /// Whether there is no source at all.
    pub fn is_empty(&self) -> bool {
        self.mosaics.is_empty()
    }
    /// Handles for one thread; they stay usable when the sources are gone.
    pub fn reader(&self) -> Result<Reader> {
        Reader::new(&self.mosaics, self.kind)
    }
    /// Every file used, in order.
    pub(crate) fn files(&self) -> impl Iterator<Item = &Path> {
        self.files.iter().map(PathBuf::as_path)
    }
    /// Every file used, in order, with its checksum. Reads all of them.
    pub fn file_records(&self) -> Result<Vec<FileRecord>> {
        self.files.iter().map(|path| record(path)).collect()
    }
}

/// A file with its checksum.
pub(super) fn record(path: &Path) -> Result<FileRecord> {
    let failed = |e: std::io::Error| cannot_read(path, &e, "check that it is still there");
    let mut file = std::fs::File::open(path).map_err(failed)?;
    let mut hash = Sha256::new();
    let mut buffer = vec![0; 1 << 18];
    let mut bytes = 0;
    loop {
        let n = file.read(&mut buffer).map_err(failed)?;
        if n == 0 {
            break;
        }
        hash.update(&buffer[..n]);
        bytes += n as u64;
    }
    let sha256 = hash.finalize().iter().fold(String::with_capacity(64), |mut text, byte| {
        // Writing to a String does not fail.
        let _ = write!(text, "{byte:02x}");
        text
    });
    Ok(FileRecord { path: path.to_owned(), bytes, sha256 })
}
