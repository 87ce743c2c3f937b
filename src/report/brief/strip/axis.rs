//! Time downwards: seconds since 1970-01-01 UTC to user units.
use crate::ask::plan::{Itinerary, Part};

/// Room for the heads of the columns, user units.
pub(super) const TOP: f64 = 40.0;
/// User units per hour, and the lowest and highest strip.
const PER_HOUR: f64 = 200.0;
const HEIGHTS: (f64, f64) = (400.0, 780.0);
/// A stop longer than this is drawn as long as this: nights would leave no room for the road, seconds.
const LONGEST_STOP_S: f64 = 5_400.0;
/// The same for the time before leaving and after arriving in which meetings are held: seconds, and share of the day.
const LONGEST_END: (f64, f64) = (1_800.0, 0.3);

/// A span of time drawn shorter than it is is worth a word where more than this is left out.
const JUMP_S: f64 = 300.0;

/// Piecewise straight: moments and their places.
pub(super) struct Axis {
    knots: Vec<(f64, f64)>,
    jumps: Vec<Jump>,
}

/// A span of time that is drawn shorter than the rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Jump {
    /// Begin and end, seconds since 1970-01-01 UTC.
    pub span_s: (f64, f64),
    /// Where it is drawn.
    pub y: (f64, f64),
}

impl Axis {
    /// The axis of a day, from its first to its last moment, meetings before and after the drive included.
    pub fn new(day: &Itinerary) -> Self {
        let (depart, arrive) = (day.depart.unix_s() as f64, day.arrive.unix_s() as f64);
        let first = day.meetings.iter().map(|m| m.start.unix_s() as f64).fold(depart, f64::min);
        let last = day.meetings.iter().map(|m| m.end.unix_s() as f64).fold(arrive, f64::max);
        let longest_s = LONGEST_END.0.min(LONGEST_END.1 * (arrive - depart));
        let mut spans: Vec<(f64, f64)> = vec![(first, longest_s.min(depart - first))];
        for part in &day.parts {
            let (from, to, most) = match part {
                Part::Drive { from, to, .. } => (from, to, f64::INFINITY),
                Part::Stop { from, to, .. } => (from, to, LONGEST_STOP_S),
            };
            let (from, to) = (from.unix_s() as f64, to.unix_s() as f64);
            spans.push((from, (to - from).clamp(0.0, most)));
        }
        spans.push((arrive, longest_s.min(last - arrive)));
        let drawn_s: f64 = spans.iter().map(|s| s.1).sum::<f64>().max(1.0);
        let height = (drawn_s / 3_600.0 * PER_HOUR).clamp(HEIGHTS.0, HEIGHTS.1);
        let mut y = TOP;
        let mut knots = Vec::with_capacity(spans.len() + 1);
        let ends: Vec<f64> = spans.iter().skip(1).map(|s| s.0).chain([last]).collect();
        let mut jumps = Vec::new();
        for ((at_s, shown_s), end_s) in spans.into_iter().zip(ends) {
            knots.push((at_s, y));
            let from = y;
            y += shown_s / drawn_s * height;
            if end_s - at_s - shown_s >= JUMP_S {
                jumps.push(Jump { span_s: (at_s, end_s), y: (from, y) });
            }
        }
        knots.push((last, y));
        Self { knots, jumps }
    }
    /// Place of a moment; moments outside are put at the ends.
    pub fn y(&self, at_s: f64) -> f64 {
        let next = self.knots.partition_point(|k| k.0 <= at_s);
        match (next.checked_sub(1).map(|i| self.knots[i]), self.knots.get(next)) {
            (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (at_s - a.0) / (b.0 - a.0).max(1e-9),
            (Some(a), None) => a.1,
            (None, _) => TOP,
        }
    }
    /// Where the scale jumps.
    pub fn jumps(&self) -> &[Jump] {
        &self.jumps
    }
    /// First and last moment.
    pub(crate) fn ends_s(&self) -> (f64, f64) {
        (self.knots.first().map_or(0.0, |k| k.0), self.knots.last().map_or(0.0, |k| k.0))
    }
    /// Lowest place.
    pub fn bottom(&self) -> f64 {
        self.knots.last().map_or(TOP, |k| k.1)
    }
}
