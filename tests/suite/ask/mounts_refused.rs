//! What `mounts` says of layers that do not differ in their mount alone: both files, and the thing.
use std::path::Path;
use std::process::Command;

use rusqlite::Connection;
use waymask::base::words::{Cause, InputRole, Rating};
use waymask::layer::model::{BuildRecord, InputRecord};

use crate::ask::diff_layers::{Seg, record, two, write};

/// Exit code and what is said of trouble; nothing is printed besides.
fn refused(layers: &[&Path]) -> (Option<i32>, String) {
    let track = "42.50090,1.50010 42.50090,1.50200";
    let out = Command::new(env!("CARGO_BIN_EXE_waymask")).args(["mounts", track]).args(layers).output().unwrap();
    assert!(out.stdout.is_empty(), "{}", String::from_utf8_lossy(&out.stdout));
    (out.status.code(), String::from_utf8_lossy(&out.stderr).into_owned())
}

fn roads(ways: &[i64]) -> Vec<Seg> {
    ways.iter().map(|way| Seg::of(*way, 0, 200.0, Rating::Gaps, 1.0, Cause::Canopy)).collect()
}

fn map() -> BuildRecord {
    record("2026-06-01T00:00:00Z", "aa")
}

#[test]
fn other_inputs_and_other_roads_are_refused_with_both_files() {
    let (_folder, a, b) = two();
    write(&a, &roads(&[1, 2]), &[], &map());
    let trees = InputRecord {
        name: "trees.tif".into(),
        role: InputRole::Canopy,
        sha256: "cc".repeat(32),
        ..InputRecord::default()
    };
    let with = |change: &dyn Fn(&mut BuildRecord)| {
        let mut record = map();
        change(&mut record);
        record
    };
    let moved = [Seg { off_m: 30.0, ..roads(&[1])[0] }, roads(&[2])[0]];
    let cases = [
        (
            roads(&[1, 2]),
            record("2026-06-01T00:00:00Z", "bb"),
            "another map extract (there map.osm.pbf, SHA-256 aaaaaaaa; here map.osm.pbf, SHA-256 bbbbbbbb)",
        ),
        (
            roads(&[1, 2]),
            with(&|r| r.inputs.push(trees.clone())),
            "other heights of trees (there none; here trees.tif, SHA-256 cccccccc)",
        ),
        (
            roads(&[1, 2]),
            with(&|r| r.timeline_start = Some("2026-08-01T00:00:00Z".into())),
            "drives are under other satellites (there the shells of the profile, here 2026-08-01T00:00:00Z)",
        ),
        (
            roads(&[1, 2, 3]),
            map(),
            "they do not hold the same roads (0 segments only there, 1 only here, 0 drawn otherwise)",
        ),
        (
            moved.to_vec(),
            map(),
            "they do not hold the same roads (0 segments only there, 0 only here, 1 drawn otherwise)",
        ),
        (roads(&[7, 8]), map(), "they have no road in common: they are of different regions"),
    ];
    for (segs, record, fact) in cases {
        write(&b, &segs, &[], &record);
        let (code, said) = refused(&[&a, &b]);
        let first = format!("{}: cannot be compared with {}: {fact}\n", b.display(), a.display());
        assert!(code == Some(1) && said.contains(&first), "{said}");
        assert!(said.contains("Build both from the same files") && said.lines().count() == 2, "{said}");
    }
}

#[test]
fn nine_layers_none_and_what_is_no_layer_of_this_version_are_refused() {
    let (folder, a, b) = two();
    write(&a, &roads(&[1, 2]), &[], &map());
    write(&b, &roads(&[1, 2]), &[], &map());
    let (code, said) = refused(&[a.as_path(); 9]);
    assert!(code == Some(2) && said.contains("LAYER: is given 9 times"), "{said}");
    let (code, said) = refused(&[]);
    assert!(code == Some(2) && said.contains("<LAYER>"), "{said}");
    Connection::open(&b)
        .unwrap()
        .execute_batch("UPDATE build_record SET value = '8' WHERE key = 'schema_version'")
        .unwrap();
    let (code, said) = refused(&[&a, &b]);
    assert!(code == Some(1) && said.contains("new.gpkg: was written by an older waymask (schema 8"), "{said}");
    let (code, said) = refused(&[&a, &folder.path().join("none.gpkg")]);
    assert!(code == Some(1) && said.contains("none.gpkg: does not exist"), "{said}");
}
