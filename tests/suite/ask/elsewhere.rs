//! Questions about places that a layer knows nothing of: an error that says where its roads lie and what to try.
use std::process::{Command, Output};

use rusqlite::Connection;
use waymask::layer::LayerWriter;
use waymask::layer::model::BuildRecord;

use crate::ask::town::Town;
use crate::build::kit::Place;

fn run(command: &str, layer: &std::path::Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_waymask")).arg(command).arg(layer).args(args).output().unwrap()
}

/// Exit code and what is said on either stream.
fn said(out: &Output) -> (Option<i32>, String) {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (out.status.code(), format!("{}{}", text(&out.stdout), text(&out.stderr)))
}

fn fails(command: &str, place: &Place, args: &[&str], code: i32, parts: &[&str]) {
    let (found, text) = said(&run(command, &place.path, args));
    assert_eq!(found, Some(code), "{command} {args:?}: {text}");
    for part in parts {
        assert!(text.contains(part), "{command} {args:?} does not say `{part}`: {text}");
    }
}

/// Kilometres of street along 47 N from 28 W.
fn town() -> Place {
    Town::with_middle(&[]).build()
}

const LIES: &str = "its roads lie at latitude 47.0000 to 47.0000, longitude -28.0000 to -27.96";

#[test]
fn a_track_elsewhere_is_an_error_with_both_extents() {
    let place = town();
    let planned: &[&str] = &["--depart", "2026-06-15T08:00", "--zone", "UTC"];
    for (command, before, more) in
        [("corridor", &[][..], &[][..]), ("plan", &[], planned), ("stops", &["--along"], &[])]
    {
        let asked = |track: &str, parts: &[&str]| fails(command, &place, &[before, &[track], more].concat(), 1, parts);
        let both = ["does not cover the track (latitude 10.0000 to 10.0000, longitude 20.0000 to 20.0200)", LIES];
        asked("10,20 10,20.01 10,20.02", &both);
        asked("10,20 10,20.01 10,20.02", &["waymask build"]);
        // Longitude first.
        asked("-28,47 -27.99,47 -27.98,47", &["does not cover the track", LIES, "Swap latitude and longitude"]);
        // On the street, but 1.6 km apart.
        asked(
            "47,-28 47,-27.979",
            &["more than 1.5 km apart", "the closest two are 1.6 km", "waymask route", "--way fastest"],
        );
        // Beside it.
        let beside = "(latitude 47.0050 to 47.0050, longitude -28.0000 to -27.9900)";
        asked(
            "47.005,-28 47.005,-27.99",
            &["is not on any road in", "within 75 m", beside, "the layer's roads lie at"],
        );
        // Its box reaches over the town, none of its points is there.
        asked("46.5,-28.5 46.5,-27.5 47.5,-27.5", &["does not cover the track (latitude 46.5000 to 47.5000", LIES]);
        // Near each other only twice.
        asked("47,-28 47.5,-28 47.5,-28.001 47,-28.001", &["2 of 3 steps between its points are longer than 1.5 km"]);
        // Longitude first, and one slip.
        asked("-28,47 -27.99,47 -27.98,47 -27,40", &["does not cover the track", "Swap latitude and longitude"]);
    }
}

#[test]
fn a_route_is_told_from_a_track() {
    let place = town();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("route.gpx");
    for (around, point) in [("rte", "rtept"), ("extensions", "wpt"), ("trkseg", "trkpt")] {
        let points = [-28.0, -27.979].map(|lon| format!("<{point} lat=\"47\" lon=\"{lon}\"/>")).concat();
        std::fs::write(&path, format!("<gpx><{around}>{points}</{around}></gpx>")).unwrap();
        let file = path.to_str().unwrap();
        for args in [&["corridor", file][..], &["stops", "--along", file]] {
            let apart = ["more than 1.5 km apart", "waymask route"];
            fails(args[0], &place, &args[1..], 1, &apart);
            let (_, text) = said(&run(args[0], &place.path, &args[1..]));
            assert_eq!(text.contains("is a route through places"), point != "trkpt", "{text}");
        }
    }
}

#[test]
fn places_off_the_layer_are_told_from_places_without_anything() {
    let place = town();
    fails(
        "route",
        &place,
        &["10,20", "47,-27.99"],
        1,
        &["from 10.00000,20.00000", "the layer has no road within 200 m", LIES],
    );
    fails("route", &place, &["47,-28", "-27.99,47"], 2, &["outside of the layer", "did you mean `47,-27.99`?"]);
    fails("sky", &place, &["--at", "10,20"], 1, &["no road", "within 100 m", LIES]);
    fails(
        "stops",
        &place,
        &["--near", "10,20"],
        1,
        &["does not cover the place (latitude 10.00000, longitude 20.00000)", LIES],
    );
    fails("stops", &place, &["--bounds", "9,19,10,20"], 1, &["does not cover the box", LIES]);
    let first = "latitude comes first in places and boxes that you type (south, west, north, east)";
    // West, south, east, north: the box turned around holds the town, or only its middle.
    for bounds in ["-28.1,46.9,-27.9,47.1", "-27.99,46.9,-27.98,47.1"] {
        fails("stops", &place, &["--bounds", bounds], 1, &["does not cover the box", LIES, "Swap latitude", first]);
    }
    let (_, text) = said(&run("stops", &place.path, &["--bounds", "9,19,10,20"]));
    assert!(!text.contains("Swap"), "turned around it is elsewhere, too: {text}");
    fails("stops", &place, &["--near", "91,0"], 2, &["latitude 91 is not from -90 to 90 degrees"]);
    fails("stops", &place, &["--near", "47,-200"], 2, &["longitude -200 is not from -180 to 180 degrees"]);
    fails("stops", &place, &["--near", "-100,47"], 2, &["latitude comes first"]);
    for args in
        [&["--near", "47,-28"][..], &["--bounds", "46.9,-28.1,47.1,-27.9"], &[], &["--along", "47,-28 47,-27.99"]]
    {
        fails("stops", &place, args, 0, &["0 places to stop", "covers this area and has no such place"]);
    }
}

#[test]
fn a_layer_without_roads_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("empty.gpkg");
    let writer = LayerWriter::create(&path, false).unwrap();
    let record = BuildRecord { schema_version: waymask::layer::SCHEMA_VERSION, ..BuildRecord::default() };
    writer.finish(&record).unwrap();
    let table = folder.path().join("edges.csv");
    let edges = table.to_str().unwrap();
    for (command, args) in [
        ("corridor", &["47,-28 47,-27.99"][..]),
        ("route", &["47,-28", "47,-27.99"]),
        ("stops", &["--near", "47,-28"]),
        ("stops", &[]),
        ("sky", &["--at", "47,-28"]),
        ("plan", &["47,-28 47,-27.99", "--depart", "2026-06-15T08:00", "--zone", "UTC"]),
        ("sensitivity", &[]),
        ("sensitivity", &["--set", "link.slot_s=30", "--json"]),
        ("edges", &["-o", edges]),
    ] {
        let (code, text) = said(&run(command, &path, args));
        assert_eq!(code, Some(1), "{command}: {text}");
        assert!(text.contains("empty.gpkg: holds no roads") && text.contains("waymask build"), "{command}: {text}");
    }
    assert!(!table.exists(), "no table of nothing is written");
}

#[test]
fn a_layer_without_masks_answers_what_needs_none() {
    let place = town();
    Connection::open(&place.path).unwrap().execute_batch("DELETE FROM masks").unwrap();
    let built = "Build it again with `waymask build`, which writes them; `sky` and `sensitivity` need masks";
    fails("sky", &place, &["--at", "47,-27.99"], 1, &["has no sky mask for segment", built]);
    fails("sensitivity", &place, &["--set", "link.drives=5"], 1, &["has no sky masks for segment 1", built]);
    assert!(run("corridor", &place.path, &["47,-28 47,-27.99"]).status.success());
}
