//! An outage, as stored: one row from where to where, however many segments it spans.
use crate::base::geodesy::Position;
use crate::base::words::Cause;

/// A row of `outages` (LINESTRING): segments driven one after another that outages go through as one.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OutageRow {
    /// Id, from 1.
    pub outage_id: i64,
    /// Number of the stroke.
    pub stroke: u32,
    /// First and last step of it.
    pub step_from: u32,
    /// Last step.
    pub step_to: u32,
    /// First segment in the direction driven.
    pub segment_from: i64,
    /// Last segment.
    pub segment_to: i64,
    /// Whether the first is driven in node order of its way.
    pub forward: bool,
    /// What causes most of the time without a link.
    pub cause: Cause,
    /// From the start of the first segment to the end of the last, metres.
    pub length_m: f64,
    /// Driving time, seconds.
    pub time_s: f64,
    /// Outages met there, expected per drive: those that begin there and those that go on from the road before.
    pub outages: f64,
    /// Expected seconds without a link there.
    pub outage_s: f64,
    /// 95th percentile of the longest outage, whole length, seconds: of 20 drives 19 meet none that is longer.
    pub outage_p95_s: f64,
    /// The road in the direction driven.
    pub line: Vec<Position>,
}
