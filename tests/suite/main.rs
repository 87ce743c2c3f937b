//! All tests from outside, in one program: linking GDAL once instead of eighteen times.
//!
//! Tests named `heavy_...`, `grass_...` and `browser_...` belong to suites that `scripts/test` leaves out unless asked for
//! them; see `.config/nextest.toml`. What a test needs from outside it asks `need` for.
// Helpers outside of test functions fail by unwrapping, too.
#![allow(clippy::unwrap_used)]
mod ask;
mod brief;
mod budget;
mod build;
mod calendar;
mod cli;
mod divide;
mod elements_writer;
mod energy;
mod extract;
mod extract_broken;
mod extract_builder;
mod extract_data;
mod foreign;
mod grass;
mod horizon_by_grass;
mod layer;
mod link;
mod map_page;
mod need;
mod neighbourhood;
mod orbit;
mod overheads;
mod places;
mod relief;
mod roadside;
mod scene;
mod skips;
mod small_disk;
mod terrain_horizon;
mod terrain_sources;
mod varrow_sample;
