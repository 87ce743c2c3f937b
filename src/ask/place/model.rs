//! What is asked about the sky of a place, and what is answered.
use std::collections::BTreeMap;

use jiff::Timestamp;
use serde::Serialize;

use crate::base::words::{BlockerEvidence, Cause, Evidence, Rating, TerrainEvidence};
use crate::physics::orbit::elements::ElementSets;

/// What is asked about a place.
#[derive(Debug, Clone)]
pub struct SkyQuestion {
    /// Latitude and longitude, degrees.
    pub at_deg: (f64, f64),
    /// A road is looked for this far away, metres.
    pub within_m: f64,
    /// The lane driven against the node order of the way.
    pub backward: bool,
    /// Who passes over it, where that is asked.
    pub passes: Option<PassesQuestion>,
}

/// Satellites that may pass, and when.
#[derive(Debug, Clone)]
pub struct PassesQuestion {
    /// Orbital elements.
    pub elements: ElementSets,
    /// Passes from this time on.
    pub time: Timestamp,
    /// For this long, minutes.
    pub minutes: f64,
    /// How high the observer stands above the ellipsoid of WGS 84, metres.
    pub altitude_m: f64,
}

/// One cell of the sky.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SkyCell {
    /// Azimuth of its middle, degrees clockwise from true north; it is five degrees wide.
    pub azimuth_deg: f64,
    /// Lower and upper edge, degrees.
    pub low_deg: f64,
    /// See `low_deg`.
    pub high_deg: f64,
    /// Whether the panel can use it, driving this way.
    pub usable: bool,
    /// Share of the expected usable satellites.
    pub weight: f64,
    /// Probability that it is blocked.
    pub blocked: f64,
    /// What blocks it most.
    pub cause: Cause,
}

/// A moment of a pass.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sighted {
    /// When, RFC 3339 with thousandths of a second, UTC.
    pub time: String,
    /// Azimuth, degrees clockwise from true north.
    pub azimuth_deg: f64,
    /// Elevation, degrees.
    pub elevation_deg: f64,
}

/// Elements farther than this from a pass bring a warning, days. Assumed: satellites leave the orbits of their elements by 1 to
/// 3 km a day (B. Rhodes, documentation of the package sgp4 at PyPI), at 7.5 km/s.
pub const FRESH_DAYS: f64 = 3.0;

/// One satellite passing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SkyPass {
    /// Name, else catalogue number.
    pub satellite: String,
    /// Rises above the lowest elevation of the masks; the start of the span where it was up before.
    pub rise: Sighted,
    /// Stands highest.
    pub peak: Sighted,
    /// Sets; the end of the span where it is up for longer.
    pub set: Sighted,
    /// Seconds between rise and set.
    pub seconds: f64,
    /// Expected seconds of these in which it stands in usable open sky.
    pub open_s: f64,
    /// Days between the epoch of its elements and its rise.
    pub elements_age_days: f64,
    /// Places every five seconds: azimuth, elevation, degrees.
    pub path: Vec<(f64, f64)>,
}

/// The sky over one place.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct SkyAnswer {
    /// Latitude asked about, degrees.
    pub lat_deg: f64,
    /// Longitude asked about, degrees.
    pub lon_deg: f64,
    /// Height of the observer of passes above the ellipsoid of WGS 84, metres; nothing without elements.
    pub altitude_m: Option<f64>,
    /// Segment whose lane is nearest.
    pub segment_id: i64,
    /// Its way.
    pub way_id: i64,
    /// Name, reference or class of the road.
    pub road: String,
    /// Whether the lane is driven in node order.
    pub forward: bool,
    /// Distance of the road from the place asked about, metres.
    pub distance_m: f64,
    /// Metres from the start of the segment in the direction driven.
    pub along_m: f64,
    /// Heading there, degrees clockwise from true north.
    pub heading_deg: f64,
    /// Rating of the segment.
    pub rating_name: Rating,
    /// 95th percentile outage of the segment, seconds.
    pub outage_p95_s: f64,
    /// What the answer on terrain is based on, over the segment.
    pub evidence_terrain: TerrainEvidence,
    /// On trees.
    pub evidence_canopy: BlockerEvidence,
    /// On buildings and walls.
    pub evidence_building: BlockerEvidence,
    /// On all of them.
    pub evidence: Evidence,
    /// Usable satellites expected in the usable sky.
    pub expected_satellites: f64,
    /// Shares of the usable sky.
    pub shares: SkyShares,
    /// The open share with what is assumed about the roadside at the favourable end of its range.
    pub open_best: f64,
    /// The same at the unfavourable end; nothing where a cause could not be known.
    pub open_worst: Option<f64>,
    /// Cells, azimuth by azimuth from the lowest up.
    pub cells: Vec<SkyCell>,
    /// Passes, by rise; empty without elements.
    pub passes: Vec<SkyPass>,
    /// Satellites whose elements do not reach the time asked about.
    pub lost: usize,
    /// Elements that could not be used, as sentences: their satellites may pass, and are not among the passes.
    pub left_out: Vec<String>,
}

/// Shares of the usable sky, each satellite weighted by how often it is expected; they add up to 1.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct SkyShares {
    /// What is open.
    pub open: f64,
    /// What each cause blocks; every cause has its share, if only 0.
    #[serde(flatten)]
    pub blocked: BTreeMap<Cause, f64>,
}

impl SkyShares {
    /// What a cause blocks.
    pub(crate) fn of(&self, cause: Cause) -> f64 {
        self.blocked.get(&cause).copied().unwrap_or(0.0)
    }
}
