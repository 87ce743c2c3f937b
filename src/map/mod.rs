//! The map: OSM PBF to roads and to what stands beside and above them, and the countries they lie in.
pub mod district;
pub mod divide;
pub mod extract;
pub mod neighbourhood;
pub mod network;
pub mod place;
