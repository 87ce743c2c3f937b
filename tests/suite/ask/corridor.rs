//! The command, on a small layer of rows made here: a two-way road along a parallel, one direction worse.
use std::path::Path;
use std::process::{Command, Output};

use crate::layer::rows::{known, known_row};
use waymask::base::caution::{self, Caution};
use waymask::base::geodesy::Position;
use waymask::base::words::{
    BlockerEvidence, Cause, Evidence, Highway, Overhang, PerDirection, RatedBy, Rating, RoadAccess, TerrainEvidence,
    ValueFrom,
};
use waymask::layer::LayerWriter;
use waymask::layer::model::Driven;
use waymask::layer::model::{BuildRecord, EdgeRow, NodeRow, SegmentRow};

/// Ten segments of 200 m eastward; the fourth and fifth have an outage of 8 s eastward only, the tenth one of 0.6 s westward.
fn layer(path: &Path) {
    let mut writer = LayerWriter::create(path, false).unwrap();
    let at = |i: i32| Position { lon_e7: 15_000_000 + i * 24_400, lat_e7: 425_000_000 };
    for i in 0..10 {
        let bad = i == 3 || i == 4;
        let line = vec![at(i), at(i + 1)];
        let row = SegmentRow {
            segment_id: i64::from(i) + 1,
            way_id: 7,
            part: i as u32,
            name: Some("Mill Road".into()),
            highway: Highway::Primary,
            length_m: waymask::base::geodesy::length_m(&line),
            rating: if bad { Rating::Drops } else { Rating::Steady },
            rated_by: if bad { RatedBy::Outage } else { RatedBy::None },
            driven: PerDirection {
                forward: Some(Driven {
                    edge: 1,
                    rating: if bad { Rating::Drops } else { Rating::Steady },
                    time_s: 10.0,
                    outage_s: if bad { 4.0 } else { 0.0 },
                    outage_p95_s: if bad { 8.0 } else { 0.0 },
                    main_cause: if bad { Cause::Canopy } else { Cause::None },
                    ..known()
                }),
                backward: Some(Driven {
                    edge: 2,
                    rating: Rating::Steady,
                    time_s: 10.0,
                    outage_p95_s: if i == 9 { 0.6 } else { 0.0 },
                    main_cause: if i == 9 { Cause::Deck } else { Cause::None },
                    ..known()
                }),
            },
            lanes: 2,
            width_m: 7.0,
            speed_kmh: 72.0,
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
        };
        writer.segment(&row).unwrap();
    }
    for (node_id, at) in [(100, at(0)), (200, at(10))] {
        writer.node(&NodeRow { node_id, at }).unwrap();
    }
    for (edge_id, from_node, to_node, forward) in [(1, 100, 200, true), (2, 200, 100, false)] {
        let (length_m, time_s) = (waymask::base::geodesy::length_m(&[at(0), at(10)]), 100.0);
        let access = RoadAccess::Open;
        let words = EdgeRow { length_m, time_s, access, unpaved_from: ValueFrom::Tag, ..EdgeRow::default() };
        writer.edge(&EdgeRow { edge_id, from_node, to_node, way_id: 7, forward, ..words }).unwrap();
    }
    writer.finish(&BuildRecord { schema_version: waymask::layer::SCHEMA_VERSION, ..BuildRecord::default() }).unwrap();
}

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_waymask")).arg("corridor").args(args).output().unwrap()
}

fn json(out: &Output) -> serde_json::Value {
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

#[test]
fn the_direction_driven_decides() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.gpkg");
    layer(&path);
    let path = path.to_str().unwrap();
    let east = json(&run(&[path, "42.5,1.5 42.5,1.51 42.5,1.52 42.5,1.524", "--json"]));
    let west = json(&run(&[path, "42.5,1.524 42.5,1.52 42.5,1.51 42.5,1.5", "--json"]));
    let number = |v: &serde_json::Value, key: &str| v[key].as_f64().unwrap();
    assert!((number(&east, "outage_s") - 8.0).abs() < 0.01, "{east}");
    assert!(number(&west, "outage_s") < 0.01);
    assert!((number(&east, "length_m") - number(&west, "length_m")).abs() < 0.5);
    assert!((number(&east, "length_m") - number(&east, "track_m")).abs() < 1.0);
    let outages = east["outages"].as_array().unwrap();
    assert_eq!(outages.len(), 1, "the two bad pieces touch");
    assert!((number(&outages[0], "at_km") - 0.6).abs() < 0.01);
    assert_eq!((outages[0]["cause"].as_str(), number(&outages[0], "outage_p95_s")), (Some("canopy"), 8.0));
    assert_eq!(west["outages"].as_array().map(Vec::len), Some(1));
    assert_eq!(east["worst"].as_array().map(Vec::len), Some(1), "one stretch of two segments");
}

#[test]
fn what_has_no_road_is_told_with_its_length() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.gpkg");
    layer(&path);
    let out = json(&run(&[path.to_str().unwrap(), "42.5,1.5 42.5,1.505 42.505,1.505", "--json"]));
    let unmatched = out["unmatched"].as_array().unwrap();
    assert_eq!(unmatched.len(), 1);
    assert_eq!(out["cautions"], serde_json::json!(caution::texts(&Caution::ROAD)));
    // 0.005 degrees of latitude at 42.5 N are 555 m.
    assert!((unmatched[0]["length_m"].as_f64().unwrap() - 555.4).abs() < 1.0, "{out}");
}

#[test]
fn files_by_ending_and_clear_errors() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.gpkg");
    layer(&path);
    let path = path.to_str().unwrap();
    let track = "42.5,1.5 42.5,1.51 42.5,1.52";
    for (name, begins) in [("a.geojson", "{"), ("a.gpx", "<?xml"), ("a.csv", "at_km")] {
        let file = folder.path().join(name);
        assert!(run(&[path, track, "-o", file.to_str().unwrap()]).status.success());
        assert!(std::fs::read_to_string(file).unwrap().starts_with(begins), "{name}");
    }
    let out = run(&[path, track]);
    assert!(String::from_utf8_lossy(&out.stdout).contains("never the driver"), "the cautions end the table");
    assert!(String::from_utf8_lossy(&out.stdout).ends_with("(more: waymask guide safety)\n"));
    let says = |args: &[&str], code: i32, word: &str| {
        let out = run(args);
        let text = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(code), "{text}");
        assert!(text.contains(word), "{text}");
    };
    says(&[path, track, "-o", "a.doc"], 2, ".geojson");
    says(&[path, "nowhere.gpx"], 1, "nowhere.gpx: does not exist");
    says(&[path, "95,1 96,1"], 2, "not a place");
}

#[test]
fn the_cause_is_that_of_the_direction_driven() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.gpkg");
    layer(&path);
    let path = path.to_str().unwrap();
    let cause = |track: &str| json(&run(&[path, track, "--worst", "99", "--json"]))["outages"][0]["cause"].clone();
    assert_eq!(cause("42.5,1.5 42.5,1.51 42.5,1.52 42.5,1.524"), "canopy");
    // Backward the last segment has an outage under a deck.
    assert_eq!(cause("42.5,1.524 42.5,1.52 42.5,1.51 42.5,1.5"), "deck");
}

/// Points go to and fro along the road: they are read, gathered and matched within bounds. The profile of the test runner
/// ends what takes too long.
#[test]
fn heavy_a_track_of_a_million_points_is_answered_within_300_mb_beyond_its_text() {
    use std::fmt::Write as _;
    let folder = tempfile::tempdir().unwrap();
    let (path, gpx) = (folder.path().join("a.gpkg"), folder.path().join("long.gpx"));
    layer(&path);
    let mut text = String::from("<gpx><trk><trkseg>\n");
    for i in 0..1_000_000_u32 {
        let (lap, step) = (i / 2_000, i % 2_000);
        let along = if lap % 2 == 0 { step } else { 2_000 - step };
        let lon = 1.5 + 0.0244 * f64::from(along) / 2_000.0;
        let _ = writeln!(text, "<trkpt lat=\"42.5\" lon=\"{lon:.7}\"><ele>1000</ele></trkpt>");
    }
    text += "</trkseg></trk></gpx>\n";
    std::fs::write(&gpx, &text).unwrap();
    let answer = folder.path().join("answer.json");
    let args = ["corridor", path.to_str().unwrap(), gpx.to_str().unwrap(), "-o", answer.to_str().unwrap()];
    let mut child = Command::new(env!("CARGO_BIN_EXE_waymask")).args(args).spawn().unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut peak_kb = 0_u64;
    while child.try_wait().unwrap().is_none() {
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find(|l| l.starts_with("VmHWM:"));
        let kb = line.and_then(|l| l.split_whitespace().nth(1)?.parse().ok());
        peak_kb = peak_kb.max(kb.unwrap_or(0));
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    assert!(child.wait().unwrap().success());
    println!("{} MB of text, peak {} MB", text.len() / 1_000_000, peak_kb / 1_000);
    assert!(peak_kb > 0 && peak_kb / 1_000 < text.len() as u64 / 1_000_000 + 300, "{peak_kb} kB");
    let found: serde_json::Value = serde_json::from_slice(&std::fs::read(answer).unwrap()).unwrap();
    let (driven_m, track_m) = (found["length_m"].as_f64().unwrap(), found["track_m"].as_f64().unwrap());
    assert!((driven_m / track_m - 1.0).abs() < 0.02 && track_m > 980_000.0, "{driven_m} {track_m}");
}
