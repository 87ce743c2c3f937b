//! scene
pub mod canopy;
pub mod index;
pub mod raster;
pub mod solids;
