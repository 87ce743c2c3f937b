//! waymask rates road networks by the sky a roof-mounted satellite panel sees while driving.
//!
//! *Build* writes a layer, *ask* reads it; the layer is the waist between them.
//!
//! | room | holds |
//! | --- | --- |
//! | [`base`] | units, geodesy, words (closed sets as enums), the engine of settings, errors, defects, progress, text, the ramp of colours |
//! | [`profile`] | vehicle, terminal, link, roadside: every assumption with its key and range |
//! | [`map`] | roads and what stands beside and above them, from a map extract |
//! | [`relief`] | elevation, canopy and surface rasters, one window per cell |
//! | [`physics`] | what is near a place, its sky, satellites, the link: pure |
//! | [`layer`] | the GeoPackage |
//! | [`rating`] | from masks and skies to the figures of a row, for builds and for rating again |
//! | [`build`] | the data flow of a build |
//! | [`calendar`], [`budget`] | iCalendar text; data, energy and money of a trip |
//! | [`ask`] | corridor, route, stops, plan, one place, rating again: from a layer |
//! | [`report`] | answers as text, tables, pictures and pages |
//! | [`guide`] | pages for people: columns, words, accuracy, decisions |
//! | [`cli`] | options, files, the terminal |
#![cfg_attr(not(test), warn(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout, clippy::print_stderr))]

pub mod ask;
pub mod base;
pub mod budget;
pub mod build;
pub mod calendar;
pub mod cli;
pub mod guide;
pub mod layer;
pub mod map;
pub mod physics;
pub mod profile;
pub mod rating;
pub mod relief;
pub mod report;

pub use base::error::{Error, Result};
