//! Reads a map extract (OSM PBF) into [`model::Extract`].
//!
//! In: a `.osm.pbf` file with zlib or raw blocks. Out: roads, canopy, buildings, barriers, decks and
//! stops with their tags parsed, geometry resolved, order independent of the order in the file.
//! Does not apply defaults and does not know rasters.
pub mod model;
