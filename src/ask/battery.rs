//! The days of a plan as their energy is walked: its drives, stops and meetings, by the clock and by place.
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan, Zoned};

use super::corridor::Corridor;
use super::plan::{DriveRisk, Driving, Halt, Held, How, Part};
use super::trip::TripDay;
use crate::base::words::{Cause, HowTold, StopReason};
use crate::budget::data::MeetingHours;
use crate::budget::days::PlannedDay;
use crate::budget::energy::{MomentWords, OffPlace};
use crate::budget::hours::{CallTime, DayStretch, DayTimes, StretchDoing};
use crate::budget::sun::SunPlace;
use crate::budget::{Budget, BudgetSettings, PlannedTrip};

/// Nights and days of rest between two days of a plan are walked up to this many; over more the battery is assumed to stay as it is.
const MOST_DAYS_BETWEEN: i64 = 31;

/// Data and energy of a trip that is planned.
pub(super) fn spent(
    said: &BudgetSettings,
    meetings: Option<MeetingHours>,
    days: &[TripDay],
    driving: &Driving,
) -> Budget {
    let bounds = bounds(days);
    let planned: Vec<PlannedDay> =
        days.iter().zip(&bounds).map(|(day, bounds)| planned_day(day, *bounds, days)).collect();
    let drives: Vec<DriveRisk> = days.iter().map(|day| DriveRisk::of(&day.corridor, driving)).collect();
    let zone = days.first().map_or(TimeZone::UTC, |day| day.plan.chosen.depart.0.time_zone().clone());
    let place = |at_s: f64| {
        let n = bounds.partition_point(|[begin_s, _]| *begin_s <= at_s).checked_sub(1)?;
        place_at(&days[n], &drives[n], at_s)
    };
    let told = MomentWords {
        clock: &|at_s| told_as(at_s, &zone, "%H:%M").unwrap_or_default(),
        date: &|at_s| told_as(at_s, &zone, DATE),
        place: &place,
    };
    let mut budget = Budget::planned(said, meetings, &PlannedTrip { days: planned, told });
    budget.notes.extend(notes(days));
    budget
}

/// Says first of each day in which of its meetings the panel goes off, and of these that they have no power, wherever the day is told.
pub(super) fn tell_meetings(budget: &Budget, days: &mut [TripDay], shown: HowTold) {
    for off in budget.energy.off.iter().rev() {
        let Some(words) = off.during_meetings(shown) else { continue };
        // A meeting over midnight is of the day before the panel goes off in it.
        for day in days.iter_mut().filter(|day| day.plan.chosen.meetings.iter().any(|m| is_touched(m, off.span_s))) {
            day.plan.notes.insert(0, words.clone());
            let plan = &mut day.plan;
            let touched: Vec<Held> =
                plan.chosen.meetings.iter().filter(|m| is_touched(m, off.span_s)).cloned().collect();
            // The battery of a day spent otherwise is not walked: what has no power as planned is not promised any.
            let late = plan.late.iter_mut().flat_map(|late| [Some(&mut late.same_stops), late.instead.as_mut()]);
            let ways = late.flatten().chain([&mut plan.chosen]).flat_map(|way| &mut way.meetings);
            ways.filter(|m| touched.iter().any(|own| own.is_same(m))).for_each(Held::lose_power);
        }
    }
}

/// Whether some of a meeting is held in a span of time.
fn is_touched(m: &Held, (from_s, to_s): (f64, f64)) -> bool {
    let held = m.parts.iter().filter(|part| part.how != How::NotHeld);
    held.into_iter().any(|part| (part.from.unix_s() as f64) < to_s && part.to.unix_s() as f64 > from_s)
}

/// How a date is told.
const DATE: &str = "%a %Y-%m-%d";

/// A moment to the nearest minute.
fn told_as(at_s: f64, zone: &TimeZone, format: &str) -> Option<String> {
    let minute_s = (at_s / 60.0).round() as i64 * 60;
    Some(Timestamp::from_second(minute_s).ok()?.to_zoned(zone.clone()).strftime(format).to_string())
}

/// Begin and end of each day: from its midnight, or the end of the day before it, to the midnight before the next day.
fn bounds(days: &[TripDay]) -> Vec<[f64; 2]> {
    let midnight = |at: &Zoned| at.start_of_day().map_or(at.timestamp(), |z| z.timestamp()).as_second();
    let mut out: Vec<[f64; 2]> = Vec::new();
    for (n, day) in days.iter().enumerate() {
        let chosen = &day.plan.chosen;
        let last = chosen.meetings.iter().map(|m| &m.end).chain([&chosen.arrive]).max_by_key(|at| at.unix_s());
        let last = &last.unwrap_or(&chosen.arrive).0;
        let night = last.checked_add(1.day()).map_or(last.timestamp().as_second(), |z| midnight(&z));
        let begin_s = out.last().map_or(midnight(&chosen.depart.0), |[_, end_s]| *end_s as i64);
        let begin_s = match days.get(n.wrapping_sub(1)) {
            // Over too long a time nothing is walked.
            Some(_) if midnight(&chosen.depart.0) > begin_s => midnight(&chosen.depart.0),
            _ => begin_s,
        };
        let end_s = match days.get(n + 1) {
            Some(next) => {
                let next_s = midnight(&next.plan.chosen.depart.0).max(chosen.arrive.unix_s());
                if next_s - night > MOST_DAYS_BETWEEN * 86_400 { night } else { next_s }
            }
            None => night,
        };
        out.push([begin_s as f64, end_s.max(begin_s) as f64]);
    }
    out
}

fn planned_day(day: &TripDay, [begin_s, end_s]: [f64; 2], all: &[TripDay]) -> PlannedDay {
    let chosen = &day.plan.chosen;
    // A meeting may lie on another day than the one whose plan holds it.
    let calls = all.iter().flat_map(calls).filter(|c| c.from_s < end_s && c.to_s > begin_s).collect();
    let middle = day.corridor.pieces.get(day.corridor.pieces.len() / 2);
    PlannedDay {
        date: chosen.depart.0.strftime(DATE).to_string(),
        times: DayTimes { begin_s, end_s, stretches: stretches(day), calls },
        place: SunPlace { lat_deg: middle.map_or(0.0, |p| p.lat_deg), lon_deg: middle.map_or(0.0, |p| p.lon_deg) },
    }
}

/// Meetings as far as somebody holds them.
fn calls(day: &TripDay) -> impl Iterator<Item = CallTime> {
    day.plan.chosen.meetings.iter().flat_map(|m| {
        let held = m.parts.iter().filter(|part| part.how != How::NotHeld);
        held.map(|part| CallTime {
            from_s: part.from.unix_s() as f64,
            to_s: part.to.unix_s() as f64,
            name: m.name.clone(),
        })
    })
}

/// From departure to arrival; what is neither driven nor a stop of the plan is stood through.
fn stretches(day: &TripDay) -> Vec<DayStretch> {
    let chosen = &day.plan.chosen;
    let mut out = Vec::new();
    let mut at_s = chosen.depart.unix_s() as f64;
    let mut until = |to_s: f64, doing: StretchDoing| {
        if to_s > at_s {
            out.push(DayStretch { from_s: at_s, to_s, doing });
            at_s = to_s;
        }
    };
    for part in &chosen.parts {
        let (from, to, doing) = match part {
            Part::Drive { from, to, .. } => (from, to, StretchDoing::Driving),
            Part::Stop { from, to, why: StopReason::Night, .. } => (from, to, StretchDoing::Night),
            Part::Stop { from, to, .. } => (from, to, StretchDoing::Stopped),
        };
        until(from.unix_s() as f64, StretchDoing::Stopped);
        until(to.unix_s() as f64, doing);
    }
    until(chosen.arrive.unix_s() as f64, StretchDoing::Stopped);
    out
}

/// Where the vehicle is on a day: at a stop, on the road, or at an end of it.
fn place_at(day: &TripDay, drive: &DriveRisk, at_s: f64) -> Option<OffPlace> {
    let chosen = &day.plan.chosen;
    for part in &chosen.parts {
        match part {
            Part::Stop { from, to, place, .. } if (from.unix_s() as f64..to.unix_s() as f64).contains(&at_s) => {
                return Some(at_halt(place));
            }
            Part::Drive { from, to, wheel_s, .. } if (from.unix_s() as f64..to.unix_s() as f64).contains(&at_s) => {
                let (from_s, to_s) = (from.unix_s() as f64, to.unix_s() as f64);
                let wheel_s = wheel_s.0 + (wheel_s.1 - wheel_s.0) * (at_s - from_s) / (to_s - from_s);
                return on_road(&day.corridor, drive.km_at(wheel_s));
            }
            Part::Stop { .. } | Part::Drive { .. } => {}
        }
    }
    let arrived = at_s >= chosen.arrive.unix_s() as f64;
    let stands = day.plan.stands_at.as_ref().filter(|_| arrived);
    match stands {
        Some(place) => Some(at_halt(place)),
        None => on_road(&day.corridor, if arrived { chosen.length_km } else { 0.0 }),
    }
}

fn at_halt(place: &Halt) -> OffPlace {
    let (name, at_km) = (Some(place.name.clone()), Some(place.at_km));
    OffPlace { name, at_km, lat_deg: place.lat_deg, lon_deg: place.lon_deg }
}

/// The start of the piece of road at some kilometre; nothing where the layer has no road there.
fn on_road(corridor: &Corridor, at_km: f64) -> Option<OffPlace> {
    let n = corridor.pieces.partition_point(|p| p.at_km <= at_km);
    let piece = corridor.pieces.get(n.saturating_sub(1))?;
    Some(OffPlace { name: None, at_km: Some(at_km), lat_deg: piece.lat_deg, lon_deg: piece.lon_deg })
}

/// What the days of a plan leave to be assumed.
fn notes(days: &[TripDay]) -> Vec<String> {
    let mut out = Vec::new();
    if days.iter().any(|day| day.corridor.pieces.iter().any(|p| p.cause == Cause::Boarded)) {
        out.push("energy on a ferry or shuttle train is counted as if it were driven, with the engine on".to_owned());
    }
    for pair in days.windows(2) {
        let (arrive, depart) = (&pair[0].plan.chosen.arrive.0, &pair[1].plan.chosen.depart.0);
        let between = arrive.date().until(depart.date()).map_or(0, |span| i64::from(span.get_days()));
        let between = between.max((depart.timestamp().as_second() - arrive.timestamp().as_second()) / 86_400);
        if between > MOST_DAYS_BETWEEN {
            out.push(format!(
                "from {} to {} is too long for its nights to be walked: the battery is assumed to stay as it is",
                arrive.date(),
                depart.date()
            ));
        } else if between > 1 {
            out.push(format!(
                "between {} and {} the vehicle is assumed to stand still, with the panel off",
                arrive.date(),
                depart.date()
            ));
        }
    }
    out
}
