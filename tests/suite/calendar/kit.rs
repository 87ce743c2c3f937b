//! Small calendars and what they hold.
use jiff::tz::TimeZone;
use jiff::{Timestamp, Zoned};
use waymask::calendar::{self, EventsFound, Occurrence};

/// A calendar with one event, or with whatever components are given.
pub fn calendar(body: &str) -> String {
    let body = body.trim().lines().map(str::trim).collect::<Vec<_>>().join("\r\n");
    let body = if body.starts_with("BEGIN:") { body } else { format!("BEGIN:VEVENT\r\nUID:1\r\n{body}\r\nEND:VEVENT") };
    format!("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//test//EN\r\n{body}\r\nEND:VCALENDAR\r\n")
}

/// What a calendar holds between two times in UTC, for a traveller in a zone.
pub fn found_in(body: &str, from: &str, to: &str, traveller: &str) -> EventsFound {
    let at = |text: &str| -> Timestamp { text.parse().unwrap() };
    let traveller = if traveller == "UTC" { TimeZone::UTC } else { zone(traveller) };
    calendar::read(&calendar(body)).unwrap().between(at(from), at(to), &traveller)
}

/// The same for a traveller in UTC.
pub fn found(body: &str, from: &str, to: &str) -> EventsFound {
    found_in(body, from, to, "UTC")
}

/// A zone of the database.
pub fn zone(name: &str) -> TimeZone {
    jiff::tz::TimeZoneDatabase::bundled().get(name).unwrap()
}

/// A time as `1997-09-02 09:00 -0400`.
pub fn shown(at: &Zoned) -> String {
    at.strftime("%Y-%m-%d %H:%M %z").to_string()
}

/// Starts of meetings.
pub fn starts(found: &EventsFound) -> Vec<String> {
    found.meetings.iter().map(|m| shown(&m.start)).collect()
}

/// Starts and lengths, minutes.
pub fn lengths(found: &EventsFound) -> Vec<(String, i64)> {
    found.meetings.iter().map(|m: &Occurrence| (shown(&m.start), m.length_s() / 60)).collect()
}
