//! Trips: a track, matched to the roads of a layer, and what the layer says about driving it.
//!
//! Rows of the layer and text of the user come in, results go out. No files, no clock, no rasters.
pub mod calendar;
pub mod corridor;
pub mod matching;
pub mod spending;
pub mod track;
