//! What an event says of itself, days, and which spans it touches.
use crate::calendar::kit::{calendar, found, found_in, lengths, starts};
use waymask::calendar::{self, Clock};

const DAY: (&str, &str) = ("2026-06-15T00:00Z", "2026-06-16T00:00Z");

#[test]
fn everything_an_event_says_is_read() {
    let body = "SUMMARY;LANGUAGE=en:Review\\, part 2\\; see \\\"notes\\\"\nLOCATION;ALTREP=\"http://x.invalid/a:b;c\":Pier 3\\nupstairs
CATEGORIES:must-not-drop,two\\, three\nCATEGORIES:casual\nSTATUS:TENTATIVE\nTRANSP:TRANSPARENT\nDTSTART:20260615T100000Z
DTEND:20260615T103000Z\nBEGIN:VALARM\nTRIGGER:-PT5M\nSUMMARY:alarm\nSTATUS:CANCELLED\nDURATION:PT9H\nEND:VALARM";
    let found = found(body, DAY.0, DAY.1);
    let meeting = &found.meetings[0];
    let details = &meeting.details;
    assert_eq!(details.summary, "Review, part 2; see \"notes\"");
    assert_eq!(details.location.as_deref(), Some("Pier 3\nupstairs"));
    assert_eq!(details.categories, ["must-not-drop", "two, three", "casual"]);
    assert!(details.tentative && details.transparent && !meeting.recurring);
    assert_eq!((meeting.clock, meeting.length_s(), found.complaints.len()), (Clock::Utc, 1800, 0));
}

#[test]
fn days_are_no_meetings_and_end_before_their_dtend() {
    for (rest, last) in
        [("DTEND;VALUE=DATE:20260617", "2026-06-16"), ("DURATION:P1W", "2026-06-21"), ("X-A:1", "2026-06-15")]
    {
        let found = found(&format!("DTSTART;VALUE=DATE:20260615\n{rest}\nSUMMARY:holiday"), DAY.0, DAY.1);
        assert!(found.meetings.is_empty());
        assert_eq!(found.all_day.len(), 1, "{rest}");
        assert_eq!(
            (found.all_day[0].first.to_string().as_str(), found.all_day[0].last.to_string().as_str()),
            ("2026-06-15", last)
        );
    }
    // A day is the traveller's: in Tokyo the fifteenth is over at 15:00 UTC.
    let day = |from, to| found_in("DTSTART;VALUE=DATE:20260615", from, to, "Asia/Tokyo").all_day.len();
    assert_eq!(day("2026-06-15T15:00Z", "2026-06-16T00:00Z"), 0);
    assert_eq!(day("2026-06-14T15:00Z", "2026-06-14T16:00Z"), 1);
    assert_eq!(day("2026-06-14T14:00Z", "2026-06-14T15:00Z"), 0);
}

#[test]
fn recurring_days_and_their_exceptions() {
    let body =
        "DTSTART;VALUE=DATE:20260101\nRRULE:FREQ=MONTHLY;BYMONTHDAY=15;UNTIL=20260615\nEXDATE;VALUE=DATE:20260515";
    let found = found(body, "2026-04-01T00:00Z", "2026-12-01T00:00Z");
    assert_eq!(found.all_day.iter().map(|d| d.first.to_string()).collect::<Vec<_>>(), ["2026-04-15", "2026-06-15"]);
}

#[test]
fn a_span_holds_what_touches_it_and_no_more() {
    let event = "DTSTART:20260615T100000Z\nDTEND:20260615T110000Z";
    for (from, to, meetings) in
        [("09:00", "10:00", 0), ("09:00", "10:01", 1), ("10:59", "12:00", 1), ("11:00", "12:00", 0)]
    {
        let found = found(event, &format!("2026-06-15T{from}Z"), &format!("2026-06-15T{to}Z"));
        assert_eq!(found.meetings.len(), meetings, "{from} to {to}");
    }
    let moment = "DTSTART:20260615T100000Z";
    assert_eq!(found(moment, "2026-06-15T10:00Z", "2026-06-15T11:00Z").meetings.len(), 1);
    assert_eq!(found(moment, "2026-06-15T09:00Z", "2026-06-15T10:00Z").meetings.len(), 0);
    // One that began long before and recurs.
    let long = "DTSTART:20260101T100000Z\nDURATION:P10D\nRRULE:FREQ=MONTHLY";
    assert_eq!(starts(&found(long, "2026-06-09T00:00Z", "2026-06-10T00:00Z")), ["2026-06-01 10:00 +0000"]);
}

#[test]
fn cancelled_events_are_counted_and_a_calendar_may_cancel_them_all() {
    let event = "DTSTART:20260615T100000Z\nSTATUS:CANCELLED";
    assert_eq!(
        (found(event, DAY.0, DAY.1).cancelled, found(event, "2026-06-16T00:00Z", "2026-06-17T00:00Z").cancelled),
        (1, 0)
    );
    let text = calendar("DTSTART:20260615T100000Z").replace("VERSION:2.0", "VERSION:2.0\r\nMETHOD:CANCEL");
    let all = calendar::read(&text).unwrap().between(
        DAY.0.parse().unwrap(),
        DAY.1.parse().unwrap(),
        &jiff::tz::TimeZone::UTC,
    );
    assert_eq!((all.cancelled, all.meetings.len()), (1, 0));
}

#[test]
fn ends_that_make_no_sense_are_reported() {
    for (rest, word) in [
        ("DTEND:20260615T090000Z", "before DTSTART"),
        ("DTEND;TZID=Nowhere:20260615T120000", "neither"),
        ("DURATION:-PT1H", "not a valid length"),
        ("DURATION:1h", "not a valid length"),
        ("DTEND:noon", "not a date or time"),
    ] {
        let found = found(&format!("DTSTART:20260615T100000Z\n{rest}"), DAY.0, DAY.1);
        assert_eq!(lengths(&found), [("2026-06-15 10:00 +0000".to_owned(), 0)]);
        assert!(!found.complaints[0].lost && found.complaints[0].fact.contains(word), "{:?}", found.complaints);
    }
}

#[test]
fn until_may_be_a_day_or_a_wall_clock() {
    for until in ["20260617", "20260617T100000", "20260617T120000Z"] {
        let body = format!("DTSTART;TZID=Atlantic/Azores:20260615T100000\nRRULE:FREQ=DAILY;UNTIL={until}");
        assert_eq!(found(&body, DAY.0, "2026-07-01T00:00Z").meetings.len(), 3, "{until}");
    }
    let body = "DTSTART;TZID=Atlantic/Azores:20260615T100000\nRRULE:FREQ=DAILY;UNTIL=20260617T095959Z";
    assert_eq!(found(body, DAY.0, "2026-07-01T00:00Z").meetings.len(), 2);
}
