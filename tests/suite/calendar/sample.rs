//! The meetings of Varrow, whose zone only its own file knows: one hour behind UTC in summer, two in winter.
use jiff::{Timestamp, ToSpan};
use waymask::calendar::{self, Calendar, Clock};

fn sample() -> Calendar {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/data-samples/varrow-meetings.ics");
    calendar::read(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// Meetings of a day of the island: start and end in UTC, title.
fn day(day: i8) -> Vec<(String, String, String)> {
    let calendar = sample();
    let varrow = calendar.zone("Varrow").unwrap();
    let from = jiff::civil::date(2026, 6, day).to_zoned(varrow.clone()).unwrap();
    let found = calendar.between(from.timestamp(), (&from + 1.day()).timestamp(), &varrow);
    assert!(found.complaints.is_empty() && found.all_day.is_empty(), "{:?}", found.complaints);
    let utc = |t: Timestamp| t.strftime("%d %H:%M").to_string();
    let row = |m: &calendar::Occurrence| (utc(m.start.timestamp()), utc(m.end.timestamp()), m.details.summary.clone());
    found.meetings.iter().map(row).collect()
}

fn rows(want: &[(&str, &str, &str)]) -> Vec<(String, String, String)> {
    want.iter().map(|(a, b, c)| ((*a).into(), (*b).into(), (*c).into())).collect()
}

#[test]
fn the_three_days_of_the_circuit() {
    let first = [
        ("15 10:00", "15 10:30", "Datum review with the port office"),
        ("15 11:30", "15 12:15", "Chat with the harbour crew"),
        ("15 12:30", "15 13:00", "Send the Eastmark readings"),
    ];
    assert_eq!(day(15), rows(&first));
    let workshop = "Gauge workshop, questions and answers from the northern stations; bring the June tables";
    let second = [
        ("16 09:30", "16 10:15", "Weekly levelling call"),
        ("16 11:15", "16 12:00", workshop),
        ("16 12:00", "16 12:30", "Upload photographs of the pass benchmarks"),
    ];
    assert_eq!(day(16), rows(&second));
    assert_eq!(day(17), rows(&[("17 09:15", "17 09:45", "Budget hearing"), ("17 11:00", "17 11:20", "Farewell call")]));
    assert_eq!(day(23), []);
    assert_eq!(day(30), rows(&[("30 09:30", "30 10:15", "Weekly levelling call")]));
}

#[test]
fn what_the_meetings_say() {
    let calendar = sample();
    let span = ("2026-06-15T00:00Z".parse().unwrap(), "2026-06-18T02:00Z".parse().unwrap());
    let found = calendar.between(span.0, span.1, &calendar.zone("Varrow").unwrap());
    let of = |title: &str| found.meetings.iter().find(|m| m.details.summary.starts_with(title)).unwrap();
    assert_eq!(of("Weekly").details.categories, ["must-not-drop"]);
    assert!(of("Weekly").recurring && of("Farewell").details.tentative && !of("Budget").details.tentative);
    assert_eq!(of("Gauge").details.location.as_deref(), Some("Pellhaven, quay shed"));
    let clocks = ["Datum", "Chat", "Send"].map(|t| of(t).clock);
    assert_eq!(clocks, [Clock::Utc, Clock::Zone, Clock::Floating]);
}

#[test]
fn the_islands_clocks_change_when_its_file_says_so() {
    let zone = sample().zone("Varrow").unwrap();
    // Last Sundays of March and October 2026, 02:00 UTC.
    for (at, hours) in [
        ("2026-03-29T01:59:59Z", -2),
        ("2026-03-29T02:00:00Z", -1),
        ("2026-10-25T01:59:59Z", -1),
        ("2026-10-25T02:00:00Z", -2),
        ("2099-07-01T00:00:00Z", -1),
    ] {
        assert_eq!(zone.to_offset(at.parse().unwrap()).seconds(), hours * 3600, "{at}");
    }
}
