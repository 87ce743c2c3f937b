//! Results as text: tables, JSON, GeoJSON, GPX waypoints and CSV of trips and stops, the brief of a trip as a page, the
//! picture of one place.
//!
//! In: results. Out: strings. No files, no terminal.
pub mod brief;
mod corridor;
mod edges;
mod formats;
mod place;
mod plan;
mod plan_events;
pub mod polar;
mod rerate;
mod route;
mod route_formats;
pub mod spending;
mod stops;

pub use corridor::table;
pub use edges::edges_written;
pub use formats::{Format, written};
pub use place::{place_json, place_table};
pub use plan::{CAUTIONS, plan_json, plan_table};
pub use plan_events::plan_events;
pub use rerate::{rerate_json, rerate_table};
pub use route::{table as route_table, trade};
pub use route_formats::written as route_written;
pub use stops::{STOP_CAUTION, stops_table, stops_written};

use crate::ask::corridor::Cluster;
use crate::physics::link::rating::Rating;

/// Directions of the compass, by [`crate::base::geodesy::eighth`].
pub const ROSE: [&str; 8] = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"];

/// `0:05` or `1:02:03`, from seconds.
fn clock(seconds: f64) -> String {
    let s = seconds.round().max(0.0) as u64;
    match s / 3600 {
        0 => format!("{}:{:02}", s / 60, s % 60),
        h => format!("{h}:{:02}:{:02}", s / 60 % 60, s % 60),
    }
}

/// `32 s`, `15 min 21 s` or `1 h 05 min`, from seconds.
fn spoken(seconds: f64) -> String {
    let s = seconds.round().max(0.0) as u64;
    match s {
        0..=99 => format!("{s} s"),
        100..=3_599 if s.is_multiple_of(60) => format!("{} min", s / 60),
        100..=3_599 => format!("{} min {:02} s", s / 60, s % 60),
        _ => format!("{} h {:02} min", s / 3_600, s % 3_600 / 60),
    }
}

/// Name of a rating; codes beyond the last are as bad as that.
fn rating(code: u8) -> &'static str {
    Rating::from_code(code).unwrap_or(Rating::Dark).name()
}

/// A cluster in one sentence.
fn sentence(c: &Cluster) -> String {
    format!(
        "{}: {:.0} m, {}; expected {:.1} s without a link, 95 % of outages up to {:.1} s",
        rating(c.rating),
        c.length_m,
        c.cause.phrase(),
        c.outage_s,
        c.outage_p95_s
    )
}
