//! Tracks as people have them: GPX, GeoJSON, encoded polylines, or waypoints typed by hand.
//!
//! In: text. Out: pieces of points that are unbroken, in order. The format is told from the content.
mod encoding;
mod geojson;
mod gpx;
mod model;
mod plain;
mod read;
mod times;

pub use model::Track;
pub use read::{read, read_bytes, read_with};
