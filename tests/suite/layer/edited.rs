//! Layers that a GIS program has edited or cut: refused with what is wrong and what to do, before anything is asked of them.
use rusqlite::Connection;
use waymask::layer::Layer;

use crate::layer::rows;
use crate::layer::viewers::TABLES;

/// What opening says after a change.
fn said(sql: &str) -> String {
    let (_folder, path) = rows::folder();
    let mut record = rows::record();
    let counted = ["segments", "edges", "places", "ground", "ground lines"];
    record.counts.extend(counted.map(|name| (name.to_owned(), 5)));
    let mut writer = waymask::layer::LayerWriter::create(&path, false).unwrap();
    rows::fill(&mut writer, 5).unwrap();
    writer.finish(&record).unwrap();
    let connection = Connection::open(&path).unwrap();
    // Those of the R-tree need functions that only a GIS has.
    let off = rusqlite::config::DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER;
    connection.set_db_config(off, false).unwrap();
    connection.execute_batch(sql).unwrap();
    drop(connection);
    Layer::open(&path).map_or_else(|e| e.to_string(), |_| String::new())
}

#[test]
fn rows_that_were_deleted_are_missed() {
    assert_eq!(said("UPDATE segments SET name = 'Another'"), "");
    let tables =
        [("segments", "segment_id"), ("edges", "edge_id"), ("places", "place_id"), ("ground_lines", "ground_line_id")];
    for (table, id) in tables {
        for row in [1, 3, 5] {
            let error = said(&format!("DELETE FROM {table} WHERE {id} = {row}"));
            assert!(error.contains(&format!("table {table} has 4 rows, but 5 were written")), "{error}");
        }
    }
}

#[test]
fn every_column_is_asked_for_by_its_name() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 1).unwrap();
    let connection = Connection::open(&path).unwrap();
    let mut seen = 0;
    for table in TABLES {
        let mut of_table = connection.prepare("SELECT name FROM pragma_table_info(?) WHERE name <> 'fid'").unwrap();
        let columns: Vec<String> = of_table.query_map([table], |r| r.get(0)).unwrap().map(Result::unwrap).collect();
        // One of each table, and all of one: opening a layer for each of two hundred takes long.
        let some = if table == "edges" { &columns[..] } else { &columns[columns.len() - 1..] };
        for column in some {
            let error = said(&format!("ALTER TABLE {table} RENAME COLUMN {column} TO other"));
            assert!(error.contains(&format!("table {table} has no column {column}")), "{error}");
            assert!(error.to_lowercase().contains("give the column its name back"), "{error}");
            seen += 1;
        }
    }
    assert!(seen > 20, "{seen}");
}

#[test]
fn a_part_of_a_build_is_no_layer_that_somebody_spoiled() {
    let error = said("CREATE TABLE part (key TEXT PRIMARY KEY, value TEXT)");
    assert!(error.contains("is a part of a build, not a layer") && error.contains("waymask merge"), "{error}");
}

#[test]
fn a_layer_that_was_cut_says_what_is_gone() {
    let error = said("DELETE FROM build_record");
    assert!(error.contains("its build record is empty") && error.contains("--bounds"), "{error}");
}
