//! The table of edges as files.
use std::process::Command;

use waymask::base::words::ValueFrom;
use waymask::layer::Layer;

use crate::ask::town::Town;

#[test]
fn both_formats_hold_every_edge_and_an_unknown_ending_leaves_nothing() {
    let town = Town::with_middle(&[("maxheight", "2.5"), ("surface", "gravel"), ("name", "A, \"B\"")]);
    let place = town.build();
    let folder = tempfile::tempdir().unwrap();
    let run = |name: &str| {
        let path = folder.path().join(name);
        let out =
            Command::new(env!("CARGO_BIN_EXE_waymask")).arg("edges").arg(&place.path).arg("-o").arg(&path).output();
        (out.unwrap(), path)
    };
    let (out, path) = run("e.csv");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let mut reader = csv::Reader::from_path(path).unwrap();
    let heads = reader.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let stored: Vec<_> = Layer::open(&place.path).unwrap().edges().map(Result::unwrap).collect();
    assert_eq!((rows.len(), stored.len()), (6, 6));
    let column = |row: &csv::StringRecord, name: &str| row[heads.iter().position(|h| h == name).unwrap()].to_owned();
    for (row, edge) in rows.iter().zip(&stored) {
        assert_eq!(column(row, "edge_id"), edge.edge_id.to_string());
        assert_eq!(column(row, "time_s").parse(), Ok(edge.time_s));
        assert_eq!(column(row, "outage_s").parse(), Ok(edge.outage_s));
        assert_eq!(column(row, "maxheight_m").parse().ok(), edge.maxheight_m);
        assert_eq!(column(row, "unpaved"), edge.unpaved.to_string());
    }
    assert_eq!(
        stored.iter().filter(|e| e.maxheight_m == Some(2.5) && e.unpaved && e.unpaved_from == ValueFrom::Tag).count(),
        2
    );
    let (_, path) = run("e.json");
    let json: serde_json::Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    assert_eq!(json.as_array().map(Vec::len), Some(6));
    assert_eq!(json[0]["access"], "open");
    let (out, path) = run("e.xlsx");
    assert_eq!((out.status.code(), path.exists()), (Some(2), false));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2, "something was left behind");
}
