//! EXDATE and RDATE (RFC 5545 sections 3.8.5.1 and 3.8.5.2), changed instances (3.8.4.4), lengths (3.8.5.3).
use crate::calendar::kit::{found, lengths, starts};

const SPAN: (&str, &str) = ("1996-01-01T00:00Z", "2000-01-01T00:00Z");

fn all(body: &str) -> waymask::calendar::EventsFound {
    found(body, SPAN.0, SPAN.1)
}

/// The exceptions of section 3.8.5.1.
#[test]
fn exceptions_are_left_out() {
    let body =
        "DTSTART:19960402T010000Z\nEXDATE:19960402T010000Z,19960403T010000Z,19960404T010000Z\nRRULE:FREQ=DAILY;COUNT=5";
    assert_eq!(starts(&all(body)), ["1996-04-05 01:00 +0000", "1996-04-06 01:00 +0000"]);
    let in_zone = body.replace("EXDATE:19960402T010000Z", "EXDATE;TZID=America/New_York:19960401T200000");
    assert_eq!(starts(&all(&in_zone)), ["1996-04-05 01:00 +0000", "1996-04-06 01:00 +0000"]);
}

/// The dates and periods of section 3.8.5.2.
#[test]
fn further_dates_and_periods() {
    let body = "DTSTART:19970714T083000Z\nDURATION:PT15M
        RDATE:19970714T123000Z
        RDATE;TZID=America/New_York:19970714T083000
        RDATE;VALUE=PERIOD:19960403T020000Z/19960403T040000Z,19960404T010000Z/PT3H";
    let want = [
        ("1996-04-03 02:00 +0000", 120),
        ("1996-04-04 01:00 +0000", 180),
        ("1997-07-14 08:30 +0000", 15),
        // 08:30 in New York is 12:30 UTC: one instance.
        ("1997-07-14 12:30 +0000", 15),
    ];
    assert_eq!(lengths(&all(body)), want.map(|(at, minutes)| (at.to_owned(), minutes)));
    let days = "DTSTART;VALUE=DATE:19970101\nRDATE;VALUE=DATE:19970120,19970217,19970421\n RDATE;VALUE=DATE:19970526";
    let found = all(days);
    let first: Vec<String> = found.all_day.iter().map(|d| d.first.to_string()).collect();
    assert_eq!(first, ["1997-01-01", "1997-01-20", "1997-02-17", "1997-04-21", "1997-05-26"]);
}

/// Section 5, practice 2: of a rule and a period with the same start, the period keeps its length.
#[test]
fn a_period_on_a_date_of_the_rule_is_one_meeting_of_its_own_length() {
    let body =
        "DTSTART:19970714T083000Z\nDURATION:PT15M\nRRULE:FREQ=DAILY;COUNT=2\nRDATE;VALUE=PERIOD:19970715T083000Z/PT2H";
    let want = [("1997-07-14 08:30 +0000".to_owned(), 15), ("1997-07-15 08:30 +0000".to_owned(), 120)];
    assert_eq!(lengths(&all(body)), want);
}

fn series(change: &str) -> String {
    format!(
        "BEGIN:VEVENT\nUID:1\nSUMMARY:weekly\nDTSTART;TZID=America/New_York:19970902T090000\nDTEND;TZID=America/New_York:19970902T093000
RRULE:FREQ=WEEKLY;COUNT=4\nEND:VEVENT\nBEGIN:VEVENT\nUID:1\n{change}\nEND:VEVENT\n"
    )
}

#[test]
fn a_moved_instance_replaces_the_one_it_names() {
    let moved =
        "RECURRENCE-ID;TZID=America/New_York:19970909T090000\nSUMMARY:moved\nDTSTART:19970910T140000Z\nDURATION:PT1H";
    let found = all(&series(moved));
    let want = [
        ("1997-09-02 09:00 -0400", 30),
        ("1997-09-10 14:00 +0000", 60),
        ("1997-09-16 09:00 -0400", 30),
        ("1997-09-23 09:00 -0400", 30),
    ];
    assert_eq!(lengths(&found), want.map(|(at, minutes)| (at.to_owned(), minutes)));
    assert_eq!(found.meetings[1].details.summary, "moved");
    assert!(found.meetings.iter().all(|m| m.recurring));
    // Only the day it was moved to, and only the day it was moved from.
    let day = |from: &str, to: &str| starts(&crate::calendar::kit::found(&series(moved), from, to));
    assert_eq!(day("1997-09-10T00:00Z", "1997-09-11T00:00Z"), ["1997-09-10 14:00 +0000"]);
    assert_eq!(day("1997-09-09T00:00Z", "1997-09-10T00:00Z"), [""; 0]);
    // The same in UTC, in another order of the file.
    let utc = moved.replace(";TZID=America/New_York:19970909T090000", ":19970909T130000Z");
    assert_eq!(starts(&all(&series(&utc))), starts(&found));
}

#[test]
fn a_cancelled_instance_is_counted_where_it_would_be() {
    let gone = "RECURRENCE-ID;TZID=America/New_York:19970909T090000\nDTSTART;TZID=America/New_York:19970909T090000\nSTATUS:CANCELLED";
    let found = all(&series(gone));
    assert_eq!((found.meetings.len(), found.cancelled), (3, 1));
    let other_day = crate::calendar::kit::found(&series(gone), "1997-09-16T00:00Z", "1997-09-17T00:00Z");
    assert_eq!((other_day.meetings.len(), other_day.cancelled), (1, 0));
}

#[test]
fn a_change_of_this_and_all_later_instances_moves_them_all() {
    let later = "RECURRENCE-ID;RANGE=THISANDFUTURE;TZID=America/New_York:19970916T090000\nSUMMARY:new
DTSTART;TZID=America/New_York:19970917T110000\nDURATION:PT45M";
    let want = [
        ("1997-09-02 09:00 -0400", 30),
        ("1997-09-09 09:00 -0400", 30),
        ("1997-09-17 11:00 -0400", 45),
        ("1997-09-24 11:00 -0400", 45),
    ];
    assert_eq!(lengths(&all(&series(later))), want.map(|(at, minutes)| (at.to_owned(), minutes)));
    let day = crate::calendar::kit::found(&series(later), "1997-09-24T00:00Z", "1997-09-25T00:00Z");
    assert_eq!(starts(&day), ["1997-09-24 11:00 -0400"]);
}

#[test]
fn the_last_revision_counts_and_a_lone_instance_stands() {
    let twice = "BEGIN:VEVENT\nUID:1\nSEQUENCE:0\nDTSTART:19970902T090000Z\nEND:VEVENT
BEGIN:VEVENT\nUID:1\nSEQUENCE:2\nDTSTART:19970903T090000Z\nEND:VEVENT";
    assert_eq!(starts(&all(twice)), ["1997-09-03 09:00 +0000"]);
    let lone = "RECURRENCE-ID:19970902T090000Z\nDTSTART:19970904T090000Z";
    assert_eq!(starts(&all(lone)), ["1997-09-04 09:00 +0000"]);
}

/// Section 3.8.5.3: DTEND gives the same seconds every time, DURATION the same days on the calendar.
#[test]
fn exact_and_nominal_lengths_differ_over_a_change_of_clocks() {
    let of = |length: &str| {
        let body = format!("DTSTART;TZID=America/New_York:19971024T120000\n{length}\nRRULE:FREQ=DAILY;COUNT=2");
        lengths(&all(&body)).into_iter().map(|(_, minutes)| minutes).collect::<Vec<_>>()
    };
    assert_eq!(of("DTEND;TZID=America/New_York:19971025T120000"), [1440, 1440]);
    assert_eq!(of("DURATION:P1D"), [1440, 1500]);
    assert_eq!(of("DURATION:PT24H"), [1440, 1440]);
    assert_eq!(of("X-NONE:1"), [0, 0]);
}
