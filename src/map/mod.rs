//! The map: OSM PBF to roads and to what stands beside and above them.
pub mod extract;
pub mod neighbourhood;
pub mod network;
