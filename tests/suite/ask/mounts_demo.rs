//! `mounts` on the demo island: built, planned and compared by the program itself.
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use waymask::base::geodesy::Point;

use crate::ask::mounts::check_as_planned;
use crate::ask::plan::json;
use crate::build::kit::{Sketch, sample};

/// Few drives: the same program is asked on both sides.
const FEW: &str = "[link]\ndrives = 8\n";

fn waymask(folder: &Path, words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_waymask")).current_dir(folder).args(words).output().unwrap()
}

fn path(name: &str) -> String {
    sample(name).display().to_string()
}

/// The island rated for a panel: the name of its layer.
fn build(folder: &Path, name: &str, profile: &str) {
    std::fs::write(folder.join(format!("{name}.toml")), profile).unwrap();
    let out = waymask(
        folder,
        &[
            "build",
            &path("varrow.osm.pbf"),
            "--elevation",
            &path("varrow-elevation.tif"),
            "--canopy",
            &path("varrow-canopy.tif"),
            "--profile",
            &format!("{name}.toml"),
            "-o",
            &format!("{name}.gpkg"),
            "-q",
        ],
    );
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
}

/// What both commands are asked of three days, with a trip file and what is added to it.
fn asked(folder: &Path, more: &str) -> Vec<String> {
    let trip: PathBuf = folder.join("trip.toml");
    std::fs::write(&trip, std::fs::read_to_string(sample("varrow-trip.toml")).unwrap() + more).unwrap();
    let departs = ["2026-06-15T08:50", "2026-06-16T08:20", "2026-06-17T07:45"];
    let mut words = vec!["--zone=-01:00".to_owned(), "--json".to_owned()];
    words.extend(departs.iter().flat_map(|at| ["--depart".to_owned(), (*at).to_owned()]));
    words.extend(["--meetings".to_owned(), path("varrow-meetings.ics")]);
    words.extend(["--trip".to_owned(), trip.display().to_string()]);
    words
}

fn answer(folder: &Path, first: &[&str], asked: &[String]) -> Value {
    let words: Vec<&str> = first.iter().copied().chain(asked.iter().map(String::as_str)).collect();
    json(&waymask(folder, &words))
}

#[test]
fn three_mounts_of_the_island_are_told_as_each_by_itself() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    for preset in ["roof", "windscreen", "stand"] {
        build(folder, preset, &format!("base = \"{preset}\"\n{FEW}"));
    }
    let track = path("varrow-circuit.gpx");
    let trip = asked(folder, "");
    let found = answer(folder, &["mounts", &track, "roof.gpkg", "windscreen.gpkg", "stand.gpkg"], &trip);
    let mounts = found["mounts"].as_array().unwrap();
    let names: Vec<&str> = mounts.iter().map(|m| m["name"].as_str().unwrap()).collect();
    assert_eq!((names, found["notes"].as_array().unwrap().len()), (vec!["roof", "windscreen", "stand"], 0));
    for (nth, layer) in ["roof.gpkg", "windscreen.gpkg"].into_iter().enumerate() {
        check_as_planned(&mounts[nth], &answer(folder, &["plan", layer, &track], &trip));
    }
    // Alone, the layer of the stand is planned as if somebody could work on the way.
    let alone = answer(folder, &["plan", "stand.gpkg", &track], &trip);
    assert!(alone.to_string().contains("\"in_motion\""), "the next check can fail");
    assert!(!mounts[2].to_string().contains("\"in_motion\""), "{}", mounts[2]);
    let nobody =
        "\n[[people.traveller]]\nname = \"A\"\nlink = false\n[[people.traveller]]\nname = \"B\"\nlink = false\n";
    let alone = answer(folder, &["plan", "stand.gpkg", &track], &asked(folder, nobody));
    check_as_planned(&mounts[2], &alone);
    // No law: the windscreen's panel leans ahead, where it reaches ten degrees lower than the one on the roof, so that its sky is
    // no part of that one's. But most of what it could see is hidden by the cabin, and it looks from lower down.
    let lost = |nth: usize| mounts[nth]["whole"]["outage_s"].as_f64().unwrap();
    assert!(lost(0) < lost(1) && lost(1) < lost(2), "{} {} {}", lost(0), lost(1), lost(2));
}

/// A known answer: a panel from which everything is hidden has no link at all, on any road.
#[test]
fn a_panel_that_sees_nothing_loses_all_of_the_drive() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let mut sketch = Sketch::at(47.0);
    sketch.line(&[(0.0, 0.0), (900.0, 100.0), (2_000.0, 0.0)], &[("highway", "tertiary"), ("maxspeed", "60")]);
    sketch.area([300.0, -200.0, 900.0, 300.0], &[("natural", "wood"), ("leaf_type", "needleleaved")]);
    let map = sketch.write(folder).display().to_string();
    let nothing = "[[terminal.blocked]]\nbearing_from_deg = 0\nbearing_to_deg = 360\n";
    for (name, profile) in [("roof", FEW.to_owned()), ("nothing", format!("{FEW}{nothing}"))] {
        std::fs::write(folder.join(format!("{name}.toml")), profile).unwrap();
        let [profile, layer] = ["toml", "gpkg"].map(|ending| format!("{name}.{ending}"));
        let out = waymask(folder, &["build", &map, "--profile", &profile, "-o", &layer, "-q"]);
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    }
    let at = |(x_m, y_m): (f64, f64)| sketch.plane.to_position(Point::new(x_m, y_m));
    let track: String = [(20.0, 2.0), (900.0, 100.0), (1_980.0, 2.0)]
        .map(at)
        .map(|p| format!("{:.6},{:.6} ", p.lat_deg(), p.lon_deg()))
        .concat();
    let asked = ["--zone=UTC", "--depart", "2026-06-15T08:00", "--way", "fastest", "--json"].map(str::to_owned);
    let found = answer(folder, &["mounts", &track, "roof.gpkg", "nothing.gpkg"], &asked);
    let figure = |nth: usize, key: &str| found["mounts"][nth]["whole"][key].as_f64().unwrap();
    assert_eq!((found["mounts"][0]["name"].as_str(), found["mounts"][1]["name"].as_str()), (Some("roof"), Some("own")));
    // At the wheel one counts whole seconds.
    assert!(figure(1, "driving_s") > 60.0 && (figure(1, "outage_s") - figure(1, "driving_s")).abs() < 1.0, "{found}");
    assert!(figure(0, "driving_s") == figure(1, "driving_s") && figure(0, "outage_s") < 0.9 * figure(1, "outage_s"));
}
