//! The GeoPackage: written whole or not at all, and read back.
pub mod model;
