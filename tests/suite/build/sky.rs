//! The sky over one place, asked of a layer alone.
use std::path::PathBuf;
use std::process::{Command, Output};

use waymask::ask::place::{PassesQuestion, SkyAnswer, SkyQuestion, read_elements, sky as sky_over};
use waymask::base::caution::{self, Caution};
use waymask::base::words::Cause;
use waymask::physics::orbit::elements::satellite::Satellite;
use waymask::physics::orbit::frames::Observer;
use waymask::profile::Profile;
use waymask::report::polar;

use crate::build::kit::{Place, Sketch};
use crate::elements_writer::{Pattern, time, two_line_file};

const EPOCH: &str = "2026-06-30T00:00:00Z";

/// A one-lane road that runs north, a long high building close on its east, a tunnel farther on, a ferry beyond.
fn place() -> Place {
    let mut s = Sketch::at(47.0);
    s.line(&[(0.0, -400.0), (0.0, 400.0)], &[("highway", "tertiary"), ("lanes", "1"), ("name", "Wall <Street>")]);
    s.area([10.0, -600.0, 30.0, 600.0], &[("building", "yes"), ("height", "40")]);
    s.line(&[(900.0, -200.0), (900.0, 200.0)], &[("highway", "primary"), ("tunnel", "yes"), ("lanes", "1")]);
    s.line(&[(-900.0, 0.0), (-1500.0, 0.0)], &[("route", "ferry")]);
    let mut profile = Profile::default();
    profile.link.drives = 8;
    s.build(profile)
}

fn at(x_m: f64, y_m: f64) -> SkyQuestion {
    let (lon, lat) = Sketch::at(47.0).plane.to_lon_lat(waymask::base::geodesy::Point::new(x_m, y_m));
    SkyQuestion { at_deg: (lat, lon), within_m: 60.0, backward: false, passes: None }
}

/// Mean blocked probability of usable cells within 30 degrees of an azimuth.
fn blocked(spot: &SkyAnswer, azimuth_deg: f64) -> f64 {
    let near = |c: &&waymask::ask::place::SkyCell| {
        c.usable && waymask::base::geodesy::turn_deg(azimuth_deg, c.azimuth_deg).abs() < 30.0
    };
    let cells: Vec<_> = spot.cells.iter().filter(near).collect();
    cells.iter().map(|c| c.blocked).sum::<f64>() / cells.len() as f64
}

#[test]
fn a_wall_stands_where_it_is_and_shares_are_those_of_the_segment() {
    let place = place();
    let here = sky_over(&place.layer, &at(-20.0, 0.0)).unwrap();
    assert!((here.distance_m - 20.0).abs() < 0.2 && here.heading_deg < 0.5, "{} {}", here.distance_m, here.heading_deg);
    assert!(blocked(&here, 90.0) > 0.7 && blocked(&here, 270.0) == 0.0);
    let sum: f64 = here.shares.open + here.shares.blocked.values().sum::<f64>();
    assert!((sum - 1.0).abs() < 1e-6, "{:?}", here.shares);
    // Along an endless wall every station sees the same; cells count whole here, by angle there.
    let row = place.rows.iter().find(|r| r.segment_id == here.segment_id).unwrap();
    assert!(
        (here.shares.blocked[&Cause::Building] - row.blocked_building).abs() < 0.02,
        "{:?} {}",
        here.shares,
        row.blocked_building
    );
    let back = sky_over(&place.layer, &SkyQuestion { backward: true, ..at(-20.0, 0.0) }).unwrap();
    assert!(
        (back.heading_deg - 180.0).abs() < 0.5 && blocked(&back, 90.0) > 0.7,
        "the wall does not turn with the car"
    );
    let total = waymask::base::geodesy::length_m(&row.line);
    assert!((here.along_m + back.along_m - total).abs() < 0.1);
}

#[test]
fn a_tunnel_hides_everything() {
    let place = place();
    let inside = sky_over(&place.layer, &at(900.0, 0.0)).unwrap();
    assert!(inside.shares.blocked[&Cause::Cover] > 0.999, "{:?}", inside.shares);
}

#[test]
fn passes_lose_what_the_wall_hides() {
    let place = place();
    let text = two_line_file(&Pattern::new(540.0, 53.0, 24, 30).elements(50_000, time(EPOCH)));
    let elements = read_elements(text.as_bytes()).unwrap();
    let passes = Some(PassesQuestion { elements, time: time(EPOCH), minutes: 20.0, altitude_m: 0.0 });
    let here = sky_over(&place.layer, &SkyQuestion { passes, ..at(0.0, 0.0) }).unwrap();
    assert!(here.passes.len() > 10 && here.lost == 0, "{}", here.passes.len());
    for pass in &here.passes {
        assert!(
            pass.open_s <= pass.seconds + 1e-9 && pass.rise.time <= pass.peak.time && pass.peak.time <= pass.set.time
        );
        // West of the road nothing is hidden; in the wall's half of the sky not all of a pass is open.
        let side =
            |east: bool| pass.path.iter().all(|(a, e)| (a.to_radians().sin() * e.to_radians().cos() > 0.3) == east);
        if pass.path.iter().all(|(a, _)| (190.0..350.0).contains(a)) {
            assert!((pass.open_s - pass.seconds).abs() < 1e-6, "{pass:?}");
        } else if side(true) && pass.path.iter().all(|(_, e)| *e < 60.0) {
            assert!(pass.open_s < 0.5 * pass.seconds, "{pass:?}");
        }
    }
    let hidden = here.passes.iter().filter(|p| p.open_s < 0.5 * p.seconds).count();
    assert!(hidden > 0 && hidden < here.passes.len());
}

#[test]
fn the_picture_is_whole_xml_with_the_map_s_text_escaped() {
    let place = place();
    let svg = polar::svg(&sky_over(&place.layer, &at(0.0, 0.0)).unwrap());
    assert!(svg.contains("Wall &lt;Street&gt;") && !svg.contains("<Street>"));
    // As many elements open as close; every other one closes itself.
    let count = |what: &str| svg.matches(what).count();
    assert_eq!((count("<svg "), count("</svg>"), count("<text ")), (1, 1, count("</text>")));
    assert!(!svg.contains("NaN") && count("<path ") > 100);
}

/// A picture with the most passes that are drawn.
fn with_passes(place: &Place, altitude_m: f64) -> SkyAnswer {
    let text = two_line_file(&Pattern::new(540.0, 53.0, 24, 30).elements(50_000, time(EPOCH)));
    let elements = read_elements(text.as_bytes()).unwrap();
    let passes = Some(PassesQuestion { elements, time: time(EPOCH), minutes: 20.0, altitude_m });
    sky_over(&place.layer, &SkyQuestion { passes, ..at(0.0, 0.0) }).unwrap()
}

/// Truth: SGP4 at the moment told, which must be told finer than a second for that.
#[test]
fn satellites_rise_at_the_very_moment_told_for_the_height_told() {
    let place = place();
    let sets = Pattern::new(540.0, 53.0, 24, 30).elements(50_000, time(EPOCH));
    let floor_deg = place.layer.record().mask_floor_deg;
    let mut compared = 0;
    for altitude_m in [0.0, 4_000.0] {
        let here = with_passes(&place, altitude_m);
        assert_eq!(here.altitude_m, Some(altitude_m));
        let observer = Observer::at(here.lat_deg, here.lon_deg, altitude_m);
        for pass in here.passes.iter().filter(|p| p.rise.time.as_str() > "2026-06-30T00:00:01") {
            let set = sets.iter().find(|s| s.label().split(' ').nth(1) == pass.satellite.split(' ').nth(1)).unwrap();
            let satellite = Satellite::new(set.clone()).unwrap();
            let up = observer.look(satellite.earth_fixed(time(&pass.rise.time)).unwrap().0).0;
            assert!((up.elevation_deg - floor_deg).abs() < 0.004, "{altitude_m} {up:?} {}", pass.rise.time);
            assert!(pass.elements_age_days < 1.0 && pass.rise.time.contains('.'));
            compared += 1;
        }
    }
    assert!(compared > 20, "{compared}");
    assert_eq!(sky_over(&place.layer, &at(0.0, 0.0)).unwrap().altitude_m, None);
}

#[test]
fn the_picture_names_the_place_and_its_numbers_stand_apart() {
    let place = place();
    let svg = polar::svg(&with_passes(&place, 0.0));
    assert!(svg.contains("Sky over Wall &lt;Street&gt; at 47.00000\u{b0} N, 28.00000\u{b0} W<"), "{svg}");
    let badges: Vec<(f64, f64)> = svg
        .lines()
        .filter(|l| l.contains("r=\"9.5\""))
        .map(|l| {
            let value = |name: &str| l.split(&format!("{name}=\"")).nth(1).unwrap().split('"').next().unwrap();
            (value("cx").parse().unwrap(), value("cy").parse().unwrap())
        })
        .collect();
    assert_eq!(badges.len(), 12);
    for (i, a) in badges.iter().enumerate() {
        assert!(badges[..i].iter().all(|b| (a.0 - b.0).hypot(a.1 - b.1) > 2.0 * 9.5), "{badges:?}");
    }
}

#[test]
fn old_and_lost_elements_are_told() {
    let place = place();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("elements.txt");
    let mut sets = Pattern::new(540.0, 53.0, 24, 30).elements(50_000, time(EPOCH));
    let asked = |time: &str, more: &[&str]| {
        let all = [&["--at", "47,-28", "--orbits", path.to_str().unwrap(), "--time", time], more].concat();
        let out = sky(&place, &all);
        let said = [&out.stdout[..], &out.stderr[..]].concat();
        (out.status.code(), String::from_utf8_lossy(&said).into_owned())
    };
    std::fs::write(&path, two_line_file(&sets)).unwrap();
    assert!(!asked("2026-07-01", &[]).1.contains("days from these passes"));
    let (_, old) = asked("2026-07-08", &[]);
    assert!(old.contains("elements are up to 8 days from these passes"), "{old}");
    let (_, json) = asked("2026-07-01", &["--json", "--altitude", "1200m"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((json["altitude_m"].as_f64(), json["lat_deg"].as_f64()), (Some(1_200.0), Some(47.0)));
    let rise = json["passes"][1]["rise"]["time"].as_str().unwrap();
    assert!(rise.len() == "2026-07-01T00:00:00.000Z".len() && rise.ends_with('Z'), "{rise}");
    sets.iter_mut().for_each(|set| set.bstar = 0.5);
    std::fs::write(&path, two_line_file(&sets)).unwrap();
    let (code, lost) = asked("2026-12-01", &[]);
    assert!(code == Some(1) && lost.contains("elements.txt: SGP4 places none of its 720 satellites"), "{lost}");
}

fn sky(place: &Place, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_waymask")).arg("sky").arg(&place.path).args(args).output().unwrap()
}

#[test]
fn the_command_says_what_is_wrong() {
    let place = place();
    let fails = |args: &[&str], code: i32, words: &str| {
        let out = sky(&place, args);
        let text = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(code), "{args:?}: {text}");
        assert!(text.contains(words), "{args:?}: {text}");
    };
    fails(&["--at", "48.5,-28"], 1, "no road within 100 m");
    fails(&["--at", "here"], 2, "`here`");
    fails(&["--at", "47,-28", "--time", "2026-07-01"], 2, "--orbits");
    fails(&["--at", "47,-28", "--orbits", "missing.txt"], 1, "missing.txt");
    let ferry = at(-1200.0, 0.0);
    fails(&["--at", &format!("{},{}", ferry.at_deg.0, ferry.at_deg.1)], 1, "Ferries");
    let folder = tempfile::tempdir().unwrap();
    let picture: PathBuf = folder.path().join("sky.svg");
    let name = picture.to_str().unwrap();
    let out = sky(&place, &["--at", "47,-28", "-o", name]);
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(out.status.success() && text.contains("building") && text.contains("passenger"), "{text}");
    fails(&["--at", "47,-28", "-o", name], 1, "--overwrite");
    fails(&["--at", "47,-28", "-o", "sky.bmp"], 2, ".svg");
    let json = sky(&place, &["--at", "47,-28", "--json"]);
    let value: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert!(value["shares"]["building"].as_f64().unwrap() > 0.2);
    assert_eq!(value["cautions"], serde_json::json!(caution::texts(&Caution::SKY)));
    for caution in Caution::SKY {
        assert!(text.contains(caution.text()), "{caution:?}: {text}");
    }
}
