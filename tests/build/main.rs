//! Whole builds: from a map file and rasters to the layer's rows.
#[path = "../extract_builder/mod.rs"]
#[allow(dead_code)]
mod extract_builder;

mod commands;
mod kit;
mod laws;
mod season;
mod sides;
mod trade;
mod varrow;
