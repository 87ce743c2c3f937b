//! Time zones by their Windows names, held to the table that Unicode CLDR publishes (`tests/data/README.md`).
use jiff::civil::date;
use jiff::tz::TimeZone;
use serde_json::Value;
use waymask::calendar::{self, Calendar};

use crate::calendar::kit::{found, starts, zone};

/// Windows name, territory and zones of every row published.
fn published() -> Vec<[String; 3]> {
    let table: Value = serde_json::from_str(include_str!("../../data/windowsZones.json")).unwrap();
    let rows = table["supplemental"]["windowsZones"]["mapTimezones"].as_array().unwrap();
    let row =
        |r: &Value| ["_other", "_territory", "_type"].map(|k| r["mapZone"][k].as_str().unwrap().trim().to_owned());
    rows.iter().map(row).collect()
}

fn empty() -> Calendar {
    calendar::read("BEGIN:VCALENDAR\nEND:VCALENDAR\n").unwrap()
}

/// The offset in the middle of every month of ten years, seconds.
fn offsets(zone: &TimeZone) -> Vec<i32> {
    let months = (2020..2030).flat_map(|year| (1..=12).map(move |month| date(year, month, 15).at(12, 0, 0, 0)));
    months.map(|at| zone.to_offset(at.to_zoned(TimeZone::UTC).unwrap().timestamp()).seconds()).collect()
}

#[test]
fn every_windows_name_is_the_zone_that_the_published_table_gives_it() {
    let (file, mut checked) = (empty(), 0);
    for [name, territory, zones] in published() {
        if territory != "001" {
            continue;
        }
        let got = file.zone(&name).unwrap_or_else(|e| panic!("{name}: {e}"));
        // `UTC` is a name of the IANA database too, which is asked first.
        assert!(name == "UTC" || got.iana_name() == zone(&zones).iana_name(), "{name}: {got:?}");
        assert_eq!(offsets(&got), offsets(&zone(&zones)), "{name}");
        assert_eq!(file.zone(&name.to_uppercase()).unwrap().iana_name(), got.iana_name(), "{name}");
        checked += 1;
    }
    assert_eq!(checked, 139, "names of CLDR 48");
}

#[test]
fn a_meeting_of_another_system_is_read_in_its_zone_in_summer_and_in_winter() {
    for (name, summer, winter) in [
        ("W. Europe Standard Time", "2026-06-15 11:30 +0200", "2026-12-15 11:30 +0100"),
        ("GMT Standard Time", "2026-06-15 11:30 +0100", "2026-12-15 11:30 +0000"),
        ("Pacific Standard Time", "2026-06-15 11:30 -0700", "2026-12-15 11:30 -0800"),
        ("India Standard Time", "2026-06-15 11:30 +0530", "2026-12-15 11:30 +0530"),
    ] {
        for (day, want) in [("20260615", summer), ("20261215", winter)] {
            let found = found(&format!("DTSTART;TZID={name}:{day}T113000"), "2026-06-01T00:00Z", "2027-01-01T00:00Z");
            assert_eq!((starts(&found), found.complaints.len()), (vec![want.to_owned()], 0), "{name}");
        }
    }
}

#[test]
fn a_definition_in_the_file_comes_before_the_table() {
    let body = "BEGIN:VTIMEZONE\nTZID:Pacific Standard Time\nBEGIN:STANDARD\nDTSTART:20000101T000000\nTZOFFSETFROM:+0300\n\
                TZOFFSETTO:+0300\nEND:STANDARD\nEND:VTIMEZONE\nBEGIN:VEVENT\nUID:1\n\
                DTSTART;TZID=Pacific Standard Time:20260615T113000\nEND:VEVENT";
    let found = found(body, "2026-06-01T00:00Z", "2026-07-01T00:00Z");
    assert_eq!(starts(&found), ["2026-06-15 11:30 +0300"]);
}
