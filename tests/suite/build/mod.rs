//! Whole builds: from a map file and rasters to the layer's rows.

pub mod around_the_world;
mod backdrop;
pub mod commands;
pub mod country;
pub mod districts;
mod footprints;
pub mod heights;
pub mod kit;
pub mod laws;
pub mod memory;
pub mod node_pairs;
pub mod orbits;
pub mod range;
pub mod rerate;
pub mod roadside;
pub mod season;
pub mod sides;
pub mod sky;
pub mod stops;
pub mod stops_data;
pub mod strokes;
pub mod surface;
pub mod tiles;
pub mod trade;
pub mod trees;
pub mod varrow;
