//! waymask rates road networks by the sky a roof-mounted satellite panel sees while driving.
//!
//! Stages, in the order data flows; each takes what the stages before it made and never calls the
//! next one. [`pipeline`] joins them, [`cli`] is what the user sees.
//!
//! | stage | makes |
//! | --- | --- |
//! | [`extract`] | roads and the things beside and above them, from a map extract |
//! | [`terrain`] | elevation windows, one per cell, from rasters |
//! | [`network`] | segments, edges, chains, lanes, speeds, stations, the road's height |
//! | [`scene`] | everything near one cell that can block the sky |
//! | [`sky`] | one mask per station and direction, blocked intervals of what stands overhead |
//! | [`orbit`] | expected satellites per direction, sky tapes |
//! | [`link`] | break statistics of simulated drives, ratings |
//! | [`layer`] | the GeoPackage |
//! | [`trip`] | a track matched to the network, and what the layer says about the drive |
//! | [`report`] | results as text: table, JSON, GeoJSON, GPX, CSV, the picture of one place |
#![cfg_attr(not(test), warn(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout, clippy::print_stderr))]

pub mod cli;
pub mod defect;
pub mod error;
pub mod extract;
pub mod geodesy;
pub mod layer;
pub mod link;
pub mod markup;
pub mod network;
pub mod orbit;
pub mod pipeline;
pub mod profile;
pub mod progress;
pub mod ramp;
pub mod report;
pub mod scene;
pub mod sky;
pub mod terrain;
pub mod trip;
pub mod units;

pub use error::{Error, Result};
