//! What the layer says about a drive, as answers give it.
use serde::Serialize;

use crate::ask::search::TownNear;
use crate::base::geodesy::Position;
use crate::base::words::{Cause, Evidence, Overhang, OverheadKind, PerRating, Rating};

/// A piece of a segment driven, with the figures of its direction.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Piece {
    /// Segment.
    pub segment_id: i64,
    /// In node order.
    pub forward: bool,
    /// Way id of the map.
    pub way_id: i64,
    /// Number of the segment within the way.
    pub part: u32,
    /// Kilometres driven before it.
    pub at_km: f64,
    /// Where it begins, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// Name and reference of the road, or its class.
    pub road: String,
    /// Length driven, metres.
    pub length_m: f64,
    /// Driving time, seconds.
    pub time_s: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// The same with what is assumed about the roadside at the favourable end of its range.
    pub outage_best_s: f64,
    /// At the unfavourable end; nothing where a cause could not be known.
    pub outage_worst_s: Option<f64>,
    /// 95th percentile of the longest outage that touches it, seconds.
    pub outage_p95_s: f64,
    /// Expected outages that begin here and are longer than the edges of blips, gaps and drops.
    pub beyond: [f64; 3],
    /// Share of drives in which an outage runs at the start of its segment with more than these edges left.
    pub running: [f64; 3],
    /// Rating of the direction driven; its code in JSON.
    #[serde(serialize_with = "Rating::as_code")]
    pub rating: Rating,
    /// The rating at best; its code in JSON.
    #[serde(serialize_with = "Rating::as_code")]
    pub rating_best: Rating,
    /// The rating at worst; its code in JSON, nothing where a cause could not be known.
    #[serde(serialize_with = "Rating::as_code_if_known")]
    pub rating_worst: Option<Rating>,
    /// Main cause in the direction driven.
    pub cause: Cause,
    /// Mean open share of the segment (of its worse direction), 0..=1.
    pub open_share: f64,
    /// What the rating is based on: `data`, `default` or `unknown`, as in the layer.
    pub evidence: Evidence,
    /// Why something may hang too low: `crowns`, `clearance`, `both` or `none`, as in the layer.
    pub overhang: Overhang,
    /// Lowest posted clearance, metres.
    pub maxheight_m: Option<f64>,
    /// Unbroken drive it belongs to.
    pub drive: u32,
    /// When it is entered, seconds since 1970-01-01 UTC, where the track gives times.
    pub enter_s: Option<f64>,
    /// From the start of its segment, in the direction driven, to where it begins, metres.
    #[serde(skip)]
    pub from_m: f64,
    /// Vertices driven, in the direction driven.
    #[serde(skip)]
    pub line: Vec<Position>,
}

/// An outage of the drive, from where to where, with one cause.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct DrivenOutage {
    /// First of its pieces.
    #[serde(skip)]
    pub first: usize,
    /// One after the last.
    #[serde(skip)]
    pub end: usize,
    /// Kilometres driven before it.
    pub at_km: f64,
    /// Kilometres driven when its last segment ends.
    pub to_km: f64,
    /// Where it begins, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// Road at its worst piece.
    pub road: String,
    /// Length, metres.
    pub length_m: f64,
    /// Driving time, seconds.
    pub time_s: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// 95th percentile over simulated drives of the longest outage there, seconds.
    pub outage_p95_s: f64,
    /// Worst rating; its code in JSON.
    #[serde(serialize_with = "Rating::as_code")]
    pub rating: Rating,
    /// What causes it.
    pub cause: Cause,
}

/// Pieces in a row with one rating and one cause.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct RatedStretch {
    /// First of its pieces.
    #[serde(skip)]
    pub first: usize,
    /// One after the last.
    #[serde(skip)]
    pub end: usize,
    /// Segment of the first.
    pub segment_id: i64,
    /// Kilometres driven before it.
    pub at_km: f64,
    /// Where it begins, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// Road of its first piece.
    pub road: String,
    /// The place that people know it by; nothing where none is near.
    #[serde(flatten)]
    pub town: Option<TownNear>,
    /// Length, metres.
    pub length_m: f64,
    /// Driving time, seconds.
    pub time_s: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// Largest 95th percentile outage of its pieces, seconds.
    pub outage_p95_s: f64,
    /// Rating; its code in JSON.
    #[serde(serialize_with = "Rating::as_code")]
    pub rating: Rating,
    /// Main cause.
    pub cause: Cause,
}

/// Something over the road driven.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Above {
    /// Kilometres driven before its segment begins.
    pub at_km: f64,
    /// Where, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// Kind.
    pub kind: OverheadKind,
    /// Name.
    pub name: Option<String>,
    /// Seconds at speed during which it alone hides more than half of the usable sky.
    pub half_shadow_s: f64,
    /// Posted clearance, metres.
    pub maxheight_m: Option<f64>,
}

/// A road near the one driven.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NearbyRoad {
    /// Name and reference, or class.
    pub road: String,
    /// Length of its segments that come near the drive, metres.
    pub length_m: f64,
    /// Share of driving time without a link, mean by length, worse direction.
    pub outage_share: f64,
    /// Metres by rating, steady first.
    pub metres_by_rating: PerRating<f64>,
}

impl Corridor {
    /// Whether an outage is longer, in more than 5 of 100 drives, than the most demanding meeting tolerates.
    pub fn matters(&self, outage: &DrivenOutage) -> bool {
        outage.outage_p95_s > self.tolerated_s[0]
    }
    /// Whether what is assumed about the roadside moves a figure, or something could not be known.
    pub fn is_spread(&self) -> bool {
        self.unknown_m > 0.0 || self.outage_best_s < self.outage_s || self.outage_worst_s > self.outage_s
    }
}

/// A stretch of track without a road.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Gap {
    /// Kilometres of track before it.
    pub track_km: f64,
    /// Where it begins, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// Where it ends, degrees.
    pub to_lon_deg: f64,
    /// See `to_lon_deg`.
    pub to_lat_deg: f64,
    /// Length, metres.
    pub length_m: f64,
    /// The drive goes on over roads between its ends all the same.
    pub bridged: bool,
}

/// A stretch without points that roads join: its way is part of the figures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Joining {
    /// Kilometres of track before it.
    pub track_km: f64,
    /// Where it begins, degrees.
    pub from_lat_deg: f64,
    /// See `from_lat_deg`.
    pub from_lon_deg: f64,
    /// Where it ends.
    pub to_lat_deg: f64,
    /// See `to_lat_deg`.
    pub to_lon_deg: f64,
    /// Straight across, metres.
    pub straight_m: f64,
    /// Length of the way, metres.
    pub length_m: f64,
    /// Of it below tunnels, galleries and roofs, metres.
    pub covered_m: f64,
    /// Of it on ferries and car shuttle trains, metres.
    pub boarded_m: f64,
    /// Driving time of the way by the layer, seconds.
    pub time_s: f64,
    /// Time between the points at its ends, seconds; nothing where they have none and the length alone had to fit.
    pub lasted_s: Option<f64>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Corridor {
    /// Length of the track, metres.
    pub track_m: f64,
    /// Length of road driven, metres.
    pub length_m: f64,
    /// Length of track without a road, metres.
    pub unmatched_m: f64,
    /// Driving time by the layer, seconds.
    pub time_s: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// The same with what is assumed about the roadside at the favourable end of its range.
    pub outage_best_s: f64,
    /// The same at the unfavourable end. Where a cause could not be known the worst is not either, and the likely figure
    /// is in it: it may be more, where `unknown_m` is above 0.
    pub outage_worst_s: f64,
    /// Metres by rating, steady first.
    pub metres_by_rating: PerRating<f64>,
    /// The same at best.
    pub metres_by_rating_best: PerRating<f64>,
    /// The same at worst, without the metres of `unknown_m`.
    pub metres_by_rating_worst: PerRating<f64>,
    /// Metres along which some cause could not be known: unknown is not clear.
    pub unknown_m: f64,
    /// Worst stretches, worst first.
    pub worst: Vec<RatedStretch>,
    /// Outages, as driven.
    pub outages: Vec<DrivenOutage>,
    /// The longest outages that each kind of meeting tolerates, seconds: must-not-drop, casual, messages.
    pub tolerated_s: [f64; 3],
    /// What stands over the road.
    pub overheads: Vec<Above>,
    /// Roads nearby, best first.
    pub nearby: Vec<NearbyRoad>,
    /// Track without a road.
    pub unmatched: Vec<Gap>,
    /// Stretches without points that are part of the figures.
    pub joined: Vec<Joining>,
    /// Scatter of the points across their roads (standard deviation), metres; nothing where there are too few.
    pub scatter_m: Option<f64>,
    /// What the traveller should know of the track.
    pub notes: Vec<String>,
    /// Every piece, as driven.
    #[serde(skip)]
    pub pieces: Vec<Piece>,
}
