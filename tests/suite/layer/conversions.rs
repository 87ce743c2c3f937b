//! Ids in the hands of other programs: they survive conversion, and joins by them are right.
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use gdal::vector::LayerAccess;
use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions};
use waymask::layer::Layer;
use waymask::profile::Profile;

use crate::build::kit::sample;
use crate::layer::rows;
use crate::layer::viewers::TABLES;
use crate::need;

/// The output of a program of GDAL; nothing where it is not installed.
fn run(program: &'static str, arguments: &[&str]) -> Option<Output> {
    let program = need::program(program, "gdal-bin")?;
    Some(Command::new(program).args(arguments).output().unwrap())
}

/// What ogr2ogr made of a table.
fn converted(layer: &Path, table: &str, to: &str, options: &[&str]) -> Option<PathBuf> {
    let output = layer.with_file_name(to);
    let (from, into) = (layer.to_str().unwrap(), output.to_str().unwrap());
    let done = run("ogr2ogr", &[&[into, from, table], options].concat())?;
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    Some(output)
}

/// Values of a column as another program of the same library reads them.
fn column(path: &Path, name: &str) -> Vec<i64> {
    let dataset = gdal::Dataset::open(path).unwrap();
    let mut layer = dataset.layer(0).unwrap();
    let index = layer.defn().field_index(name).unwrap_or_else(|_| panic!("no column {name} in {}", path.display()));
    layer.features().map(|f| f.field_as_integer64(index).unwrap().unwrap()).collect()
}

#[test]
fn ids_are_columns_of_what_ogr2ogr_makes() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 30).unwrap();
    let lanes: Vec<i64> = (1..=120).collect();
    for (table, id, count) in [
        ("segments", "segment_id", 30),
        ("edges", "edge_id", 30),
        ("overheads", "overhead_id", 30),
        ("stops", "stop_id", 30),
        ("way_nodes", "segment_id", 30),
        ("outages", "outage_id", 30),
        ("places", "place_id", 30),
        ("ground", "ground_id", 30),
        ("ground_lines", "ground_line_id", 30),
        ("lanes", "lane_id", 60),
        ("masks", "mask_id", 60),
        ("end_masks", "end_mask_id", 120),
    ] {
        let endings: &[&str] =
            if count >= 60 || ["edges", "way_nodes"].contains(&table) { &["csv"] } else { &["csv", "fgb", "geojson"] };
        for ending in endings {
            let Some(output) = converted(&path, table, &format!("{table}.{ending}"), &[]) else { return };
            let mut ids = column(&output, id);
            ids.sort_unstable();
            assert_eq!(ids, lanes[..count], "{table} as {ending}");
        }
    }
    let Some(output) = converted(&path, "nodes", "nodes.fgb", &[]) else { return };
    let mut ids = column(&output, "node_id");
    ids.sort_unstable();
    assert_eq!(ids, (1..=30).map(|id| rows::node(id).node_id).collect::<Vec<_>>());
}

/// The island, rated roughly.
fn island(folder: &Path) -> PathBuf {
    let mut profile = Profile::default();
    profile.link.drives = 4;
    let options = BuildOptions {
        elevation: vec![sample("varrow-elevation.tif")],
        profile,
        ..BuildOptions::new(sample("varrow.osm.pbf"), folder.join("island.gpkg"))
    };
    build::build(&options, &Silent).unwrap();
    options.output
}

/// Rows of the join as the layer itself tells them, in the order of the script.
fn truth(layer: &Path) -> Vec<[i64; 6]> {
    let layer = Layer::open(layer).unwrap();
    let row = |edge: waymask::Result<waymask::layer::model::EdgeRow>| {
        let edge = edge.unwrap();
        let segments = if edge.forward { layer.segments_of(&edge).unwrap() } else { Vec::new() };
        let ids = move |s: waymask::layer::model::SegmentRow| {
            [s.segment_id, s.way_id, i64::from(s.part), edge.edge_id, edge.from_node, edge.to_node]
        };
        segments.into_iter().map(ids)
    };
    let mut rows: Vec<_> = layer.edges().flat_map(row).collect();
    rows.sort_unstable();
    rows
}

#[test]
fn other_programs_join_edges_to_segments_by_id() {
    let folder = tempfile::tempdir().unwrap();
    let layer = island(folder.path());
    let truth = truth(&layer);
    assert!(truth.len() > 300, "{} rows", truth.len());
    for (table, to) in [("segments", "segments.fgb"), ("edges", "edges.csv")] {
        if converted(&layer, table, to, &[]).is_none() {
            return;
        }
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/suite/layer/readers.py");
    for (reader, package) in [
        ("geopandas", "geopandas"),
        ("flatgeobuf", "geopandas"),
        ("fiona", "fiona"),
        ("duckdb", "duckdb_extension_spatial"),
    ] {
        let Some(python) = need::python(package) else { continue };
        let read = Command::new(python).arg(&script).arg(reader).arg(&layer).arg(folder.path()).output().unwrap();
        assert!(read.status.success(), "{reader}: {}", String::from_utf8_lossy(&read.stderr));
        let theirs: Vec<[i64; 6]> = serde_json::from_slice(&read.stdout).unwrap();
        let wrong = theirs.iter().filter(|row| !truth.contains(row)).count();
        println!("{reader}: {} rows, {wrong} wrong", theirs.len());
        assert_eq!((theirs.len(), wrong), (truth.len(), 0), "{reader}");
        assert_eq!(theirs, truth, "{reader}");
    }
}

/// The validator that comes with GDAL, in a Python that has GDAL; its complaints, none of a valid file.
fn complaints(layer: &Path) -> Option<String> {
    let validator = "osgeo_utils.samples.validate_gpkg";
    let has = |python: &&str| {
        let found = Command::new(python).args(["-c", &format!("import {validator}")]).output();
        found.is_ok_and(|o| o.status.success())
    };
    let found = ["python3", "/usr/bin/python3"].into_iter().find(has);
    let python = need::present(found, || "no Python with GDAL (Debian package python3-gdal)".to_owned())?;
    let arguments = ["-m", validator, "--extra", "--warning-as-error", layer.to_str().unwrap()];
    let output = Command::new(python).args(arguments).output().unwrap();
    let said = String::from_utf8_lossy(&[output.stdout, output.stderr].concat()).into_owned();
    assert_eq!(output.status.success(), said.is_empty(), "{said}");
    Some(said)
}

#[test]
fn the_validator_of_gdal_has_no_complaint() {
    let folder = tempfile::tempdir().unwrap();
    let (full, empty) = (folder.path().join("full.gpkg"), folder.path().join("empty.gpkg"));
    rows::write(&full, false, 60).unwrap();
    rows::write(&empty, false, 0).unwrap();
    for layer in [full.clone(), empty, island(folder.path())] {
        let Some(said) = complaints(&layer) else { return };
        assert_eq!(said, "", "{}", layer.display());
    }
    let spoil = "UPDATE gpkg_data_column_constraints SET min = 2 WHERE constraint_name = 'share'";
    rusqlite::Connection::open(&full).unwrap().execute_batch(spoil).unwrap();
    assert_ne!(complaints(&full).unwrap(), "", "the validator looks at constraints");
}

#[test]
fn every_table_is_counted_and_counts_itself() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 40).unwrap();
    let layer = rusqlite::Connection::open(path).unwrap();
    let number = |sql: &str| layer.query_row(sql, [], |r| r.get::<_, i64>(0)).unwrap();
    for table in TABLES.iter().chain(&["build_record", "layer_styles"]) {
        let told = || number(&format!("SELECT feature_count FROM gpkg_ogr_contents WHERE table_name = '{table}'"));
        let there = || number(&format!("SELECT count(*) FROM {table}"));
        assert_eq!(told(), there(), "{table}");
        let before = there();
        // R-trees of features need functions of a GIS when rows go; these tables have none.
        if ["edges", "way_nodes", "lanes", "runs", "masks", "end_masks", "build_record"].contains(table) {
            layer.execute_batch(&format!("DELETE FROM {table} WHERE fid < 5")).unwrap();
            assert!(there() < before && told() == there(), "{table}");
        }
    }
    assert_eq!(number("SELECT count(*) FROM gpkg_ogr_contents"), number("SELECT count(*) FROM gpkg_contents"));
}
