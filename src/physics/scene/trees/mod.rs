//! Trees around one cell as a raster, from the map and from rasters of heights.
//!
//! [`grid`] holds the pixels ([`crown`], each over a `part` of its pixel); [`canopy`] plants what the map says, `shown` lays over it what rasters show
//! ([`super::above`]). [`stack`] makes them ready to be looked through, [`overhang`] says where crowns hang over a road.
pub mod canopy;
pub mod crown;
pub mod grid;
pub mod overhang;
pub(crate) mod part;
mod shown;
pub mod stack;
