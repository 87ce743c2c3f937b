//! What the matcher is asked with and what it answers.
use crate::base::geodesy::Position;

/// Assumptions of the matcher.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MatchOptions {
    /// Standard deviation of a point across the road, metres. The paper's receivers had 4.07 m; 10 m suits telephones.
    pub sigma_m: f64,
    /// Scale of the difference between the way driven and the straight line, metres. The paper estimates it from
    /// medians of that difference, which grow with the noise; about the noise itself.
    pub beta_m: f64,
    /// What the scale grows by per metre between two points: the paper finds it larger the sparser the points, since a
    /// road bends more between them.
    pub beta_share: f64,
    /// Roads farther than this from a point are not candidates, metres.
    pub radius_m: f64,
    /// Points farther apart than this are joined only where the way between them fits what is known of the gap, metres.
    pub gap_m: f64,
}

impl Default for MatchOptions {
    fn default() -> Self {
        Self { sigma_m: 10.0, beta_m: 10.0, beta_share: 0.4, radius_m: 75.0, gap_m: 1_500.0 }
    }
}

impl MatchOptions {
    /// For points with this much noise, metres.
    pub fn of_noise(sigma_m: f64) -> Self {
        Self { sigma_m, beta_m: sigma_m, ..Self::default() }
    }
}

/// A point of a track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackPoint {
    /// Where.
    pub at: Position,
    /// When, seconds since 1970-01-01 UTC.
    pub time_s: Option<f64>,
}

/// A stretch of a lane driven.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Segment of the layer.
    pub segment_id: i64,
    /// In node order of its way.
    pub forward: bool,
    /// From here, metres from the segment's start in the direction driven.
    pub from_m: f64,
    /// To here.
    pub to_m: f64,
    /// Which unbroken drive it belongs to, from 0.
    pub drive: u32,
    /// When the stretch is entered, seconds since 1970-01-01 UTC, where the track has times.
    pub enter_s: Option<f64>,
    /// When it is left.
    pub leave_s: Option<f64>,
}

impl Step {
    /// Length driven, metres.
    pub fn length_m(&self) -> f64 {
        self.to_m - self.from_m
    }
}

/// A stretch of the track without a road.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unmatched {
    /// Where it begins and ends.
    pub from: Position,
    /// See `from`.
    pub to: Position,
    /// Along the track from its start, metres.
    pub start_m: f64,
    /// Length along the track, metres.
    pub length_m: f64,
    /// The drive goes on over roads between its ends all the same.
    pub bridged: bool,
}

/// A stretch without points that a way over roads joins: it is part of what was driven.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JoinedGap {
    /// The points at its ends.
    pub from: Position,
    /// See `from`.
    pub to: Position,
    /// Along the track from its start, metres.
    pub start_m: f64,
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
    /// Time between the points, seconds; nothing where they have none and the length alone had to fit.
    pub lasted_s: Option<f64>,
}

/// A track on roads.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Matched {
    /// What was driven, in order.
    pub steps: Vec<Step>,
    /// What was not found.
    pub unmatched: Vec<Unmatched>,
    /// Gaps between points that are part of what was driven.
    pub joined: Vec<JoinedGap>,
    /// Distances of spots from their roads, metres.
    pub off_road_m: Vec<f64>,
    /// Length of the track, metres.
    pub track_m: f64,
    /// Points of the track, and how many spots they were gathered to.
    pub points: usize,
    /// See `points`.
    pub used: usize,
}

impl Matched {
    /// Scatter of the points across their roads (standard deviation), metres, by the median of their distances; nothing
    /// where there are too few. The median of a normal distribution's distances is 0.6745 of its deviation, and points far
    /// off do not move it.
    pub fn scatter_m(&self) -> Option<f64> {
        const FEWEST: usize = 20;
        const OF_MEDIAN: f64 = 1.0 / 0.6745;
        let mut all_m = self.off_road_m.clone();
        let middle = all_m.len() / 2;
        (all_m.len() >= FEWEST).then(|| OF_MEDIAN * *all_m.select_nth_unstable_by(middle, f64::total_cmp).1)
    }
    /// Length of road driven, metres.
    pub fn length_m(&self) -> f64 {
        self.steps.iter().map(Step::length_m).sum()
    }
}
