//! What `--with` says of layers that cannot be asked together: both files, the thing, and what to do.
use std::path::Path;
use std::process::Command;

use waymask::base::words::{Cause, Rating};
use waymask::layer::model::BuildRecord;
use waymask::profile::Profile;
use waymask::profile::source::with_values;

use crate::ask::diff_layers::{Seg, record, two, write};
use crate::build::kit::Sketch;

fn asked(first: &Path, with: &[&Path], track: &str) -> (Option<i32>, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_waymask"));
    command.args(["corridor".as_ref(), first.as_os_str(), track.as_ref()]);
    with.iter().for_each(|path| {
        command.arg("--with").arg(path);
    });
    let out = command.output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (out.status.code(), text(&out.stdout), text(&out.stderr))
}

fn roads(ways: &[i64]) -> Vec<Seg> {
    ways.iter().map(|way| Seg::of(*way, 0, 200.0, Rating::Gaps, 1.0, Cause::Canopy)).collect()
}

#[test]
fn layers_that_cannot_be_asked_together_are_refused_with_both_files_and_what_to_do() {
    let (folder, a, b) = two();
    write(&a, &roads(&[1]), &[], &record("2026-06-01T00:00:00Z", "aa"));
    let other = |change: &dyn Fn(&mut BuildRecord)| {
        let mut record = record("2026-05-01T00:00:00Z", "bb");
        change(&mut record);
        write(&b, &roads(&[1, 2]), &[], &record);
    };
    let check = |with: &[&Path], code: i32, facts: &[&str]| {
        let (exit, out, said) = asked(&a, with, "42.50090,1.50010 42.50090,1.50200");
        assert!(exit == Some(code) && out.is_empty(), "{exit:?} {out} {said}");
        assert!(facts.iter().all(|fact| said.contains(fact)), "{facts:?} in {said}");
    };
    // Another profile.
    other(&|r| r.profile = with_values(&Profile::default(), &["link.slot_s=30".to_owned()]).unwrap());
    check(&[&b], 1, &["new.gpkg: cannot be asked together with", "link.slot_s", "30", "the same --profile"]);
    // Other satellites.
    other(&|r| r.timeline_start = Some("2026-08-01T00:00:00Z".into()));
    check(&[&b], 1, &["drives are under other satellites", "2026-08-01"]);
    // Another schema.
    other(&|_| {});
    let sql = "UPDATE build_record SET value = '1' WHERE key = 'schema_version'";
    rusqlite::Connection::open(&b).unwrap().execute_batch(sql).unwrap();
    check(&[&b], 1, &["new.gpkg: was written by an older waymask (schema 1", "uild it again"]);
    // Not a layer, a missing file, the same file twice, also under another name.
    let text = folder.path().join("notes.txt");
    std::fs::write(&text, "x".repeat(200)).unwrap();
    check(&[&text], 1, &["notes.txt: is not a waymask layer: not a GeoPackage"]);
    check(&[&folder.path().join("gone.gpkg")], 1, &["gone.gpkg: ", "Give the path of a layer"]);
    check(&[&a], 2, &["is the same file as", "Give each layer once"]);
    let link = folder.path().join("link.gpkg");
    std::os::unix::fs::symlink(&a, &link).unwrap();
    check(&[&link], 2, &["link.gpkg: is the same file as"]);
    let many: Vec<&Path> = vec![&b; 8];
    check(&many, 2, &["--with: makes 9 layers in one question", "at most 8"]);
}

#[test]
fn maps_of_two_dates_are_both_told_and_the_oldest_counts() {
    let places: Vec<_> = ["2026-06-01", "2026-05-01"]
        .iter()
        .map(|date| {
            let mut sketch = Sketch::at(47.1);
            sketch.line(&[(0.0, 0.0), (700.0, 100.0)], &[("highway", "tertiary")]);
            let place = sketch.build(Profile::default());
            let file = rusqlite::Connection::open(&place.path).unwrap();
            let sql = "UPDATE build_record SET value = replace(value, '2023-11-14T22:13:20Z', ?) WHERE key = 'inputs'";
            file.execute(sql, [format!("{date}T00:00:00Z")]).unwrap();
            place
        })
        .collect();
    let (exit, out, said) = asked(&places[0].path, &[&places[1].path], "47.1,-28.0 47.1009,-27.9908");
    assert_eq!(exit, Some(0), "{said}");
    for fact in ["rests on 2 layers", "(map data of 2026-06-01", "the oldest map data are of 2026-05-01"] {
        assert!(out.contains(fact), "{fact} in {out}");
    }
}

#[test]
fn maps_that_mean_other_places_by_the_same_numbers_are_refused() {
    let places: Vec<_> = [47.1, 47.2]
        .iter()
        .map(|lat_deg| {
            let mut sketch = Sketch::at(*lat_deg);
            sketch.line(&[(0.0, 0.0), (700.0, 100.0)], &[("highway", "tertiary")]);
            sketch.build(Profile::default())
        })
        .collect();
    let (exit, out, said) = asked(&places[0].path, &[&places[1].path], "Nowhere to Anywhere");
    assert!(exit == Some(1) && out.is_empty(), "{exit:?} {out} {said}");
    // A tenth of a degree of latitude has 11.1 km.
    assert!(said.contains("lies 11 km apart in them (way ") && said.contains("numbered anew"), "{said}");
}
