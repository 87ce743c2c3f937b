//! The GeoPackage: written whole or not at all, and read back.
//!
//! In: rows of [`model`], in any order, and a build record. Out: one file in the form of OGC 12-128
//! (GeoPackage encoding), EPSG:4326, with an R-tree on each feature table, styles for GIS viewers
//! and the credit line of the map data. [`Layer`] reads such a file without anything else.
//! No physics here: figures are rounded and stored, never computed.
mod backdrop;
mod backdrop_rows;
mod batch;
mod by_way;
mod checked;
mod columns;
mod container;
mod credit;
mod crossings;
mod describe;
mod fixed;
mod geometry;
mod join;
mod known_by;
mod lent;
mod mask;
mod metadata;
pub mod model;
mod name;
mod name_rows;
mod name_search;
pub mod node;
mod open;
pub mod outage;
pub mod part;
mod reader;
mod road;
mod run;
pub(crate) mod schema;
mod several;
pub mod stop;
mod streams;
mod style;
mod tables;
mod target;
mod tree;
mod trouble;
mod way_nodes;
mod writer;

pub use backdrop_rows::BackdropSink;
pub(crate) use columns::stored_share;
pub use crossings::PartFile;
pub use fixed::SCHEMA_VERSION;
pub use geometry::Bounds;
pub(crate) use join::FIRST_AT_RIM;
pub use join::{JoinedLayer, LayerJoin, stops_left_out};
pub use known_by::{KnownBy, KnownPlaces, MOST_REACH_M};
pub use reader::{Edges, Layer, LentMasks};
pub use streams::KeyedSegments;
pub(crate) use style::rating_words;
pub use style::{COVERED_FROM, GroupLook, RoadGroup, SEES_ALL, SEES_HALF, WIDTH_BY_SCALE, rating_width_mm};
pub(crate) use trouble::{REBUILD, REPORT, damaged_value};
pub use writer::LayerWriter;
