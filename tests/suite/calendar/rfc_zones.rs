//! The zones of RFC 5545 section 3.6.5 and the times of section 3.3.5.
use crate::calendar::kit::{found, found_in, starts, zone};
use jiff::civil::date;

/// New York since April 1967, as the standard gives it.
const NEW_YORK: &str = "BEGIN:VTIMEZONE
TZID:{id}
BEGIN:DAYLIGHT
DTSTART:19670430T020000
RRULE:FREQ=YEARLY;BYMONTH=4;BYDAY=-1SU;UNTIL=19730429T070000Z
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
BEGIN:STANDARD
DTSTART:19671029T020000
RRULE:FREQ=YEARLY;BYMONTH=10;BYDAY=-1SU;UNTIL=20061029T060000Z
TZOFFSETFROM:-0400
TZOFFSETTO:-0500
TZNAME:EST
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:19740106T020000
RDATE:19750223T020000
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
BEGIN:DAYLIGHT
DTSTART:19760425T020000
RRULE:FREQ=YEARLY;BYMONTH=4;BYDAY=-1SU;UNTIL=19860427T070000Z
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
BEGIN:DAYLIGHT
DTSTART:19870405T020000
RRULE:FREQ=YEARLY;BYMONTH=4;BYDAY=1SU;UNTIL=20060402T070000Z
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
BEGIN:DAYLIGHT
DTSTART:20070311T020000
RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=2SU
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
BEGIN:STANDARD
DTSTART:20071104T020000
RRULE:FREQ=YEARLY;BYMONTH=11;BYDAY=1SU
TZOFFSETFROM:-0400
TZOFFSETTO:-0500
TZNAME:EST
END:STANDARD
END:VTIMEZONE
";

/// "Daylight Time rule has an effective end date", and another that follows on it.
const ENDED: &str = "BEGIN:VTIMEZONE
TZID:Fictitious
BEGIN:STANDARD
DTSTART:19671029T020000
RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=10
TZOFFSETFROM:-0400
TZOFFSETTO:-0500
TZNAME:EST
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:19870405T020000
RRULE:FREQ=YEARLY;BYDAY=1SU;BYMONTH=4;UNTIL=19980404T070000Z
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
{second}END:VTIMEZONE
";
const SECOND: &str = "BEGIN:DAYLIGHT
DTSTART:19990424T020000
RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=4
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
";

fn event(zone: &str, at: &str) -> String {
    format!("BEGIN:VEVENT\nUID:1\nDTSTART;TZID={zone}:{at}\nEND:VEVENT\n")
}

#[test]
fn the_zone_of_the_file_agrees_with_the_database_for_sixty_years() {
    let known = zone("America/New_York");
    let mut day = date(1968, 1, 1);
    let rules = NEW_YORK.replace("{id}", "Mine");
    let mut events = String::new();
    let mut want = Vec::new();
    while day < date(2028, 1, 1) {
        for hour in [0, 1, 2, 3, 12] {
            let wall = day.at(hour, 30, 0, 0);
            events += &event("Mine", &wall.strftime("%Y%m%dT%H%M%S").to_string())
                .replace("UID:1", &format!("UID:{}", want.len()));
            want.push(known.to_ambiguous_zoned(wall).compatible().unwrap().timestamp());
        }
        // Sundays, when clocks change, and a Thursday between them; New York began on a Sunday in January 1974 too.
        day = day
            .checked_add(jiff::Span::new().days(if day.weekday() == jiff::civil::Weekday::Sunday { 4 } else { 3 }))
            .unwrap();
        while !matches!(day.weekday(), jiff::civil::Weekday::Sunday | jiff::civil::Weekday::Thursday) {
            day = day.tomorrow().unwrap();
        }
    }
    let found = found(&(rules + events.as_str()), "1960-01-01T00:00Z", "2030-01-01T00:00Z");
    let mut got: Vec<_> = found.meetings.iter().map(|m| m.start.timestamp()).collect();
    got.sort();
    want.sort();
    assert_eq!(got.len(), want.len());
    assert_eq!(got, want);
}

#[test]
fn a_rule_for_daylight_time_ends_and_another_follows() {
    let on = |second: &str, day: &str| {
        let zone = ENDED.replace("{second}", second);
        starts(&found(&(zone + event("Fictitious", day).as_str()), "1990-01-01T00:00Z", "2010-01-01T00:00Z"))
    };
    // UNTIL is before the Sunday of 1998: the last summer is that of 1997.
    assert_eq!(on("", "19970701T090000"), ["1997-07-01 09:00 -0400"]);
    assert_eq!(on("", "19980701T090000"), ["1998-07-01 09:00 -0500"]);
    assert_eq!(on("", "19990701T090000"), ["1999-07-01 09:00 -0500"]);
    assert_eq!(on(SECOND, "19980701T090000"), ["1998-07-01 09:00 -0500"]);
    assert_eq!(on(SECOND, "19990701T090000"), ["1999-07-01 09:00 -0400"]);
    assert_eq!(on(SECOND, "20050401T090000"), ["2005-04-01 09:00 -0500"]);
}

/// Section 3.3.5: a time that is shown twice is the first one, a time never shown is read by the offset before.
#[test]
fn times_shown_twice_and_never() {
    let zones = [("America/New_York", String::new()), ("Mine", NEW_YORK.replace("{id}", "Mine"))];
    for (name, rules) in zones {
        let at =
            |wall: &str| found(&(rules.clone() + event(name, wall).as_str()), "2007-01-01T00:00Z", "2008-01-01T00:00Z");
        assert_eq!(starts(&at("20071104T013000")), ["2007-11-04 01:30 -0400"]);
        let gap = at("20070311T023000");
        assert_eq!(starts(&gap), ["2007-03-11 03:30 -0400"]);
        assert!(gap.complaints[0].fact.contains("no clock shows this time on 2007-03-11"), "{:?}", gap.complaints);
    }
}

#[test]
fn daily_meetings_keep_their_wall_clock_when_clocks_change() {
    let body = "DTSTART;TZID=Europe/Paris:20260327T023000\nDURATION:PT1H\nRRULE:FREQ=DAILY;COUNT=4";
    let found = found(body, "2026-03-27T00:00Z", "2026-04-01T00:00Z");
    let want = ["2026-03-27 02:30 +0100", "2026-03-28 02:30 +0100", "2026-03-29 03:30 +0200", "2026-03-30 02:30 +0200"];
    assert_eq!(starts(&found), want);
    assert_eq!(found.complaints.len(), 1);
}

#[test]
fn floating_times_are_the_travellers() {
    for (traveller, want) in [("Europe/Paris", "2026-06-15 11:30 +0200"), ("Atlantic/Azores", "2026-06-15 11:30 +0000")]
    {
        let found = found_in("DTSTART:20260615T113000", "2026-06-15T00:00Z", "2026-06-16T00:00Z", traveller);
        assert_eq!(starts(&found), [want]);
        assert_eq!(found.meetings[0].clock.name(), "floating");
    }
}

#[test]
fn a_zone_is_found_by_its_last_words_or_reported() {
    let at = |id: &str| found(&event(id, "20260615T113000"), "2026-06-15T00:00Z", "2026-06-16T00:00Z");
    for id in ["Europe/Paris", "europe/paris", "/example.org/Europe/Paris", "/a.org/20050126_1/Europe/Paris"] {
        assert_eq!(starts(&at(id)), ["2026-06-15 11:30 +0200"], "{id}");
    }
    assert_eq!(starts(&at("/x/America/Argentina/Buenos_Aires")), ["2026-06-15 11:30 -0300"]);
    for (id, word) in [("Nowhere", "neither"), ("W. Atlantis Standard Time", "Windows"), ("x/Europe/Paris", "neither")]
    {
        let found = at(id);
        assert!(found.meetings.is_empty() && found.complaints.len() == 1, "{found:?}");
        let complaint = &found.complaints[0];
        assert!(complaint.lost && complaint.fact.contains(word) && complaint.fact.contains(id), "{complaint}");
        assert_eq!((complaint.uid.as_deref(), complaint.line), (Some("1"), 6));
    }
}

#[test]
fn the_files_own_definition_comes_before_the_database() {
    let zone = ENDED.replace("{second}", "").replace("Fictitious", "Europe/Paris");
    let found =
        found(&(zone + event("Europe/Paris", "20260615T113000").as_str()), "2026-06-15T00:00Z", "2026-06-16T00:00Z");
    assert_eq!(starts(&found), ["2026-06-15 11:30 -0500"]);
}

#[test]
fn an_unusable_definition_is_reported_and_the_database_asked() {
    let zone = "BEGIN:VTIMEZONE\nTZID:Europe/Paris\nBEGIN:STANDARD\nDTSTART:20000101T000000\nTZOFFSETFROM:+1\nTZOFFSETTO:+0100\nEND:STANDARD\nEND:VTIMEZONE\n";
    let found = found(
        &(zone.to_owned() + event("Europe/Paris", "20260615T113000").as_str()),
        "2026-06-15T00:00Z",
        "2026-06-16T00:00Z",
    );
    assert_eq!(starts(&found), ["2026-06-15 11:30 +0200"]);
    assert!(found.complaints[0].fact.contains("TZOFFSETFROM"), "{:?}", found.complaints);
}
