//! `plan` and calendars: what they hold stands in the answer, what is left out of them too, and the plan goes back into one.
use std::collections::BTreeMap;
use std::path::Path;

use serde_json::Value;

use crate::ask::plan::{AT_EIGHT, NO_SHIFT, folder, json, run};

fn event(uid: &str, more: &str) -> String {
    format!("BEGIN:VEVENT\r\nUID:{uid}\r\nDTSTAMP:20260101T000000Z\r\nSUMMARY:{uid} & <co>\r\n{more}\r\nEND:VEVENT\r\n")
}

fn calendar(folder: &Path, events: &[String]) {
    let text = format!("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//test//EN\r\n{}END:VCALENDAR\r\n", events.concat());
    std::fs::write(folder.join("day.ics"), text).unwrap();
}

/// An answer in its three forms.
struct Answers {
    day: Value,
    text: String,
    brief: String,
}

fn answers(folder: &Path, more: &[&str]) -> Answers {
    let args = [&AT_EIGHT[..], more].concat();
    let day = json(&run(folder, &[&args[..], &["--json"]].concat()))["days"][0].take();
    let text = String::from_utf8(run(folder, &args).stdout).unwrap();
    let out = run(folder, &[&args[..], &["-o", "brief.html", "--overwrite"]].concat());
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    Answers { day, text, brief: std::fs::read_to_string(folder.join("brief.html")).unwrap() }
}

impl Answers {
    /// What is left out: name, when, why. The table has each directly under the meetings, the brief in the answer.
    fn left_out(&self) -> Vec<[String; 3]> {
        let rows = self.day["meetings_left_out"].as_array().unwrap();
        let word = |row: &Value, key: &str| row[key].as_str().unwrap_or_default().to_owned();
        let rows: Vec<[String; 3]> = rows.iter().map(|r| ["name", "when", "why"].map(|k| word(r, k))).collect();
        let meetings = self.text.split("\nmeetings").nth(1).unwrap().split("\nthe day").next().unwrap();
        let answer = self.brief.split("<figure").next().unwrap();
        let told = meetings.lines().skip_while(|l| !l.starts_with("  left out: ")).collect::<Vec<_>>();
        assert!(told.iter().all(|l| l.starts_with("  left out: ")), "{}", self.text);
        assert_eq!(told.len(), rows.len(), "{}", self.text);
        for (line, row) in told.iter().zip(&rows) {
            assert!(row.iter().all(|word| line.contains(word.as_str())), "{row:?} is missing in {line}");
            let html = line.trim_start_matches("  left out: ").replace('&', "&amp;").replace('<', "&lt;");
            assert!(answer.contains(&format!("<li>{}</li>", html.replace('>', "&gt;"))), "{html}\n{answer}");
        }
        rows
    }
}

#[test]
fn what_is_left_out_of_a_calendar_stands_under_the_meetings() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    calendar(
        &folder,
        &[
            event("review", "DTSTART:20260615T082500Z\r\nDURATION:PT15M"),
            event("lost", "DTSTART;TZID=Nowhere:20260615T090000\r\nDURATION:PT1H"),
            event("odd", "DTSTART:soon"),
            event("none", "DURATION:PT1H"),
            event("slip", "DTSTART:20250615T100000Z\r\nDURATION:PT1H"),
            event("weekly", "DTSTART:20270607T090000\r\nDURATION:PT1H\r\nRRULE:FREQ=WEEKLY;COUNT=5"),
            event("later", "DTSTART:20270907T090000Z\r\nDURATION:PT1H"),
            event("holiday", "DTSTART;VALUE=DATE:20260101"),
            event("off", "DTSTART:20250101T090000Z\r\nDURATION:PT1H\r\nSTATUS:CANCELLED"),
        ],
    );
    let got = answers(&folder, &[]);
    assert_eq!(got.day["plan"]["chosen"]["meetings"].as_array().unwrap().len(), 1);
    let rows = got.left_out();
    let want = [
        ("lost & <co>", "2026-06-15 09:00 (Nowhere)", "time zone `Nowhere` is neither"),
        ("odd & <co>", "`soon`", "is not a date or time"),
        ("none & <co>", "", "event without DTSTART"),
        ("slip & <co>", "2025-06-15 10:00", "not on any day of this trip"),
        ("another 2 meetings", "2027-06-07 to 2027-09-07", "not on any day of this trip"),
    ];
    assert_eq!(rows.len(), want.len(), "{rows:?}");
    for (row, (name, when, why)) in rows.iter().zip(want) {
        assert!(row[0] == name && row[1] == when && row[2].contains(why), "{row:?}");
    }
    // Nothing of it is said a second time far below.
    assert!(!got.day["plan"]["notes"].to_string().contains("Nowhere"), "{}", got.day["plan"]["notes"]);
    // Given twice, said once.
    assert_eq!(answers(&folder, &["--meetings", "day.ics"]).left_out(), rows);
}

#[test]
fn a_calendar_of_another_year_says_that_it_has_events_and_when() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    let on = |uid: &str, day: &str| event(uid, &format!("DTSTART:{day}T090000Z\r\nDURATION:PT1H"));
    let days = ["20270615", "20270616", "20271231", "20280101", "20250101", "20240101", "20230101"];
    calendar(&folder, &days.map(|day| on(day, day)));
    let rows = answers(&folder, &[]).left_out();
    let when: Vec<&str> = rows.iter().map(|r| r[1].as_str()).collect();
    let nearest = ["2027-06-15 09:00", "2027-06-16 09:00", "2025-01-01 09:00", "2027-12-31 09:00", "2028-01-01 09:00"];
    assert_eq!(when, [&nearest[..], &["2023-01-01 to 2024-01-01"]].concat(), "the nearest are named");
    assert_eq!(rows[5][0], "another 2 meetings");
}

#[test]
fn a_calendar_with_nothing_in_it_says_so() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    for (events, why) in [
        (vec![], "the calendar holds no events"),
        (
            vec![
                event("holiday", "DTSTART;VALUE=DATE:20260101"),
                event("off", "DTSTART:20260615T083000Z\r\nSTATUS:CANCELLED"),
            ],
            "the calendar holds no meetings: 2 events, cancelled or all-day",
        ),
    ] {
        calendar(&folder, &events);
        let got = answers(&folder, &[]);
        let rows = got.left_out();
        assert_eq!(rows, [["nothing to read".to_owned(), String::new(), why.to_owned()]]);
        assert!(got.text.contains("\nmeetings: none\n  left out: ") && got.text.contains("(day.ics)"), "{}", got.text);
    }
}

/// It was weighed as nothing, and driven through the worst of the road.
#[test]
fn a_meeting_of_no_length_has_its_minute() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    for end in ["", "\r\nDTEND:20260615T083000Z", "\r\nDURATION:PT0S"] {
        calendar(&folder, &[event("bell", &format!("DTSTART:20260615T083000Z{end}\r\nCATEGORIES:must-not-drop"))]);
        let got = answers(&folder, &[]);
        let held = &got.day["plan"]["chosen"]["meetings"][0];
        assert_eq!((held["how"].as_str(), held["start"] == held["end"]), (Some("at_stop"), true), "{held}");
        assert!(held["risk"].as_f64().unwrap() < 0.1, "{held}");
        let said = "it has no length in the calendar and is judged over one minute";
        assert!(got.text.contains(said) && got.brief.contains(said) && got.left_out().is_empty(), "{}", got.text);
    }
}

#[test]
fn a_meeting_at_night_is_held_where_one_stands_and_one_after_midnight_is_of_the_next_day() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    let on = |uid: &str, at: &str| event(uid, &format!("DTSTART:{at}00Z\r\nDURATION:PT30M"));
    calendar(&folder, &[on("early", "20260615T0200"), on("late", "20260615T2330"), on("next", "20260616T0030")]);
    let got = answers(&folder, &[]);
    let meetings = got.day["plan"]["chosen"]["meetings"].as_array().unwrap();
    let how: Vec<&str> = meetings.iter().map(|m| m["how"].as_str().unwrap()).collect();
    assert_eq!(how, ["before_trip", "after_trip"]);
    assert!(got.text.contains("early & <co> (casual): hold it before you leave"), "{}", got.text);
    assert!(got.text.contains("late & <co> (casual): hold it after you have arrived"), "{}", got.text);
    let rows = got.left_out();
    assert_eq!((rows.len(), rows[0][0].as_str(), rows[0][1].as_str()), (1, "1 meeting", "2026-06-16"), "{rows:?}");
}

#[test]
fn a_calendar_given_twice_counts_once_and_a_meeting_without_a_title_is_kept() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    let ics = std::fs::read_to_string(folder.join("day.ics")).unwrap();
    std::fs::write(folder.join("busy.ics"), ics.replace("SUMMARY:Datum <review>\r\n", "").replace("UID:1", "UID:2"))
        .unwrap();
    let more = ["--meetings", "day.ics", "--meetings", "busy.ics", "--json"];
    let answer = json(&run(&folder, &[&AT_EIGHT[..], &more].concat()));
    let names: Vec<_> =
        answer["days"][0]["plan"]["chosen"]["meetings"].as_array().unwrap().iter().map(|m| &m["name"]).collect();
    assert_eq!(names, ["Datum <review>", "untitled meeting"]);
}

/// Properties of the events of a file, by their UID.
fn written(folder: &Path, args: &[&str]) -> BTreeMap<String, BTreeMap<String, String>> {
    let out = run(folder, &[args, &["-o", "plan.ics", "--overwrite"]].concat());
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let text = std::fs::read_to_string(folder.join("plan.ics")).unwrap().replace("\r\n ", "");
    let lines = |event: &str| -> BTreeMap<String, String> {
        event.lines().filter_map(|l| l.split_once(':')).map(|(name, v)| (name.to_owned(), v.to_owned())).collect()
    };
    let events = text.split("BEGIN:VEVENT").skip(1).map(lines);
    let by_uid: BTreeMap<_, _> = events.map(|e| (e["UID"].clone(), e)).collect();
    assert_eq!(by_uid.len(), text.matches("BEGIN:VEVENT").count(), "an identity stands twice");
    by_uid
}

#[test]
fn a_new_plan_takes_the_place_of_the_old_one_in_a_calendar() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    let first = written(&folder, &AT_EIGHT);
    let again = written(&folder, &["--depart", "2026-06-15T08:05"]);
    assert!(first.len() == 4 && first.keys().eq(again.keys()), "{first:?}\n{again:?}");
    assert!(first.iter().any(|(uid, e)| e["DTSTART"] != again[uid]["DTSTART"]), "leaving later moves something");
    // The meeting moved in its own calendar is the same meeting.
    let ics = std::fs::read_to_string(folder.join("day.ics")).unwrap();
    std::fs::write(folder.join("day.ics"), ics.replace("T0825", "T0826").replace("review", "renamed")).unwrap();
    let how = |events: &BTreeMap<String, _>| -> Vec<String> {
        events.keys().filter(|uid| uid.starts_with("how-")).cloned().collect()
    };
    assert_eq!(how(&first), how(&written(&folder, &AT_EIGHT)));
    // Another trip and another day are not.
    let other = written(&folder, &[&AT_EIGHT[..], &["--title", "The other car"]].concat());
    assert!(other.keys().all(|uid| !first.contains_key(uid)), "{other:?}");
    for event in first.values() {
        assert!(event["SEQUENCE"].parse::<i32>().unwrap() > 0 && event["DTSTAMP"].ends_with('Z'), "{event:?}");
    }
    assert!(again.iter().all(|(uid, e)| e["SEQUENCE"] >= first[uid]["SEQUENCE"]));
}

#[test]
fn a_drive_in_a_calendar_says_from_where_to_where() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    let events = written(&folder, &AT_EIGHT);
    let titles: Vec<&str> = events.values().map(|e| e["SUMMARY"].as_str()).filter(|s| s.starts_with("Drive")).collect();
    assert_eq!(titles.len(), 2, "{events:?}");
    assert!(titles[0].starts_with(r"Drive from Sallow <b>Road</b> to Meadow\; car park\, 18."), "{titles:?}");
    assert!(titles[1].starts_with(r"Drive from Meadow\; car park to Sallow <b>Road</b>\, 4"), "{titles:?}");
    let told = &events.values().find(|e| e["SUMMARY"] == titles[0]).unwrap()["DESCRIPTION"];
    assert!(
        told.contains(r"Road</b>\, 42.50000\, 1.5") && told.contains(r"car park\, 42.50040\, 1.71870 (km 18."),
        "{told}"
    );
    let text = std::fs::read_to_string(folder.join("plan.ics")).unwrap();
    let calendar = waymask::calendar::read(&text).unwrap();
    let time = |t: &str| t.parse::<jiff::Timestamp>().unwrap();
    let found = calendar.between(time("2026-06-15T00:00:00Z"), time("2026-06-16T00:00:00Z"), &jiff::tz::TimeZone::UTC);
    let names: Vec<&str> = found.meetings.iter().map(|m| m.details.summary.as_str()).collect();
    assert!(names.contains(&"Stop for Datum <review>") && names.contains(&"How to hold: Datum <review>"), "{names:?}");
    assert!(found.complaints.is_empty(), "{:?}", found.complaints);
    let again = run(&folder, &[&AT_EIGHT[..], &["-o", "plan.ics"]].concat());
    assert_eq!(again.status.code(), Some(1), "an existing file is kept unless --overwrite is given");
}

#[test]
fn no_input_of_a_plan_is_written_over() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    std::fs::write(folder.join("track.txt"), "42.5,1.5 42.5,1.6").unwrap();
    for input in ["small.gpkg", "track.txt", "trip.toml", "day.ics"] {
        let before = std::fs::read(folder.join(input)).unwrap();
        for more in [&["--overwrite"][..], &[]] {
            let out = std::process::Command::new(env!("CARGO_BIN_EXE_waymask"))
                .current_dir(&folder)
                .args(["plan", "small.gpkg", "track.txt", "--meetings", "day.ics", "--trip", "trip.toml", "-o", input])
                .args(more)
                .output()
                .unwrap();
            let said = String::from_utf8_lossy(&out.stderr);
            assert!(
                out.status.code() == Some(2) && said.contains("is also an input of this command"),
                "{input}: {said}"
            );
        }
        assert!(std::fs::read(folder.join(input)).unwrap() == before, "{input}");
    }
}
