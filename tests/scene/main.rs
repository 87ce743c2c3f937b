//! Scenes built from metres, and what they hide of the sky.
// Helpers outside of test functions fail by unwrapping, too.
#![allow(clippy::unwrap_used)]
#[path = "../shared_data/mod.rs"]
mod shared_data;

use shared_data::shared;

mod canopy;
mod extruded;
mod index;
mod manhattan;
mod pack;
mod rasters;
mod shares;
mod slope;
mod solid;
mod solid_parts;
mod solid_shapes;
mod solid_sides;
mod support;
