//! The drive of a day, with the clock of the plan: where one is when, and its worst stretches.
use crate::ask::corridor::{Corridor, DrivenOutage, Piece, numbered_outages};
use crate::ask::plan::{DriveRisk, Driving, Part};
use crate::ask::trip::TripDay;
use crate::base::geodesy::{along, length_m};
use crate::base::words::HowTold;
use crate::report::words::WORST;

/// A part of the drive between two stops: seconds since 1970-01-01 UTC, and seconds at the wheel.
struct DriveLeg {
    from_s: f64,
    to_s: f64,
    wheel_from_s: f64,
    wheel_to_s: f64,
}

/// The drive.
pub(super) struct DayDriven<'a> {
    /// Pieces, as driven.
    pub pieces: &'a [Piece],
    /// The same by seconds at the wheel.
    pub drive: DriveRisk,
    legs: Vec<DriveLeg>,
    /// Outages, as driven, with their numbers on the map where they are among the worst.
    pub outages: Vec<(&'a DrivenOutage, Option<usize>)>,
    /// Outages left out: none is longer than the most demanding meeting tolerates.
    pub short: usize,
    /// How long that is, seconds.
    pub tolerated_s: f64,
    /// How people are told it.
    pub shown: HowTold,
}

impl<'a> DayDriven<'a> {
    pub fn new(day: &'a TripDay, driving: &Driving, shown: HowTold) -> Self {
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
        let outages = numbered(&day.corridor);
        let short = day.corridor.outages.len() - outages.len();
        Self { pieces, drive, legs, outages, short, tolerated_s: day.corridor.tolerated_s[0], shown }
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
    /// The worst outages, as driven.
    pub fn worst(&self) -> impl Iterator<Item = (usize, &DrivenOutage)> {
        self.outages.iter().filter_map(|(s, number)| number.map(|n| (n, *s)))
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
        along(&piece.line, share.clamp(0.0, 1.0) * length_m(&piece.line))
    }
}

/// The worst get numbers, in the order driven.
fn numbered(drive: &Corridor) -> Vec<(&DrivenOutage, Option<usize>)> {
    let order = numbered_outages(drive, WORST);
    let number = |nth: usize| order.binary_search(&nth).ok().map(|n| n + 1);
    let matter = drive.outages.iter().enumerate().filter(|(_, o)| drive.matters(o));
    matter.map(|(nth, outage)| (outage, number(nth))).collect()
}
