//! What a day is made from, and the hours in which one drives.
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

use super::halt::Halt;
use super::kind::{Kind, Meeting};
use super::risk::{DriveRisk, standing_per_s};
use super::rules::Rules;
use crate::base::words::{HowTold, Roofed};
use crate::profile::RatingEdges;

/// One day of a trip.
#[derive(Debug, Clone)]
pub struct Day<'a> {
    /// The drive.
    pub drive: &'a DriveRisk,
    /// Places to stop along it, in order.
    pub halts: &'a [Halt],
    /// Meetings, in any order.
    pub meetings: &'a [Meeting],
    /// Rules.
    pub rules: &'a Rules,
    /// Edges of ratings: what kinds of meetings tolerate.
    pub edges: &'a RatingEdges,
    /// Usable satellites expected where the whole usable sky is open.
    pub usable: f64,
    /// Departure asked for, seconds since 1970-01-01 UTC.
    pub depart_s: i64,
    /// Zone of the traveller.
    pub zone: &'a TimeZone,
    /// How the traveller is told figures.
    pub shown: HowTold,
    /// Where the day begins and ends.
    pub ends: [DayEnd<'a>; 2],
}

/// Where a day begins or ends.
#[derive(Debug, Clone, Copy)]
pub struct DayEnd<'a> {
    /// What is known of the sky there.
    pub sky: EndSky<'a>,
}

/// What is known of the sky where a day begins or ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EndSky<'a> {
    /// A place of the map.
    Place(&'a Halt),
    /// That over the road there, with its share of open sky: the map has no place to stand.
    Road(f64),
    /// Nothing: none of the layer's roads leads there.
    Unknown,
}

/// A place this far from an end of the road, along it and off it, is where one stands there, metres.
pub(super) const AT_END_M: f64 = 200.0;

impl<'a> DayEnd<'a> {
    /// The end of a road at some kilometre: its nearest place, else the road itself where that is known.
    pub fn at(km: f64, places: &'a [Halt], road_open: Option<f64>) -> Self {
        let far_m = |h: &Halt| (h.at_km - km).abs() * 1e3;
        // Where a roof is not known its sky is not, either.
        let seen = places.iter().filter(|h| h.roof != Roofed::Unknown);
        let near = seen.filter(|h| far_m(h) <= AT_END_M && h.off_road_m <= AT_END_M);
        let place = near.min_by(|a, b| (far_m(a) + a.off_road_m).total_cmp(&(far_m(b) + b.off_road_m)));
        let road = road_open.map_or(EndSky::Unknown, EndSky::Road);
        Self { sky: place.filter(|_| road_open.is_some()).map_or(road, EndSky::Place) }
    }
    /// The place of the map there, if any.
    pub(crate) fn place(&self) -> Option<&'a Halt> {
        match self.sky {
            EndSky::Place(place) => Some(place),
            EndSky::Road(_) | EndSky::Unknown => None,
        }
    }
    /// Share of open sky on the vehicle and at the best place for the panel; nothing where it is not known.
    pub(crate) fn open_shares(&self) -> Option<[f64; 2]> {
        match self.sky {
            EndSky::Place(h) => Some([h.open_share, h.best_open_share.max(h.open_share)]),
            EndSky::Road(open) => Some([open; 2]),
            EndSky::Unknown => None,
        }
    }
}

impl Day<'_> {
    /// Rate of outages that a kind does not tolerate, at rest under an open share, per second.
    pub fn standing_per_s(&self, kind: Kind, open_share: f64) -> f64 {
        standing_per_s(kind.stands_s(self.edges), open_share, self.usable)
    }
    /// Time to put the panel out, whole seconds.
    pub(crate) fn set_up_s(&self) -> i64 {
        (self.rules.stopping.set_up_min * 60.0).ceil() as i64
    }
    /// Time to pack up, whole seconds.
    pub(crate) fn pack_up_s(&self) -> i64 {
        (self.rules.stopping.pack_up_min * 60.0).ceil() as i64
    }
    /// The place to which one leaves the road after a time at the wheel, seconds, if any.
    pub(crate) fn halt_at(&self, wheel_s: f64) -> Option<usize> {
        self.halts.iter().position(|h| (self.drive.seconds_at(h.at_km) - wheel_s).abs() < 1e-6)
    }
    /// Whether driving from one moment to another keeps to the hours of driving, and to one day.
    pub(crate) fn in_driving_hours(&self, from_s: i64, to_s: i64) -> bool {
        let (Some(from), Some(to)) = (self.local(from_s), self.local(to_s)) else { return false };
        let hours = &self.rules.driving;
        from.date() == to.date() && from.time() >= hours.from && to.time() <= hours.to
    }
    /// Whether an arrival is in time.
    pub(crate) fn in_time(&self, arrive_s: i64) -> bool {
        let Some(by) = self.rules.departure.arrive_by else { return true };
        let Some(asked) = self.local(self.depart_s) else { return false };
        let latest = asked.date().to_datetime(by).to_zoned(self.zone.clone());
        latest.is_ok_and(|l| arrive_s <= l.timestamp().as_second())
    }
    /// When driving begins on the next day.
    pub(crate) fn next_morning_s(&self, now_s: i64) -> Option<i64> {
        let tomorrow = self.local(now_s)?.date().checked_add(1.day()).ok()?;
        let morning = tomorrow.to_datetime(self.rules.driving.from).to_zoned(self.zone.clone()).ok()?;
        Some(morning.timestamp().as_second())
    }
    fn local(&self, at_s: i64) -> Option<jiff::Zoned> {
        Timestamp::from_second(at_s).ok().map(|t| t.to_zoned(self.zone.clone()))
    }
}
