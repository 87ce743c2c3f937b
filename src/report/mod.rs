//! Answers as text: tables, JSON, GeoJSON, GPX and CSV of drives, ways and stops, plans as calendar events, the brief of a
//! trip as a page, the picture of one place, the record of a layer.
//!
//! In: results. Out: strings. No files, no terminal.
pub mod brief;
mod by_map;
mod corridor;
mod diff;
mod diff_file;
mod drawing;
mod edges;
mod formats;
mod gpx;
mod late;
pub mod map_page;
mod mounts;
mod mounts_told;
mod place;
mod plan;
mod plan_events;
pub mod polar;
mod record;
mod rerate;
mod route;
mod route_formats;
mod rows;
mod shards;
mod side_by_side;
pub mod spending;
mod stops;
mod verdict;
mod words;

pub use by_map::{ByMapFile, ByMapRow, by_map_format};
pub use corridor::table;
pub use diff::{diff_json, diff_table};
pub use diff_file::{ChangesFile, changes_format};
pub use edges::edges_written;
pub use formats::{Format, written};
pub use mounts::{mounts_cautions, mounts_json, mounts_table};
pub use place::{place_json, place_table};
pub use plan::{plan_cautions, plan_json, plan_table};
pub use plan_events::plan_events;
pub use record::{bytes, layer_cautions, record_lines, stages_lines, thousands};
pub use rerate::{rerate_json, rerate_table};
pub use route::{table as route_table, trade};
pub use route_formats::written as route_written;
pub use shards::{ShardLine, ShardsTold, ahead_line, lasting, shards_json, shards_text};
pub use stops::{stops_table, stops_written};
pub use words::ROSE;
