//! Nodes of roads.
use serde::{Deserialize, Serialize};

use crate::base::geodesy::Position;

/// One node of a road.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct RoadNode {
    /// Node id.
    pub id: i64,
    /// Where it is.
    pub at: Position,
}
