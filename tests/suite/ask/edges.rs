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
    // Roads alone: nobody knows what stands beside them, and that is said with the kilometres.
    let sql = "SELECT sum(length_m) / 1000 FROM segments WHERE evidence = 'unknown'";
    let unknown_km: f64 =
        rusqlite::Connection::open(&place.path).unwrap().query_row(sql, [], |row| row.get(0)).unwrap();
    let told = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(
        unknown_km > 0.1 && told.contains(&format!("not known: {unknown_km:.1} km of road")),
        "{unknown_km} {told}"
    );
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

fn waymask(words: &[&str]) -> (Option<i32>, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_waymask")).args(words).output().unwrap();
    (out.status.code(), String::from_utf8_lossy(&[out.stdout, out.stderr].concat()).into_owned())
}

/// The figures of a column.
fn column(table: &str, name: &str) -> Vec<f64> {
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let at = reader.headers().unwrap().iter().position(|h| h == name).unwrap();
    reader.records().map(|row| row.unwrap()[at].parse().unwrap()).collect()
}

#[test]
fn node_pairs_and_ways_are_written_in_both_formats_with_speeds_of_the_weight_given() {
    let place = Town::with_middle(&[("tunnel", "yes"), ("layer", "-1"), ("oneway", "yes")]).build();
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let layer = place.path.to_str().unwrap();
    let read = |name: &str| std::fs::read_to_string(at(name)).unwrap();
    for (by, file) in [("node-pair", "p"), ("way", "w")] {
        for ending in ["csv", "json"] {
            let (code, said) = waymask(&["edges", layer, "--by", by, "-o", &at(&format!("{file}.{ending}"))]);
            assert!(code == Some(0) && said.contains("(5 rows, "), "{said}");
        }
        let weighted = format!("{file}2.csv");
        assert_eq!(waymask(&["edges", layer, "--by", by, "--outage-weight", "2", "-o", &at(&weighted)]).0, Some(0));
        let [plain, slower] = [read(&format!("{file}.csv")), read(&weighted)].map(|t| column(&t, "speed_kmh"));
        let (time, outage) = (column(&read(&weighted), "time_s"), column(&read(&weighted), "outage_s"));
        assert!(outage.iter().any(|s| *s > 20.0), "the tunnel is dark: {outage:?}");
        for i in 0..5 {
            assert!((plain[i] - 36.0).abs() < 0.01, "{plain:?}");
            assert!((slower[i] - 36.0 * time[i] / (time[i] + 2.0 * outage[i])).abs() < 0.01, "{slower:?}");
        }
        let json: serde_json::Value = serde_json::from_str(&read(&format!("{file}.json"))).unwrap();
        let figures =
            |name: &str| json.as_array().unwrap().iter().map(|r| r[name].as_f64().unwrap()).collect::<Vec<_>>();
        for name in ["way_id", "length_m", "time_s", "outage_s", "rating", "speed_kmh"] {
            let pairs = figures(name).into_iter().zip(column(&read(&format!("{file}.csv")), name)).collect::<Vec<_>>();
            assert!(pairs.iter().all(|(a, b)| (a - b).abs() <= 0.005), "{name}: {pairs:?}");
        }
    }
    let edges = waymask(&["edges", layer, "--outage-weight", "2", "-o", &at("e.csv")]);
    assert!(edges.0 == Some(2) && edges.1.contains("--by node-pair or --by way"), "{edges:?}");
    let (code, said) = waymask(&["edges", layer, "--by", "way", "--outage-weight", "1001", "-o", &at("e.csv")]);
    assert!(code == Some(2) && said.contains("from 0 to 1000"), "{said}");
    let (code, said) = waymask(&["edges", layer, "--by", "way", "-o", &at("e.gpx")]);
    assert!(code == Some(2) && said.contains(".csv or .json"), "{said}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 6, "something was left behind");
}

#[test]
fn a_build_writes_node_pairs_beside_its_layer_and_refuses_before_it_works() {
    let folder = tempfile::tempdir().unwrap();
    let map = Town::with_middle(&[]).sketch.write(folder.path());
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (map, layer, work) = (map.to_str().unwrap(), at("l.gpkg"), at("work"));
    std::fs::write(at("old.csv"), "old").unwrap();
    let build = |file: &str| waymask(&["build", map, "-o", &layer, "--work", &work, "--node-pairs", file]);
    for (file, code, part) in [
        (map.to_owned(), 2, "is also an input of this command"),
        (layer.clone(), 2, "is named twice as an output"),
        (at("old.csv"), 1, "exists already"),
        (at("none/p.csv"), 1, "there is no folder"),
        (at("p.txt"), 2, ".csv or .json"),
    ] {
        let (found, said) = build(&file);
        assert!(found == Some(code) && said.contains(part), "{file}: {found:?} {said}");
    }
    assert_eq!(std::fs::read_to_string(at("old.csv")).unwrap(), "old");
    assert!(!std::path::Path::new(&layer).exists() && !std::path::Path::new(&work).exists(), "nothing was begun");
    let (code, said) = build(&at("p.csv"));
    assert!(code == Some(0) && said.contains("p.csv (6 rows, each pair of nodes by direction)"), "{said}");
    assert_eq!(waymask(&["edges", &layer, "--by", "node-pair", "-o", &at("q.csv")]).0, Some(0));
    let merged = ["merge", &work, "--no-masks", "-q", "-o", &at("m.gpkg"), "--node-pairs", &at("m.csv")];
    assert_eq!(waymask(&merged), (Some(0), String::new()));
    let tables = ["p.csv", "q.csv", "m.csv"].map(|name| std::fs::read_to_string(at(name)).unwrap());
    assert!(tables[0].lines().count() == 7 && tables.iter().all(|table| *table == tables[0]), "{tables:?}");
}
