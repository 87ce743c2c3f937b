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
pub mod terrain;
pub mod network;
pub mod scene;
pub mod sky;
pub mod orbit;
pub mod link;
pub mod layer;

pub use error::{Error, Result};
