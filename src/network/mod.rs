//! Roads cut into segments, edges and chains; lanes, speeds, stations and the road's height.
pub mod model;
