//! The travelled lane of one segment as a path in the plane of its cell, and what crosses it.
//!
//! In: the stations of one segment and direction. Out: positions along the lane, metres from the
//! start of the segment in the direction driven, where lines cross it and where it lies inside
//! rings. Plain geometry: knows nothing of decks or roofs.
use super::rings::{contains, edges, meet};
use crate::base::geodesy::{Point, turn_deg};
use crate::map::network::model::Station;

/// How far the lane is continued straight beyond its first and last station when looking for
/// crossings, metres: lanes of consecutive segments leave a gap on the outside of a bend.
const REACH_BEYOND_ENDS_M: f64 = 1.0;
/// Crossings closer than this along the lane are one (a line that crosses at its own vertex), metres.
const SAME_CROSSING_M: f64 = 0.5;
/// Pieces shorter than this have no direction, metres.
const NO_LENGTH_M: f64 = 1e-6;
/// Share of a chord by which a crossing may miss its end, against rounding at vertices.
const END_SLACK: f64 = 1e-9;

/// An interval along the lane, metres.
pub(crate) type Interval = (f64, f64);

/// A place on the lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LanePlace {
    /// Where it is.
    pub at: Point,
    /// Heading of travel, degrees from true north.
    pub heading_deg: f64,
    /// Height of the road, metres, where known.
    pub road_z_m: Option<f64>,
}

/// Where a line piece crosses the lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Crossing {
    /// Along the lane, metres.
    pub along_m: f64,
    /// Place on the lane.
    pub place: LanePlace,
    /// Share of the line piece, 0..1, from its first to its second point.
    pub share: f64,
}

/// A straight piece of the lane between two stations.
#[derive(Debug, Clone, Copy)]
struct Chord {
    a: Point,
    b: Point,
    along_a_m: f64,
    along_b_m: f64,
    heading_deg: f64,
    z_a_m: Option<f64>,
    z_b_m: Option<f64>,
}

impl Chord {
    fn along_m(&self, t: f64) -> f64 {
        self.along_a_m + t * (self.along_b_m - self.along_a_m)
    }
    fn place(&self, t: f64) -> LanePlace {
        let z = match (self.z_a_m, self.z_b_m) {
            (Some(a), Some(b)) => Some(a + t.clamp(0.0, 1.0) * (b - a)),
            (a, b) => a.or(b),
        };
        LanePlace { at: self.a.towards(self.b, t), heading_deg: self.heading_deg, road_z_m: z }
    }
}

/// The lane of one segment in one direction.
#[derive(Debug, Clone)]
pub(crate) struct LanePath {
    chords: Vec<Chord>,
}

impl LanePath {
    /// From stations in the order driven; `None` where fewer than two distinct, finite ones are left.
    pub fn new(stations: &[Station]) -> Option<Self> {
        let usable = |s: &&Station| s.at.x_m.is_finite() && s.at.y_m.is_finite() && s.along_m.is_finite();
        let kept: Vec<&Station> = stations.iter().filter(usable).collect();
        let mut chords: Vec<Chord> = Vec::with_capacity(kept.len());
        for pair in kept.windows(2) {
            if pair[0].at.distance_m(pair[1].at) > NO_LENGTH_M {
                chords.push(Chord {
                    a: pair[0].at,
                    b: pair[1].at,
                    along_a_m: pair[0].along_m,
                    along_b_m: pair[1].along_m,
                    heading_deg: pair[0].at.azimuth_deg(pair[1].at),
                    z_a_m: pair[0].road_z_m.map(f64::from),
                    z_b_m: pair[1].road_z_m.map(f64::from),
                });
            }
        }
        (!chords.is_empty()).then_some(Self { chords })
    }

    /// First and last position along the lane, metres.
    pub(crate) fn span_m(&self) -> Interval {
        let first = self.chords.first().map_or(0.0, |c| c.along_a_m);
        let last = self.chords.last().map_or(0.0, |c| c.along_b_m);
        (first, last)
    }

    /// Smallest box around the lane, widened by `by_m`: lower left and upper right corner, metres.
    pub fn bounds(&self, by_m: f64) -> ([f64; 2], [f64; 2]) {
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for p in self.chords.iter().flat_map(|c| [c.a, c.b]) {
            low = [low[0].min(p.x_m - by_m), low[1].min(p.y_m - by_m)];
            high = [high[0].max(p.x_m + by_m), high[1].max(p.y_m + by_m)];
        }
        (low, high)
    }

    /// The place at a position along the lane; beyond its ends the lane runs on straight.
    pub fn place(&self, along_m: f64) -> Option<LanePlace> {
        let last = self.chords.len().checked_sub(1)?;
        let i = self.chords.iter().position(|c| along_m <= c.along_b_m).unwrap_or(last);
        let c = self.chords.get(i)?;
        let run = c.along_b_m - c.along_a_m;
        let t = if run.abs() > NO_LENGTH_M { (along_m - c.along_a_m) / run } else { 0.0 };
        Some(c.place(t))
    }

    /// Where the straight piece from `p` to `q` crosses the lane or its short straight continuations.
    pub fn crossings(&self, p: Point, q: Point) -> Vec<Crossing> {
        let mut found: Vec<Crossing> = Vec::new();
        let last = self.chords.len() - 1;
        for (i, c) in self.chords.iter().enumerate() {
            let beyond = REACH_BEYOND_ENDS_M / c.a.distance_m(c.b);
            let low = if i == 0 { -beyond } else { -END_SLACK };
            let high = if i == last { 1.0 + beyond } else { 1.0 + END_SLACK };
            let Some((t, u)) = meet(c.a, c.b, p, q) else {
                continue;
            };
            let on_both = t >= low && t <= high && (-END_SLACK..=1.0 + END_SLACK).contains(&u);
            let along_m = c.along_m(t);
            if on_both && found.last().is_none_or(|f| along_m - f.along_m > SAME_CROSSING_M) {
                found.push(Crossing { along_m, place: c.place(t), share: u.clamp(0.0, 1.0) });
            }
        }
        found
    }

    /// Where the lane lies inside rings (even-odd, so that holes count as outside), merged where
    /// they touch.
    pub fn inside(&self, rings: &[Vec<Point>]) -> Vec<Interval> {
        let mut found: Vec<Interval> = Vec::new();
        for c in &self.chords {
            let mut cuts = vec![0.0, 1.0];
            for (p, q) in edges(rings) {
                if let Some((t, u)) = meet(c.a, c.b, p, q)
                    && (0.0..1.0).contains(&t)
                    && (0.0..=1.0).contains(&u)
                {
                    cuts.push(t);
                }
            }
            cuts.sort_by(f64::total_cmp);
            for w in cuts.windows(2) {
                if w[1] > w[0] && contains(rings, c.a.towards(c.b, (w[0] + w[1]) / 2.0)) {
                    found.push((c.along_m(w[0]), c.along_m(w[1])));
                }
            }
        }
        merged(found, SAME_CROSSING_M)
    }
}

/// Intervals in order, those that overlap or lie at most `gap_m` apart made one.
pub fn merged(mut intervals: Vec<Interval>, gap_m: f64) -> Vec<Interval> {
    intervals.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut out: Vec<Interval> = Vec::with_capacity(intervals.len());
    for (start, end) in intervals {
        match out.last_mut() {
            Some(last) if start <= last.1 + gap_m => last.1 = last.1.max(end),
            _ => out.push((start, end)),
        }
    }
    out
}

/// Turn of a line from square to the lane, degrees in -90..=90: the normal of the line that points
/// with the traffic is at `heading + turn`. The second value tells whether that normal points to the
/// right of the line.
pub fn skew_deg(heading_deg: f64, line_azimuth_deg: f64) -> (f64, bool) {
    let turn = turn_deg(heading_deg, line_azimuth_deg + 90.0);
    if turn.abs() <= 90.0 { (turn, true) } else { (turn - 180.0_f64.copysign(turn), false) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn eastward(length_m: f64, steps: usize) -> LanePath {
        let stations: Vec<Station> = (0..=steps)
            .map(|i| length_m * i as f64 / steps as f64)
            .map(|x| Station { at: Point::new(x, 0.0), along_m: x, heading_deg: 90.0, road_z_m: Some(x as f32) })
            .collect();
        LanePath::new(&stations).unwrap()
    }

    #[test]
    fn a_line_through_a_station_crosses_once() {
        let lane = eastward(100.0, 10);
        let found = lane.crossings(Point::new(50.0, -20.0), Point::new(50.0, 60.0));
        assert_eq!(found.len(), 1);
        assert!((found[0].along_m - 50.0).abs() < 1e-9);
        assert!((found[0].share - 0.25).abs() < 1e-9);
        assert!((found[0].place.road_z_m.unwrap() - 50.0).abs() < 1e-6);
        assert!(lane.crossings(Point::new(103.0, -5.0), Point::new(103.0, 5.0)).is_empty());
    }

    #[test]
    fn holes_are_outside() {
        let lane = eastward(100.0, 7);
        let square = |x0: f64, x1: f64, y: f64| {
            [(x0, -y), (x1, -y), (x1, y), (x0, y), (x0, -y)].map(|(x, y)| Point::new(x, y)).to_vec()
        };
        let inside = lane.inside(&[square(20.0, 80.0, 9.0), square(40.0, 60.0, 3.0)]);
        assert_eq!(inside.len(), 2);
        for (got, want) in inside.iter().zip([(20.0, 40.0), (60.0, 80.0)]) {
            assert!((got.0 - want.0).abs() < 1e-9 && (got.1 - want.1).abs() < 1e-9);
        }
    }

    #[test]
    fn skew_is_the_turn_of_the_normal_that_points_with_the_traffic() {
        // Driving east under a line that runs north: its right normal points east.
        assert_eq!(skew_deg(90.0, 0.0), (0.0, true));
        // The same line drawn southward.
        assert_eq!(skew_deg(90.0, 180.0), (0.0, false));
        // A line towards 30 degrees has its right normal at 120: 30 to the right of the heading.
        assert_eq!(skew_deg(90.0, 30.0), (30.0, true));
        assert_eq!(skew_deg(270.0, 30.0), (30.0, false));
    }
}
