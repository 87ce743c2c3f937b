//! What `waymask diff` says of files that are no two layers of one region.
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::Command;

use rusqlite::Connection;
use waymask::base::words::{Cause, Rating};
use waymask::layer::{Layer, LayerWriter};

use crate::ask::diff_layers::{Seg, record, two, write};
use crate::small_disk::names;

/// Exit code and what is said on either stream.
fn run(words: &[&Path]) -> (Option<i32>, String, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_waymask")).arg("diff").args(words).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (out.status.code(), text(&out.stdout), text(&out.stderr))
}

/// A road of some parts.
fn road(path: &Path, way: i64, parts: u32) -> Layer {
    let segs: Vec<Seg> = (0..parts).map(|part| Seg::of(way, part, 100.0, Rating::Gaps, 1.0, Cause::Canopy)).collect();
    write(path, &segs, &[], &record("2026-06-01T00:00:00Z", "aa"))
}

#[test]
fn the_same_file_under_any_name_does_not_differ() {
    let (folder, old, _) = two();
    road(&old, 1, 3);
    let [soft, hard] = ["soft.gpkg", "hard.gpkg"].map(|name| folder.path().join(name));
    symlink(&old, &soft).unwrap();
    fs::hard_link(&old, &hard).unwrap();
    for other in [&old, &soft, &hard, &folder.path().join("./old.gpkg")] {
        let (code, text, _) = run(&[&old, other]);
        assert_eq!(code, Some(0));
        assert!(text.starts_with("OLD and NEW are the same file, ") && text.contains(": nothing differs.\n"), "{text}");
        assert!(!text.contains("km by rating"), "{text}");
    }
    let copy = folder.path().join("copy.gpkg");
    fs::copy(&old, &copy).unwrap();
    let (code, text, _) = run(&[&old, &copy]);
    assert!(code == Some(0) && text.starts_with("Nothing differs: 300 m of road are in both layers"), "{text}");
}

#[test]
fn what_is_not_a_whole_layer_is_an_error_that_names_it() {
    let (folder, whole, bad) = two();
    road(&whole, 1, 400);
    let bytes = fs::read(&whole).unwrap();
    let output = folder.path().join("out.csv");
    let half = |part: usize| bytes[..bytes.len() / part].to_vec();
    let cases = [
        (b"name,km\n".to_vec(), "not a GeoPackage"),
        (half(2), "new.gpkg"),
        (half(50), "new.gpkg"),
        (Vec::new(), "not a"),
    ];
    for (content, part) in cases {
        fs::write(&bad, content).unwrap();
        for pair in [[&*whole, &*bad], [&*bad, &*whole]] {
            let (code, text, said) = run(&[pair[0], pair[1], Path::new("-o"), &output]);
            assert_eq!((code, text.as_str()), (Some(1), ""), "{said}");
            assert!(said.contains("new.gpkg: ") && said.contains(part) && said.lines().count() == 2, "{said}");
        }
        assert_eq!(names(folder.path()), ["new.gpkg", "old.gpkg"], "nothing is left behind");
    }
    fs::remove_file(&bad).unwrap();
    let (code, _, said) = run(&[&whole, &bad]);
    assert!(code == Some(1) && said.contains("new.gpkg: does not exist"), "{said}");
}

#[test]
fn an_older_schema_and_a_lost_index_are_refused() {
    let (_folder, old, new) = two();
    road(&old, 1, 3);
    road(&new, 1, 3);
    let change = |sql: &str| Connection::open(&old).unwrap().execute_batch(sql).unwrap();
    change("DROP INDEX segments_way_id_part");
    let (code, _, said) = run(&[&old, &new]);
    assert!(
        code == Some(1) && said.contains("old.gpkg: ") && said.contains("lost its index on way_id, part"),
        "{said}"
    );
    change("UPDATE build_record SET value = '8' WHERE key = 'schema_version'");
    let (code, _, said) = run(&[&new, &old]);
    let version = waymask::layer::SCHEMA_VERSION;
    let fact = format!("old.gpkg: was written by an older waymask (schema 8, this one reads {version})");
    assert!(code == Some(1) && said.contains(&fact) && said.contains("Build it again"), "{said}");
}

#[test]
fn layers_without_a_segment_in_common_are_told_so_first() {
    let (_folder, old, new) = two();
    road(&old, 1, 3);
    // The grid lays way 1000 a hundred kilometres farther north.
    road(&new, 1_000, 2);
    let (code, text, _) = run(&[&old, &new]);
    let first = "No segment is in both layers, because they cover different regions (OLD latitude 42.5009 to 42.5009, \
                 longitude 1.5000 to 1.5085; NEW latitude 43.40";
    assert!(code == Some(0) && text.starts_with(first), "{text}");
    assert!(text.contains("300 m only in OLD and 200 m only in NEW.\n") && !text.contains("stretch"), "{text}");
    // Ways around those of the other, by other numbers.
    let segs = [0, 2].map(|way| Seg::of(way, 1, 100.0, Rating::Gaps, 1.0, Cause::Canopy));
    write(&new, &segs, &[], &record("2026-06-01T00:00:00Z", "aa"));
    let (code, text, _) = run(&[&old, &new]);
    assert!(code == Some(0), "{text}");
    assert!(
        text.starts_with("No segment is in both layers, although the boxes around their roads meet: 300 m"),
        "{text}"
    );
}

#[test]
fn a_layer_without_roads_answers_nothing() {
    let (_folder, old, new) = two();
    road(&old, 1, 3);
    LayerWriter::create(&new, false).unwrap().finish(&record("2026-06-01T00:00:00Z", "aa")).unwrap();
    for pair in [[&*old, &*new], [&*new, &*old]] {
        let (code, text, said) = run(&pair);
        assert_eq!((code, text.as_str()), (Some(1), ""));
        assert!(said.contains("new.gpkg: holds no roads"), "{said}");
    }
}

#[test]
fn outputs_are_files_of_their_own_with_a_known_ending() {
    let (folder, old, new) = two();
    road(&old, 1, 3);
    road(&new, 1, 2);
    let before = [&old, &new].map(|p| fs::read(p).unwrap());
    let o = Path::new("-o");
    for input in [&old, &new] {
        let (code, _, said) = run(&[&old, &new, o, input, Path::new("--overwrite")]);
        assert!(code == Some(2) && said.contains("is also an input of this command"), "{said}");
    }
    assert!([&old, &new].map(|p| fs::read(p).unwrap()) == before);
    let at = |name: &str| folder.path().join(name);
    let (code, _, said) = run(&[&old, &new, o, &at("out.gpx")]);
    assert!(code == Some(2) && said.contains("Give a name that ends in .geojson or .csv"), "{said}");
    let (code, text, _) = run(&[&old, &new, o, &at("out.csv")]);
    assert!(code == Some(0) && text.contains("written\n") && text.contains("out.csv (1 segment)\n"), "{text}");
    assert!(fs::read_to_string(at("out.csv")).unwrap().contains("\r\nonly_old,1,2,"));
    let (code, _, said) = run(&[&old, &new, o, &at("out.csv")]);
    assert!(code == Some(1) && said.contains("--overwrite"), "{said}");
    let (code, text, _) = run(&[&old, &new, o, &at("out.geojson"), Path::new("--json")]);
    assert!(code == Some(0) && serde_json::from_str::<serde_json::Value>(&text).is_ok(), "{text}");
    assert!(fs::read_to_string(at("out.geojson")).unwrap().parse::<geojson::GeoJson>().is_ok());
}
