//! Events to the text of an iCalendar file (RFC 5545): times in UTC, lines folded at 75 octets.
//!
//! UTC needs no zone definitions in the file, and every calendar shows it in the reader's own zone.
use std::fmt::Write;

use jiff::Timestamp;

/// Longest line, octets, without its end (section 3.1).
const LONGEST: usize = 75;

/// An event to write.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Planned {
    /// Identity: the same event written again keeps it.
    pub uid: String,
    /// Title.
    pub summary: String,
    /// Longer text; may have several lines.
    pub description: Option<String>,
    /// Where.
    pub location: Option<String>,
    /// Latitude and longitude, degrees.
    pub place_deg: Option<(f64, f64)>,
    /// Words to sort by.
    pub categories: Vec<String>,
    /// Start.
    pub start: Timestamp,
    /// End.
    pub end: Timestamp,
    /// Takes the time of the calendar's owner, as a drive does.
    pub busy: bool,
}

/// The text of a file with these events; `made` is when they were planned.
///
/// The revision (`SEQUENCE`, section 3.8.7.4) counts minutes since 1970: nothing is kept from one plan to the next, and a later
/// one has to count more. Of two in one minute the later `DTSTAMP` wins.
pub fn write(events: &[Planned], made: Timestamp) -> String {
    let mut out = String::new();
    let mut put = |name: &str, value: &str| fold(&mut out, &format!("{name}:{value}"));
    let revision = made.as_second().div_euclid(60).max(0);
    put("BEGIN", "VCALENDAR");
    put("VERSION", "2.0");
    put("PRODID", "-//waymask//waymask//EN");
    for event in events {
        put("BEGIN", "VEVENT");
        put("UID", &escaped(&event.uid));
        put("DTSTAMP", &utc(made));
        put("SEQUENCE", &revision.to_string());
        put("DTSTART", &utc(event.start));
        // An end has to be later than the start (section 3.8.2.2): what has no length ends at its start without one.
        if event.end > event.start {
            put("DTEND", &utc(event.end));
        }
        put("SUMMARY", &escaped(&event.summary));
        for (name, text) in [("DESCRIPTION", &event.description), ("LOCATION", &event.location)] {
            if let Some(text) = text {
                put(name, &escaped(text));
            }
        }
        if let Some((latitude, longitude)) = event.place_deg {
            put("GEO", &format!("{latitude:.6};{longitude:.6}"));
        }
        if !event.categories.is_empty() {
            put("CATEGORIES", &event.categories.iter().map(|c| escaped(c)).collect::<Vec<_>>().join(","));
        }
        put("TRANSP", if event.busy { "OPAQUE" } else { "TRANSPARENT" });
        put("END", "VEVENT");
    }
    put("END", "VCALENDAR");
    out
}

fn utc(at: Timestamp) -> String {
    at.strftime("%Y%m%dT%H%M%SZ").to_string()
}

/// Text as section 3.3.11 writes it; control characters, which it forbids, become spaces.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.replace("\r\n", "\n").chars() {
        match c {
            '\\' | ';' | ',' => {
                out.push('\\');
                out.push(c);
            }
            '\n' => out.push_str("\\n"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// Adds a line, folded between characters: the space that begins a continuation counts.
fn fold(out: &mut String, line: &str) {
    let mut used = 0;
    for c in line.chars() {
        if used + c.len_utf8() > LONGEST {
            out.push_str("\r\n ");
            used = 1;
        }
        let _ = out.write_char(c);
        used += c.len_utf8();
    }
    out.push_str("\r\n");
}
