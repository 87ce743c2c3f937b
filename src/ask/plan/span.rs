//! What one does from one moment to the next, and what that does to a meeting.
use super::day::Day;
use super::kind::Kind;

/// What one does meanwhile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Doing {
    /// Not left yet.
    BeforeTrip,
    /// Driving; seconds at the wheel along the road at begin and end. What is left of the span is driven off the road, half
    /// of it at either end.
    Driving {
        /// At the start.
        wheel_from_s: f64,
        /// At the end.
        wheel_to_s: f64,
        /// Off the road before that, seconds.
        off_road_s: f64,
    },
    /// At a stop, with the panel on the vehicle until `out_s`, beside it from then on.
    Stopped {
        /// Place in the day's list.
        halt: usize,
        /// When the panel is put out; never where that is after the span.
        out_s: i64,
    },
    /// Arrived.
    AfterTrip,
}

/// A span of time, seconds since 1970-01-01 UTC.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Begin.
    pub from_s: i64,
    /// End.
    pub to_s: i64,
    /// What one does.
    pub doing: Doing,
}

/// What a span does to a meeting of a kind.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Toll {
    /// Hazard of outages that the kind does not tolerate.
    pub long_outages: f64,
    /// What the probability of one is at most.
    pub bound: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
}

impl Span {
    /// The part of it between two moments, seconds.
    pub fn overlap(&self, from_s: i64, to_s: i64) -> Option<(i64, i64)> {
        let (a, b) = (self.from_s.max(from_s), self.to_s.min(to_s));
        (a < b).then_some((a, b))
    }
    /// What it does to a meeting between two moments.
    pub(crate) fn toll(&self, day: &Day, kind: Kind, from_s: i64, to_s: i64) -> Toll {
        let Some((a, b)) = self.overlap(from_s, to_s) else { return Toll::default() };
        match self.doing {
            // The panel is taken in before one leaves, and put out after one has arrived.
            Doing::BeforeTrip => {
                let in_s = (self.to_s - day.pack_up_s()).clamp(a, b);
                at_end(day, kind, 0, [(b - in_s) as f64, (in_s - a) as f64])
            }
            Doing::AfterTrip => {
                let out_s = (self.from_s + day.set_up_s()).clamp(a, b);
                at_end(day, kind, 1, [(out_s - a) as f64, (b - out_s) as f64])
            }
            Doing::Driving { .. } => {
                let (from, to) = (self.wheel_at(a), self.wheel_at(b));
                Toll {
                    long_outages: day.drive.long_outages(kind, from, to),
                    bound: day.drive.bound(kind, from, to),
                    outage_s: day.drive.outage_s(from, to),
                }
            }
            Doing::Stopped { halt, out_s } => {
                let (out_s, in_s) = self.panel_out_s(day, out_s, (a, b));
                let place = &day.halts[halt];
                let best_open = place.best_open_share.max(place.open_share);
                at_rest(day, kind, place.open_share, (out_s - a + b - in_s) as f64).and(at_rest(
                    day,
                    kind,
                    best_open,
                    (in_s - out_s) as f64,
                ))
            }
        }
    }
    /// From when to when, between two moments of a stop, the panel stands beside the vehicle: what is put out is packed up before
    /// one leaves.
    pub(crate) fn panel_out_s(&self, day: &Day, out_s: i64, (from_s, to_s): (i64, i64)) -> (i64, i64) {
        if out_s >= self.to_s {
            return (to_s, to_s);
        }
        let out = out_s.clamp(from_s, to_s);
        (out, self.to_s.saturating_sub(day.pack_up_s()).clamp(out, to_s))
    }
    /// Seconds at the wheel along the road at a moment of a drive; the road's ends while off it.
    pub(crate) fn wheel_at(&self, at_s: i64) -> f64 {
        match self.doing {
            Doing::Driving { wheel_from_s, wheel_to_s, off_road_s } => {
                (wheel_from_s + (at_s - self.from_s) as f64 - off_road_s).clamp(wheel_from_s, wheel_to_s)
            }
            _ => 0.0,
        }
    }
}

impl Toll {
    fn and(self, other: Self) -> Self {
        Self {
            long_outages: self.long_outages + other.long_outages,
            bound: self.bound + other.bound,
            outage_s: self.outage_s + other.outage_s,
        }
    }
}

/// At an end of the day, seconds with the panel on the vehicle and at its best place; what is not known counts as an outage.
fn at_end(day: &Day, kind: Kind, end: usize, [on_vehicle_s, at_best_s]: [f64; 2]) -> Toll {
    match day.ends[end].open_shares() {
        Some([on_vehicle, at_best]) => {
            at_rest(day, kind, on_vehicle, on_vehicle_s).and(at_rest(day, kind, at_best, at_best_s))
        }
        None => Toll { long_outages: f64::INFINITY, bound: 1.0, outage_s: on_vehicle_s + at_best_s },
    }
}

/// A sky that holds no satellite for a share of the time has no link for it.
fn at_rest(day: &Day, kind: Kind, open_share: f64, seconds: f64) -> Toll {
    let nobody = (-day.usable.max(0.0) * open_share.clamp(0.0, 1.0)).exp();
    let expected = seconds * day.standing_per_s(kind, open_share);
    Toll { long_outages: expected, bound: expected, outage_s: seconds * nobody }
}
