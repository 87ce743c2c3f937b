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
        // The crate that reads rules cuts the last two bytes off a day.
        "FREQ=WEEKLY;BYDAY=永",
        "FREQ=WEEKLY;BYDAY=é",
        "FREQ=DAILY;COUNT=５",
    ] {
        let found = found(&format!("DTSTART:20260615T100000Z\nRRULE:{rule}"), DAY.0, "2026-07-01T00:00Z");
        assert_eq!(starts(&found), ["2026-06-15 10:00 +0000"], "{rule}");
        assert!(found.complaints.iter().any(|c| c.lost), "{rule}: {:?}", found.complaints);
    }
}

#[test]
fn a_rule_of_foreign_letters_is_named_with_the_letter() {
    let found = found("DTSTART:20260615T100000Z\nRRULE:FREQ=WEEKLY;BYDAY=永", DAY.0, DAY.1);
    let [complaint] = &found.complaints[..] else { panic!("{:?}", found.complaints) };
    assert!(complaint.lost && complaint.line == 7, "{complaint:?}");
    assert!(complaint.fact.contains("`FREQ=WEEKLY;BYDAY=永`: `永` is not allowed in such rules"), "{complaint:?}");
    let long = format!("DTSTART:20260615T100000Z\nRRULE:FREQ=DAILY;BYHOUR={}1", "1,".repeat(100_000));
    let found = crate::calendar::kit::found(&long, DAY.0, DAY.1);
    assert!(found.complaints[0].fact.contains("longer than 10000 characters"), "{:?}", found.complaints[0]);
}

/// Few bytes that ask for all seconds of every day of a year at once, and many rules whose day never comes.
#[test]
fn what_one_file_may_ask_for_is_bounded() {
    let list = |range: std::ops::Range<u32>| range.map(|n| n.to_string()).collect::<Vec<_>>().join(",");
    let all = format!("BYHOUR={};BYMINUTE={};BYSECOND={}", list(0..24), list(0..60), list(0..60));
    let rule = |rule: &str| format!("DTSTART:20260615T100000Z\nRRULE:{rule}");
    let asked = found(&rule(&format!("FREQ=YEARLY;{all};BYYEARDAY={}", list(1..367))), DAY.0, DAY.1);
    assert!(asked.complaints[0].fact.contains("names 86400 times of the day"), "{:?}", asked.complaints[0]);
    let minutes = found(&rule(&format!("FREQ=DAILY;BYHOUR={};BYMINUTE={}", list(0..24), list(0..60))), DAY.0, DAY.1);
    assert_eq!((minutes.meetings.len(), minutes.complaints.len()), (14 * 60, 0), "one a minute, from ten o'clock on");

    let never: String = (0..100)
        .map(|n| format!("BEGIN:VEVENT\nUID:{n}\nDTSTART:20260615T100000Z\nRRULE:FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30\nEND:VEVENT\n"))
        .collect();
    let text = format!("BEGIN:VCALENDAR\n{never}END:VCALENDAR\n");
    let far = calendar::read(&text).unwrap().between(DAY.0.parse().unwrap(), DAY.1.parse().unwrap(), &TimeZone::UTC);
    let say = |part: &str| far.complaints.iter().filter(|c| c.lost && c.fact.contains(part)).count();
    assert_eq!((say("gives no further date"), say("was not followed, because too many other rules")), (20, 80));
}

#[test]
fn components_that_are_not_read_are_counted_by_kind() {
    let event =
        "BEGIN:VEVENT\nUID:1\nDTSTART:20260615T100000Z\nBEGIN:VALARM\nEND:VALARM\nBEGIN:VEVENT\nEND:VEVENT\nEND:VEVENT";
    let text = format!(
        "BEGIN:VCARD\nEND:VCARD\n{}",
        calendar(&format!("{event}\nBEGIN:VTODO\nEND:VTODO\nBEGIN:VTODO\nEND:VTODO\nBEGIN:VSURPRISE\nEND:VSURPRISE"))
    );
    let found = calendar::read(&text).unwrap().between(DAY.0.parse().unwrap(), DAY.1.parse().unwrap(), &TimeZone::UTC);
    let said: Vec<(usize, &str, bool)> =
        found.complaints.iter().map(|c| (c.line, c.fact.split(':').next().unwrap(), c.lost)).collect();
    let want = [
        (1, "1 component VCARD outside the calendar", true),
        (11, "1 component VEVENT in VEVENT", true),
        (14, "2 components VTODO in VCALENDAR", false),
        (18, "1 component VSURPRISE in VCALENDAR", true),
    ];
    assert_eq!(said, want, "{:?}", found.complaints);
    assert_eq!(starts(&found), ["2026-06-15 10:00 +0000"]);
}

/// Twenty thousand instances, each changed and each excepted: the work grows with their number and not with its square.
/// Comparing every instance with every change took a minute.
#[test]
fn many_changes_of_one_series_are_found_at_once() {
    let time = |i: usize| format!("20260615T{:02}{:02}{:02}Z", i / 3_600, i / 60 % 60, i % 60);
    let changed: String = (0..20_000)
        .map(|i| format!("BEGIN:VEVENT\nUID:1\nRECURRENCE-ID:{0}\nDTSTART:{0}\nSUMMARY:c{i}\nEND:VEVENT\n", time(i)))
        .collect();
    let excepted: String = (20_000..40_000).map(|i| format!("EXDATE:{}\n", time(i))).collect();
    let body = format!(
        "BEGIN:VEVENT\nUID:1\nDTSTART:20260615T000000Z\nRRULE:FREQ=SECONDLY;COUNT=40001\n{excepted}END:VEVENT\n{changed}"
    );
    let began = std::time::Instant::now();
    let found = found(&body, DAY.0, DAY.1);
    assert_eq!(found.meetings.len(), 20_001);
    assert_eq!(found.meetings.iter().filter(|m| m.details.summary.starts_with('c')).count(), 20_000);
    assert!(began.elapsed() < std::time::Duration::from_secs(20), "{:?}", began.elapsed());
}

#[test]
fn lines_without_grammar_are_told_up_to_a_number_and_then_counted() {
    let text = calendar("DTSTART:20260615T100000Z").replace("VERSION", &format!("{}VERSION", "x\n".repeat(5_000)));
    let calendar = calendar::read(&text).unwrap();
    assert_eq!(calendar.complaints().len(), 1_001);
    let last = &calendar.complaints()[1_000];
    assert!(last.line == 1_002 && last.fact.contains("this and 3999 further lines"), "{last:?}");
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
