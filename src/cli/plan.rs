//! `plan`: cuts the trip into days, asks the layer about each, plans it.
use std::collections::HashSet;
use std::path::Path;

use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

use super::args::Plan;
use super::{brief, corridor, route, times, whole};
use crate::error::{Error, Result};
use crate::geodesy::Position;
use crate::layer::Layer;
use crate::layer::model::StopRow;
use crate::pipeline::spot::expected_under_open_sky;
use crate::report;
use crate::trip::calendar::{self, Calendar};
use crate::trip::corridor::Corridor;
use crate::trip::matching::{Options, TrackPoint};
use crate::trip::plan::{self, Halt, Kind, Meeting, Question};
use crate::trip::settings::{Settings, ToldBy};
use crate::trip::spending::data::MeetingHours;
use crate::trip::spending::{Spending, SpendingSettings, spending};
use crate::trip::stops::{StopNear, near};
use crate::trip::track::Track;
use crate::trip::{Trip, TripDay};

/// The text for standard output; a file asked for is written.
pub fn answer(args: &Plan) -> Result<String> {
    if args.print_trip {
        return Ok(Settings::example());
    }
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
        return Ok(format!("written\n  {}\n", path.display()));
    }
    if args.json { report::plan_json(&trip) } else { Ok(report::plan_table(&trip)) }
}

/// Everything about the trip.
pub fn trip(args: &Plan) -> Result<Trip> {
    let zone = times::zone(args.zone.as_deref()).map_err(|fact| {
        Error::usage("--zone", fact, "give a name such as Europe/Madrid, or an offset such as -01:00")
    })?;
    let settings = read_settings(args.trip.as_deref())?;
    let calendars = args.meetings.iter().map(|p| read_calendar(p)).collect::<Result<Vec<_>>>()?;
    let (Some(layer), Some(track)) = (&args.layer, &args.track) else {
        return Err(Error::usage("plan", "layer or track is missing", "see `waymask plan --help`"));
    };
    let layer = Layer::open(layer)?;
    let track = corridor::read_track(track)?;
    let asker = Asker { args, layer: &layer, settings: &settings, calendars: &calendars, zone: &zone };
    let mut days = Vec::new();
    for (depart, track) in cut(&track, &args.depart, &zone)? {
        days.push(asker.day(depart, asker.road(&track)?)?);
    }
    let spending = settings.spending.as_ref().map(|s| spent(s, &days));
    Ok(Trip { zone: zone_name(&zone), days, settings, spending, source: brief::source(&layer) })
}

/// Data and energy of the trip: its days, and the hours of meetings that the calendar has.
fn spent(said: &SpendingSettings, days: &[TripDay]) -> Spending {
    let mut settings = said.clone();
    settings.work.days = u32::try_from(days.len()).unwrap_or(u32::MAX);
    let hours = |kinds: &[Kind]| {
        let all = days.iter().flat_map(|d| &d.plan.chosen.meetings).filter(|m| kinds.contains(&m.kind));
        all.map(|m| (m.end.unix_s() - m.start.unix_s()) as f64 / 3_600.0).sum::<f64>() / days.len().max(1) as f64
    };
    let meetings = MeetingHours {
        video_h: hours(&[Kind::MustNotDrop, Kind::Casual]),
        voice_h: 0.0,
        messages_h: hours(&[Kind::Messages]),
    };
    let any = days.iter().any(|d| !d.plan.chosen.meetings.is_empty());
    spending(&settings, any.then_some(meetings))
}

fn zone_name(zone: &TimeZone) -> String {
    match zone.iana_name() {
        Some(name) => name.to_owned(),
        None => zone.to_fixed_offset().map_or_else(|_| "the system's zone".to_owned(), |offset| format!("UTC{offset}")),
    }
}

fn read_settings(path: Option<&Path>) -> Result<Settings> {
    let Some(path) = path else { return Ok(Settings::default()) };
    let next = "`waymask plan --print-trip` prints every key with its range";
    let text = std::fs::read_to_string(path).map_err(|e| Error::file(path, e.to_string(), "give a TOML file"))?;
    Settings::read(&text).map_err(|fact| Error::usage(path.display().to_string(), fact, next))
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
    departs.iter().zip(days).map(|(text, day)| Ok((time(text)?, day))).collect()
}

/// What is the same for all days.
struct Asker<'a> {
    args: &'a Plan,
    layer: &'a Layer,
    settings: &'a Settings,
    calendars: &'a [Calendar],
    zone: &'a TimeZone,
}

impl Asker<'_> {
    /// The road of a day: the track as driven, or the way through its points.
    fn road(&self, track: &Track) -> Result<Corridor> {
        if let Some(name) = &self.args.way {
            let places = track.pieces.iter().flatten().map(|p| p.at).collect();
            return route::one_way(self.layer, places, name, WORST);
        }
        let options = Options { sigma_m: self.args.noise, beta_m: self.args.noise, ..Options::default() };
        corridor::asked(self.layer, track, &options, WORST, 0.0)
    }

    fn day(&self, depart: Timestamp, corridor: Corridor) -> Result<TripDay> {
        let stopping = &self.settings.stopping;
        let mut rows = std::collections::BTreeMap::new();
        for bounds in corridor::boxes(&driven(&corridor), stopping.within_m, 0.0) {
            rows.extend(self.layer.stops_in(bounds)?.into_iter().map(|s| (s.stop_id, s)));
        }
        let rows: Vec<StopRow> = rows.into_values().collect();
        let across = self.across(&rows, &corridor)?;
        let stops = near(&corridor.pieces, &rows, stopping.within_m, stopping.reach_m);
        let (meetings, notes) = self.meetings(depart, corridor.time_s);
        let middle = corridor.pieces.get(corridor.pieces.len() / 2).map_or(0.0, |p| p.lat_deg);
        let question = Question {
            pieces: &corridor.pieces,
            halts: stops.iter().filter(|s| s.may_stop && !across.contains(&s.stop_id)).map(halt).collect(),
            meetings,
            rules: &self.settings.rules(),
            edges: &self.layer.record().profile.rating,
            usable: expected_under_open_sky(self.layer, middle),
            depart_s: depart.as_second(),
            zone: self.zone.clone(),
        };
        let mut plan = plan::plan(&question).map_err(|fact| {
            let next = "give a track on roads of the layer with points less than a kilometre apart, or --way fastest to go \
                        through its points";
            Error::failed(format!("the day of {depart}"), fact, next)
        })?;
        plan.notes.extend(notes);
        Ok(TripDay { corridor, stops, plan })
    }

    /// Stops on the other side of a divided road: their nearest road is a carriageway that is not driven.
    fn across(&self, rows: &[StopRow], corridor: &Corridor) -> Result<HashSet<i64>> {
        let driven: HashSet<i64> = corridor.pieces.iter().map(|p| p.segment_id).collect();
        let mut out = HashSet::new();
        for stop in rows.iter().filter(|s| !driven.contains(&s.segment_id)) {
            let Some(row) = self.layer.segment(stop.segment_id)? else { continue };
            let one_way = row.edge_forward.is_none() || row.edge_backward.is_none();
            if one_way && matches!(row.highway.as_str(), "motorway" | "trunk") {
                out.insert(stop.stop_id);
            }
        }
        Ok(out)
    }

    /// Meetings of the days a drive may last, and what the calendars leave unclear.
    fn meetings(&self, depart: Timestamp, drive_s: f64) -> (Vec<Meeting>, Vec<String>) {
        let local = depart.to_zoned(self.zone.clone());
        let days = 1 + (drive_s / 3_600.0 / self.settings.driving.day_h) as i64;
        let from = local.start_of_day().map_or(depart, |z| z.timestamp());
        let to = local.start_of_day().and_then(|z| z.checked_add(days.days())).map_or(depart, |z| z.timestamp());
        let (mut meetings, mut notes) = (Vec::new(), Vec::new());
        for calendar in self.calendars {
            let found = calendar.between(from, to, self.zone);
            notes.extend(found.complaints.iter().map(|c| format!("calendar, {c}")));
            notes.extend(found.all_day.iter().map(|d| format!("{} is marked for the whole day", d.details.summary)));
            for m in found.meetings {
                let (kind, told) = self.settings.meetings.kind(&m.details.summary, &m.details.categories);
                if told == ToldBy::Default {
                    notes.push(format!("{}: nothing says its kind, taken as {}", m.details.summary, kind.name()));
                }
                let (start_s, end_s) = (m.start.timestamp().as_second(), m.end.timestamp().as_second());
                let Some(name) = Some(m.details.summary.trim()).filter(|n| !n.is_empty()) else { continue };
                meetings.push(Meeting {
                    name: name.to_owned(),
                    kind,
                    start_s,
                    end_s: end_s.max(start_s),
                    tentative: m.details.tentative,
                });
            }
        }
        (meetings, notes)
    }
}

/// The lines of a drive as a track.
fn driven(corridor: &Corridor) -> Track {
    let point = |at: &Position| TrackPoint { at: *at, time_s: None };
    let pieces = corridor.pieces.iter().map(|p| p.line.iter().map(point).collect()).collect();
    Track { pieces, repeated: 0 }
}

/// Worst pieces a day's answer keeps.
const WORST: usize = 10;
/// Places where the night may be spent.
const OVERNIGHT: [&str; 3] = ["camp_site", "camp_pitch", "caravan_site"];

fn halt(stop: &StopNear) -> Halt {
    Halt {
        stop_id: stop.stop_id,
        name: stop.name.clone().unwrap_or_else(|| format!("{} near {}", stop.kind.replace('_', " "), stop.road)),
        kind: stop.kind.to_owned(),
        lon_deg: stop.lon_deg,
        lat_deg: stop.lat_deg,
        at_km: stop.at_km.unwrap_or(0.0),
        off_road_m: stop.off_road_m,
        roofed: stop.roofed,
        overnight: OVERNIGHT.contains(&stop.kind),
        open_share: stop.open_share,
        best_m: stop.best_distance_m,
        best_bearing_deg: stop.best_bearing_deg,
        best_open_share: stop.best_open_share,
    }
}
