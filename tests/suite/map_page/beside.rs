//! A brief links to the map pages of its layer that lie beside it.
use std::path::Path;
use std::process::{Command, Output};

use waymask::ask::corridor::{Corridor, CorridorQuestion};
use waymask::ask::matching::MatchOptions;
use waymask::ask::portion::{PortionOf, PortionQuestion};
use waymask::ask::{self, track};
use waymask::base::geodesy::Position;
use waymask::base::words::{Cause, Rating};
use waymask::layer::{Bounds, Layer};
use waymask::report::map_page::{MapPage, map_page};

use super::page::away_m;
use super::part::{by_loops, ids};
use super::unpacked::Unpacked;
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
    let question = CorridorQuestion { track: track.clone(), matching, ..CorridorQuestion::default() };
    let drive = ask::corridor(&layer, &question).unwrap();
    let flat = |line: Vec<Position>| line.into_iter().map(|p| (p.lon_deg(), p.lat_deg())).collect::<Vec<_>>();
    let of_track = track.pieces.iter().map(|piece| flat(piece.iter().map(|p| p.at).collect()));
    let pieces: Vec<_> = of_track.chain(drive.pieces.iter().map(|p| flat(p.line.clone()))).collect();
    let near = |at| pieces.iter().any(|piece| away_m(at, piece) <= 400.0);
    let (segments, stops) = ids(&found);
    assert_eq!((segments.clone(), stops), by_loops(&layer, near));
    assert!(segments.len() > 100 && segments.len() < layer.segments().unwrap().len(), "{}", segments.len());
    assert_eq!(found.trip.as_ref(), Some(&drive));
    of_the_drive(
        &map_page(&MapPage { title: "Drive", portion: &found, units: waymask::base::words::Units::Metric, mark: "" })
            .unwrap(),
        &drive,
    );
}

/// Pieces, numbers and figures of a drive are those of the answer, in the list and in what is packed.
fn of_the_drive(page: &str, drive: &Corridor) {
    let held = Unpacked::of(page);
    let trip = &held.json["trip"];
    let column = |name: &str| trip[name].as_array().unwrap().iter().map(|v| v.as_i64().unwrap()).collect::<Vec<_>>();
    let code = |r: Rating| i64::from(r.code());
    assert_eq!(column("likely"), drive.pieces.iter().map(|p| code(p.rating)).collect::<Vec<_>>());
    assert_eq!(column("worst"), drive.pieces.iter().map(|p| p.rating_worst.map_or(-1, code)).collect::<Vec<_>>());
    let mut worst: Vec<_> = drive.outages.iter().collect();
    worst.sort_by(|a, b| b.rating.cmp(&a.rating).then(b.outage_p95_s.total_cmp(&a.outage_p95_s)));
    worst.truncate(10);
    worst.sort_by(|a, b| a.at_km.total_cmp(&b.at_km));
    let first_last: Vec<_> = worst.iter().map(|o| serde_json::json!([o.first, o.end])).collect();
    assert_eq!(trip["outages"].as_array().unwrap(), &first_last);
    let longest: Vec<i64> = worst.iter().map(|o| (o.outage_p95_s * 10.0).round() as i64).collect();
    assert_eq!(column("outage_p95_ds"), longest);
    for (number, o) in (1..).zip(worst) {
        let (_, item) = page.split_once(&format!("<li data-outage=\"{number}\">")).unwrap();
        let words = item.split_once("</li>").unwrap().0.replace('\u{a0}', " ");
        assert!(
            words.contains(&format!("km {:.1}, ", o.at_km)) && words.contains(&format!(">{}<", o.rating)),
            "{words}"
        );
    }
}

/// An outage that begins outside of the part is out inside of it all the same.
fn of_a_part(path: &Path) {
    let layer = Layer::open(path).unwrap();
    let wood = Bounds::from_deg(-28.022, 46.9793, -27.998, 46.9845);
    let question = PortionQuestion { part: PortionOf::Box(wood), most_segments: 60_000, most_read: 60_000 };
    let found = ask::portion(&layer, &question).unwrap();
    assert!(found.segments.iter().all(|s| s.rating == Rating::Dark), "a wood");
    let told: Vec<_> = found.outages.iter().map(|o| (o.cause, o.rating, o.both_ways)).collect();
    assert!(told.contains(&(Cause::Canopy, Rating::Dark, true)), "{told:?}");
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
    of_a_part(&folder.path().join("a.gpkg"));
    // What is there is kept, and an ending that is no page is told.
    let again = run(folder.path(), &["map", "a.gpkg", "-o", "drive.html"]);
    assert!(!again.status.success() && said(&again).contains("--overwrite"), "{}", said(&again));
    let wrong = run(folder.path(), &["map", "a.gpkg", "-o", "map.pdf"]);
    assert!(!wrong.status.success() && said(&wrong).contains(".html"), "{}", said(&wrong));
    let nowhere = run(folder.path(), &["map", "a.gpkg", "--along", "10,10 10.1,10.1", "-o", "x.html"]);
    assert!(!nowhere.status.success() && !folder.path().join("x.html").exists(), "{}", said(&nowhere));
}
