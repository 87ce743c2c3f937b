//! A long track driven over several days: each ends at a place for the night, as late as the hours of driving allow.
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

use super::cut::too_many_departures;
use super::ends::{Compared, DayEndPlace, NightJudge, breaks_s, cheapest, is_for_the_night, latest_s};
use super::halts::{halt, may_halt, reachable};
use super::question::PlanRoad;
use super::split::split;
use super::trip::Planner;
use crate::ask::corridor::Corridor;
use crate::ask::plan::{DriveRisk, Halt, Part};
use crate::ask::simulate::MeetingSimulator;
use crate::ask::track::Track;
use crate::ask::trip::TripDay;
use crate::base::count::counted;
use crate::base::error::{Error, Result};
use crate::base::words::{Roofed, StopReason};

/// Most days of a trip that is cut by the hours.
const MOST_DAYS: usize = 60;
/// Places of a day tried as its end, each nearer than the one before.
const MOST_TRIED: usize = 4;

/// A day that ends at a place, with what is left of the track.
struct CutDay {
    day: TripDay,
    left: Track,
    road_left: Corridor,
    place: Halt,
    compared: usize,
    is_near_end: bool,
}

/// A day, and of how many places its end was chosen, where the program chose it.
pub(super) type DayOfHours = (TripDay, Option<usize>);

impl Planner<'_> {
    /// Plans the days of a track.
    pub(super) fn by_hours(&mut self, track: Track) -> Result<Vec<DayOfHours>> {
        let mut days: Vec<DayOfHours> = Vec::new();
        let (given, mut rest, mut road) = (self.question.departs.len(), track, None);
        while days.len() < MOST_DAYS {
            let depart = self.departure(days.len())?;
            self.check_hours(depart)?;
            let corridor = road.take().map_or_else(|| self.road(rest.clone()), Ok)?;
            let local = depart.to_zoned(self.question.zone.clone());
            let (driving, departure) = (&self.question.settings.driving, &self.question.settings.departure);
            let latest_s = latest_s(driving, departure.arrive_by, &local);
            let driven_s = DriveRisk::of(&corridor, driving).length_s();
            if driven_s <= latest_s {
                let before = self.saved();
                let whole = self.planned(depart, corridor.clone(), None);
                if whole.as_ref().is_ok_and(ends_in_a_day) || days.is_empty() && whole.is_err() {
                    if days.len() + 1 < given {
                        return Err(too_many_departures(given, days.len() + 1));
                    }
                    days.push((whole?, None));
                    return Ok(days);
                }
                self.restore(before);
            }
            match self.cut_day(depart, self.departure(days.len() + 1)?, &corridor, &rest, latest_s.min(driven_s))? {
                Some(CutDay { mut day, left, road_left, place, compared, is_near_end }) => {
                    let of = match is_near_end {
                        true => format!(
                            "of {} for the night in the last part of its hours of driving",
                            counted(compared, "place")
                        ),
                        false => format!(
                            "the last part of its hours of driving has no place for the night; of {} before it",
                            counted(compared, "place")
                        ),
                    };
                    let (name, at) = (&place.name, self.question.shown.units.at(place.at_km));
                    let why =
                        format!("the day ends at {name}, {at}: {of} it costs least by its sky and the meetings there");
                    day.plan.notes.insert(0, why);
                    if days.len() >= given {
                        let time = self.question.shown.dial.time(local.time());
                        day.plan.notes.insert(
                            1,
                            format!("no departure is given for this day: it leaves at {time}, as the last one given"),
                        );
                    }
                    days.push((day, Some(compared)));
                    (rest, road) = (left, Some(road_left));
                }
                // Nowhere to stay: one plan for all that is left, with the nights it finds by itself.
                None => {
                    if days.len() + 1 < given {
                        return Err(too_many_departures(given, days.len() + 1));
                    }
                    let mut day = self.planned(depart, corridor, None)?;
                    if driven_s > latest_s {
                        day.plan.notes.insert(0, NO_PLACE.to_owned());
                    }
                    days.push((day, None));
                    return Ok(days);
                }
            }
        }
        let next = "cut the track into several trips";
        Err(Error::failed("the trip", format!("takes more than {MOST_DAYS} days"), next))
    }
    /// When a day begins: as given, else at the clock time of the last one given.
    fn departure(&self, nth: usize) -> Result<Timestamp> {
        let departs = &self.question.departs;
        if let Some(given) = departs.get(nth) {
            return Ok(*given);
        }
        let zone: &TimeZone = &self.question.zone;
        let last = departs.last().copied().unwrap_or_default().to_zoned(zone.clone());
        let days = (nth + 1 - departs.len()) as i64;
        let then = last.date().checked_add(days.days()).and_then(|d| d.to_datetime(last.time()).to_zoned(zone.clone()));
        then.map(|t| t.timestamp()).map_err(|e| Error::failed("the trip", e.to_string(), "leave earlier"))
    }
    /// The first part of a track as a day, and what is left; nothing where no place for the night lets the day keep its rules.
    fn cut_day(
        &mut self,
        depart: Timestamp,
        next: Timestamp,
        corridor: &Corridor,
        rest: &Track,
        latest_s: f64,
    ) -> Result<Option<CutDay>> {
        let by_places = matches!(self.question.road, PlanRoad::Way(_));
        let mut latest_s = latest_s;
        for _ in 0..MOST_TRIED {
            let Some(DayEndPlace { halt, compared, is_near_end, .. }) =
                self.place_for_the_night(depart, next, corridor, latest_s)?
            else {
                return Ok(None);
            };
            let before = self.saved();
            // A part that cannot be driven by itself, or planned, does not do; the next place may.
            let cut = split(rest, corridor, halt.at_km, by_places);
            let roads =
                cut.and_then(|(first, left)| Some((self.road(first).ok()?, self.road(left.clone()).ok()?, left)));
            if let Some((own, road_left, left)) = roads
                && let Ok(day) = self.planned(depart, own, Some(halt.clone()))
                && ends_in_a_day(&day)
            {
                return Ok(Some(CutDay { day, left, road_left, place: halt, compared, is_near_end }));
            }
            self.restore(before);
            // Too far for what the day holds besides driving: the next lies before it.
            let driving = &self.question.settings.driving;
            latest_s = 0.95 * DriveRisk::of(corridor, driving).seconds_at(halt.at_km);
        }
        Ok(None)
    }
    /// The best place where the day may end.
    fn place_for_the_night(
        &self,
        depart: Timestamp,
        next: Timestamp,
        corridor: &Corridor,
        latest_s: f64,
    ) -> Result<Option<DayEndPlace>> {
        let settings = &self.question.settings;
        let drive = DriveRisk::of(corridor, &settings.driving);
        let stops = reachable(self.layer, corridor, &settings.stopping)?;
        let stays = stops
            .iter()
            .filter(|s| may_halt(s) && s.roofed == Roofed::No && is_for_the_night(s.kind, &settings.nights));
        let simulator = MeetingSimulator::new(self.layer, &corridor.pieces, &drive.begins_s)?;
        let middle = corridor.pieces.get(corridor.pieces.len() / 2).map_or(0.0, |p| p.lat_deg);
        let judge = NightJudge::of(self.layer, settings, &simulator, middle);
        let meetings = self.meetings.between(depart, next);
        let wheel_s = |h: &Halt| drive.seconds_at(h.at_km);
        let arrive_s = |h: &Halt| depart.as_second() + (wheel_s(h) + breaks_s(&settings.driving, wheel_s(h))) as i64;
        let cost = |h: &Halt| judge.cost_min(h, &meetings, (arrive_s(h), next.as_second()));
        let earliest_s = latest_s - settings.nights.look_back_min * 60.0;
        // Nobody calls it a day to drive round the corner.
        let least_s = settings.nights.least_day * latest_s;
        let places = stays.map(halt).map(|h| (wheel_s(&h), h)).filter(|(at_s, _)| *at_s >= least_s).collect();
        cheapest(places, (earliest_s, latest_s), &Compared { least: |h: &Halt| judge.least_min(h), cost })
    }
}

/// Said where a day is longer than its hours and nobody knows where to stay.
const NO_PLACE: &str = "this drive is longer than the hours of one day, and no place for the night was found along it that lets the \
                        day keep its rules; give a track that is cut into days";

/// Whether a day keeps its rules and ends on its date.
fn ends_in_a_day(day: &TripDay) -> bool {
    let night = |part: &Part| matches!(part, Part::Stop { why: StopReason::Night, .. });
    day.plan.rules_kept && !day.plan.chosen.parts.iter().any(night)
}
