//! Layers of neighbouring regions asked as one: built apart, joined for one question, at the nodes of the map that they share
//! and where the line of a district cuts a road.
//!
//! Rows of a way that several hold are kept once, and the worse rating counts. Extracts of neighbouring regions cut a road at
//! the border differently, since each has only the junctions with its own roads: such a way is cut at the junctions of both.
//! Nothing is filled in between layers. Sky masks stay where they are ([`crate::layer::LentMasks`]); what is driven before and
//! after strokes (`runs`) is left out, since only rating again needs it.
mod alike;
mod beside;
mod chain;
mod cut;
mod edges;
mod join;
mod links;
mod outages;
mod piece;
mod placed;
mod reach;
mod record;
mod ways;

pub use alike::{MOST_LAYERS, check_files};
pub use join::{JoinedLayers, joined};
pub use reach::reach_along;
