//! Names that a terminal would obey, or that deceive whoever reads them, through every command.
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use crate::build::kit::Sketch;
use crate::elements_writer::{Pattern, fields, json, time};

/// Colours, a cleared screen, a line of its own, text written backwards, a space without width, C1 and the rest.
const HOSTILE: &str = "\u{1b}[31m\u{1b}[2J\nFORGED line\r\n\u{202e}\u{2066}\u{200e}\u{200f}\u{61c}\u{200b}\u{2028}\u{85}\u{9b}1m\u{7f}\u{7}\t\u{feff}\u{e0041}";

fn named(word: &str) -> String {
    format!("{word}{HOSTILE}{word}")
}

/// Whether a terminal would obey a character, or a person not see it. Written here anew.
fn is_hostile(c: char) -> bool {
    let code = u32::from(c);
    let control = (code < 0x20 && c != '\n') || (0x7f..0xa0).contains(&code);
    let ranges =
        [(0x200b, 0x200b), (0x200e, 0x200f), (0x2028, 0x202e), (0x2060, 0x206f), (0xfeff, 0xfeff), (0xe0000, 0xe007f)];
    control || code == 0x61c || ranges.iter().any(|(from, to)| (*from..=*to).contains(&code))
}

fn waymask(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_waymask")).current_dir(folder).args(args).output().unwrap()
}

/// Both outputs of a command, of which nothing is obeyed and no line is forged.
fn safe(folder: &Path, args: &[&str]) -> (bool, String) {
    let out = waymask(folder, args);
    let said = [out.stdout, out.stderr].map(|bytes| String::from_utf8(bytes).unwrap()).concat();
    let found: String = said.chars().filter(|c| is_hostile(*c)).collect();
    assert!(found.is_empty(), "{args:?} lets through {found:?}:\n{said:?}");
    assert!(!said.lines().any(|line| line.trim_start().starts_with("FORGED")), "{args:?}:\n{said}");
    (out.status.success(), said)
}

/// A folder with a street, a bridge over it and places to stop, all of them with hostile names, and the layer of it.
fn folder() -> (tempfile::TempDir, PathBuf) {
    let keep = tempfile::tempdir().unwrap();
    let folder = keep.path().to_owned();
    let mut s = Sketch::at(47.0);
    let street = [("highway", "tertiary"), ("lanes", "1"), ("name", &*named("Pier")), ("maxspeed", &*named("fast"))];
    s.line(&[(0.0, 0.0), (1_500.0, 0.0)], &street);
    s.line(
        &[(0.0, 0.0), (0.0, 600.0), (1_500.0, 600.0), (1_500.0, 0.0)],
        &[("highway", "tertiary"), ("name", &*named("Quay"))],
    );
    let bridge = [("highway", "primary"), ("bridge", "yes"), ("layer", "1"), ("name", &*named("Arch"))];
    s.line(&[(700.0, -80.0), (700.0, 80.0)], &bridge);
    s.area([300.0, 15.0, 340.0, 45.0], &[("amenity", "fuel"), ("name", &*named("Pumps"))]);
    s.area([900.0, 15.0, 940.0, 45.0], &[("amenity", "parking"), ("name", &*named("Meadow"))]);
    let map = s.write(&folder);
    std::fs::rename(map, folder.join(file("map"))).unwrap();
    (keep, folder)
}

/// A name of a file with as much of it as a file system takes.
fn file(stem: &str) -> String {
    format!("{stem}\u{1b}[2J\nFORGED\u{202e}\u{9b}.osm.pbf")
}

const TRACK: &str = "47.0,-28.0 47.0,-27.995 47.0,-27.99 47.0,-27.985 47.0,-27.9812";

#[test]
fn no_command_lets_a_name_rule_the_terminal() {
    let (_keep, folder) = folder();
    let built = safe(&folder, &["build", &file("map"), "-o", "l.gpkg", "--credit", &named("Mappers")]);
    assert!(built.0 && built.1.contains("Mappers") && built.1.contains("bad_speed"), "{}", built.1);
    let shows = |args: &[&str], names: &[&str]| {
        let (well, said) = safe(&folder, args);
        assert!(well && names.iter().all(|name| said.contains(name)), "{args:?} does not show {names:?}:\n{said}");
    };
    shows(&["info", "l.gpkg"], &["Mappers", "map\u{FFFD}[2J FORGED", "fast"]);
    shows(&["corridor", "l.gpkg", TRACK, "--buffer", "2km"], &["Pier", "Quay", "Arch"]);
    shows(&["route", "l.gpkg", "47.0,-27.9995", "47.0,-27.981"], &["Pier"]);
    shows(&["stops", "l.gpkg"], &["Pumps", "Meadow"]);
    shows(&["stops", "l.gpkg", "--along", TRACK], &["Pumps", "Meadow"]);
    let sets = Pattern::new(540.0, 53.0, 24, 30).elements(50_000, time("2026-06-30T00:00:00Z"));
    let quoted = serde_json::to_string(&named("Bird")).unwrap();
    let birds = json(&sets.iter().map(fields).collect::<Vec<_>>(), false).replace("PATTERN", quoted.trim_matches('"'));
    std::fs::write(folder.join("birds.json"), birds).unwrap();
    let at = ["sky", "l.gpkg", "--at", "47.0,-27.996", "--orbits", "birds.json", "--time", "2026-06-30T01:00"];
    shows(&[&at[..], &["-o", "s\u{1b}\nFORGED.svg"]].concat(), &["Pier", "Bird", "s\u{FFFD} FORGED.svg"]);
    shows(&["edges", "l.gpkg", "-o", "e\u{1b}\nFORGED.csv"], &["e\u{FFFD} FORGED.csv"]);
    shows(&["sensitivity", "l.gpkg", "--set", "link.slot_s=30", "-q"], &["link.slot_s"]);
    // TOML knows escapes for every character.
    let escaped: String = HOSTILE.chars().map(|c| format!("\\U{:08x}", u32::from(c))).collect();
    let trip = format!(
        "[[device]]\nname = \"Slate{escaped}\"\ncount = 1\nhours = 1\nvideo = 1.0\n\
         [[tariff]]\nname = \"Flat{escaped}\"\nprice = 140\n"
    );
    std::fs::write(folder.join("trip.toml"), trip).unwrap();
    shows(&["spend", "trip.toml"], &["Slate", "Flat"]);
    let title = named("Datum").replace(['\n', '\r'], "");
    let ics = format!(
        "BEGIN:VCALENDAR\nVERSION:2.0\nBEGIN:VEVENT\nUID:1\nDTSTART:20260615T080500Z\nDURATION:PT5M\nSUMMARY:{title}\\nFORGED\nEND:VEVENT\n\
         BEGIN:VEVENT\nUID:2\nDTSTART:{title}\nSUMMARY:{title}\nEND:VEVENT\nBEGIN:{title}\nEND:{title}\nEND:VCALENDAR\n"
    );
    std::fs::write(folder.join("day.ics"), ics).unwrap();
    let plan = ["plan", "l.gpkg", TRACK, "--zone", "UTC", "--depart", "2026-06-15T08:00", "--meetings", "day.ics"];
    shows(&[&plan[..], &["--trip", "trip.toml"]].concat(), &["Datum", "Slate", "left out"]);
    shows(&[&plan[..], &["-o", "p\u{1b}\nFORGED.ics"]].concat(), &["p\u{FFFD} FORGED.ics"]);
}

#[test]
fn json_keeps_every_character_of_a_name_and_lets_none_through() {
    let (_keep, folder) = folder();
    assert!(safe(&folder, &["build", &file("map"), "-o", "l.gpkg", "-q", "--credit", &named("Mappers")]).0);
    let json = |args: &[&str]| -> serde_json::Value {
        let (well, said) = safe(&folder, &[args, &["--json"]].concat());
        assert!(well, "{said}");
        serde_json::from_str(&said).unwrap()
    };
    let stops = json(&["stops", "l.gpkg"]);
    let names: Vec<&str> = stops["stops"].as_array().unwrap().iter().filter_map(|s| s["name"].as_str()).collect();
    assert!(names.contains(&named("Pumps").trim()) && names.len() == 2, "{names:?}");
    assert_eq!(json(&["info", "l.gpkg"])["inputs"][0]["attribution"], named("Mappers"));
    assert!(json(&["corridor", "l.gpkg", TRACK])["worst"][0]["road"].as_str().unwrap().contains(HOSTILE));
    json(&["sky", "l.gpkg", "--at", "47.0,-27.996"]);
    json(&["route", "l.gpkg", "47.0,-27.9995", "47.0,-27.981"]);
}

#[test]
fn errors_quote_words_and_files_without_obeying_them() {
    let (_keep, folder) = folder();
    let name = "no\u{1b}[2J\nFORGED\u{202e}\u{9b}";
    let inside = |stem: &str, text: &str| {
        let path = format!("{stem}{name}");
        std::fs::write(folder.join(&path), text).unwrap();
        path
    };
    let (toml, ics) = (inside("toml", &format!("[driving]\n\"{}\" = 1\n", "x\u{9b}\u{202e}")), inside("ics", "no"));
    let gpx = inside(
        "gpx",
        &format!("<gpx><trk><trkseg><trkpt lat=\"1\" lon=\"1\"><time>{name}</time></trkpt></trkseg></trk></gpx>"),
    );
    let elements = inside("birds", &format!("{{\"OBJECT_NAME\": \"x\u{202e}\", \"NORAD_CAT_ID\": \"{}\"}}", "9\u{9b}"));
    let layer = inside("layer", "no");
    assert!(safe(&folder, &["build", &file("map"), "-o", "l.gpkg", "-q"]).0);
    let at = ["sky", "l.gpkg", "--at", "47.0,-27.996"];
    for args in [
        &[name][..],
        &["build", name, "-o", "x.gpkg"],
        &["build", &file("map"), "-o", name],
        &["build", &file("map"), "-o", "y.gpkg", "-e", name],
        &["build", &file("map"), "-o", "y.gpkg", "-p", name],
        &["build", &file("map"), "-o", "y.gpkg", "--season", name],
        &["build", &file("map"), "-o", "y.gpkg", "--orbits", &elements],
        &["info", name],
        &["info", &layer],
        &["corridor", "l.gpkg", &format!("./{name}")],
        &["corridor", "l.gpkg", name],
        &["corridor", "l.gpkg", &gpx],
        &["corridor", "l.gpkg", TRACK, "-o", name],
        &["route", "l.gpkg", name, "47.0,-27.99"],
        &["stops", "l.gpkg", "--kind", name],
        &[&at[..], &["--orbits", &elements]].concat(),
        &[&at[..], &["-o", name]].concat(),
        &["spend", &toml],
        &["spend", name],
        &["settings", "profile", name],
        &["guide", name],
        &["sensitivity", "l.gpkg", "--set", name],
        &["plan", "l.gpkg", TRACK, "--depart", "2026-06-15T08:00", "--zone", name],
        &["plan", "l.gpkg", TRACK, "--depart", name, "--zone", "UTC"],
        &["plan", "l.gpkg", TRACK, "--depart", "2026-06-15T08:00", "--zone", "UTC", "--meetings", &ics],
        &["plan", "l.gpkg", TRACK, "--depart", "2026-06-15T08:00", "--zone", "UTC", "--way", name],
    ] {
        let (well, said) = safe(&folder, args);
        assert!(!well && !said.is_empty(), "{args:?}:\n{said}");
    }
}
