//! All tests from outside, in one program: linking GDAL once instead of eighteen times.
//!
//! Tests named `heavy_...` take long or call big programs; see `.config/nextest.toml`.
// Helpers outside of test functions fail by unwrapping, too.
#![allow(clippy::unwrap_used)]
mod brief;
mod build;
mod calendar;
mod elements_writer;
mod extract;
mod extract_builder;
mod extract_data;
mod grass;
mod horizon_by_grass;
mod layer;
mod link;
mod orbit;
mod overheads_constructed;
mod overheads_extracts;
mod roadside;
mod scene;
mod shared_data;
mod spending;
mod terrain_horizon;
mod terrain_sources;
mod trip;
mod varrow_sample;
