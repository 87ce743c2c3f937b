//! Segments by their key, page by page, whatever the order they were written in.
use std::path::Path;

use rusqlite::Connection;
use rusqlite::config::DbConfig;
use waymask::layer::{Layer, LayerWriter};

use crate::layer::rows;

/// More than two pages; ways come neither in the order of ids nor in that of parts.
const COUNT: i64 = 2_500;

fn shuffled(path: &Path) {
    let mut writer = LayerWriter::create(path, false).unwrap();
    for id in 1..=COUNT {
        let turned = id * 7_919 % 2_503;
        let mut row = rows::segment(id);
        (row.way_id, row.part) = (turned / 4 - 300, (turned % 4) as u32);
        writer.segment(&row).unwrap();
    }
    writer.finish(&rows::record()).unwrap();
}

#[test]
fn every_segment_comes_once_in_the_order_of_its_key() {
    let (_folder, path) = rows::folder();
    shuffled(&path);
    let layer = Layer::open(&path).unwrap();
    let found: Vec<_> = layer.segments_by_key().unwrap().collect::<waymask::Result<_>>().unwrap();
    let mut want = layer.segments().unwrap();
    assert!(!want.is_sorted_by_key(|s| (s.way_id, s.part)), "the order of ids is another");
    want.sort_by_key(|s| (s.way_id, s.part));
    assert!(found == want && found.len() == COUNT as usize, "{} of {COUNT}", found.len());
    let mut stops = 0;
    layer
        .each_stop(|_| {
            stops += 1;
            Ok(())
        })
        .unwrap();
    assert_eq!(stops, 0);
}

#[test]
fn a_page_is_found_by_the_index_and_not_sorted() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 2).unwrap();
    let file = Connection::open(&path).unwrap();
    let sql = "EXPLAIN QUERY PLAN SELECT * FROM segments WHERE (way_id, part) > (1, 2) ORDER BY way_id, part LIMIT 9";
    let plan: Vec<String> =
        file.prepare(sql).unwrap().query_map([], |r| r.get(3)).unwrap().collect::<Result<_, _>>().unwrap();
    assert_eq!(plan, ["SEARCH segments USING INDEX segments_way_id_part ((way_id,part)>(?,?))"]);
}

/// A connection that may change anything.
fn free(path: &Path) -> Connection {
    let file = Connection::open(path).unwrap();
    for off in [DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, DbConfig::SQLITE_DBCONFIG_DEFENSIVE] {
        file.set_db_config(off, false).unwrap();
    }
    file.execute_batch("PRAGMA writable_schema=ON").unwrap();
    file
}

/// What is said of a layer that is read by key.
fn said(path: &Path) -> String {
    let layer = Layer::open(path).unwrap();
    let all = layer.segments_by_key().and_then(|rows| rows.collect::<waymask::Result<Vec<_>>>());
    all.map(|rows| rows.len()).unwrap_err().to_string()
}

#[test]
fn without_its_index_a_layer_is_not_read_by_key() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 10).unwrap();
    free(&path).execute_batch("DROP INDEX segments_way_id_part").unwrap();
    for other in ["", "CREATE INDEX o ON segments (way_id, part)", "CREATE UNIQUE INDEX p ON segments (part, way_id)"] {
        free(&path).execute_batch(other).unwrap();
        assert!(
            said(&path)
                .contains("layer.gpkg: cannot be read as a layer: table segments has lost its index on way_id, part")
        );
    }
}

#[test]
fn an_index_that_does_not_know_of_a_change_is_an_error() {
    let (_folder, path) = rows::folder();
    shuffled(&path);
    let copy = path.with_file_name("copy.gpkg");
    let columns = {
        let file = free(&path);
        let sql = "SELECT group_concat(name, ', ') FROM pragma_table_info('segments') WHERE name NOT IN ('fid', 'segment_id', 'way_id')";
        file.query_row(sql, [], |r| r.get::<_, String>(0)).unwrap()
    };
    let more = format!(
        "INSERT INTO segments (segment_id, way_id, {columns}) SELECT 9000, 9000, {columns} FROM segments WHERE segment_id = 7"
    );
    std::fs::copy(&path, &copy).unwrap();
    // The index is hidden while the table changes.
    let hidden = "FROM sqlite_master WHERE name = 'segments_way_id_part'";
    let row = |r: &rusqlite::Row<'_>| Ok((r.get::<_, i64>(0)?, r.get::<_, String>(1)?));
    let (page, sql) = free(&copy).query_row(&format!("SELECT rootpage, sql {hidden}"), [], row).unwrap();
    free(&copy).execute_batch(&format!("DELETE {hidden}")).unwrap();
    free(&copy).execute_batch(&more).unwrap();
    let back = "INSERT INTO sqlite_master VALUES ('index', 'segments_way_id_part', 'segments', ?, ?)";
    free(&copy).execute(back, rusqlite::params![page, sql]).unwrap();
    let found = said(&copy);
    assert!(found.contains("table segments has 2501 rows, and its index on way_id, part 2500"), "{found}");
    // Pages of another index under its name: the last key comes first.
    free(&path)
        .execute_batch(
            "CREATE UNIQUE INDEX d ON segments (way_id DESC, part DESC);
             UPDATE sqlite_master SET rootpage = (SELECT rootpage FROM sqlite_master WHERE name = 'd')
              WHERE name = 'segments_way_id_part';
             DELETE FROM sqlite_master WHERE name = 'd'",
        )
        .unwrap();
    let found = said(&path);
    assert!(found.contains("are out of order in their index") && found.contains("layer.gpkg"), "{found}");
}
