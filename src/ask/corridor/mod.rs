//! What the layer says about a drive: worst stretches, outages, totals, roads nearby.
mod figures;
mod model;
mod nearby;
mod outages;
mod pieces;
mod question;
mod stretches;

pub use figures::{DriveRows, of_rows};
pub use model::{Above, Alternative, Corridor, DrivenOutage, Gap, Joining, Piece, RatedStretch};
pub use outages::{LaneId, driven_outages, worst_outages};
pub(in crate::ask) use question::of_matched;
pub use question::{CorridorQuestion, corridor};
