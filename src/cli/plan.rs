//! `plan`: cuts the trip into days, asks the layer about each, plans it.
use std::collections::HashSet;
use std::path::Path;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::args::Plan;
use super::day::Asker;
use super::{brief, corridor, times, whole};
use crate::ask::plan::Kind;
use crate::ask::settings::Settings;
use crate::ask::track::Track;
use crate::ask::trip::{Trip, TripDay};
use crate::base::error::{Error, Result};
use crate::budget::data::MeetingHours;
use crate::budget::{Budget, BudgetSettings};
use crate::calendar::{self, Calendar};
use crate::layer::Layer;
use crate::report;

/// The text for standard output; a file asked for is written.
pub fn answer(args: &Plan) -> Result<String> {
    let trip = trip(args)?;
    if let Some(path) = &args.output {
        let text = match path.extension().and_then(|e| e.to_str()) {
            Some("json") => report::plan_json(&trip)?,
            Some("html") => brief::page(args, &trip)?,
            Some("ics") => calendar::write(&report::plan_events(&trip), Timestamp::now()),
            _ => {
                return Err(Error::usage("--output", "has no known ending", "use .html, .json or .ics"));
            }
        };
        whole::write(path, text.as_bytes(), args.overwrite)?;
        return Ok(format!("written\n  {}\n{}\n", path.display(), report::CAUTIONS.join("\n")));
    }
    if args.json { report::plan_json(&trip) } else { Ok(report::plan_table(&trip)) }
}

/// Everything about the trip.
pub fn trip(args: &Plan) -> Result<Trip> {
    let zone = times::zone(args.zone.as_deref()).map_err(|fact| {
        Error::usage("--zone", fact, "give a name such as Europe/Madrid, or an offset such as -01:00")
    })?;
    let settings = args.trip.as_deref().map(Settings::read_file).transpose()?.unwrap_or_default();
    let calendars = args.meetings.iter().map(|p| read_calendar(p)).collect::<Result<Vec<_>>>()?;
    let layer = Layer::open(&args.layer)?;
    let track = corridor::read_track(&args.track)?;
    let taken = HashSet::new();
    let mut asker = Asker { args, layer: &layer, settings: &settings, calendars: &calendars, zone: &zone, taken };
    let mut days: Vec<TripDay> = Vec::new();
    for (depart, track) in cut(&track, &args.depart, &zone)? {
        let mut day = asker.day(depart, asker.road(&track)?)?;
        if let Some(before) = days.last().filter(|b| b.plan.chosen.arrive.unix_s() > day.plan.chosen.depart.unix_s()) {
            let arrive = before.plan.chosen.arrive.day_and_clock();
            day.plan.notes.insert(0, format!("this day begins before the one before it has ended ({arrive})"));
        }
        days.push(day);
    }
    let spending = settings.spending.as_ref().map(|s| spent(s, &days));
    Ok(Trip { zone: zone_name(&zone), days, settings, spending, source: brief::source(&layer) })
}

/// Data and energy of the trip: its days, and the hours of meetings that the calendar has.
fn spent(said: &BudgetSettings, days: &[TripDay]) -> Budget {
    let mut settings = said.clone();
    settings.work.days = u32::try_from(days.len()).unwrap_or(u32::MAX);
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
    Budget::of(&settings, any.then_some(meetings))
}

fn zone_name(zone: &TimeZone) -> String {
    match zone.iana_name() {
        Some(name) => name.to_owned(),
        None => zone.to_fixed_offset().map_or_else(|_| "the system's zone".to_owned(), |offset| format!("UTC{offset}")),
    }
}

fn read_calendar(path: &Path) -> Result<Calendar> {
    let next = "give an iCalendar file (.ics)";
    let text = std::fs::read_to_string(path).map_err(|e| Error::file(path, e.to_string(), next))?;
    calendar::read(&text).map_err(|fact| Error::file(path, fact, next))
}

/// The track of each day with its departure: by the departures given, or by the days of the track's own times.
fn cut(track: &Track, departs: &[String], zone: &TimeZone) -> Result<Vec<(Timestamp, Track)>> {
    let next = "give --depart once for each day, such as --depart 2026-06-15T08:00";
    let begins: Vec<Option<f64>> = track.pieces.iter().map(|p| p.first().and_then(|p| p.time_s)).collect();
    let date = |s: f64| Timestamp::from_second(s as i64).ok().map(|t| t.to_zoned(zone.clone()).date());
    let mut days: Vec<Track> = Vec::new();
    for (i, piece) in track.pieces.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|b| begins[b]).and_then(date);
        let own = begins[i].and_then(date);
        match days.last_mut() {
            Some(day) if own.is_none() || own == before => day.pieces.push(piece.clone()),
            _ => days.push(Track { pieces: vec![piece.clone()], repeated: 0 }),
        }
    }
    if departs.is_empty() {
        let own = |day: Track| {
            let begin = day.pieces.first().and_then(|p| p.first()).and_then(|p| p.time_s);
            let time = begin.and_then(|s| Timestamp::from_second(s as i64).ok());
            time.map(|t| (t, day))
                .ok_or_else(|| Error::usage("--depart", "is missing, and the track has no times", next))
        };
        return days.into_iter().map(own).collect();
    }
    if departs.len() == 1 && days.len() > 1 {
        let all = days.into_iter().flat_map(|d| d.pieces).collect();
        days = vec![Track { pieces: all, repeated: 0 }];
    }
    if departs.len() != days.len() {
        let fact = format!("is given {} times for {} days of the track", departs.len(), days.len());
        return Err(Error::usage("--depart", fact, next));
    }
    let time = |text: &String| {
        times::moment(text, zone).map_err(|fact| Error::usage(format!("--depart {text}"), "cannot be read", fact))
    };
    let days: Vec<(Timestamp, Track)> =
        departs.iter().zip(days).map(|(text, day)| Ok((time(text)?, day))).collect::<Result<_>>()?;
    match days.windows(2).position(|w| w[1].0 <= w[0].0) {
        Some(i) => Err(Error::usage(format!("--depart {}", departs[i + 1]), "is not after the one before", next)),
        None => Ok(days),
    }
}
