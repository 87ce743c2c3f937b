//! Scenes built from metres, and what they hide of the sky.
mod canopy;
mod pack;
mod shares;
mod solid;
mod speed;
mod support;
