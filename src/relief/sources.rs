//! Elevation sources in order of preference: mosaics of like rasters.
use std::fmt::Write as _;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use gdal::programs::raster::{BuildVRTOptions, build_vrt};
use gdal::{GeoTransform, GeoTransformEx};
use sha2::{Digest, Sha256};

use super::files::{RasterFile, rasters_of};
use super::raster::{Raster, inspect, open};
use super::reader::Reader;
use super::{gdal_fact, set_up_gdal};
use std::sync::Arc;

use crate::base::error::{Error, Result};

/// What the heights of a source are heights of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ElevationKind {
    /// The ground without trees and buildings.
    #[default]
    BareEarth,
    /// The top of whatever stands there; canopy and buildings are in it already.
    Surface,
    /// Heights of trees above the ground.
    CanopyHeight,
}

impl ElevationKind {
    /// Values outside these, metres, are voids that were not declared.
    pub fn plausible_m(self) -> std::ops::RangeInclusive<f32> {
        match self {
            // Land, with the highest structures on it.
            Self::BareEarth | Self::Surface => -500.0..=9000.0,
            // The highest known tree is 116 m (from memory); noise below the ground is no tree, but no void.
            Self::CanopyHeight => -20.0..=130.0,
        }
    }
    /// Pixels of one window read at native resolution; larger windows are averaged down. What stands beside a
    /// road needs finer pixels than the hills around it.
    pub(super) fn window_pixels(self) -> f64 {
        match self {
            Self::BareEarth => 4e6,
            Self::Surface | Self::CanopyHeight => 8e6,
        }
    }
}

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

/// Rasters alike enough to be read as one.
#[derive(Debug)]
pub(super) struct Mosaic {
    /// The single file, or an in-memory mosaic.
    pub open: PathBuf,
    in_memory: bool,
    pub first: Raster,
    /// From coordinates of the CRS to pixel corners.
    pub to_pixel: GeoTransform,
    pub columns: usize,
    pub rows: usize,
}

/// Every elevation source of a run, best first. Holds no open handle; see [`Sources::reader`].
#[derive(Debug)]
pub struct Sources {
    kind: ElevationKind,
    pub(super) mosaics: Vec<Arc<Mosaic>>,
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
    pub fn open_scaled(paths: &[PathBuf], kind: ElevationKind, metres_per_value: Option<f64>) -> Result<Self> {
        set_up_gdal();
        let mut sources = Self { kind, mosaics: Vec::new(), files: Vec::new() };
        for path in paths {
            let rasters = rasters_of(path)?
                .iter()
                .map(|file| inspect(file, kind, metres_per_value))
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
        Reader::new(self)
    }
    /// Every file used, in order, with its checksum. Reads all of them.
    pub fn file_records(&self) -> Result<Vec<FileRecord>> {
        self.files.iter().map(|path| record(path)).collect()
    }
}

fn record(path: &Path) -> Result<FileRecord> {
    let failed = |e: std::io::Error| Error::file(path, format!("cannot be read: {e}"), "check that it is still there");
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

/// Rasters that can share a mosaic, finest group first, then by name.
fn grouped(rasters: Vec<Raster>) -> Vec<Vec<Raster>> {
    let mut groups: Vec<(String, Vec<Raster>)> = Vec::new();
    for raster in rasters {
        let key = raster.mosaic_key();
        match groups.iter_mut().find(|g| g.0 == key) {
            Some(group) => group.1.push(raster),
            None => groups.push((key, vec![raster])),
        }
    }
    let mut groups: Vec<_> = groups.into_iter().map(|g| g.1).collect();
    // Stable: groups of one pixel size stay in the order of their first file's name.
    groups.sort_by(|a, b| a[0].rough_pixel_m.total_cmp(&b[0].rough_pixel_m));
    groups
}

impl Mosaic {
    fn of(group: Vec<Raster>) -> Result<Self> {
        let Some(first) = group.first().cloned() else {
            return Err(Error::failed("elevation", "a group of rasters is empty", "report this"));
        };
        let (open, size, transform) = if group.len() == 1 {
            (first.file.open.clone(), (first.columns, first.rows), first.transform)
        } else {
            in_memory(&group)?
        };
        let to_pixel = transform.invert().map_err(|e| {
            Error::file(&first.file.disk, gdal_fact(&e), "its geotransform is degenerate; leave it out")
        })?;
        Ok(Self { open, in_memory: group.len() > 1, first, to_pixel, columns: size.0, rows: size.1 })
    }
    /// The file named in errors.
    pub fn disk(&self) -> &Path {
        &self.first.file.disk
    }
    /// The file or mosaic, to be opened by one thread.
    pub fn dataset(&self) -> Result<gdal::Dataset> {
        open(&self.open).map_err(|e| {
            Error::file(
                self.disk(),
                format!("cannot be opened again: {}", gdal_fact(&e)),
                "check that it is still there",
            )
        })
    }
}

impl Drop for Mosaic {
    fn drop(&mut self) {
        if self.in_memory {
            // Nothing to be done about a failure; the memory goes with the process.
            let _ = gdal::vsi::unlink_mem_file(&self.open);
        }
    }
}

/// Writes a mosaic into GDAL's in-memory file system. Where tiles overlap the first by name is on top.
fn in_memory(group: &[Raster]) -> Result<(PathBuf, (usize, usize), GeoTransform)> {
    static NEXT: AtomicU64 = AtomicU64::new(0);
    let path = PathBuf::from(format!("/vsimem/waymask-mosaic-{}.vrt", NEXT.fetch_add(1, Ordering::Relaxed)));
    let failed = |e: gdal::errors::GdalError| {
        Error::file(
            &group[0].file.disk,
            format!("cannot be joined with its neighbours: {}", gdal_fact(&e)),
            "build one raster of them with `gdalbuildvrt` and give that",
        )
    };
    let datasets = group
        .iter()
        .rev()
        .map(|r: &Raster| open(absolute(&r.file).as_path()))
        .collect::<Result<Vec<_>, _>>()
        .map_err(failed)?;
    let options = BuildVRTOptions::new(["-q"]).map_err(failed)?;
    let mut mosaic = build_vrt(Some(&path), &datasets, Some(options)).map_err(failed)?;
    mosaic.flush_cache().map_err(failed)?;
    let facts = (mosaic.raster_size(), mosaic.geo_transform().map_err(failed)?);
    Ok((path, facts.0, facts.1))
}

/// The mosaic lies elsewhere than the user's files, so it must name them in full.
fn absolute(file: &RasterFile) -> PathBuf {
    let Ok(disk) = std::path::absolute(&file.disk) else { return file.open.clone() };
    match file.open.strip_prefix("/vsizip") {
        Ok(rest) => {
            let inner = rest.strip_prefix(file.disk.strip_prefix("/").unwrap_or(&file.disk)).unwrap_or(rest);
            let mut text = std::ffi::OsString::from("/vsizip/");
            text.push(disk.join(inner));
            PathBuf::from(text)
        }
        Err(_) => disk,
    }
}
