//! Trees around one cell as a raster, from the map and from rasters of heights.
//!
//! [`grid`] holds the pixels ([`crown`]); [`canopy`] plants what the map says, `shown` lays over it what rasters show
//! ([`above`]).
pub mod above;
pub mod canopy;
pub mod crown;
pub mod grid;
mod shown;
