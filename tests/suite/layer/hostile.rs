//! Files made to harm who opens them: they are refused, soon, and with a reason.
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rusqlite::Connection;
use rusqlite::config::DbConfig;
use waymask::layer::{Bounds, Layer, SCHEMA_VERSION};

use crate::layer::rows;

const WORLD: (f64, f64, f64, f64) = (-180.0, -90.0, 180.0, 90.0);

/// A layer of some rows, changed by SQL without triggers.
fn layer(count: i64, sql: &str) -> (tempfile::TempDir, PathBuf) {
    let (folder, path) = rows::folder();
    rows::write(&path, false, count).unwrap();
    change(&path, sql);
    (folder, path)
}

fn change(path: &Path, sql: &str) {
    let file = Connection::open(path).unwrap();
    file.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).unwrap();
    file.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, false).unwrap();
    file.execute_batch(sql).unwrap();
}

/// What is said of a layer, which must be said within seconds.
fn refused(path: &Path) -> String {
    let began = Instant::now();
    let error = Layer::open(path).and_then(|layer| {
        let (w, s, e, n) = WORLD;
        layer.segments_in(Bounds::from_deg(w, s, e, n))?;
        layer.segments()?;
        layer.counts().map(drop)
    });
    assert!(began.elapsed() < Duration::from_secs(10), "{:?}", began.elapsed());
    error.expect_err("a hostile layer").to_string()
}

#[test]
fn a_table_must_be_a_table() {
    let endless = "CREATE VIEW lanes AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)
                   SELECT i AS fid, i AS lane_id FROM n";
    for (sql, part) in [
        (format!("DROP TABLE lanes; {endless}"), "lanes is a view where a layer has a table"),
        (
            "DROP TABLE lanes; CREATE VIRTUAL TABLE lanes USING rtree(fid, a, b)".to_owned(),
            "lanes is a virtual table where a layer has a table",
        ),
        (
            "DROP TABLE stops; CREATE TABLE stops (fid INTEGER PRIMARY KEY, stop_id AS (fid * 2))"
                .to_owned(),
            "table stops has computed columns",
        ),
        (
            "CREATE TABLE kept AS SELECT * FROM build_record; DROP TABLE build_record; CREATE VIEW build_record AS SELECT * FROM kept".to_owned(),
            "build_record is a view",
        ),
    ] {
        let (_folder, path) = layer(3, &sql);
        let said = refused(&path);
        assert!(said.contains("is not a waymask layer") && said.contains(part), "{said}");
    }
}

#[test]
fn indexes_must_be_there() {
    for (index, column) in
        [("segments_segment_id", "segment_id"), ("masks_segment_id", "segment_id"), ("edges_way_id", "way_id")]
    {
        let table = index.split('_').next().unwrap();
        let (_folder, path) = layer(3, &format!("DROP INDEX {index}"));
        let said = refused(&path);
        assert!(said.contains(&format!("table {table} has lost its index on {column}")), "{said}");
    }
}

#[test]
fn what_the_file_is_comes_before_what_it_holds() {
    let (_folder, path) = layer(3, "PRAGMA user_version = 20000");
    assert!(refused(&path).contains("a GeoPackage of version 20000"));
    // Another version may have other tables.
    let older = SCHEMA_VERSION - 1;
    let sql = format!("UPDATE build_record SET value = '{older}' WHERE key = 'schema_version'; DROP TABLE lanes");
    let (_folder, path) = layer(3, &sql);
    assert!(refused(&path).contains(&format!("older waymask (schema {older}")));
}

#[test]
fn the_record_is_held_to_ranges_too() {
    for (sql, part) in [
        ("UPDATE build_record SET value = '-1e300' WHERE key = 'mask_floor_deg'", "mask_floor_deg"),
        ("UPDATE build_record SET value = '1e999' WHERE key = 'mask_floor_deg'", "build_record"),
        (
            "UPDATE build_record SET value = json_set(value, '$.link.slot_s', 0.0) WHERE key = 'profile'",
            "link.slot_s: 0.0 is out of range (allowed: 1 to 600 s)",
        ),
        (
            "UPDATE build_record SET value = json_set(value, '$.constellation.shells[0].planes', 2000000000) WHERE key = 'profile'",
            "out of range",
        ),
        ("UPDATE build_record SET value = '{\"steady\": 1e300}' WHERE key = 'km_by_rating'", "1e300 km of steady"),
        ("INSERT INTO build_record (key, value) VALUES ('profile', '{}')", ": holds a part twice"),
    ] {
        let (_folder, path) = layer(3, sql);
        let said = refused(&path);
        assert!(said.contains("table build_record") && said.contains(part), "{said}");
    }
}

#[test]
fn long_values_are_refused_and_not_kept() {
    let (_folder, path) = layer(3, "UPDATE segments SET name = printf('%.*c', 5000, 'x') WHERE segment_id = 2");
    let said = refused(&path);
    assert!(said.contains("segment_id 2, column name: holds a text of 5000 bytes"), "{said}");
    let (_folder, path) = layer(3, "UPDATE segments SET name = printf('%.*c', 40000000, 'x') WHERE segment_id = 2");
    let said = refused(&path);
    assert!(said.contains("table segments: a value is longer than 32 MB"), "{said}");
}

/// Nodes of an R-tree that lead to each other: SQLite's own reader would follow them for ever.
#[test]
fn an_r_tree_that_leads_in_a_circle_is_noticed() {
    let root = "(SELECT data FROM rtree_segments_geom_node WHERE nodeno = 1)";
    // Higher by twenty levels, and every box leads back to the root.
    let cell = format!("x'0000000000000001' || substr({root}, 13, 16)");
    let sql = format!(
        "UPDATE rtree_segments_geom_node SET data = CAST(x'00140002' || {cell} || {cell} || zeroblob(1000) AS BLOB) WHERE nodeno = 1"
    );
    let (_folder, path) = layer(30, &sql);
    let said = refused(&path);
    assert!(said.contains("R-tree of segments: node 1 is named twice"), "{said}");
    let (_folder, path) = layer(30, "UPDATE rtree_segments_geom_node SET data = x'0000ffff'");
    assert!(refused(&path).contains("claims 65535 boxes in 4 bytes"));
    let (_folder, path) = layer(30, "DELETE FROM segments WHERE segment_id = 7");
    assert!(refused(&path).contains("R-tree of segments: row 7 is missing"));
}

/// An index that has lost entries, as after a damaged page: made by telling SQLite another text than it was built by.
#[test]
fn a_road_is_not_shortened_by_a_damaged_index() {
    let mut sketch = crate::build::kit::Sketch::at(47.0);
    sketch.line(&[(0.0, 0.0), (700.0, 100.0)], &[("highway", "tertiary")]);
    let place = sketch.build(waymask::profile::Profile::default());
    let (w, s, e, n) = WORLD;
    let asked = || {
        let layer = Layer::open(&place.path)?;
        let (roads, edges) = layer.ways_in(&[Bounds::from_deg(w, s, e, n)])?;
        layer.check_lengths(&roads, &edges).map(|()| roads.len())
    };
    assert!(asked().unwrap() > 1);
    let file = Connection::open(&place.path).unwrap();
    let sql = "SELECT name, sql FROM sqlite_master WHERE type = 'index' AND sql LIKE '%segments%(way_id, part)%'";
    let (name, made_by) = file.query_row(sql, [], |r| Ok((r.get::<_, String>(0)?, r.get::<_, String>(1)?))).unwrap();
    drop(file);
    let other = made_by.replace("(way_id, part)", "(way_id + (part = 1), part)");
    change(
        &place.path,
        &format!(
            "DROP INDEX {name}; {other}; PRAGMA writable_schema = ON;
             UPDATE sqlite_master SET sql = '{made_by}' WHERE name = '{name}'"
        ),
    );
    let said = asked().expect_err("a road of which a part is lost").to_string();
    assert!(said.contains("table edges") && said.contains("its segments are"), "{said}");
}

/// Rows that a tree names again and again are bytes without end from few: one bound holds for the whole question.
#[test]
fn a_box_that_names_one_row_many_times_takes_no_more_than_the_file_holds() {
    let (_folder, path) = layer(30, "UPDATE segments SET name = printf('%.*c', 4000, 'x') WHERE segment_id = 1");
    let file = Connection::open(&path).unwrap();
    file.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, false).unwrap();
    let sql = "SELECT data FROM rtree_segments_geom_node WHERE nodeno = 1";
    let root: Vec<u8> = file.query_row(sql, [], |r| r.get(0)).unwrap();
    // Key, then the box of any row.
    let cell = [&1_i64.to_be_bytes(), &root[12..28]].concat();
    let spoiled = [&[0, 0], &1_000_u16.to_be_bytes()[..], &cell.repeat(1_000)].concat();
    file.execute("UPDATE rtree_segments_geom_node SET data = ? WHERE nodeno = 1", [spoiled]).unwrap();
    drop(file);
    let said = refused(&path);
    let part = "table segments, segment_id 1, column name: takes more bytes than the whole file holds";
    assert!(said.contains(part), "{said}");
}

/// A segment read as a road keeps to the ranges of its columns, as one that is read whole.
#[test]
fn roads_pass_the_gate_too() {
    for (spoil, part) in [
        ("segment_id = -5", "table segments, segment_id -5, column segment_id: -5 is not from 1 to"),
        ("edge_forward = -7", "column edge_forward: -7 is not from 1 to"),
        ("edge_backward = 0", "column edge_backward: 0 is not from 1 to"),
        ("part = -1", "column part: -1 is not from 0 to"),
        ("part = 1e300", "column part: 1e300 is not from 0 to"),
        ("way_id = 'abc'", "table segments, row 7, column way_id: holds the text `abc`"),
    ] {
        let (_folder, path) = layer(30, &format!("UPDATE segments SET {spoil} WHERE segment_id = 7"));
        let layer = Layer::open(&path).unwrap();
        let (w, s, e, n) = WORLD;
        let error = layer.ways_in(&[Bounds::from_deg(w, s, e, n)]).expect_err(spoil).to_string();
        assert!(error.contains(part) && error.contains("Build it again"), "{spoil}: {error}");
    }
    let (_folder, path) = layer(30, "DELETE FROM segments WHERE segment_id = 7");
    let (w, s, e, n) = WORLD;
    let error = Layer::open(&path).unwrap().ways_in(&[Bounds::from_deg(w, s, e, n)]).unwrap_err().to_string();
    assert!(error.contains("R-tree of segments: row 7 is missing"), "{error}");
}

#[test]
fn an_r_tree_that_cannot_be_read_is_told_as_any_table() {
    use std::os::unix::fs::FileExt;
    let (_folder, path) = layer(30, "");
    let file = Connection::open(&path).unwrap();
    let one = |sql: &str| file.query_row(sql, [], |r| r.get::<_, i64>(0)).unwrap() as u64;
    let page = one("SELECT rootpage FROM sqlite_master WHERE name = 'rtree_segments_geom_node'");
    let size = one("PRAGMA page_size");
    // Whoever holds the file may be done soon.
    let opened = Layer::open(&path).unwrap();
    file.execute_batch("BEGIN EXCLUSIVE").unwrap();
    let error = opened.extent().unwrap_err();
    assert!(error.exit_code() == 3 && error.to_string().contains("another program holds it"), "{error}");
    file.execute_batch("ROLLBACK").unwrap();
    drop((file, opened));
    std::fs::File::options().write(true).open(&path).unwrap().write_all_at(&[0xff; 64], (page - 1) * size).unwrap();
    let said = refused(&path);
    assert!(said.contains("table rtree_segments_geom_node: its pages are damaged\n"), "{said}");
}

#[test]
fn a_layer_is_read_from_files_and_folders_that_nobody_may_write() {
    use std::os::unix::fs::PermissionsExt;
    let (folder, path) = layer(30, "");
    let set = |path: &Path, mode: u32| std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    set(&path, 0o444);
    set(folder.path(), 0o555);
    let read = Layer::open(&path).and_then(|l| l.segments());
    set(folder.path(), 0o755);
    assert_eq!(read.unwrap().len(), 30);
    let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(left.len(), 1, "nothing is left beside it: {left:?}");
}
