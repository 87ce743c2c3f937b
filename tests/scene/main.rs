//! Scenes built from metres, and what they hide of the sky.
// Helpers outside of test functions fail by unwrapping, too.
#![allow(clippy::unwrap_used)]
mod canopy;
mod extruded;
mod index;
mod manhattan;
mod pack;
mod shares;
mod solid;
mod solid_parts;
mod solid_shapes;
mod solid_sides;
mod support;
