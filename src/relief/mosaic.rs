//! Rasters joined where they are alike.
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use gdal::programs::raster::{BuildVRTOptions, build_vrt};
use gdal::raster::GdalDataType;
use gdal::{GeoTransform, GeoTransformEx};

use super::calls::{gdal_fact, open};
use super::files::RasterFile;
use super::raster::RasterFacts;
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
        let Some(mut first) = group.first().cloned() else {
            return Err(Error::failed("elevation", "a group of rasters is empty", "report this"));
        };
        let (open, size, transform) = if group.len() == 1 {
            (first.file.open.clone(), (first.columns, first.rows), first.transform)
        } else {
            let gap = TileGap::of(&first);
            let made = in_memory(&group, gap)?;
            match gap {
                TileGap::AsItIs => {}
                TileGap::Value(value, _) => first.nodata = Some(value),
                TileGap::Masked => first.has_mask = true,
            }
            made
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

/// What stands between the tiles of a mosaic, which GDAL would read as zeros: land at sea level, or without trees.
#[derive(Debug, Clone, Copy, PartialEq)]
enum TileGap {
    /// The tiles say themselves what stands for nothing.
    AsItIs,
    /// A value at the end of the range, which no height has, and how GDAL is told it.
    Value(f64, &'static str),
    /// In bytes every value may be one.
    Masked,
}

impl TileGap {
    fn of(tile: &RasterFacts) -> Self {
        if tile.nodata.is_some() || tile.has_mask {
            return Self::AsItIs;
        }
        match tile.data_type {
            GdalDataType::Float32 | GdalDataType::Float64 => Self::Value(f64::NAN, "nan"),
            GdalDataType::Int16 => Self::Value(i16::MIN.into(), "-32768"),
            GdalDataType::UInt16 => Self::Value(u16::MAX.into(), "65535"),
            GdalDataType::Int32 => Self::Value(i32::MIN.into(), "-2147483648"),
            GdalDataType::UInt32 => Self::Value(u32::MAX.into(), "4294967295"),
            _ => Self::Masked,
        }
    }
    fn options(self) -> Vec<&'static str> {
        match self {
            Self::AsItIs => vec!["-q"],
            Self::Value(_, told) => vec!["-q", "-vrtnodata", told],
            Self::Masked => vec!["-q", "-addalpha"],
        }
    }
}

/// Writes a mosaic into GDAL's in-memory file system. Where tiles overlap the first by name is on top.
fn in_memory(group: &[RasterFacts], gap: TileGap) -> Result<(PathBuf, (usize, usize), GeoTransform)> {
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
    let options = BuildVRTOptions::new(gap.options()).map_err(failed)?;
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

#[cfg(test)]
mod tests {
    use gdal::DriverManager;
    use gdal::raster::{Buffer, GdalType};
    use gdal::spatial_ref::SpatialRef;

    use super::super::{ElevationKind, Sources};
    use super::*;
    use crate::base::geodesy::Position;

    fn tile<T: GdalType + Copy>(path: &Path, west_deg: f64, value: T) {
        const SIDE: usize = 50;
        let driver = DriverManager::get_driver_by_name("GTiff").unwrap();
        let mut dataset = driver.create_with_band_type::<T, _>(path, SIDE, SIDE, 1).unwrap();
        dataset.set_spatial_ref(&SpatialRef::from_epsg(4326).unwrap()).unwrap();
        dataset.set_geo_transform(&[west_deg, 0.002, 0.0, 42.1, 0.0, -0.002]).unwrap();
        let mut values = Buffer::new((SIDE, SIDE), vec![value; SIDE * SIDE]);
        dataset.rasterband(1).unwrap().write((0, 0), (SIDE, SIDE), &mut values).unwrap();
    }

    /// Heights in the western tile, between the tiles and in the eastern one.
    fn heights<T: GdalType + Copy>(kind: ElevationKind, value: T) -> [Option<f32>; 3] {
        let folder = tempfile::tempdir().unwrap();
        tile(&folder.path().join("a.tif"), 1.0, value);
        tile(&folder.path().join("b.tif"), 1.2, value);
        let reader = Sources::open(&[folder.path().to_owned()], kind).unwrap().reader().unwrap();
        [1.05, 1.15, 1.25].map(|lon| reader.height_m(Position::from_deg(lon, 42.05)).unwrap())
    }

    #[test]
    fn between_tiles_nothing_is_known() {
        let bare = ElevationKind::BareEarth;
        assert_eq!(heights(bare, 1_500.0_f32), [Some(1_500.0), None, Some(1_500.0)]);
        assert_eq!(heights(bare, 1_500.0_f64), [Some(1_500.0), None, Some(1_500.0)]);
        assert_eq!(heights(bare, 1_500_i16), [Some(1_500.0), None, Some(1_500.0)]);
        assert_eq!(heights(bare, 1_500_u16), [Some(1_500.0), None, Some(1_500.0)]);
        assert_eq!(heights(bare, 1_500_i32), [Some(1_500.0), None, Some(1_500.0)]);
        // In bytes all values are heights.
        assert_eq!(heights(ElevationKind::CanopyHeight, 12_u8), [Some(12.0), None, Some(12.0)]);
        assert_eq!(heights(bare, 255_u8), [Some(255.0), None, Some(255.0)]);
    }
}
