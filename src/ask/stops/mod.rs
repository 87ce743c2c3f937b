//! Places to stop: near a place, along a drive, or in all of a layer.
mod near;
mod question;

pub use near::{StopNear, near};
pub(in crate::ask) use question::beside;
pub use question::{ALONG_M, StopsAnswer, StopsIn, StopsQuestion, stops};
