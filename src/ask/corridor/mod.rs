//! What the layer says about a drive: worst segments, clusters of outages, totals, roads nearby.
mod figures;
mod model;
mod nearby;
mod pieces;
mod question;

pub use figures::{DriveRows, of_rows};
pub use model::{Above, Alternative, Cluster, Corridor, Gap, Joining, Piece};
pub(in crate::ask) use question::of_matched;
pub use question::{CorridorQuestion, corridor};
