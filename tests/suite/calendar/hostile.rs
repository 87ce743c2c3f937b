//! Files that are broken, or made to keep a reader busy.
use crate::calendar::kit::{calendar, found, starts};
use jiff::tz::TimeZone;
use proptest::prelude::*;
use waymask::calendar;

const DAY: (&str, &str) = ("2026-06-15T00:00Z", "2026-06-16T00:00Z");

#[test]
fn what_is_no_calendar_is_refused() {
    for text in ["", "hello", "BEGIN:VEVENT\nEND:VEVENT", "<html></html>", "\u{0}\u{1}"] {
        assert!(calendar::read(text).is_err(), "{text}");
    }
    assert!(calendar::read(&"BEGIN:VCALENDAR\n".repeat(200_000)).unwrap_err().contains("nested"));
}

#[test]
fn one_bad_event_or_line_leaves_the_others() {
    let body = "BEGIN:VEVENT\nUID:a\nSUMMARY:no start\nEND:VEVENT\nBEGIN:VEVENT\nthis is no line\nUID:b\nDTSTART:20260615T100000Z\nEND:VEVENT
BEGIN:VEVENT\nUID:c\nDTSTART:tomorrow\nEND:VEVENT\nBEGIN:VEVENT\nUID:d\nDTSTART:20260615T110000Z";
    let found = found(body, DAY.0, DAY.1);
    assert_eq!(starts(&found), ["2026-06-15 10:00 +0000", "2026-06-15 11:00 +0000"]);
    let lines: Vec<usize> = found.complaints.iter().map(|c| c.line).collect();
    assert_eq!(lines, [4, 9, 15, 17], "{:?}", found.complaints);
    let named: Vec<_> = found.complaints.iter().map(|c| c.uid.as_deref().unwrap_or("")).collect();
    assert_eq!(named, ["a", "", "c", ""]);
}

/// Each rule was begun long ago and never ends: the answer for one day comes without walking the years between.
#[test]
fn endless_rules_are_bounded() {
    let count = |rule: &str| {
        let found = found(&format!("DTSTART:19700101T000000Z\nRRULE:{rule}"), DAY.0, DAY.1);
        (found.meetings.len(), found.complaints.iter().filter(|c| c.lost).count())
    };
    assert_eq!(count("FREQ=HOURLY"), (24, 0));
    assert_eq!(count("FREQ=MINUTELY;INTERVAL=7"), (206, 0));
    assert_eq!(count("FREQ=SECONDLY;BYHOUR=9;BYMINUTE=0;BYSECOND=0,30"), (2, 0));
    assert_eq!(count("FREQ=SECONDLY;BYMONTH=6;BYMONTHDAY=15;BYHOUR=9;BYMINUTE=0;BYSECOND=0"), (1, 0));
    assert_eq!(count("FREQ=HOURLY;COUNT=1000000"), (24, 0));
    assert_eq!(count("FREQ=DAILY;COUNT=20000"), (0, 0));
    // Every second: cut, and said so.
    let (meetings, lost) = count("FREQ=SECONDLY");
    assert!(meetings <= 100_000 && lost == 1, "{meetings} {lost}");
    // Counted seconds that cannot be skipped, and a date that never comes.
    assert_eq!(count("FREQ=SECONDLY;COUNT=2000000000;BYSECOND=0,1,2,3,4,5"), (0, 1));
    assert_eq!(count("FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30"), (0, 1));
    assert_eq!(count("FREQ=SECONDLY;BYMONTH=2;BYMONTHDAY=30"), (0, 1));
    assert_eq!(count("FREQ=SECONDLY;INTERVAL=65535;BYMINUTE=1;BYSECOND=1"), (0, 0));
}

#[test]
fn rules_that_make_no_sense_keep_the_first_date_and_are_reported() {
    for rule in [
        "",
        "FREQ=NEVER",
        "FREQ=DAILY;INTERVAL=0",
        "FREQ=DAILY;COUNT=0",
        "FREQ=DAILY;COUNT=-1",
        "FREQ=DAILY;BYMONTH=13",
        "FREQ=WEEKLY;BYMONTHDAY=1",
        "FREQ=DAILY;UNTIL=soon",
        "FREQ=DAILY;BYDAY",
        "BYDAY=MO",
        "FREQ=DAILY;INTERVAL=99999999999",
        "FREQ=DAILY;RSCALE=HEBREW",
    ] {
        let found = found(&format!("DTSTART:20260615T100000Z\nRRULE:{rule}"), DAY.0, "2026-07-01T00:00Z");
        assert_eq!(starts(&found), ["2026-06-15 10:00 +0000"], "{rule}");
        assert!(found.complaints.iter().any(|c| c.lost), "{rule}: {:?}", found.complaints);
    }
}

#[test]
fn times_at_the_edges_of_the_calendar() {
    for body in [
        "DTSTART:00010101T000000Z\nRRULE:FREQ=YEARLY",
        "DTSTART:99991231T235959Z\nDURATION:P9999D\nRRULE:FREQ=DAILY",
        "DTSTART:20260615T000000Z\nDURATION:P999999D",
        "DTSTART:00000101T000000Z",
    ] {
        let text = calendar(body);
        let (first, last) = (jiff::Timestamp::MIN, jiff::Timestamp::MAX);
        for zone in [TimeZone::UTC, crate::calendar::kit::zone("Pacific/Apia")] {
            calendar::read(&text).unwrap().between(first, last, &zone);
            calendar::read(&text).unwrap().between(last, first, &zone);
        }
    }
}

proptest! {
    /// Any mixture of pieces of a calendar is read or refused, and answered, without a panic.
    #[test]
    fn mixtures_of_lines_are_survived(picks in prop::collection::vec(0..PIECES.len(), 0..40), noise in ".{0,40}") {
        let lines: Vec<&str> = picks.iter().map(|k| PIECES[*k]).chain([noise.as_str()]).collect();
        let text = format!("BEGIN:VCALENDAR\n{}\nEND:VCALENDAR\n", lines.join("\n"));
        if let Ok(calendar) = calendar::read(&text) {
            calendar.between(DAY.0.parse().unwrap(), DAY.1.parse().unwrap(), &TimeZone::UTC);
        }
    }
}

const PIECES: &[&str] = &[
    "BEGIN:VEVENT",
    "END:VEVENT",
    "BEGIN:VTIMEZONE",
    "END:VTIMEZONE",
    "BEGIN:STANDARD",
    "END:STANDARD",
    "TZID:Z",
    "TZOFFSETFROM:+0100",
    "TZOFFSETTO:-0200",
    "DTSTART:20260615T100000",
    "DTSTART;TZID=Z:20260101T100000",
    "DTSTART;VALUE=DATE:20260615",
    "DTSTART:20260615T100000Z",
    "UID:1",
    "UID:2",
    "RRULE:FREQ=DAILY",
    "RRULE:FREQ=YEARLY;BYDAY=-1SU",
    "RRULE:FREQ=WEEKLY;COUNT=3;BYDAY=MO,TU",
    "EXDATE:20260615T100000Z",
    "RDATE;VALUE=PERIOD:20260615T120000Z/PT1H",
    "RDATE:20260615T120000/",
    "RECURRENCE-ID:20260615T100000Z",
    "RECURRENCE-ID;RANGE=THISANDFUTURE:20260101T100000",
    "DTEND:20260616",
    "DURATION:P1D",
    "STATUS:CANCELLED",
    " folded",
    "SEQUENCE:9",
    "DTSTART:",
    ":",
    ";",
];
