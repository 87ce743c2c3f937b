//! `mounts` on the small layer of `plan`: what it says is what `plan` says of each layer by itself, and what it adds.
use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;
use waymask::base::caution::Caution;
use waymask::profile::presets;

use crate::ask::plan::{self, AT_EIGHT, NO_SHIFT, folder, json, layer, waypoints};

/// Runs `mounts` where the small layer lies.
fn run(folder: &Path, track: &str, layers: &[&str], more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_waymask"))
        .current_dir(folder)
        .args(["mounts", track])
        .args(layers)
        .args(["--zone", "UTC", "--meetings", "day.ics", "--trip", "trip.toml"])
        .args(AT_EIGHT)
        .args(more)
        .output()
        .unwrap()
}

fn text(out: &Output) -> String {
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout.clone()).unwrap()
}

/// A layer of the same rows, as if rated for the panel of a preset.
fn mounted(folder: &Path, preset: &str) {
    layer(&folder.join(format!("{preset}.gpkg")), presets::find(preset).unwrap().profile().unwrap());
}

/// Checks every figure of a mount against the answer of `plan` to its layer alone. Who holds a meeting is not told of a stand.
pub fn check_as_planned(mount: &Value, plan: &Value) {
    let on_stand = mount["on_stand"].as_bool().unwrap();
    let (days, planned) = (mount["days"].as_array().unwrap(), plan["days"].as_array().unwrap());
    assert!(!days.is_empty() && days.len() == planned.len());
    let mut outage_s = 0.0;
    for (day, planned) in days.iter().zip(planned) {
        let (chosen, corridor, figures) = (&planned["plan"]["chosen"], &planned["corridor"], &day["figures"]);
        for key in ["depart", "arrive", "shift_min"] {
            assert_eq!(day[key], chosen[key], "{key}");
        }
        assert_eq!(day["rules_kept"], planned["plan"]["rules_kept"]);
        assert_eq!(day["meetings_left_out"], planned["meetings_left_out"]);
        assert_eq!(figures["length_km"], chosen["length_km"]);
        let driving_s = 3_600.0 * chosen["driving_h"].as_f64().unwrap();
        assert_eq!(figures["driving_s"].as_f64(), Some(driving_s));
        if on_stand {
            assert_eq!(figures["outage_s"], figures["driving_s"]);
            assert!(figures["outages"].is_null() && figures["metres_by_rating"].is_null());
        } else {
            let outages = corridor["outages"].as_array().unwrap();
            let p95 = outages.iter().map(|o| o["outage_p95_s"].as_f64().unwrap());
            assert_eq!(figures["outage_s"], chosen["outage_s"]);
            assert_eq!(figures["outages"].as_u64(), Some(outages.len() as u64));
            assert_eq!(figures["longest_p95_s"].as_f64(), Some(p95.fold(0.0, f64::max)));
            assert_eq!(figures["metres_by_rating"], corridor["metres_by_rating"]);
        }
        outage_s += figures["outage_s"].as_f64().unwrap();
        let as_asked = planned["plan"]["others"].as_array().unwrap().iter().chain([chosen]);
        let as_asked = as_asked.into_iter().find(|way| way["name"] == "as asked").unwrap();
        let (meetings, held) = (day["meetings"].as_array().unwrap(), chosen["meetings"].as_array().unwrap());
        assert_eq!(meetings.len(), held.len());
        let mut interrupted = 0.0;
        for (n, meeting) in meetings.iter().enumerate() {
            check_held(&meeting["best"], &held[n], on_stand);
            check_held(&meeting["as_asked"], &as_asked["meetings"][n], on_stand);
            interrupted += held[n]["risk"].as_f64().unwrap_or(0.0);
        }
        assert_eq!(figures["interrupted"].as_f64(), Some(interrupted));
    }
    assert!((mount["whole"]["outage_s"].as_f64().unwrap() - outage_s).abs() < 1e-6);
}

fn check_held(told: &Value, held: &Value, on_stand: bool) {
    let bare = |m: &Value| {
        let mut m = m.clone();
        if on_stand {
            m["by"].take();
            m["drivers"].take();
        }
        m
    };
    assert_eq!(bare(told), bare(held));
}

#[test]
fn a_mount_is_planned_as_its_layer_alone_and_twice_the_same_layer_is_said_to_be_so() {
    let (_keep, folder) = folder("must-not-drop", NO_SHIFT);
    let planned = json(&plan::run(&folder, &[&AT_EIGHT[..], &["--json"]].concat()));
    let found = json(&run(&folder, &waypoints(), &["small.gpkg", "./small.gpkg"], &["--json"]));
    let mounts = found["mounts"].as_array().unwrap();
    mounts.iter().for_each(|mount| check_as_planned(mount, &planned));
    let bare = |mount: &Value| {
        let mut bare = mount.clone();
        ["number", "layer", "same_as"].iter().for_each(|key| drop(bare[*key].take()));
        bare
    };
    assert_eq!(bare(&mounts[0]), bare(&mounts[1]));
    assert_eq!((mounts[0]["same_as"].as_u64(), mounts[1]["same_as"].as_u64()), (None, Some(1)));
    let said = text(&run(&folder, &waypoints(), &["small.gpkg", "small.gpkg"], &[]));
    assert!(said.contains("the same mount as 1") && said.contains("without a link with every mount"), "{said}");
    assert!(said.contains("what is said under 1 roof holds here, too"), "{said}");
    for caution in [Caution::Fastening, Caution::RoofWork, Caution::Clearance, Caution::Passenger] {
        assert_eq!(said.matches(caution.text()).count(), 1, "{caution:?} is said once: {said}");
    }
    // Rows begin alike and both columns of a row are the same.
    for name in ["at the wheel", "without a link", "outages to expect", "  risk", "  how"] {
        let row = said
            .lines()
            .find(|line| line.starts_with(&format!("  {name} ")))
            .unwrap_or_else(|| panic!("{name}: {said}"));
        let cells: Vec<&str> = row[2 + name.len()..].split("  ").map(str::trim).filter(|c| !c.is_empty()).collect();
        assert!(cells.len() == 2 && cells[0] == cells[1], "{name}: {row}");
    }
}

#[test]
fn a_panel_on_a_stand_holds_no_meeting_in_motion() {
    let (_keep, folder) = folder("messages", NO_SHIFT);
    mounted(&folder, "stand");
    // Alone the layer's rows would let messages go out on the way.
    let found = json(&run(&folder, &waypoints(), &["small.gpkg", "stand.gpkg"], &["--json"]));
    let meeting = |nth: usize| &found["mounts"][nth]["days"][0]["meetings"][0];
    assert_eq!(meeting(0)["best"]["how"], "in_motion");
    for held in [&meeting(1)["best"], &meeting(1)["as_asked"]] {
        assert!(!held.to_string().contains("in_motion"), "{held}");
        assert!(held["by"].as_array().unwrap().is_empty() && held["drivers"].as_array().unwrap().is_empty());
    }
    assert_eq!(meeting(1)["as_asked"]["how"], "not_held");
    assert_eq!(meeting(1)["as_asked"]["risk"].as_f64(), Some(1.0));
    let trip = format!(
        "{NO_SHIFT}[[people.traveller]]\nname = \"A\"\nlink = false\n[[people.traveller]]\nname = \"B\"\nlink = false\n"
    );
    std::fs::write(folder.join("trip.toml"), trip).unwrap();
    check_as_planned(&found["mounts"][1], &json(&plan::run(&folder, &[&AT_EIGHT[..], &["--json"]].concat())));
    let said = text(&run(&folder, &waypoints(), &["small.gpkg", "stand.gpkg"], &[]));
    assert!(
        said.contains("packed while driving: no link on the road") && said.contains(Caution::Stand.text()),
        "{said}"
    );
}

#[test]
fn each_mount_has_its_own_warnings_and_what_differs_besides_is_noted() {
    let (_keep, folder) = folder("messages", NO_SHIFT);
    let presets = ["roof", "windscreen", "hood", "tilted", "camp"];
    presets.iter().for_each(|preset| mounted(&folder, preset));
    let layers: Vec<String> = presets.iter().map(|preset| format!("{preset}.gpkg")).collect();
    let layers: Vec<&str> = layers.iter().map(String::as_str).collect();
    let said = text(&run(&folder, &waypoints(), &layers, &[]));
    let under = |nth: usize| {
        let (_, rest) = said.split_once(&format!("\n{} {}  {}\n", nth + 1, presets[nth], layers[nth])).unwrap();
        rest.lines().take_while(|line| line.starts_with("  ")).collect::<Vec<_>>().join("\n")
    };
    for (nth, caution) in [(0, Caution::RoofWork), (1, Caution::Windscreen), (2, Caution::Hood), (4, Caution::Stand)] {
        assert!(under(nth).contains(caution.text()), "{said}");
        assert_eq!(said.matches(caution.text()).count(), 1, "{caution:?} is said once: {said}");
    }
    assert!(under(2).contains("as under 1 roof: A panel that comes loose at road speed can kill ..."), "{said}");
    assert!(!under(2).contains("Work on a roof"), "nobody climbs a hood: {said}");
    assert!(under(3).ends_with("what is said under 1 roof holds here, too"), "{said}");
    let note = "note: mount 5 differs from mount 1 in more than the mount: vehicle.top_speed_kmh 130.0 -> 10.0\n";
    assert!(said.contains(note) && said.matches("in more than the mount").count() == 1, "{said}");
}

#[test]
fn what_is_off_the_roads_is_said_first_and_one_mount_alone_is_answered() {
    let (_keep, folder) = folder("messages", NO_SHIFT);
    let longer: String = (120..126).map(|i| format!("42.5,{:.5} ", 1.500_1 + f64::from(i) * 0.006_075)).collect();
    let said = text(&run(&folder, &format!("{}{longer}", waypoints()), &["small.gpkg"], &[]));
    let first = said.lines().next().unwrap();
    assert!(first.starts_with("Not known with 1 roof: ") && first.ends_with(" off the roads of small.gpkg."), "{said}");
    assert!(said.contains("One mount alone is compared with nothing"), "{said}");
}

#[test]
fn the_file_holds_what_json_prints_and_another_ending_is_refused() {
    let (_keep, folder) = folder("messages", NO_SHIFT);
    let printed = run(&folder, &waypoints(), &["small.gpkg"], &["--json", "-o", "mounts.json", "--title", "Sallow"]);
    let found = json(&printed);
    assert_eq!(std::fs::read_to_string(folder.join("mounts.json")).unwrap().as_bytes(), printed.stdout);
    assert_eq!((found["title"].as_str(), found["mounts"][0]["name"].as_str()), (Some("Sallow"), Some("roof")));
    assert!(found["mounts"][0]["cautions"].to_string().contains("road speed can kill"));
    let out = run(&folder, &waypoints(), &["small.gpkg"], &["-o", "mounts.html"]);
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(out.status.code() == Some(2) && said.contains("Give a name that ends in .json"), "{said}");
}

#[test]
fn hostile_names_stay_in_their_lines() {
    let (_keep, folder) = folder("messages", NO_SHIFT);
    let ics = std::fs::read_to_string(folder.join("day.ics")).unwrap();
    let hostile = "Datum\\n1 roof does best\u{202e}\u{200b}";
    std::fs::write(folder.join("day.ics"), ics.replace("Datum <review>", hostile)).unwrap();
    let name = "ro\nof\u{1b}[2J\u{202e}.gpkg";
    std::fs::rename(folder.join("small.gpkg"), folder.join(name)).unwrap();
    let title = ["--title", "Trip\n\u{9b}31mdone"];
    let said = text(&run(&folder, &waypoints(), &[name, name], &title));
    let bad = |c: char| c.is_control() && c != '\n' || ['\u{202e}', '\u{200b}'].contains(&c);
    assert!(!said.contains(bad), "{said:?}");
    assert!(!said.lines().any(|line| line.starts_with("of") || line.starts_with("1 roof does")), "{said}");
    let found = json(&run(&folder, &waypoints(), &[name, name], &[&title[..], &["--json"]].concat()));
    assert_eq!((found["title"].as_str(), found["mounts"][1]["layer"].as_str()), (Some(title[1]), Some(name)));
}
