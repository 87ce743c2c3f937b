//! Where a drive stands: borders at which what it sees may change.
//!
//! Between two borders the mask, the gap between crowns, the second of the timeline, the slot and the
//! speed are all the same, so a drive goes from border to border instead of by a fixed step.
use super::road::{Leg, StrokeRoad};

/// A moment of a drive.
#[derive(Debug, Clone)]
pub(super) struct DriveMoment<'a> {
    road: &'a StrokeRoad<'a>,
    /// Seconds of driving since the start of the stroke.
    pub time_s: f64,
    /// Index of the leg.
    pub leg: usize,
    /// Station of the leg whose mask holds.
    pub station: usize,
    /// Count of gap lengths driven, up to when it was last asked for.
    gap: u64,
    /// Second of the timeline, counted on beyond its end.
    pub second: u64,
    /// Slot, counted from the start of the timeline.
    pub slot: u64,
    gap_length_m: f64,
    gap_offset_m: f64,
    timeline_start_s: f64,
    slot_s: f64,
    station_end_s: f64,
    gap_end_s: f64,
    second_end_s: f64,
    slot_end_s: f64,
}

/// Which borders of stations and gaps a drive has to stop at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Heed {
    /// All of them.
    Every,
    /// The border behind that number of further stations; not those of gaps.
    StationsBehind(usize),
    /// None: only legs, seconds and slots end a piece, and no piece reaches farther.
    Seconds,
}

/// Which borders were passed.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct PassedBorders {
    /// A leg or a station began.
    pub station: bool,
    /// A second of the timeline began.
    pub second: bool,
    /// A slot began.
    pub slot: bool,
}

impl<'a> DriveMoment<'a> {
    /// The start of a road, `timeline_start_s` into the timeline. Lengths and times must be above zero; the
    /// first gap is cut short by `gap_offset_m`.
    pub fn start(
        road: &'a StrokeRoad<'a>,
        timeline_start_s: f64,
        slot_s: f64,
        gap_length_m: f64,
        gap_offset_m: f64,
    ) -> Self {
        let mut place = Self {
            road,
            time_s: 0.0,
            leg: 0,
            station: 0,
            gap: 0,
            second: timeline_start_s as u64,
            slot: (timeline_start_s / slot_s) as u64,
            gap_length_m,
            gap_offset_m,
            timeline_start_s,
            slot_s,
            station_end_s: 0.0,
            gap_end_s: 0.0,
            second_end_s: 0.0,
            slot_end_s: 0.0,
        };
        place.second_end_s = place.second_end_s();
        place.slot_end_s = place.slot_end_s();
        place.enter_leg();
        place
    }
    /// The leg driven; `None` at the end of the road.
    pub(crate) fn leg(&self) -> Option<&'a Leg<'a>> {
        self.road.legs.get(self.leg)
    }
    /// Count of gap lengths driven. Few moments need it, so it is counted on only when asked for.
    pub fn gap(&mut self) -> u64 {
        let now_s = self.time_s;
        self.pass_gaps(|gap_end_s| gap_end_s <= now_s);
        self.gap
    }
    /// When the next border that is heeded is passed, seconds of driving; never before now. Where gaps are heeded they have
    /// to be counted up to now.
    pub(crate) fn next_s(&self, heed: Heed) -> f64 {
        let Some(leg) = self.leg() else { return self.time_s };
        let place_s = match heed {
            Heed::Every => self.station_end_s.min(self.gap_end_s),
            Heed::StationsBehind(0) => self.station_end_s,
            Heed::StationsBehind(further) => leg.station_end_s(self.station.saturating_add(further)),
            Heed::Seconds => f64::INFINITY,
        };
        leg.end_s.min(place_s).min(self.second_end_s.min(self.slot_end_s)).max(self.time_s)
    }
    /// Passes every border up to now; those of gaps are left to [`DriveMoment::gap`].
    pub fn pass(&mut self) -> PassedBorders {
        let mut passed = PassedBorders::default();
        if let Some(leg) = self.leg().filter(|leg| leg.end_s <= self.time_s) {
            passed.station = true;
            // Gaps that were not counted end by the clock of the leg they lie on; the next one's may round otherwise.
            self.pass_gaps(|gap_end_s| gap_end_s < leg.end_s);
            while self.leg().is_some_and(|leg| leg.end_s <= self.time_s) {
                self.leg += 1;
            }
            self.station = 0;
            self.enter_leg();
        }
        while self.station_end_s <= self.time_s {
            passed.station = true;
            self.station += 1;
            self.station_end_s = self.leg().map_or(f64::INFINITY, |leg| leg.station_end_s(self.station));
        }
        while self.second_end_s <= self.time_s {
            passed.second = true;
            self.second += 1;
            self.second_end_s = self.second_end_s();
        }
        while self.slot_end_s <= self.time_s {
            passed.slot = true;
            self.slot += 1;
            self.slot_end_s = self.slot_end_s();
        }
        passed
    }

    fn pass_gaps(&mut self, is_passed: impl Fn(f64) -> bool) {
        while is_passed(self.gap_end_s) {
            self.gap += 1;
            self.gap_end_s = self.gap_end_s();
        }
    }
    fn enter_leg(&mut self) {
        self.station_end_s = self.leg().map_or(f64::INFINITY, |leg| leg.station_end_s(self.station));
        self.gap_end_s = self.gap_end_s();
    }
    fn gap_end_s(&self) -> f64 {
        let end_m = (self.gap + 1) as f64 * self.gap_length_m - self.gap_offset_m;
        self.leg().map_or(f64::INFINITY, |leg| leg.time_s(end_m))
    }
    fn second_end_s(&self) -> f64 {
        (self.second + 1) as f64 - self.timeline_start_s
    }
    fn slot_end_s(&self) -> f64 {
        (self.slot + 1) as f64 * self.slot_s - self.timeline_start_s
    }
}
