//! From a layer and a trip to the plan of every day.
use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::cut::{CutTrack, cut};
use super::halts::{halts, reachable};
use super::meetings::{DayMeetings, MeetingsLeft};
use super::nights::add_nights;
use super::question::{PlanQuestion, PlanRoad};
use crate::ask::battery;
use crate::ask::corridor::{Corridor, CorridorQuestion, corridor};
use crate::ask::place::expected_under_open_sky;
use crate::ask::plan::{DayQuestion, DriveRisk, Driving, Halt, Kind, NoPlan, SEARCHES, plan_day};
use crate::ask::route::one_way;
use crate::ask::simulate::MeetingSimulator;
use crate::ask::source::Source;
use crate::ask::track::Track;
use crate::ask::trip::{Trip, TripDay};
use crate::base::error::{Error, Result};
use crate::base::geodesy::{Position, distance_m};
use crate::base::progress::Progress;
use crate::base::words::{Cause, Units};
use crate::budget::data::MeetingHours;
use crate::budget::{Budget, BudgetSettings};
use crate::layer::Layer;
use crate::profile::Bearings;

/// Worst pieces a day's answer keeps.
const WORST: usize = 10;

/// Steps of a day before its searches: its road, and the places beside it.
const ROAD_STEPS: u64 = 2;

/// Plans a trip.
///
/// # Errors
/// Departures do not fit the track or the hours of driving, no day reaches its end, or the layer cannot be read.
pub fn plan(layer: &Layer, question: &PlanQuestion, progress: &dyn Progress) -> Result<Trip> {
    let mut planner = Planner { layer, question, meetings: MeetingsLeft::of(question), night: None, progress };
    let by_legs = matches!(question.road, PlanRoad::Way(_));
    let cut = cut(&question.track, &question.departs, &question.zone, by_legs)?;
    // How many days the hours make of a track is known when they are planned.
    let expected = match &cut {
        CutTrack::Days(days) => Some(days.len() as u64 * (ROAD_STEPS + SEARCHES)),
        CutTrack::ByHours(..) => None,
    };
    progress.begin("plan", "steps", expected);
    let (mut found, mut note) = (Vec::new(), None);
    match cut {
        CutTrack::Days(days) => {
            for (depart, track) in days {
                found.push((planner.day(depart, track)?, None));
            }
        }
        CutTrack::ByHours(track, of_times) => {
            note = of_times;
            found = planner.by_hours(track)?;
        }
    }
    progress.end();
    let (mut days, chosen_of): (Vec<TripDay>, Vec<Option<usize>>) = found.into_iter().unzip();
    say_overlaps(&mut days);
    add_nights(layer, &question.settings, &mut days, &chosen_of)?;
    let of_no_day = planner.meetings.of_no_day(&days);
    if let Some(first) = days.first_mut() {
        let of_track = question.track.notes.iter().cloned();
        first.plan.notes.splice(0..0, of_track.chain(note));
        first.meetings_left_out.extend(of_no_day);
    }
    let spending = question.settings.spending.as_ref().map(|s| spent(s, &days, &question.settings.driving));
    if let Some(budget) = &spending {
        battery::tell_meetings(budget, &mut days, question.shown);
    }
    let settings = question.settings.clone();
    Ok(Trip {
        zone: zone_name(&question.zone),
        days,
        settings,
        spending,
        source: Source::of(layer),
        shown: question.shown,
    })
}

/// Says which days begin before the one before them has ended.
fn say_overlaps(days: &mut [TripDay]) {
    for nth in 1..days.len() {
        let arrive = days[nth - 1].plan.chosen.arrive.clone();
        let plan = &mut days[nth].plan;
        if arrive.unix_s() > plan.chosen.depart.unix_s() {
            let ended = arrive.date_and_clock();
            plan.notes.insert(0, format!("this day begins before the previous one has ended ({ended})"));
        }
    }
}

/// What is the same for all days, and which meetings are left.
pub(super) struct Planner<'a> {
    pub(super) layer: &'a Layer,
    pub(super) question: &'a PlanQuestion,
    pub(super) meetings: MeetingsLeft<'a>,
    /// Where one has stood since the day before.
    night: Option<Halt>,
    /// Receives the progress made.
    progress: &'a dyn Progress,
}

/// What is said of ferries and shuttle trains on the way.
fn of_ferries(corridor: &Corridor, units: Units) -> Option<String> {
    let first = corridor.pieces.iter().find(|p| p.cause == Cause::Boarded)?;
    Some(format!(
        "at {} the way takes a ferry or shuttle train: its departure time is not known, the crossing is \
         counted as driving time, and there is no link on board",
        units.at(first.at_km)
    ))
}

/// What is said of a layer that was not rated for a panel on a vehicle that drives.
fn of_profile(layer: &Layer) -> Option<String> {
    let terminal = &layer.record().profile.terminal;
    (terminal.bearings_from == Bearings::North).then(|| {
        "this layer was rated for a panel on a stand turned to the north, not for one on a moving vehicle: no \
         meeting can be held in motion with it"
            .to_owned()
    })
}

/// A day begins at the place of the night before where its road begins this near to it, metres.
const NIGHT_M: f64 = 1_000.0;

/// The place of the night before, where the day begins there.
fn night(place: &Option<Halt>, corridor: &Corridor) -> Option<Halt> {
    let (place, first) = (place.as_ref()?, corridor.pieces.first()?);
    let [at, begins] =
        [(place.lon_deg, place.lat_deg), (first.lon_deg, first.lat_deg)].map(|(x, y)| Position::from_deg(x, y));
    (distance_m(at, begins) <= NIGHT_M).then(|| Halt { at_km: 0.0, off_road_m: 0.0, ..place.clone() })
}

impl<'a> Planner<'a> {
    /// What a day that is tried and dropped changes.
    pub(super) fn saved(&self) -> (MeetingsLeft<'a>, Option<Halt>) {
        (self.meetings.clone(), self.night.clone())
    }
    /// Puts that back.
    pub(super) fn restore(&mut self, (meetings, night): (MeetingsLeft<'a>, Option<Halt>)) {
        (self.meetings, self.night) = (meetings, night);
    }
    /// Plans the day of a track.
    fn day(&mut self, depart: Timestamp, track: Track) -> Result<TripDay> {
        self.check_hours(depart)?;
        let corridor = self.road(track)?;
        self.planned(depart, corridor, None)
    }
    /// Plans the day of a road, which ends at a place for the night where one is given.
    pub(super) fn planned(&mut self, depart: Timestamp, corridor: Corridor, ends_at: Option<Halt>) -> Result<TripDay> {
        let (layer, question) = (self.layer, self.question);
        self.progress.advance(1);
        let stops = reachable(layer, &corridor, &question.settings.stopping)?;
        self.progress.advance(1);
        let DayMeetings { meetings, left_out, notes } = self.meetings.of_day(depart, corridor.time_s);
        let rules = question.settings.rules();
        let begins_s = DriveRisk::of(&corridor, &rules.driving).begins_s;
        let simulator = MeetingSimulator::new(layer, &corridor.pieces, &begins_s)?;
        let middle = corridor.pieces.get(corridor.pieces.len() / 2).map_or(0.0, |p| p.lat_deg);
        let day = DayQuestion {
            corridor: &corridor,
            simulator: Some(&simulator),
            night: night(&self.night, &corridor),
            ends_at,
            progress: self.progress,
            halts: halts(&stops),
            meetings,
            rules: &rules,
            edges: &layer.record().profile.rating,
            usable: expected_under_open_sky(layer, middle),
            depart_s: depart.as_second(),
            zone: question.zone.clone(),
            shown: question.shown,
        };
        let mut plan = plan_day(&day).map_err(|why| match why {
            NoPlan::NoDay(fact) => {
                let next = "give a track that follows the layer's roads, with points less than 1.5 km apart; or use \
                            --way fastest to go through its points; or give a layer that covers all of it";
                Error::failed(format!("the day of {}", depart.to_zoned(question.zone.clone()).date()), fact, next)
            }
            NoPlan::Unread(error) => error,
        })?;
        let joined_m: f64 = corridor.joined.iter().map(|j| j.length_m).sum();
        if joined_m >= 1.0 {
            plan.notes.insert(
                0,
                format!(
                    "on {} of the road the track has no points: these stretches were joined by the best way",
                    question.shown.units.length(joined_m)
                ),
            );
        }
        plan.notes.extend(corridor.notes.iter().cloned());
        plan.notes.extend(of_ferries(&corridor, question.shown.units));
        plan.notes.extend(of_profile(layer));
        plan.notes.extend(notes);
        self.night.clone_from(&plan.stands_at);
        Ok(TripDay { corridor, stops, plan, night: None, meetings_left_out: left_out })
    }
    /// The road of a day: the track as driven, or the way through its points.
    pub(super) fn road(&self, track: Track) -> Result<Corridor> {
        let units = self.question.shown.units;
        match &self.question.road {
            PlanRoad::Way(name) => one_way(self.layer, track.places(), name, WORST, units),
            PlanRoad::Driven(matching) => {
                let question = CorridorQuestion { track, matching: *matching, worst: WORST, buffer_m: 0.0, units };
                corridor(self.layer, &question)
            }
        }
    }
    /// Nobody can leave in hours in which nobody drives.
    pub(super) fn check_hours(&self, depart: Timestamp) -> Result<()> {
        let (rules, asked) = (&self.question.settings.driving, depart.to_zoned(self.question.zone.clone()));
        if (rules.from..=rules.to).contains(&asked.time()) {
            return Ok(());
        }
        let fact = format!("leaves outside the driving hours, {} to {}", rules.from, rules.to);
        let next = "leave within these hours, or set [driving] from and to in a trip file (--trip)";
        Err(Error::usage(format!("--depart {}", asked.datetime()), fact, next))
    }
}

/// Data and energy of the trip: its days, and the hours of meetings that the calendar has.
fn spent(said: &BudgetSettings, days: &[TripDay], driving: &Driving) -> Budget {
    let hours = |kinds: &[Kind]| {
        let all = days.iter().flat_map(|d| &d.plan.chosen.meetings).filter(|m| kinds.contains(&m.kind));
        all.map(|m| ((m.end.unix_s() - m.start.unix_s()) as f64 / 3_600.0).min(24.0)).sum::<f64>()
            / days.len().max(1) as f64
    };
    let meetings = MeetingHours {
        video_h: hours(&[Kind::MustNotDrop, Kind::Casual]),
        voice_h: 0.0,
        messages_h: hours(&[Kind::Messages]),
    };
    let any = days.iter().any(|d| !d.plan.chosen.meetings.is_empty());
    battery::spent(said, any.then_some(meetings), days, driving)
}

fn zone_name(zone: &TimeZone) -> String {
    match zone.iana_name() {
        Some(name) => name.to_owned(),
        None => zone.to_fixed_offset().map_or_else(|_| "the system's zone".to_owned(), |offset| format!("UTC{offset}")),
    }
}
