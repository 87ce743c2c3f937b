//! iCalendar (RFC 5545): the text of a file to the meetings of a day, and events to text.
//!
//! Only events are read; tasks, journals, free-busy lists and alarms are not meetings. Components that are not read are
//! counted by their kind, and said; alarms of events are not.
//! Text is read line by line here because the parsers at hand give up a whole file for one odd line;
//! recurrence rules are expanded by the `rrule` crate, offsets by `jiff`.
//!
//! Where section 3.3.10 says two things of an instance that falls into the hour daylight saving skips
//! (left out; read as section 3.3.5 reads it), it is kept and read by section 3.3.5, with a
//! complaint: a meeting an hour off is better seen than missed.
mod component;
mod event;
mod found;
mod lines;
mod rule;
mod series;
mod steps;
mod tzif;
mod unread;
mod value;
mod windows;
mod write;
mod written;
mod zone;

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::base::foreign::foreign;
use component::Component;
use event::{Event, EventReader};
pub use found::{AllDay, Clock, Complaint, Details, EventsFound, FirstStart, Occurrence};
use series::{AskedSpan, Series};
pub use write::{Planned, write};
pub use written::AsWritten;
use zone::Zones;

/// The events of a file.
#[derive(Debug, Clone, Default)]
pub struct Calendar {
    series: Vec<Series>,
    zones: Zones,
    complaints: Vec<Complaint>,
}

/// Reads the text of an iCalendar file.
///
/// # Errors
/// The text holds no calendar. Anything smaller is a [`Complaint`].
pub fn read(text: &str) -> Result<Calendar, String> {
    foreign("calendars", || whole(text)).map_err(|broken| broken.to_string())?
}

fn whole(text: &str) -> Result<Calendar, String> {
    let (parts, bad) = component::components(text)?;
    let mut complaints: Vec<Complaint> = bad.into_iter().map(|(line, fact)| plain(line, fact, true)).collect();
    complaints.extend(unread::unread(&parts).into_iter().map(|(line, fact, lost)| plain(line, fact, lost)));
    let parts = component::calendars(parts)?;
    let (mut events, mut zones) = (Vec::new(), Zones::default());
    for part in &parts {
        let own = zones_of(part, &mut complaints);
        events.extend(events_of(part, &own, &mut complaints));
        zones.merge(own);
    }
    let series = grouped(events, &mut complaints);
    complaints.sort_by_key(|c| c.line);
    Ok(Calendar { series, zones, complaints })
}

impl Calendar {
    /// Meetings and marked days that touch the time from `from` up to `to`. Floating times and days
    /// are read in the zone of the traveller.
    pub fn between(&self, from: Timestamp, to: Timestamp, traveller: &TimeZone) -> EventsFound {
        let asked = AskedSpan { from, to, traveller: traveller.clone() };
        let mut found = EventsFound { complaints: self.complaints.clone(), ..EventsFound::default() };
        for series in &self.series {
            series.find(&asked, &mut found);
        }
        found.meetings.sort_by_cached_key(|m| {
            (m.start.timestamp(), m.end.timestamp(), m.details.summary.clone(), m.details.uid.clone())
        });
        found.all_day.sort_by_cached_key(|d| (d.first, d.last, d.details.summary.clone(), d.details.uid.clone()));
        found
    }

    /// Every meeting, whenever it is: of a recurring one only the first. Floating times are read in the zone of the
    /// traveller; marked days and cancelled meetings are left out.
    pub fn starts<'c>(&'c self, traveller: &'c TimeZone) -> impl Iterator<Item = FirstStart<'c>> {
        let first = |e: &'c Event| {
            let start = e.start.zoned(traveller)?;
            Some(FirstStart { details: &e.details, start, recurs: e.recurs(), line: e.line })
        };
        self.firsts().filter(|e| !e.of_days() && !e.cancelled).filter_map(first)
    }

    /// Events, whatever they are; a recurring one counts once.
    pub fn events(&self) -> usize {
        self.firsts().count()
    }

    fn firsts(&self) -> impl Iterator<Item = &Event> {
        self.series.iter().flat_map(|s| if s.masters.is_empty() { &s.changed } else { &s.masters })
    }

    /// A zone by its name, such as the traveller's: the file's own definition, or else that of the IANA database.
    ///
    /// # Errors
    /// Neither knows it.
    pub fn zone(&self, name: &str) -> Result<TimeZone, String> {
        self.zones.find(name)
    }

    /// What was not understood in the file.
    pub fn complaints(&self) -> &[Complaint] {
        &self.complaints
    }
}

fn plain(line: usize, fact: String, lost: bool) -> Complaint {
    Complaint { line, uid: None, summary: String::new(), when: None, fact, lost }
}

/// Zones of one calendar of the file.
fn zones_of(calendar: &Component, complaints: &mut Vec<Complaint>) -> Zones {
    let mut zones = Zones::default();
    for zone in calendar.parts("VTIMEZONE") {
        if let Err(fact) = zones.add(zone) {
            complaints.push(plain(zone.at, fact, false));
        }
    }
    zones
}

/// Events of one calendar of the file.
fn events_of(calendar: &Component, zones: &Zones, complaints: &mut Vec<Complaint>) -> Vec<Event> {
    let cancel = calendar.get("METHOD").is_some_and(|m| m.value.trim().eq_ignore_ascii_case("CANCEL"));
    let reader = EventReader { zones, cancel };
    let mut events = Vec::new();
    for part in calendar.parts("VEVENT") {
        let mut trouble = Vec::new();
        events.extend(reader.event(part, &mut trouble));
        let text = |name: &str| part.get(name).map(|l| value::text(&l.value));
        complaints.extend(trouble.into_iter().map(|(line, fact, lost)| Complaint {
            line,
            uid: text("UID"),
            summary: text("SUMMARY").unwrap_or_default(),
            when: AsWritten::of(part),
            fact,
            lost,
        }));
    }
    events
}

/// Events by UID; of several revisions the last counts.
fn grouped(events: Vec<Event>, complaints: &mut Vec<Complaint>) -> Vec<Series> {
    let mut by_uid: BTreeMap<String, Series> = BTreeMap::new();
    for event in events {
        // An event without a UID stands for itself.
        let uid = if event.details.uid.is_empty() { format!("\0{}", event.line) } else { event.details.uid.clone() };
        let series = by_uid.entry(uid).or_default();
        if event.replaces.is_some() { &mut series.changed } else { &mut series.masters }.push(event);
    }
    let mut out: Vec<Series> = by_uid.into_values().collect();
    for series in &mut out {
        let last = series.masters.iter().map(|e| e.sequence).max();
        series.masters.retain(|e| Some(e.sequence) == last);
        let start = |e: &Event| e.start.zoned(&TimeZone::UTC).map(|z| z.timestamp());
        series.masters.sort_by_key(start);
        series.masters.dedup_by_key(|e| start(e));
        if let [first, _, ..] = &series.masters[..] {
            let Details { uid, summary, .. } = &first.details;
            let fact = "several events share this UID; each is kept".to_owned();
            complaints.push(Complaint {
                line: first.line,
                uid: Some(uid.clone()),
                summary: summary.clone(),
                when: None,
                fact,
                lost: false,
            });
        }
        let replaced = |e: &Event| e.replaces.as_ref().and_then(|r| r.at.zoned(&TimeZone::UTC)).map(|z| z.timestamp());
        series.changed.sort_by_key(|e| (replaced(e), std::cmp::Reverse(e.sequence)));
        series.changed.dedup_by_key(|e| replaced(e));
    }
    out
}
