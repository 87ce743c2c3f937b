//! The GeoPackage: written whole or not at all, and read back.
//!
//! In: rows of [`model`], in any order, and a build record. Out: one file in the form of OGC 12-128
//! (GeoPackage encoding), EPSG:4326, with an R-tree on each feature table, styles for GIS viewers
//! and the credit line of the map data. [`Layer`] reads such a file without anything else.
//! No physics here: figures are rounded and stored, never computed.
mod columns;
mod container;
mod credit;
mod describe;
mod geometry;
mod metadata;
pub mod model;
pub mod node;
mod reader;
pub(crate) mod schema;
pub mod stop;
mod style;
mod target;
mod writer;

pub use geometry::Bounds;
pub use reader::{Edges, Layer};
pub use writer::LayerWriter;

/// Version of the tables of the layer. Readers refuse files with a higher one.
pub const SCHEMA_VERSION: u32 = 4;

/// The moment written wherever the file format asks for one and the map data tells none: the beginning of Unix time, never
/// the clock's, so that equal builds give equal bytes.
const NO_TIME: &str = "1970-01-01T00:00:00.000Z";

/// Identifier of the only coordinate system used, WGS 84 longitude and latitude.
const SRS_ID: i32 = 4326;
