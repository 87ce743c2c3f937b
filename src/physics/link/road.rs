//! A stroke of stretches laid out along distance and time, with everything overhead in its order.
use super::sky::CandidateRay;
use crate::physics::link::model::Stretch;
use crate::physics::scene::overheads::overhead::Overhead;
use crate::physics::sky::mask::Mask;

/// Slowest speed reckoned with, metres per second: keeps a speed of zero from stopping the clock.
const SLOWEST_MPS: f64 = 0.1;

/// One stretch at its place in the stroke.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Leg<'a> {
    /// The stretch itself.
    pub stretch: &'a Stretch,
    /// Where it starts, metres along the stroke.
    pub start_m: f64,
    /// When its start is passed, seconds of driving.
    pub start_s: f64,
    /// When its end is passed, seconds of driving.
    pub end_s: f64,
    /// Seconds per metre.
    pub pace_s_per_m: f64,
}

impl Leg<'_> {
    /// When a place of the stroke is passed at this leg's speed, seconds of driving.
    pub fn time_s(&self, stroke_m: f64) -> f64 {
        self.start_s + (stroke_m - self.start_m) * self.pace_s_per_m
    }
    /// Where the stroke stands at a time at this leg's speed, metres.
    pub(crate) fn place_m(&self, time_s: f64) -> f64 {
        self.start_m + (time_s - self.start_s) / self.pace_s_per_m
    }
    /// Length, metres; 0 where the stretch has none that can be driven.
    pub fn length_m(&self) -> f64 {
        if self.stretch.length_m.is_finite() { self.stretch.length_m.max(0.0) } else { 0.0 }
    }
    /// Driving time, seconds.
    pub(crate) fn duration_s(&self) -> f64 {
        self.end_s - self.start_s
    }
    /// Number of stations, at least one.
    pub fn stations(&self) -> usize {
        self.stretch.masks.len().max(1)
    }
    /// Mask of a station; `None` on a stretch without masks, which is open sky.
    pub fn mask(&self, station: usize) -> Option<&Mask> {
        self.stretch.masks.get(station)
    }
    /// Heading at a station, degrees; north where the stretch names none.
    pub fn heading_deg(&self, station: usize) -> f64 {
        let headings = &self.stretch.headings_deg;
        headings.get(station).or(headings.last()).map_or(0.0, |&h| f64::from(h))
    }
    /// When the mask of a station stops to hold, seconds of driving: halfway to the next one, or
    /// never for the last.
    pub(crate) fn station_end_s(&self, station: usize) -> f64 {
        let last = self.stations() - 1;
        if station >= last {
            return f64::INFINITY;
        }
        self.start_s + self.duration_s() * (station as f64 + 0.5) / last as f64
    }
}

/// Something overhead at its place in the stroke.
#[derive(Debug, Clone, Copy)]
pub struct Cover<'a> {
    /// What it is; its positions count from `origin_m`.
    pub overhead: &'a Overhead,
    /// Tangent of its skew, worked out once for all shadows.
    pub skew_tan: f64,
    /// Start of its stretch, metres along the stroke.
    pub origin_m: f64,
    /// First place, metres along the stroke, from which it can hide anything.
    pub from_m: f64,
    /// Last such place, metres along the stroke.
    pub to_m: f64,
}

/// A stroke ready to be driven.
#[derive(Debug, Clone)]
pub(crate) struct StrokeRoad<'a> {
    /// Its stretches in the order driven.
    pub legs: Vec<Leg<'a>>,
    /// What stands overhead, by the first place from which it can hide anything.
    pub covers: Vec<Cover<'a>>,
    /// From where to where, metres along the stroke, tunnels hide the whole sky, in order and apart.
    pub dark: Vec<(f64, f64)>,
}

impl Cover<'_> {
    /// From where to where, metres along the stroke, it hides a satellite.
    pub(super) fn shadow_m(&self, ray: &CandidateRay) -> Option<(f64, f64)> {
        let (from_m, to_m) = self.overhead.shadow_of(f64::from(ray.azimuth_deg), ray.per_height?, self.skew_tan)?;
        Some((self.origin_m + from_m, self.origin_m + to_m))
    }
}

impl<'a> StrokeRoad<'a> {
    /// Lays out a stroke for a sky that is used from an elevation on, degrees.
    pub fn new(stroke: &'a [Stretch], floor_deg: f64) -> Self {
        let (mut legs, mut covers, mut dark) = (Vec::with_capacity(stroke.len()), Vec::new(), Vec::new());
        let (mut start_m, mut start_s) = (0.0, 0.0);
        for stretch in stroke {
            let pace_s_per_m = 1.0 / stretch.speed_mps.max(SLOWEST_MPS);
            let mut leg = Leg { stretch, start_m, start_s, end_s: start_s, pace_s_per_m };
            leg.end_s += leg.length_m() * pace_s_per_m;
            legs.push(leg);
            covers.extend(stretch.overheads.iter().map(|overhead| {
                let reach_m = overhead.reach_m(floor_deg);
                Cover {
                    overhead,
                    skew_tan: overhead.skew_tan(),
                    origin_m: start_m,
                    from_m: start_m + overhead.start_m.min(overhead.end_m) - reach_m,
                    to_m: start_m + overhead.end_m.max(overhead.start_m) + reach_m,
                }
            }));
            let dark_here = stretch.overheads.iter().filter_map(|overhead| overhead.dark_m(floor_deg));
            dark.extend(dark_here.map(|(from_m, to_m)| (start_m + from_m, start_m + to_m)));
            start_m += leg.length_m();
            start_s = leg.end_s;
        }
        covers.sort_by(|a, b| a.from_m.total_cmp(&b.from_m));
        Self { legs, covers, dark: joined(dark) }
    }
    /// Driving time of the whole stroke, seconds.
    pub(crate) fn duration_s(&self) -> f64 {
        self.legs.last().map_or(0.0, |leg| leg.end_s)
    }
}

/// Spans in order, those that touch each other as one.
fn joined(mut spans: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut out: Vec<(f64, f64)> = Vec::with_capacity(spans.len());
    for (from, to) in spans {
        match out.last_mut() {
            Some(last) if from <= last.1 => last.1 = last.1.max(to),
            _ => out.push((from, to)),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_that_touch_are_joined() {
        let spans = vec![(5.0, 6.0), (0.0, 3.0), (1.0, 2.0), (3.0, 4.0), (5.5, 9.0)];
        assert_eq!(joined(spans), [(0.0, 4.0), (5.0, 9.0)]);
        assert_eq!(joined(vec![]), []);
    }
}
