//! What the layer says about a drive: worst stretches, outages, totals, roads nearby.
mod figures;
mod model;
mod nearby;
mod outages;
mod pieces;
mod question;
mod stretches;

pub use figures::{DriveRows, of_rows};
pub use model::{Above, Corridor, DrivenOutage, Gap, Joining, NearbyRoad, Piece, RatedStretch};
pub use outages::{LaneId, driven_outages, numbered_outages, worst_outages};
pub use question::{CorridorQuestion, corridor};
pub(in crate::ask) use question::{MARGIN_M, of_matched};
