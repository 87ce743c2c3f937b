//! Whole builds: from a map file and rasters to the layer's rows.
#[path = "../extract_builder/mod.rs"]
#[allow(dead_code)]
mod extract_builder;

#[path = "../elements_writer/mod.rs"]
mod elements_writer;
#[path = "../shared_data/mod.rs"]
mod shared_data;

mod commands;
mod kit;
mod laws;
mod orbits;
mod rerate;
mod roadside;
mod season;
mod sides;
mod sky;
mod stops;
mod stops_data;
mod trade;
mod varrow;
