//! Exit codes: 3 where the same command may succeed later, and one clear sentence.
use std::fs::File;
use std::process::Command;

use rusqlite::Connection;

use crate::cli::{map, said, text, waymask};
use crate::layer::rows;
use crate::need;
use crate::small_disk::{SmallDisk, names};

/// One sentence of what went wrong and one of what to do.
fn is_told_once(said: &str) {
    assert_eq!(said.lines().count(), 2, "{said}");
    assert!(!["CREATE", "INSERT", "sqlite", "SQL"].iter().any(|word| said.contains(word)), "{said}");
}

#[test]
fn a_disk_too_small_for_a_layer_is_told_once_in_plain_words() {
    let folder = tempfile::tempdir().unwrap();
    let map = map(folder.path());
    for size in ["16k", "64k", "96k"] {
        let Some(disk) = SmallDisk::mount(size) else { return };
        let output = disk.path().join("out.gpkg");
        let out = waymask(&["build", text(&map), "-q", "-o", text(&output)]);
        let said = said(&out);
        let wanted = format!("waymask: {}: cannot be written: the disk is full\n", output.display());
        assert!(said.starts_with(&wanted) && said.contains("Free some space there"), "{size}: {said}");
        is_told_once(&said);
        assert_eq!((out.status.code(), names(disk.path())), (Some(3), vec![]), "{size}");
    }
}

#[test]
fn a_full_disk_stops_answers_and_temporary_files_too() {
    let (folder, layer) = rows::folder();
    rows::write(&layer, false, 400).unwrap();
    let Some(disk) = SmallDisk::mount("16k") else { return };
    let table = disk.path().join("edges.csv");
    let out = waymask(&["edges", text(&layer), "-o", text(&table)]);
    assert_eq!((out.status.code(), names(disk.path())), (Some(3), vec![]), "{}", said(&out));
    assert!(said(&out).contains("edges.csv: cannot be written: the disk is full"), "{}", said(&out));
    disk.fill();
    let map = map(folder.path());
    let out = Command::new(env!("CARGO_BIN_EXE_waymask"))
        .args(["build", text(&map), "-q", "-o", text(&folder.path().join("out.gpkg"))])
        .env("TMPDIR", disk.path())
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(3), "{}", said(&out));
    assert!(said(&out).contains("(TMPDIR): cannot be written: the disk is full"), "{}", said(&out));
    is_told_once(&said(&out));
    assert_eq!(names(folder.path()), ["layer.gpkg", "place.osm.pbf"]);
}

#[test]
fn standard_output_that_takes_no_more_is_3() {
    let (_folder, layer) = rows::folder();
    rows::write(&layer, false, 2).unwrap();
    let full = need::granted(File::options().write(true).open("/dev/full").ok(), "write to /dev/full");
    let Some(full) = full else { return };
    let out = Command::new(env!("CARGO_BIN_EXE_waymask")).args(["info", text(&layer)]).stdout(full).output().unwrap();
    assert_eq!(out.status.code(), Some(3), "{}", said(&out));
    assert!(said(&out).contains("standard output: cannot be written: the disk is full"), "{}", said(&out));
}

#[test]
fn a_layer_that_another_program_writes_to_is_3() {
    let (_folder, layer) = rows::folder();
    rows::write(&layer, false, 2).unwrap();
    let other = Connection::open(&layer).unwrap();
    other.execute_batch("BEGIN EXCLUSIVE").unwrap();
    let out = waymask(&["info", text(&layer)]);
    assert_eq!(out.status.code(), Some(3), "{}", said(&out));
    assert!(said(&out).contains("layer.gpkg: cannot be read as a layer: another program holds it"), "{}", said(&out));
    is_told_once(&said(&out));
    other.execute_batch("ROLLBACK").unwrap();
    assert_eq!(waymask(&["info", text(&layer)]).status.code(), Some(0));
}

#[test]
fn a_layer_that_is_open_elsewhere_is_3_and_one_that_is_there_is_1() {
    let (folder, layer) = rows::folder();
    rows::write(&layer, false, 2).unwrap();
    let map = map(folder.path());
    let build = |more: &[&str]| waymask(&[&["build", text(&map), "-q", "-o", text(&layer)], more].concat());
    assert_eq!(build(&[]).status.code(), Some(1));
    let other = Connection::open(&layer).unwrap();
    other.pragma_update(None, "journal_mode", "WAL").unwrap();
    other.query_row("SELECT count(*) FROM edges", [], |r| r.get::<_, i64>(0)).unwrap();
    let out = build(&["--overwrite"]);
    assert!(out.status.code() == Some(3) && said(&out).contains("layer.gpkg-wal"), "{}", said(&out));
    drop(other);
    let out = build(&["--overwrite"]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
}

#[test]
fn codes_are_told_in_the_help() {
    let help = String::from_utf8_lossy(&waymask(&["--help"]).stdout).into_owned();
    let help = help.split_whitespace().collect::<Vec<_>>().join(" ");
    let from = help.find("Exit codes: 0 done, 1 failed for good, 2 wrong usage, 3 may succeed").unwrap();
    let told = help[from..].split_inclusive(". ").next().unwrap().trim();
    assert!(told.ends_with("129, 130 and 143 ended by SIGHUP, SIGINT (Ctrl-C) and SIGTERM."), "{told}");
    let guide = String::from_utf8_lossy(&waymask(&["guide", "outputs"]).stdout).into_owned();
    for code in ["| 0 |", "| 1 |", "| 2 |", "| 3 |", "| 129, 130, 143 | ended by SIGHUP, SIGINT (Ctrl-C), SIGTERM |"] {
        assert!(guide.contains(code), "{code}: {guide}");
    }
}
