//! Scenes built from metres, and what they hide of the sky.
// Helpers outside of test functions fail by unwrapping, too.
#![allow(clippy::unwrap_used)]

pub mod canopy;
pub mod extruded;
pub mod index;
pub mod laws;
pub mod manhattan;
pub mod measured;
pub mod pack;
pub mod rasters;
pub mod shares;
pub mod slit;
pub mod slope;
pub mod solid;
pub mod solid_parts;
pub mod solid_shapes;
pub mod solid_sides;
pub mod steps;
pub mod support;
