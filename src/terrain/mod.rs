//! Reads elevation rasters through GDAL: one window per cell.
//!
//! In: files, folders and `.hgt.zip`, any CRS, resolution, nodata and vertical unit, in order of
//! preference. Out: [`grid::Elevation`] around a cell, in the raster's own pixels. Voids stay voids.
pub mod grid;
