//! Ground on which nothing can be set down.
use serde::{Deserialize, Serialize};

use super::area::Area;
use super::steps::line;
use crate::base::geodesy::Position;

/// What bars the ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum BarredBy {
    /// Water, running or standing.
    Water,
    /// The edge of the sea: the land is on the left of the line.
    Coast,
    /// Railway tracks.
    Rail,
}

/// Where it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum BarredShape {
    /// An area.
    Area(Area),
    /// A centre line.
    Line(#[serde(with = "line")] Vec<Position>),
}

/// Water or tracks on the ground; what runs below it does not count.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Barred {
    /// OSM id, for messages.
    pub id: i64,
    /// What it is.
    pub by: BarredBy,
    /// `waterway`, for lines of water.
    pub waterway: Option<Box<str>>,
    /// Where it is.
    pub shape: BarredShape,
    /// `width` of a line, metres.
    pub width_m: Option<f32>,
}
