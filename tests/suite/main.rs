//! All tests from outside, in one program: linking GDAL once instead of eighteen times.
//!
//! Tests named `heavy_...`, `grass_...` and `browser_...` belong to suites that `scripts/test` leaves out unless asked for
//! them; see `.config/nextest.toml`. What a test needs from outside it asks `need` for.
// Helpers outside of test functions fail by unwrapping, too.
#![allow(clippy::unwrap_used)]
mod brief;
mod build;
mod calendar;
mod elements_writer;
mod extract;
mod extract_builder;
mod extract_data;
mod foreign;
mod grass;
mod horizon_by_grass;
mod layer;
mod link;
mod need;
mod orbit;
mod overheads_constructed;
mod overheads_extracts;
mod roadside;
mod scene;
mod skips;
mod spending;
mod terrain_horizon;
mod terrain_sources;
mod trip;
mod varrow_sample;
