//! Roads cut into segments, edges and chains; lanes, speeds, stations and the road's height.
//!
//! In: [`crate::extract::model::Road`]s and, for heights, the ground under every station. Out:
//! [`model::Network`], [`station::stations`] on the travelled lane in a cell's plane, and
//! [`grade::road_heights`]. Tags beat country defaults, which beat class defaults; every value says which.
pub mod chain;
pub mod climb;
pub mod cut;
pub mod grade;
pub mod model;
pub mod section;
pub mod side;
pub mod speed;
pub mod station;
pub mod surface;

#[cfg(test)]
pub(crate) mod test_roads;

use crate::extract::model::Road;
use crate::profile::Profile;

/// Builds the network of an extract's roads.
pub fn build(roads: &[Road], profile: &Profile) -> model::Network {
    let mut network = cut::cut(roads, profile);
    network.chains = chain::chains(&network, roads);
    network
}
