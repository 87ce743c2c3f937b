//! The drive of a day, with the clock of the plan: where one is when, and its worst stretches.
use crate::ask::corridor::Piece;
use crate::ask::plan::{DriveRisk, Driving, Part};
use crate::ask::trip::TripDay;
use crate::base::words::{Cause, Rating};

/// A part of the drive between two stops: seconds since 1970-01-01 UTC, and seconds at the wheel.
struct DriveLeg {
    from_s: f64,
    to_s: f64,
    wheel_from_s: f64,
    wheel_to_s: f64,
}

/// Pieces in a row with one rating and one cause.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RatedStretch {
    /// First of its pieces.
    pub first: usize,
    /// One after the last.
    pub end: usize,
    /// Kilometres at its begin.
    pub at_km: f64,
    /// Length, metres.
    pub length_m: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// Largest 95th percentile outage, seconds.
    pub outage_p95_s: f64,
    /// Rating.
    pub rating: Rating,
    /// Main cause.
    pub cause: Cause,
    /// Number on the map, where it is one of the worst.
    pub number: Option<usize>,
}

/// The drive.
pub(super) struct DayDriven<'a> {
    /// Pieces, as driven.
    pub pieces: &'a [Piece],
    /// The same by seconds at the wheel.
    pub drive: DriveRisk,
    legs: Vec<DriveLeg>,
    /// Stretches worse than steady, as driven.
    pub stretches: Vec<RatedStretch>,
}

impl<'a> DayDriven<'a> {
    pub fn new(day: &'a TripDay, driving: &Driving) -> Self {
        let pieces = &day.corridor.pieces[..];
        let drive = DriveRisk::of(&day.corridor, driving);
        let legs = day.plan.chosen.parts.iter().filter_map(|part| match part {
            Part::Drive { from, to, wheel_s, .. } => Some(DriveLeg {
                from_s: from.unix_s() as f64,
                to_s: to.unix_s() as f64,
                wheel_from_s: wheel_s.0,
                wheel_to_s: wheel_s.1,
            }),
            Part::Stop { .. } => None,
        });
        let legs = legs.collect();
        let stretches = stretches(pieces, &drive);
        Self { pieces, drive, legs, stretches }
    }
    /// The moment after a time at the wheel (seconds), in seconds since 1970-01-01 UTC.
    pub fn moment(&self, wheel_s: f64) -> f64 {
        let leg = self.legs.iter().find(|l| wheel_s <= l.wheel_to_s).or(self.legs.last());
        leg.map_or(0.0, |l| {
            let share = (wheel_s - l.wheel_from_s) / (l.wheel_to_s - l.wheel_from_s).max(1e-9);
            l.from_s + share.clamp(0.0, 1.0) * (l.to_s - l.from_s)
        })
    }
    /// Begin and end of a piece, seconds since 1970-01-01 UTC.
    pub fn moments(&self, piece: usize) -> (f64, f64) {
        let begin_s = self.drive.begins_s[piece];
        // A hair inside, so that a piece before a stop does not end after it.
        (self.moment(begin_s + 1e-6), self.moment(begin_s + self.pieces[piece].time_s - 1e-6))
    }
    /// The worst stretches, as driven.
    pub fn worst(&self) -> impl Iterator<Item = (usize, &RatedStretch)> {
        self.stretches.iter().filter_map(|s| s.number.map(|n| (n, s)))
    }
    /// Pieces driven between two places, kilometres from the start.
    pub fn between(&self, from_km: f64, to_km: f64) -> impl Iterator<Item = &Piece> {
        self.pieces.iter().zip(&self.drive.begins_s).filter_map(move |(p, begin_s)| {
            let at_km = self.drive.km_at(*begin_s);
            (at_km + p.length_m / 1e3 > from_km && at_km < to_km).then_some(p)
        })
    }
    /// Where one is after a distance, kilometres.
    pub fn place(&self, km: f64) -> Option<crate::base::geodesy::Position> {
        let wheel_s = self.drive.seconds_at(km);
        let i = self.drive.begins_s.partition_point(|b| *b <= wheel_s).checked_sub(1)?;
        let piece = self.pieces.get(i)?;
        let share = (wheel_s - self.drive.begins_s[i]) / piece.time_s.max(1e-9);
        along(&piece.line, share.clamp(0.0, 1.0))
    }
}

/// The point at a share of a line's length.
pub(super) fn along(line: &[crate::base::geodesy::Position], share: f64) -> Option<crate::base::geodesy::Position> {
    use crate::base::geodesy::{LocalPlane, distance_m, length_m};
    let mut left_m = share * length_m(line);
    for pair in line.windows(2) {
        let step_m = distance_m(pair[0], pair[1]);
        if left_m <= step_m {
            let plane = LocalPlane::at_position(pair[0]);
            let (a, b) = (plane.to_plane(pair[0]), plane.to_plane(pair[1]));
            return Some(plane.to_position(a.towards(b, left_m / step_m.max(1e-9))));
        }
        left_m -= step_m;
    }
    line.last().copied()
}

/// Numbered stretches of a day.
const WORST: usize = 10;

fn stretches(pieces: &[Piece], drive: &DriveRisk) -> Vec<RatedStretch> {
    let mut out: Vec<RatedStretch> = Vec::new();
    for (i, p) in pieces.iter().enumerate().filter(|(_, p)| p.rating > Rating::Steady) {
        if let Some(s) = out.last_mut()
            && s.end == i
            && (s.rating, s.cause) == (p.rating, p.cause)
            && pieces[i - 1].drive == p.drive
        {
            s.end = i + 1;
            s.length_m += p.length_m;
            s.outage_s += p.outage_s;
            s.outage_p95_s = s.outage_p95_s.max(p.outage_p95_s);
            continue;
        }
        out.push(RatedStretch {
            first: i,
            end: i + 1,
            at_km: drive.km_at(drive.begins_s[i]),
            length_m: p.length_m,
            outage_s: p.outage_s,
            outage_p95_s: p.outage_p95_s,
            rating: p.rating,
            cause: p.cause,
            number: None,
        });
    }
    number(&mut out);
    out
}

/// The worst get numbers, in the order driven.
fn number(stretches: &mut [RatedStretch]) {
    let mut order: Vec<usize> = (0..stretches.len()).collect();
    order.sort_by(|a, b| {
        let (a, b) = (&stretches[*a], &stretches[*b]);
        let by_outage_s = b.outage_s.total_cmp(&a.outage_s);
        b.rating
            .cmp(&a.rating)
            .then(by_outage_s)
            .then(b.outage_p95_s.total_cmp(&a.outage_p95_s))
            .then(a.first.cmp(&b.first))
    });
    order.truncate(WORST);
    order.sort_unstable();
    for (n, i) in order.into_iter().enumerate() {
        stretches[i].number = Some(n + 1);
    }
}
