//! Rasters joined where they are alike.
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use gdal::programs::raster::{BuildVRTOptions, build_vrt};
use gdal::{GeoTransform, GeoTransformEx};

use super::calls::gdal_fact;
use super::files::RasterFile;
use super::raster::{RasterFacts, open};
use crate::base::error::{Error, Result};

/// Rasters alike enough to be read as one.
#[derive(Debug)]
pub(super) struct Mosaic {
    /// The single file, or an in-memory mosaic.
    pub open: PathBuf,
    in_memory: bool,
    pub first: RasterFacts,
    /// From coordinates of the CRS to pixel corners.
    pub to_pixel: GeoTransform,
    /// And back.
    pub to_crs: GeoTransform,
    pub columns: usize,
    pub rows: usize,
}

/// Rasters that can share a mosaic, finest group first, then by name.
pub(super) fn grouped(rasters: Vec<RasterFacts>) -> Vec<Vec<RasterFacts>> {
    let mut groups: Vec<(String, Vec<RasterFacts>)> = Vec::new();
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
    /// Joins a group.
    pub fn of(group: Vec<RasterFacts>) -> Result<Self> {
        let Some(first) = group.first().cloned() else {
            return Err(Error::failed("elevation", "a group of rasters is empty", "report this"));
        };
        let (open, size, transform) = if group.len() == 1 {
            (first.file.open.clone(), (first.columns, first.rows), first.transform)
        } else {
            in_memory(&group)?
        };
        let to_pixel = transform.invert().map_err(|e| {
            let fact = format!("does not say where its pixels lie: {}", gdal_fact(&e));
            Error::file(&first.file.disk, fact, "give it bounds with `gdal_translate -a_ullr`, or leave it out")
        })?;
        let in_memory = group.len() > 1;
        Ok(Self { open, in_memory, first, to_pixel, to_crs: transform, columns: size.0, rows: size.1 })
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
fn in_memory(group: &[RasterFacts]) -> Result<(PathBuf, (usize, usize), GeoTransform)> {
    static NEXT: AtomicU64 = AtomicU64::new(0);
    let path = PathBuf::from(format!("/vsimem/waymask-mosaic-{}.vrt", NEXT.fetch_add(1, Ordering::Relaxed)));
    let failed = |e: gdal::errors::GdalError| {
        Error::file(
            &group[0].file.disk,
            format!("cannot be joined with its neighbours: {}", gdal_fact(&e)),
            "make one raster of them with `gdalbuildvrt` and give that",
        )
    };
    let datasets = group
        .iter()
        .rev()
        .map(|r: &RasterFacts| open(absolute(&r.file).as_path()))
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
