//! Roads cut into segments, edges and strokes; lanes, speeds, stations and the road's height.
//!
//! In: [`crate::map::extract::model::Road`]s, what their [`Surroundings`] say and, for heights, the ground under every
//! station. Out: [`model::Network`], [`station::stations`] on the travelled lane in a cell's plane, and
//! [`grade::road_heights`]. Tags beat country defaults, which beat class defaults; every value says which.
pub mod climb;
mod continuation;
pub mod cut;
pub mod grade;
pub mod local;
pub mod model;
mod roundabout;
pub mod section;
pub mod sides;
pub mod speed;
pub mod station;
pub mod stroke;
pub mod surface;
mod surroundings;

#[cfg(test)]
pub(crate) mod test_roads;

use crate::map::extract::model::Road;
use crate::profile::Cases;

pub use surroundings::Surroundings;

/// Builds the network of an extract's roads.
pub fn build(roads: &[Road], cases: &Cases, around: &Surroundings) -> model::Network {
    let mut network = cut::cut(roads, cases, around);
    network.strokes = stroke::strokes(&network, roads);
    network
}
