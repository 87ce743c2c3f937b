//! Holds the code to its rooms: which folder of `src/` may use what.
//!
//! Every file is parsed; what it uses is read from its `use` trees and paths however they are spelled. Code under
//! `#[cfg(test)]` and files named `test*` are left out. Exceptions are listed one a line with their reason, and a list
//! fails where it names something that no longer holds. `spellings` proves that each rule can fail.
mod house;
mod paths;
mod spellings;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use house::House;
use paths::Used;

/// Each room and the rooms it may use, lowest first. `*`: all.
const ROOMS: Table = &[
    ("base", &[]),
    ("profile", &["base"]),
    ("map", &["base", "profile"]),
    ("relief", &["base"]),
    ("physics", &["base", "profile", "map"]),
    ("layer", &["base", "profile"]),
    ("rating", &["base", "profile", "map", "physics", "layer"]),
    ("build", &["base", "profile", "map", "relief", "physics", "layer", "rating"]),
    ("calendar", &["base"]),
    ("budget", &["base"]),
    ("ask", &["base", "profile", "map", "physics", "layer", "rating", "calendar", "budget"]),
    ("report", &["base", "profile", "layer", "ask", "calendar", "budget"]),
    ("cli", &["*"]),
    ("guide", &[]),
];

/// Outside crates, parts of the standard library and macros, and the rooms that may use them. A crate that is not listed
/// may not be used at all; of the standard library what is not listed is free.
const OUTSIDE: Table = &[
    ("base64", &["report"]),
    ("chrono", &["calendar"]),
    ("clap", &["cli"]),
    ("clap_complete", &["cli"]),
    ("clap_mangen", &["cli"]),
    ("country_boundaries", &["map"]),
    ("csv", &["physics", "report", "cli"]),
    // In report: what a page holds is packed.
    ("flate2", &["map", "physics", "relief", "report"]),
    ("gdal", &["relief", "layer"]),
    ("geo", &["map", "relief", "ask", "report"]),
    ("geojson", &["map", "ask"]),
    ("indicatif", &["cli"]),
    ("jiff", &["base", "layer", "physics", "build", "calendar", "ask", "report", "cli"]),
    ("osmpbfreader", &["map"]),
    ("petgraph", &["map", "ask"]),
    ("protobuf", &["map"]),
    ("quick_xml", &["ask"]),
    // What waits on the disk for a later stage.
    ("postcard", &["base", "map"]),
    ("rayon", &["map", "rating", "build", "ask"]),
    ("resvg", &["cli"]),
    ("roxmltree", &["physics", "relief"]),
    ("rrule", &["calendar"]),
    ("rstar", &["map", "physics", "layer", "ask"]),
    ("rusqlite", &["layer"]),
    // The free space of a disk.
    ("rustix", &["base"]),
    ("serde", &["*"]),
    ("serde_json", &["physics", "layer", "build", "ask", "report", "cli"]),
    ("solar_positioning", &["budget"]),
    ("strsim", &["base"]),
    ("sgp4", &["physics"]),
    // In report: identities of calendar events.
    ("sha2", &["map", "relief", "build", "report"]),
    ("signal_hook", &["cli"]),
    // A probe of the disk a layer is written to.
    ("tempfile", &["base", "layer", "rating", "build"]),
    ("thiserror", &["base"]),
    ("toml", &["base", "profile", "budget", "ask"]),
    ("tzf_rs", &["map"]),
    ("unicode_normalization", &["base"]),
    ("zip", &["relief"]),
    // In cli: the words typed, to be quoted in errors without what a terminal would obey.
    // In build: the program's own file and the kind of processor, which parts depend on.
    ("std::env", &["rating", "build", "cli"]),
    ("std::fs", &["base", "profile", "map", "relief", "layer", "rating", "build", "cli"]),
    ("std::net", &[]),
    ("std::process", &["cli"]),
    // In build: those that rate districts. In cli: one that waits for signals.
    ("std::thread", &["build", "cli"]),
    ("std::time", &["build", "cli"]),
    // In base: what a thread's panic said, kept for the one border to foreign parsers.
    ("thread_local!", &["base", "build"]),
    ("dbg!", &[]),
    ("eprint!", &[]),
    ("eprintln!", &[]),
    ("print!", &[]),
    ("println!", &[]),
];

/// What only some files may use, and those files.
const ONLY_IN: Table = &[
    // What goes to the terminal is cleaned in one place.
    ("std::io::stdout", &["cli/terminal"]),
    ("std::io::stderr", &["cli/terminal"]),
    ("std::io::*", &[]),
    // Files of others are read whole in `base/input`, which looks at their size first; what the system says of itself
    // and this process is none of them.
    ("std::fs::read", &[]),
    ("std::fs::read_to_string", &["base/files/abandoned", "base/memory", "cli/build", "cli/signals"]),
    ("std::fs::*", &[]),
    ("std::panic::catch_unwind", &["base/foreign"]),
];

/// Uses that the tables above do not allow, each until its reason is gone: file, path or its beginning.
const NOT_YET: &[(&str, &str)] = &[];

/// Circles among the files of a folder that are still to be taken apart, one a line.
const CIRCLES: &[&str] = &[];

/// Names that more than one type has, still to be told apart.
const NAMED_TWICE: &[&str] = &[];

/// Lines of the longest file, tests too.
const MOST_LINES: usize = 400;

/// Names and what each may use. `*`: all.
type Table = &'static [(&'static str, &'static [&'static str])];

fn row(table: Table, name: &str) -> Option<&'static [&'static str]> {
    table.iter().find(|(n, _)| *n == name).map(|(_, list)| *list)
}

fn lists(list: &[&str], name: &str) -> bool {
    list.iter().any(|n| *n == "*" || *n == name)
}

/// Uses of a room that its row does not allow: the file and the path.
fn rooms_broken(house: &House) -> BTreeSet<(String, String)> {
    let mut broken = BTreeSet::new();
    for source in house.sources() {
        let Some(room) = source.module.first() else { continue };
        for used in &source.used {
            let Used::Inside { path, glob } = used else { continue };
            let may = |other: &String| other == room || row(ROOMS, room).is_some_and(|list| lists(list, other));
            if !house.rooms_of(path, *glob).iter().all(may) {
                broken.insert((source.module.join("/"), used.text()));
            }
        }
    }
    broken
}

/// Uses of an outside crate, a part of the standard library or a macro that its row does not allow.
fn outside_broken(house: &House) -> BTreeSet<(String, String)> {
    let mut broken = BTreeSet::new();
    for source in house.sources() {
        let Some(room) = source.module.first() else { continue };
        for used in &source.used {
            let Used::Outside { path, glob } = used else { continue };
            if !may_use_outside(room, path, *glob) {
                broken.insert((source.module.join("/"), used.text()));
            }
        }
    }
    broken
}

fn may_use_outside(room: &str, path: &[String], glob: bool) -> bool {
    let free = |list: &[&str]| lists(list, room);
    let first = path[0].as_str();
    if ["std", "core", "alloc"].contains(&first) {
        // A glob over the whole library holds each of its parts.
        let parts = OUTSIDE.iter().filter(|(n, _)| n.starts_with("std::"));
        let mut met = parts.filter(|(n, _)| path.get(1).map_or(glob, |part| *n == format!("std::{part}")));
        return met.all(|(_, list)| free(list));
    }
    let listed = row(OUTSIDE, first);
    // A macro is free where no row says otherwise.
    listed.map_or(first.ends_with('!'), free)
}

/// Files longer than `most` lines.
fn too_long<'a>(texts: impl Iterator<Item = (String, &'a str)>, most: usize) -> Vec<String> {
    texts.filter(|(_, t)| t.lines().count() > most).map(|(f, t)| format!("{f}: {} lines", t.lines().count())).collect()
}

/// Names of types that more than one place defines, with the places.
fn named_twice(house: &House) -> BTreeMap<String, Vec<String>> {
    let mut places: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for source in house.sources() {
        for name in &source.types {
            places.entry(name.clone()).or_default().push(source.module.join("/"));
        }
    }
    places.retain(|_, at| at.len() > 1);
    places
}

/// Crates the code can name.
fn outside_crates() -> BTreeSet<String> {
    let manifest = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.toml")).unwrap();
    let table: toml::Table = manifest.parse().unwrap();
    let names = table["dependencies"].as_table().unwrap().keys().map(|k| k.replace('-', "_"));
    names.chain(["std", "core", "alloc"].map(String::from)).collect()
}

fn src() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn today() -> House {
    House::read(&src(), &outside_crates())
}

/// Fails on what breaks a rule and is not on its list, and on lines of the list that nothing needs.
fn held(what: &str, found: &BTreeSet<String>, listed: &[&str]) {
    let listed: BTreeSet<String> = listed.iter().map(|l| (*l).to_string()).collect();
    let new: Vec<&String> = found.difference(&listed).collect();
    let gone: Vec<&String> = listed.difference(found).collect();
    assert!(new.is_empty(), "{what}:\n{new:#?}");
    assert!(gone.is_empty(), "{what}: no longer true, take the line off its list:\n{gone:#?}");
}

#[test]
fn a_room_uses_only_what_its_row_allows() {
    let house = today();
    let seen: BTreeSet<&str> = house.sources().filter_map(|s| s.module.first()).map(String::as_str).collect();
    let rooms: BTreeSet<&str> = ROOMS.iter().map(|(room, _)| *room).collect();
    // The guide is pages; it may do without code.
    let without_code = BTreeSet::from(["guide"]);
    assert!(seen.is_subset(&rooms), "folders without a row: {:?}", seen.difference(&rooms));
    assert!(rooms.difference(&seen).all(|r| without_code.contains(r)), "rows without a folder");
    let broken: BTreeSet<(String, String)> = rooms_broken(&house).union(&outside_broken(&house)).cloned().collect();
    let excused = |(file, path): &&(String, String), (f, p): &(&str, &str)| file == f && path.starts_with(p);
    let unlisted = broken.iter().filter(|b| !NOT_YET.iter().any(|n| excused(b, n)));
    let new: Vec<String> = unlisted.map(|(file, path)| format!("{file}: {path}")).collect();
    let gone: Vec<_> = NOT_YET.iter().filter(|n| !broken.iter().any(|b| excused(&b, n))).collect();
    assert!(new.is_empty(), "not allowed:\n{new:#?}");
    assert!(gone.is_empty(), "no longer needed, take the line off the list:\n{gone:#?}");
}

/// Uses of what other files alone may use.
fn astray(house: &House) -> Vec<String> {
    let mut found = Vec::new();
    for source in house.sources() {
        let file = source.module.join("/");
        let uses = source.used.iter().map(Used::text);
        found.extend(
            uses.filter(|text| row(ONLY_IN, text).is_some_and(|files| !lists(files, &file)))
                .map(|text| format!("{file}: {text}")),
        );
    }
    found
}

#[test]
fn what_one_file_does_no_other_does() {
    let house = today();
    assert_eq!(astray(&house), Vec::<String>::new());
    let uses = |file: &str, what: &str| {
        house.sources().any(|s| s.module.join("/") == file && s.used.iter().any(|u| u.text() == what))
    };
    let idle = ONLY_IN.iter().flat_map(|(what, files)| files.iter().filter(|file| !uses(file, what)));
    assert_eq!(idle.collect::<Vec<_>>(), Vec::<&&str>::new(), "take the file off the list");
}

#[test]
fn the_files_of_a_folder_go_in_no_circle() {
    held("circles", &today().circles(), CIRCLES);
}

#[test]
fn each_type_has_a_name_of_its_own() {
    let places = named_twice(&today());
    let unlisted = places.iter().filter(|(name, _)| !NAMED_TWICE.contains(&name.as_str()));
    let new: Vec<String> = unlisted.map(|(name, at)| format!("{name}: {}", at.join(", "))).collect();
    let gone: Vec<_> = NAMED_TWICE.iter().filter(|name| !places.contains_key(**name)).collect();
    assert!(new.is_empty(), "named twice:\n{new:#?}");
    assert!(gone.is_empty(), "unique by now, take the line off the list:\n{gone:#?}");
}

#[test]
fn files_stay_readable() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let texts: Vec<(String, String)> =
        ["src", "tests", "benches"].iter().flat_map(|folder| house::files(&root.join(folder))).collect();
    assert!(texts.len() > 400, "only {} files read", texts.len());
    let long = too_long(texts.iter().map(|(file, text)| (file.clone(), text.as_str())), MOST_LINES);
    assert!(long.is_empty(), "{long:?}");
}
