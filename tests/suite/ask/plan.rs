//! `plan` on a small layer of rows made here: an hour of road whose middle third has outages, and places to stop beside it.
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use crate::layer::rows::{known, known_row};
use waymask::base::caution::Caution;
use waymask::base::geodesy::{Position, length_m};
use waymask::base::words::{
    BlockerEvidence, Cause, Evidence, Highway, MapObject, Overhang, PerDirection, RatedBy, Rating, RoadAccess,
    RoofedBy, StandsOn, StopAccess, StopKind, TerrainEvidence, ValueFrom,
};
use waymask::layer::LayerWriter;
use waymask::layer::model::{BuildRecord, Driven, EdgeRow, NodeRow, PanelPlace, SegmentRow, StopRow};
use waymask::profile::Profile;

const KM_E7: i32 = 121_500;

fn at(km: i32, off_e7: i32) -> Position {
    Position { lon_e7: 15_000_000 + km * KM_E7, lat_e7: 425_000_000 + off_e7 }
}

/// Sixty segments of about a kilometre and a minute; 20 to 40 lose every call.
fn segment(i: i32) -> SegmentRow {
    let bad = (20..40).contains(&i);
    let line = vec![at(i, 0), at(i + 1, 0)];
    let beyond = if bad { 1.0 } else { 0.0 };
    SegmentRow {
        segment_id: i64::from(i) + 1,
        way_id: 7,
        part: i as u32,
        name: Some("Sallow <b>Road</b>".into()),
        highway: Highway::Primary,
        length_m: length_m(&line),
        rating: if bad { Rating::Drops } else { Rating::Steady },
        rated_by: if bad { RatedBy::Outage } else { RatedBy::None },
        driven: PerDirection {
            forward: Some(Driven {
                edge: 1,
                rating: if bad { Rating::Drops } else { Rating::Steady },
                time_s: 60.0,
                outage_s: if bad { 20.0 } else { 0.0 },
                outage_p95_s: if bad { 12.0 } else { 0.0 },
                beyond_blips: beyond,
                beyond_gaps: beyond,
                main_cause: if bad { Cause::Canopy } else { Cause::None },
                ..known()
            }),
            backward: Some(Driven { edge: 2, rating: Rating::Steady, time_s: 60.0, ..known() }),
        },
        lanes: 2,
        width_m: 7.0,
        speed_kmh: 60.0,
        lanes_from: ValueFrom::Tag,
        width_from: ValueFrom::Tag,
        speed_from: ValueFrom::Tag,
        main_cause: if bad { Cause::Canopy } else { Cause::None },
        overhang_reason: Overhang::None,
        evidence_terrain: TerrainEvidence::None,
        evidence_canopy: BlockerEvidence::Map,
        evidence_building: BlockerEvidence::Map,
        evidence: Evidence::Default,
        line,
        ..known_row()
    }
}

fn stop(stop_id: i64, name: &str, access: StopAccess, segment_id: i64, open: f64) -> StopRow {
    StopRow {
        stop_id,
        osm_type: MapObject::Node,
        osm_id: stop_id,
        kind: StopKind::Parking,
        name: Some(name.into()),
        access,
        roofed_from: RoofedBy::None,
        stands_on: StandsOn::Ground,
        open_share: 0.5,
        main_cause: Cause::Canopy,
        segment_id,
        road: "Sallow Road".into(),
        road_distance_m: 40.0,
        best_distance_m: 12.0,
        best_bearing_deg: 45.0,
        best_open_share: open,
        gain: open - 0.5,
        places: vec![
            PanelPlace { distance_m: 0.0, bearing_deg: 0.0, open_share: 0.5 },
            PanelPlace { distance_m: 12.0, bearing_deg: 45.0, open_share: open },
        ],
        at: at(18, 4_000),
        ..StopRow::default()
    }
}

/// The layer, rated for a panel of some profile as far as its record says; the rows are the same.
pub fn layer(path: &Path, profile: Profile) {
    let mut writer = LayerWriter::create(path, false).unwrap();
    for i in 0..60 {
        writer.segment(&segment(i)).unwrap();
    }
    // A carriageway of its own that is not driven.
    let far = SegmentRow {
        segment_id: 61,
        way_id: 8,
        driven: PerDirection { forward: Some(Driven { edge: 3, time_s: 60.0, ..known() }), backward: None },
        highway: Highway::Motorway,
        line: vec![at(18, 6_000), at(19, 6_000)],
        ..segment(0)
    };
    writer.segment(&far).unwrap();
    for (node_id, at) in [(100, at(0, 0)), (200, at(60, 0)), (300, at(18, 6_000)), (400, at(19, 6_000))] {
        writer.node(&NodeRow { node_id, at }).unwrap();
    }
    let edges = [(1, 7, 100, 200, 60), (2, 7, 200, 100, 60), (3, 8, 300, 400, 1)];
    for (edge_id, way_id, from_node, to_node, long) in edges {
        let line = if long == 1 { &far.line[..] } else { &[at(0, 0), at(60, 0)] };
        let words = EdgeRow {
            length_m: length_m(line),
            time_s: 60.0 * f64::from(long),
            highway: Highway::Primary,
            access: RoadAccess::Open,
            unpaved_from: ValueFrom::Default,
            ..EdgeRow::default()
        };
        writer.edge(&EdgeRow { edge_id, from_node, to_node, way_id, forward: edge_id != 2, ..words }).unwrap();
    }
    writer.stop(&stop(1, "Quarry, private", StopAccess::Private, 19, 1.0)).unwrap();
    writer.stop(&stop(2, "Meadow; car park", StopAccess::Open, 19, 0.9)).unwrap();
    writer.stop(&stop(3, "Across the motorway", StopAccess::Open, 61, 0.99)).unwrap();
    let schema_version = waymask::layer::SCHEMA_VERSION;
    writer.finish(&BuildRecord { schema_version, mask_floor_deg: 25.0, profile, ..BuildRecord::default() }).unwrap();
}

/// A folder with the layer, a calendar with one meeting (minutes 25 to 40 after eight), and a trip file.
pub fn folder(category: &str, trip: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    layer(&folder.path().join("small.gpkg"), Profile::default());
    let ics = format!(
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//test//EN\r\nBEGIN:VEVENT\r\nUID:1\r\nDTSTAMP:20260101T000000Z\r\n\
         DTSTART:20260615T082500Z\r\nDTEND:20260615T084000Z\r\nSUMMARY:Datum <review>\r\nCATEGORIES:{category}\r\n\
         END:VEVENT\r\nEND:VCALENDAR\r\n"
    );
    std::fs::write(folder.path().join("day.ics"), ics).unwrap();
    std::fs::write(folder.path().join("trip.toml"), trip).unwrap();
    let path = folder.path().to_owned();
    (folder, path)
}

/// A point every half kilometre.
pub fn waypoints() -> String {
    (0..120).map(|i| format!("42.5,{:.5} ", 1.500_1 + f64::from(i) * 0.006_075)).collect()
}

pub fn run(folder: &Path, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_waymask"))
        .current_dir(folder)
        .args(["plan", "small.gpkg", &waypoints(), "--zone", "UTC", "--meetings", "day.ics", "--trip", "trip.toml"])
        .args(more)
        .output()
        .unwrap()
}

pub fn json(out: &Output) -> serde_json::Value {
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

pub const AT_EIGHT: [&str; 2] = ["--depart", "2026-06-15T08:00"];
pub const NO_SHIFT: &str = "[departure]\nearlier_min = 0\nlater_min = 0\n";

#[test]
fn a_meeting_that_must_not_drop_is_held_at_the_place_one_may_use() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    let answer = json(&run(&folder, &[&AT_EIGHT[..], &["--json"]].concat()));
    let chosen = &answer["days"][0]["plan"]["chosen"];
    let meeting = &chosen["meetings"][0];
    assert_eq!(meeting["how"].as_str(), Some("at_stop"));
    let part = &meeting["parts"][0];
    assert_eq!((part["place"].as_str(), part["lat_deg"].as_f64()), (Some("Meadow; car park"), Some(42.5004)));
    assert!(meeting["risk"].as_f64().unwrap() < 0.1, "{meeting}");
    let as_asked = &answer["days"][0]["plan"]["others"][0]["meetings"][0];
    assert!(as_asked["risk"].as_f64().unwrap() > 0.99 && as_asked["how"] == "in_motion", "{as_asked}");
    // Fifteen minutes and packing up, then the rest of the hour.
    let stop = &chosen["parts"][1];
    assert_eq!((stop["doing"].as_str(), stop["to"].as_str()), (Some("stop"), Some("2026-06-15T08:45:00+00:00")));
    assert_eq!(stop["place"]["best_m"].as_f64(), Some(12.0));
    assert!(chosen["arrive"].as_str().unwrap().starts_with("2026-06-15T09:2"), "{}", chosen["arrive"]);
    let warned = |caution: Caution| answer["cautions"].as_array().unwrap().contains(&caution.text().into());
    // A panel on a stand beside the meeting, and nobody works in motion.
    assert!(
        warned(Caution::Passenger) && warned(Caution::Stand) && warned(Caution::Fastening),
        "{}",
        answer["cautions"]
    );
    assert!(!warned(Caution::Belt) && !warned(Caution::Wiring), "{}", answer["cautions"]);
}

#[test]
fn messages_are_sent_on_the_way() {
    let (_keep, folder) = folder("messages", NO_SHIFT);
    let answer = json(&run(&folder, &[&AT_EIGHT[..], &["--json"]].concat()));
    let meeting = &answer["days"][0]["plan"]["chosen"]["meetings"][0];
    assert_eq!((meeting["how"].as_str(), meeting["risk"].as_f64()), (Some("in_motion"), Some(0.0)));
    assert_eq!(answer["cautions"][1], Caution::Belt.text(), "the belt and the laptop come right after who reads it");
    let table = String::from_utf8(run(&folder, &AT_EIGHT).stdout).unwrap();
    assert!(table.contains(Caution::Belt.text()) && table.ends_with("(more: waymask guide safety)\n"), "{table}");
}

#[test]
fn the_table_says_when_where_why_and_warns() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    let out = run(&folder, &AT_EIGHT);
    let text = String::from_utf8(out.stdout).unwrap();
    for part in [
        "leave 08:00 (as asked)",
        "Meadow; car park (parking)",
        "panel 12 m to the north-east of the vehicle, 90 % of the sky open instead of 50 %",
        "STOP  Datum <review> (must-not-drop): stop at Meadow; car park (42.50040,1.71870); risk of an outage longer than 2 s",
        // The dark road begins at km 20, the meeting at minute 25.
        "if you left as asked and drove on, an outage of up to 12 s at km 25.0 (trees, Sallow <b>Road</b>) would fall into it",
        "30 min late: leave 08:30, arrive 09:",
        "why this day",
        "never the driver",
        "carriageway or a shoulder",
        "calling for help",
    ] {
        assert!(text.contains(part), "`{part}` is missing in\n{text}");
    }
    assert!(!text.contains("private,") && !text.contains("Quarry") && !text.contains("Across"), "{text}");
}

#[test]
fn another_departure_is_proposed_where_it_costs_less() {
    let (_keep, folder) =
        folder("must-not-drop", "[departure]\nearlier_min = 0\nlater_min = 60\n[stopping]\nwithin_m = 1\n");
    let answer = json(&run(&folder, &[&AT_EIGHT[..], &["--json"]].concat()));
    let chosen = &answer["days"][0]["plan"]["chosen"];
    // The meeting ends at minute 40 and the bad road begins at minute 20, less the eight metres before the first point: in
    // steps of five minutes 25 is the first departure that keeps clear of it.
    assert_eq!(chosen["shift_min"].as_f64(), Some(25.0), "{chosen}");
}

#[test]
fn what_cannot_be_used_is_named() {
    let (_keep, folder) = folder("must-not-drop", "[driving]\ndrivers = 0\n");
    let refused = |out: Output, code: i32, part: &str| {
        let said = String::from_utf8(out.stderr).unwrap();
        assert!(out.status.code() == Some(code) && said.contains(part), "{part}: {said}");
    };
    refused(run(&folder, &AT_EIGHT), 2, "line 2: driving.drivers: 0 is out of range\n  Allowed: 1 to 20");
    std::fs::write(folder.join("trip.toml"), "").unwrap();
    refused(run(&folder, &[]), 2, "--depart");
    refused(run(&folder, &["--depart", "tomorrow"]), 2, "tomorrow");
    refused(
        run(&folder, &["--depart", "2026-06-15T08:00", "--depart", "2026-06-16T08:00"]),
        2,
        "is given 2 times, but the track has no 2 days, tracks, pieces or legs, and its road is driven in 1 day",
    );
    let doc = "plan.doc: `.doc` is not a known ending\n  Give a name that ends in .html, .json or .ics";
    refused(run(&folder, &[&AT_EIGHT[..], &["-o", "plan.doc"]].concat()), 2, doc);
    std::fs::write(folder.join("day.ics"), "no calendar").unwrap();
    refused(run(&folder, &AT_EIGHT), 1, "day.ics");
}

/// Weighing every meeting for every stay for every other meeting took more than a hundred seconds for a quarter of them.
#[test]
fn twenty_thousand_meetings_in_an_hour_are_planned_and_what_did_not_count_is_said() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    let event = |i: usize| {
        let (minute, second) = (i % 3_600 / 60, i % 60);
        format!(
            "BEGIN:VEVENT\r\nUID:many{i}\r\nDTSTART:20260615T08{minute:02}{second:02}Z\r\nDURATION:PT{}S\r\nSUMMARY:call {i}\r\n\
             END:VEVENT\r\n",
            60 + i
        )
    };
    let events: String = (0..20_000).map(event).collect();
    let ics = std::fs::read_to_string(folder.join("day.ics")).unwrap();
    std::fs::write(folder.join("day.ics"), ics.replace("END:VCALENDAR", &format!("{events}END:VCALENDAR"))).unwrap();
    let began = std::time::Instant::now();
    let answer = json(&run(&folder, &[&AT_EIGHT[..], &["--json"]].concat()));
    assert!(began.elapsed() < std::time::Duration::from_secs(60), "{:?}", began.elapsed());
    let plan = &answer["days"][0]["plan"];
    let meetings = plan["chosen"]["meetings"].as_array().unwrap();
    assert_eq!(meetings.len(), 20_001, "all are told how they are held");
    let notes = plan["notes"].to_string();
    assert!(notes.contains("19801 of 20001 meetings were not considered"), "{notes}");
    assert!(notes.contains("20000 meetings: their kind is not given"), "{notes}");
    let demanding = meetings.iter().find(|m| m["name"] == "Datum <review>").unwrap();
    assert_eq!(demanding["parts"][0]["place"], "Meadow; car park", "the most demanding one still decides");
}

#[test]
fn nobody_is_sent_off_in_hours_without_driving() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    let out = run(&folder, &["--depart", "2026-06-15T03:00"]);
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(out.status.code() == Some(2) && said.contains("driving hours, 06:00:00 to 22:00:00"), "{said}");
}

#[test]
fn a_day_that_breaks_the_rules_says_so_first() {
    let trip = "[driving]\nbreak_after_h = 0.25\n[stopping]\nwithin_m = 1\n";
    let (_keep, folder) = folder("messages", trip);
    let text = String::from_utf8(run(&folder, &AT_EIGHT).stdout).unwrap();
    assert!(text.lines().nth(1).unwrap().contains("DO NOT DRIVE LIKE THIS"), "{text}");
}

#[test]
fn one_departure_for_a_track_of_several_days_is_cut_by_the_hours_and_said() {
    let (_keep, folder) = folder("messages", NO_SHIFT);
    let day = |nth: usize| {
        let point = |i: usize| {
            let lon = 1.500_1 + (nth * 40 + i) as f64 * 0.006_075;
            let time = format!("2026-06-{}T08:{:02}:{:02}Z", 15 + nth, i / 2, i % 2 * 30);
            format!("<trkpt lat=\"42.5\" lon=\"{lon:.5}\"><time>{time}</time></trkpt>")
        };
        format!("<trk><trkseg>{}</trkseg></trk>", (0..41).filter(|i| nth * 40 + i < 120).map(point).collect::<String>())
    };
    let gpx = format!(
        "<gpx version=\"1.1\" xmlns=\"http://www.topografix.com/GPX/1/1\">{}</gpx>",
        (0..3).map(day).collect::<String>()
    );
    std::fs::write(folder.join("trip.gpx"), gpx).unwrap();
    let said = "by its own times the track covers 3 days; with 1 departure its days end where the hours of driving do: give \
                --depart once for each day";
    let plan = |departs: &[&str]| {
        let departs = departs.iter().flat_map(|d| ["--depart", *d]);
        let out = Command::new(env!("CARGO_BIN_EXE_waymask"))
            .current_dir(&folder)
            .args(["plan", "small.gpkg", "trip.gpx", "--zone", "UTC", "--json"])
            .args(departs)
            .output()
            .unwrap();
        let answer = json(&out);
        (answer["days"].as_array().unwrap().len(), answer["days"][0]["plan"]["notes"].to_string())
    };
    let (days, notes) = plan(&["2026-06-15T08:00"]);
    assert!(days == 1 && notes.contains(said), "{days}: {notes}");
    for departs in [&[][..], &["2026-06-15T08:00", "2026-06-16T08:00", "2026-06-17T08:00"]] {
        let (days, notes) = plan(departs);
        assert!(days == 3 && !notes.contains("by its own times"), "{days}: {notes}");
    }
}

#[test]
fn the_trip_file_printed_can_be_read_again() {
    let out = Command::new(env!("CARGO_BIN_EXE_waymask")).args(["settings", "trip"]).output().unwrap();
    let (_keep, folder) = folder("casual", &String::from_utf8(out.stdout).unwrap());
    assert!(run(&folder, &AT_EIGHT).status.success());
}
