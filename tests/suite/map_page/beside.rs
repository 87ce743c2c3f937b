//! A brief links to the map pages of its layer that lie beside it.
use std::path::Path;
use std::process::{Command, Output};

use waymask::ask::corridor::CorridorQuestion;
use waymask::ask::matching::MatchOptions;
use waymask::ask::portion::{PortionOf, PortionQuestion};
use waymask::ask::{self, track};
use waymask::layer::Layer;

use super::page::away_m;
use super::part::{by_loops, ids};
use crate::cli::said;

fn run(folder: &Path, words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_waymask")).args(words).current_dir(folder).output().unwrap()
}

/// What is shown along a track is what plain loops find near it, and the drive is that of `corridor`.
fn near_the_drive(path: &Path) {
    let layer = Layer::open(path).unwrap();
    let gpx = Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples/varrow-circuit.gpx");
    let track = track::read_bytes(std::fs::read(gpx).unwrap(), None).unwrap();
    let matching = MatchOptions::of_noise(10.0);
    let part = PortionOf::Along { track: track.clone(), matching, buffer_m: 400.0 };
    let found = ask::portion(&layer, &PortionQuestion { part, most_segments: 60_000, most_read: 60_000 }).unwrap();
    let pieces: Vec<Vec<(f64, f64)>> =
        track.pieces.iter().map(|piece| piece.iter().map(|p| (p.at.lon_deg(), p.at.lat_deg())).collect()).collect();
    let near = |at| pieces.iter().any(|piece| away_m(at, piece) <= 400.0);
    let (segments, stops) = ids(&found);
    assert_eq!((segments.clone(), stops), by_loops(&layer, near));
    assert!(segments.len() > 100 && segments.len() < layer.segments().unwrap().len(), "{}", segments.len());
    let question = CorridorQuestion { track, matching, ..CorridorQuestion::default() };
    assert_eq!(found.trip, Some(ask::corridor(&layer, &question).unwrap()));
}

#[test]
fn a_brief_links_to_the_maps_of_its_own_layer() {
    let folder = tempfile::tempdir().unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples");
    std::os::unix::fs::symlink(samples, folder.path().join("data-samples")).unwrap();
    let done = |words: &[&str]| {
        let out = run(folder.path(), words);
        assert!(out.status.success(), "{words:?}: {}", said(&out));
        String::from_utf8_lossy(&out.stdout).into_owned()
    };
    std::fs::write(folder.path().join("few.toml"), "[link]\ndrives = 4\n").unwrap();
    std::fs::write(folder.path().join("other.toml"), "[link]\ndrives = 5\n").unwrap();
    for (profile, layer) in [("few.toml", "a.gpkg"), ("other.toml", "b.gpkg")] {
        done(&["build", "data-samples/varrow.osm.pbf", "-p", profile, "-o", layer]);
    }
    done(&["map", "a.gpkg", "-o", "my map.html"]);
    done(&["map", "b.gpkg", "-o", "other.html"]);
    let told =
        done(&["map", "a.gpkg", "--along", "data-samples/varrow-circuit.gpx", "--buffer", "1km", "-o", "drive.html"]);
    assert!(told.contains("named place") && told.contains("drive.html"), "{told}");
    std::fs::write(folder.path().join("letter.html"), "<p>hello").unwrap();
    std::fs::create_dir(folder.path().join("folder.html")).unwrap();
    let plan = [
        "plan",
        "a.gpkg",
        "data-samples/varrow-circuit.gpx",
        "--zone=-01:00",
        "--depart",
        "2026-06-15T08:50",
        "-o",
        "brief.html",
    ];
    done(&plan);
    let brief = std::fs::read_to_string(folder.path().join("brief.html")).unwrap();
    let links: Vec<&str> = brief.split("<a href=\"./").skip(1).map(|a| a.split('"').next().unwrap()).collect();
    assert_eq!(links, ["drive.html", "my%20map.html"]);
    near_the_drive(&folder.path().join("a.gpkg"));
    // What is there is kept, and an ending that is no page is told.
    let again = run(folder.path(), &["map", "a.gpkg", "-o", "drive.html"]);
    assert!(!again.status.success() && said(&again).contains("--overwrite"), "{}", said(&again));
    let wrong = run(folder.path(), &["map", "a.gpkg", "-o", "map.pdf"]);
    assert!(!wrong.status.success() && said(&wrong).contains(".html"), "{}", said(&wrong));
    let nowhere = run(folder.path(), &["map", "a.gpkg", "--along", "10,10 10.1,10.1", "-o", "x.html"]);
    assert!(!nowhere.status.success() && !folder.path().join("x.html").exists(), "{}", said(&nowhere));
}
