//! Figures by what the map itself names, for routing engines with a network of their own: pairs of adjacent nodes, and ways,
//! each in every direction that is driven.
//!
//! Nothing is computed anew: figures of segments are added up, and those of a segment that several pairs share are divided by
//! length. Rows are handed out one by one, since there may be more than memory holds.
mod figures;
mod pairs;
mod ways;

pub use pairs::{NodePair, node_pairs};
pub use ways::{WayDrive, way_drives};
