//! Rates a layer again from what it holds, under another profile: no extract, no rasters, no rays.
//!
//! The same functions as in a build run on the stored masks, prisms, speeds and strokes, so the unchanged profile gives
//! the stored figures back, to the last digit.
pub mod answers;
mod model;
mod rated;
mod run;
mod stored;
mod sweep;
mod write;

pub use model::{Change, NewLayer, Outcome, RerateAnswer, RerateQuestion, Wanted};
pub use run::rerate;
#[cfg(test)]
pub(in crate::ask) use stored::Stored;
