//! What covers the ground, where that tells something about trees or houses that may be missing from the map.
use serde::{Deserialize, Serialize};

use super::area::Area;

/// What an area of ground says about trees and houses on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum CoverKind {
    /// No wood stands here: fields, meadows, rock, water, scrub.
    Treeless,
    /// People live or work here: houses are to be expected.
    Settled,
}

/// Ground whose cover is mapped.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GroundCover {
    /// OSM id, for messages.
    pub id: i64,
    /// What it says.
    pub kind: CoverKind,
    /// Where it is.
    pub area: Area,
}
