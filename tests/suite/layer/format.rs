//! Requirements of the GeoPackage Encoding Standard 1.3.1 (OGC 12-128r18), by their numbers in its text
//! (github.com/opengeospatial/geopackage, `spec/core`).
use std::path::Path;

use rusqlite::Connection;

use crate::layer::rows;
use crate::layer::viewers::texts;

fn sample() -> (tempfile::TempDir, std::path::PathBuf) {
    let (folder, path) = rows::folder();
    rows::write(&path, false, 60).unwrap();
    (folder, path)
}

fn number(path: &Path, sql: &str) -> i64 {
    Connection::open(path).unwrap().query_row(sql, [], |r| r.get(0)).unwrap()
}

#[test]
fn the_file_says_what_it_is() {
    let (_folder, path) = sample();
    let bytes = std::fs::read(&path).unwrap();
    assert_eq!(&bytes[..16], b"SQLite format 3\0", "requirement 1");
    assert_eq!(&bytes[68..72], b"GPKG", "requirement 2");
    assert_eq!(bytes[18..20], [1, 1], "rollback journal, not WAL");
    assert!(
        (10200..=10400).contains(&number(&path, "PRAGMA user_version")),
        "requirement 2: a version of the standard"
    );
    assert_eq!(texts(&path, "PRAGMA integrity_check"), ["ok"], "requirement 6");
    let mut broken = 0;
    let connection = Connection::open(&path).unwrap();
    connection
        .pragma_query(None, "foreign_key_check", |_| {
            broken += 1;
            Ok(())
        })
        .unwrap();
    assert_eq!(broken, 0, "requirement 7");
    assert_eq!(texts(&path, "PRAGMA journal_mode"), ["delete"]);
}

#[test]
fn coordinate_systems_and_contents_are_complete() {
    let (_folder, path) = sample();
    let systems = texts(
        &path,
        "SELECT CAST(srs_id AS TEXT) FROM gpkg_spatial_ref_sys WHERE srs_id IN (-1, 0, 4326) ORDER BY srs_id",
    );
    assert_eq!(systems, ["-1", "0", "4326"], "requirement 11");
    let contents = texts(&path, "SELECT table_name || ' ' || data_type FROM gpkg_contents ORDER BY table_name");
    let expected = [
        "build_record attributes",
        "edges attributes",
        "end_masks attributes",
        "ground features",
        "ground_lines features",
        "lanes attributes",
        "layer_styles attributes",
        "masks attributes",
        "names attributes",
        "nodes features",
        "outages features",
        "overheads features",
        "places features",
        "runs attributes",
        "segments features",
        "stops features",
        "way_nodes attributes",
    ];
    assert_eq!(contents, expected, "requirement 13");
    let dates = texts(&path, "SELECT DISTINCT last_change FROM gpkg_contents");
    assert_eq!(dates, ["2025-01-01T00:00:00.000Z"], "requirement 15: the date of the map data, never the clock's");
    let geometry = texts(
        &path,
        "SELECT table_name || ' ' || column_name || ' ' || geometry_type_name || ' ' || srs_id || ' ' || z || ' ' || m
         FROM gpkg_geometry_columns ORDER BY table_name",
    );
    assert_eq!(
        geometry,
        [
            "ground geom POLYGON 4326 0 0",
            "ground_lines geom LINESTRING 4326 0 0",
            "nodes geom POINT 4326 0 0",
            "outages geom LINESTRING 4326 0 0",
            "overheads geom POINT 4326 0 0",
            "places geom POINT 4326 0 0",
            "segments geom LINESTRING 4326 0 0",
            "stops geom POINT 4326 0 0"
        ],
        "requirements 21 to 28"
    );
}

#[test]
fn every_table_has_a_counting_primary_key() {
    let (_folder, path) = sample();
    for table in texts(&path, "SELECT table_name FROM gpkg_contents") {
        let keys =
            number(&path, &format!("SELECT count(*) FROM pragma_table_info('{table}') WHERE pk AND type = 'INTEGER'"));
        assert_eq!(keys, 1, "requirements 29 and 119: {table}");
        let sql = format!("SELECT name FROM pragma_table_info('{table}') WHERE pk");
        // The form of the styles is that of QGIS.
        assert_eq!(texts(&path, &sql), [if table == "layer_styles" { "id" } else { "fid" }]);
    }
}

#[test]
fn ids_and_the_stable_key_are_columns_of_their_own_and_unique() {
    let (_folder, path) = sample();
    for (table, columns) in [
        ("segments", "segment_id"),
        ("segments", "way_id,part"),
        ("edges", "edge_id"),
        ("nodes", "node_id"),
        ("way_nodes", "segment_id"),
        ("overheads", "overhead_id"),
        ("lanes", "lane_id"),
        ("masks", "mask_id"),
        ("end_masks", "end_mask_id"),
        ("stops", "stop_id"),
        ("outages", "outage_id"),
        ("places", "place_id"),
        ("ground", "ground_id"),
        ("ground_lines", "ground_line_id"),
        ("names", "name_id"),
    ] {
        let unique = format!(
            "SELECT (SELECT group_concat(name) FROM pragma_index_info(i.name)) FROM pragma_index_list('{table}') i WHERE \"unique\""
        );
        assert!(texts(&path, &unique).iter().any(|c| c == columns), "{table}: {columns}");
    }
    let copy = "INSERT INTO segments SELECT * FROM (SELECT * FROM segments LIMIT 1)";
    assert!(Connection::open(&path).unwrap().execute_batch(copy).is_err());
}

#[test]
fn extents_equal_the_data() {
    let (_folder, path) = sample();
    let all: Vec<_> = (1..=60).flat_map(|id| rows::segment(id).line).collect();
    let [west, east, south, north] = waymask::layer::Bounds::around(&all).unwrap().degrees();
    let connection = Connection::open(&path).unwrap();
    let found: [f64; 4] = connection
        .query_row("SELECT min_x, max_x, min_y, max_y FROM gpkg_contents WHERE table_name = 'segments'", [], |r| {
            Ok([r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?])
        })
        .unwrap();
    assert_eq!(found, [west, east, south, north]);
}

#[test]
fn rtrees_are_registered_complete_and_used() {
    let (_folder, path) = sample();
    for table in ["segments", "nodes", "overheads", "stops", "outages", "places", "ground", "ground_lines"] {
        let extension = number(
            &path,
            &format!(
                "SELECT count(*) FROM gpkg_extensions WHERE extension_name = 'gpkg_rtree_index' AND scope = 'write-only' AND table_name = '{table}' AND column_name = 'geom'"
            ),
        );
        assert_eq!(extension, 1, "requirement 76: {table}");
        let triggers = number(
            &path,
            &format!("SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'rtree_{table}_geom_%'"),
        );
        assert!((6..=7).contains(&triggers), "requirement 77: insert, delete and the kinds of update: {triggers}");
        // The R-tree keeps single precision, rounded outwards by less than this in degrees.
        const ROUNDED_DEG: f64 = 2e-5;
        let boxes = number(
            &path,
            &format!(
                "SELECT count(*) FROM rtree_{table}_geom r JOIN gpkg_contents c ON c.table_name = '{table}'
                      WHERE r.minx >= c.min_x - {ROUNDED_DEG} AND r.maxx <= c.max_x + {ROUNDED_DEG} AND r.minx <= r.maxx
                      AND r.miny >= c.min_y - {ROUNDED_DEG} AND r.maxy <= c.max_y + {ROUNDED_DEG} AND r.miny <= r.maxy"
            ),
        );
        assert_eq!(boxes, 60, "{table}");
        assert_eq!(texts(&path, &format!("SELECT rtreecheck('rtree_{table}_geom')")), ["ok"]);
    }
}

#[test]
fn lookups_use_indexes() {
    let (_folder, path) = sample();
    let plan = |sql: &str| {
        let connection = Connection::open(&path).unwrap();
        let mut statement = connection.prepare(&format!("EXPLAIN QUERY PLAN {sql}")).unwrap();
        let steps = statement.query_map([], |r| r.get::<_, String>("detail")).unwrap();
        steps.map(|s| s.unwrap()).collect::<Vec<_>>().join("; ")
    };
    for (table, column) in [
        ("edges", "from_node"),
        ("edges", "to_node"),
        ("edges", "way_id"),
        ("edges", "edge_id"),
        ("segments", "segment_id"),
        ("segments", "way_id"),
        ("segments", "edge_forward"),
        ("segments", "edge_backward"),
        ("nodes", "node_id"),
        ("way_nodes", "segment_id"),
        ("lanes", "segment_id"),
        ("overheads", "segment_id"),
        ("masks", "segment_id"),
        ("end_masks", "segment_id"),
        ("stops", "segment_id"),
        ("outages", "segment_from"),
    ] {
        let steps = plan(&format!("SELECT * FROM {table} WHERE {column} = 5"));
        assert!(steps.contains(&format!("USING INDEX {table}_{column}")), "{steps}");
    }
    let steps =
        plan("SELECT * FROM segments WHERE fid IN (SELECT id FROM rtree_segments_geom WHERE maxx >= 1 AND minx <= 2)");
    assert!(steps.contains("VIRTUAL TABLE INDEX") && !steps.contains("SCAN segments"), "{steps}");
}

#[test]
fn an_empty_layer_is_valid_too() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 0).unwrap();
    assert_eq!(texts(&path, "PRAGMA integrity_check"), ["ok"]);
    assert_eq!(number(&path, "SELECT count(*) FROM gpkg_contents WHERE min_x IS NULL"), 17);
    let layer = waymask::layer::Layer::open(&path).unwrap();
    assert_eq!(layer.edges().count(), 0);
    assert_eq!(layer.segments_in(waymask::layer::Bounds::from_deg(-180.0, -90.0, 180.0, 90.0)).unwrap(), []);
}
