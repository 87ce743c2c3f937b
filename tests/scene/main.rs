//! Scenes built from metres, and what they hide of the sky.
// Helpers outside of test functions fail by unwrapping, too.
#![allow(clippy::unwrap_used)]
mod canopy;
mod index;
mod pack;
mod shares;
mod solid;
mod support;
