//! waymask rates road networks by the sky a roof-mounted satellite panel sees while driving.
//!
//! The modules stand in pipeline order; each stage takes what the stages before it made and
//! never calls the next one. [`pipeline`] joins them.
pub mod defect;
pub mod error;
pub mod geodesy;
pub mod profile;
pub mod progress;
pub mod units;

pub mod extract;
pub mod layer;
pub mod link;
pub mod network;
pub mod orbit;
pub mod scene;
pub mod sky;
pub mod terrain;

pub use error::{Error, Result};
