//! What is written is what is read.
use rusqlite::Connection;
use waymask::layer::{Bounds, Layer, LayerWriter};

use crate::layer::rows;
use crate::layer::viewers::{self, TABLES};
use crate::need;

#[test]
fn rows_come_back_as_they_were_written() {
    let (_folder, path) = rows::folder();
    // More than one batch of the writer.
    const COUNT: i64 = 1100;
    rows::write(&path, false, COUNT).unwrap();
    let layer = Layer::open(&path).unwrap();
    assert_eq!(layer.record(), &rows::record());
    let counts = [
        ("segments", 1100),
        ("edges", 1100),
        ("nodes", 1100),
        ("way_nodes", 1100),
        ("overheads", 1100),
        ("lanes", 2200),
        ("runs", 1100),
    ];
    assert_eq!(
        layer.counts().unwrap(),
        [
            &counts[..],
            &[("masks", 2200), ("end_masks", 4400), ("stops", 1100), ("outages", 1100)],
            &[
                ("places", 1100),
                ("ground", 1100),
                ("ground_lines", 1100),
                ("names", layer.names().unwrap().len() as u64)
            ]
        ]
        .concat()
    );
    assert_eq!(layer.named_places().unwrap(), (1..=COUNT).map(rows::place).collect::<Vec<_>>());
    assert_eq!(layer.ground().unwrap(), (1..=COUNT).map(rows::ground).collect::<Vec<_>>());
    assert_eq!(layer.ground_lines().unwrap(), (1..=COUNT).map(rows::ground_line).collect::<Vec<_>>());
    assert_eq!(layer.nodes().unwrap(), (1..=COUNT).map(rows::node).collect::<Vec<_>>());
    assert_eq!(layer.stops().unwrap(), (1..=COUNT).map(rows::stop).collect::<Vec<_>>());
    assert_eq!(layer.outages().unwrap(), (1..=COUNT).map(rows::outage).collect::<Vec<_>>());
    assert_eq!(layer.runs().unwrap(), (1..=COUNT).map(rows::run).collect::<Vec<_>>());
    let both = |id| [rows::lane(id, true), rows::lane(id, false)];
    assert_eq!(layer.lanes().unwrap(), (1..=COUNT).flat_map(both).collect::<Vec<_>>());
    assert_eq!(layer.segments().unwrap(), (1..=COUNT).map(rows::segment).collect::<Vec<_>>());
    let mut nodes = Vec::new();
    let keep = |row| {
        nodes.push(row);
        Ok(())
    };
    layer.each_way_nodes(keep).unwrap();
    assert_eq!(nodes, (1..=COUNT).map(rows::way_nodes).collect::<Vec<_>>());
    let mut masks = Vec::new();
    let keep = |row| {
        masks.push(row);
        Ok(())
    };
    layer.each_masks(keep).unwrap();
    let both = |id| [rows::masks(id, true), rows::masks(id, false)];
    assert_eq!(masks, (1..=COUNT).flat_map(both).collect::<Vec<_>>());
    let mut ends = Vec::new();
    let keep = |row| {
        ends.push(row);
        Ok(())
    };
    layer.each_end_masks(keep).unwrap();
    let both = |id| [rows::end_masks(id, true), rows::end_masks(id, false)].concat();
    assert_eq!(ends, (1..=COUNT).flat_map(both).collect::<Vec<_>>());
    for id in [1, 2, 7, 1023, 1024, 1025, COUNT] {
        assert_eq!(layer.segment(id).unwrap(), Some(rows::segment(id)));
        assert_eq!(layer.edge(id).unwrap(), Some(rows::edge(id)));
        assert_eq!(layer.way_nodes(&rows::segment(id)).unwrap(), rows::way_nodes(id));
        assert_eq!(layer.overheads(id).unwrap(), [rows::overhead(id)]);
        for forward in [true, false] {
            assert_eq!(layer.masks(id, forward).unwrap(), Some(rows::masks(id, forward)));
            assert_eq!(layer.end_masks(id, forward).unwrap(), rows::end_masks(id, forward));
        }
    }
    assert_eq!(layer.segment(COUNT + 1).unwrap(), None);
    assert_eq!(layer.masks(COUNT + 1, true).unwrap(), None);
    assert_eq!(layer.edges_from(9_000_000_001).unwrap(), [rows::edge(1), rows::edge(2)]);
}

#[test]
fn edges_are_read_in_pages_and_once_each() {
    let (_folder, path) = rows::folder();
    // Twice the reader's page, and the end of a page.
    const COUNT: i64 = 8192;
    let mut writer = LayerWriter::create(&path, false).unwrap();
    for id in (1..=COUNT).rev() {
        writer.edge(&rows::edge(id)).unwrap();
        writer.node(&rows::node(id)).unwrap();
    }
    writer.finish(&rows::record()).unwrap();
    let ids: Vec<i64> = Layer::open(&path).unwrap().edges().map(|e| e.unwrap().edge_id).collect();
    assert_eq!(ids, (1..=COUNT).collect::<Vec<_>>());
}

#[test]
fn a_box_finds_what_a_full_scan_finds() {
    let (_folder, path) = rows::folder();
    const COUNT: i64 = 1500;
    rows::write(&path, false, COUNT).unwrap();
    let layer = Layer::open(&path).unwrap();
    let first = Bounds::around(&rows::segment(1).line).unwrap();
    let boxes = [
        Bounds::from_deg(1.6, 42.5, 1.7, 42.503),
        // Only the corner of one segment, to the last digit.
        Bounds { min: first.max, max: first.max },
        Bounds::from_deg(-180.0, -90.0, 180.0, 90.0),
        Bounds::from_deg(5.0, 50.0, 6.0, 51.0),
    ];
    let mut sizes = Vec::new();
    for bounds in boxes {
        let expected: Vec<i64> = (1..=COUNT)
            .filter(|id| Bounds::around(&rows::segment(*id).line).is_some_and(|b| b.meets(bounds)))
            .collect();
        let found: Vec<i64> = layer.segments_in(bounds).unwrap().iter().map(|s| s.segment_id).collect();
        assert_eq!(found, expected);
        let expected: Vec<i64> =
            (1..=COUNT).filter(|id| bounds.meets(Bounds::around(&[rows::overhead(*id).at]).unwrap())).collect();
        let found: Vec<i64> = layer.overheads_in(bounds).unwrap().iter().map(|o| o.overhead_id).collect();
        assert_eq!(found, expected);
        let expected: Vec<i64> =
            (1..=COUNT).filter(|id| bounds.meets(Bounds::around(&[rows::stop(*id).at]).unwrap())).collect();
        let found: Vec<i64> = layer.stops_in(bounds).unwrap().iter().map(|s| s.stop_id).collect();
        assert_eq!(found, expected);
        let all: Vec<_> =
            (1..=COUNT).map(rows::place).filter(|p| bounds.meets(Bounds { min: p.at, max: p.at })).collect();
        assert_eq!(layer.named_places_in(bounds).unwrap(), all);
        let met = |line: &[waymask::base::geodesy::Position]| Bounds::around(line).unwrap().meets(bounds);
        let all: Vec<_> = (1..=COUNT).map(rows::ground).filter(|water| met(&water.rings[0])).collect();
        assert_eq!(layer.ground_in(bounds).unwrap(), all);
        let all: Vec<_> = (1..=COUNT).map(rows::ground_line).filter(|water| met(&water.line)).collect();
        assert_eq!(layer.ground_lines_in(bounds).unwrap(), all);
        sizes.push(layer.segments_in(bounds).unwrap().len());
    }
    assert!(sizes[0] > 10 && sizes[0] < 500 && sizes[1] >= 1 && sizes[2] == 1500 && sizes[3] == 0, "{sizes:?}");
}

/// As after a conversion there and back: every key is another, the ids stay.
#[test]
fn nothing_rests_on_the_keys_of_the_file() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 50).unwrap();
    let file = Connection::open(&path).unwrap();
    // The triggers of the R-trees need the functions of a GIS.
    file.set_db_config(rusqlite::config::DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).unwrap();
    for table in TABLES {
        file.execute_batch(&format!("UPDATE {table} SET fid = 9000 - fid")).unwrap();
        if ["segments", "nodes", "overheads", "stops", "outages", "places", "ground", "ground_lines"].contains(&table) {
            file.execute_batch(&format!("UPDATE rtree_{table}_geom SET id = 9000 - id")).unwrap();
        }
    }
    drop(file);
    let layer = Layer::open(&path).unwrap();
    let world = Bounds::from_deg(-180.0, -90.0, 180.0, 90.0);
    assert_eq!(layer.segments().unwrap(), (1..=50).map(rows::segment).collect::<Vec<_>>());
    assert_eq!(layer.segments_in(world).unwrap(), layer.segments().unwrap());
    assert_eq!(layer.overheads_in(world).unwrap(), (1..=50).map(rows::overhead).collect::<Vec<_>>());
    assert_eq!(layer.stops_in(world).unwrap(), layer.stops().unwrap());
    assert_eq!(layer.outages().unwrap(), (1..=50).map(rows::outage).collect::<Vec<_>>());
    assert_eq!(layer.named_places_in(world).unwrap(), (1..=50).map(rows::place).collect::<Vec<_>>());
    assert_eq!(layer.ground_in(world).unwrap(), (1..=50).map(rows::ground).collect::<Vec<_>>());
    assert_eq!(layer.ground_lines_in(world).unwrap(), (1..=50).map(rows::ground_line).collect::<Vec<_>>());
    assert_eq!(layer.edges().map(|e| e.unwrap()).collect::<Vec<_>>(), (1..=50).map(rows::edge).collect::<Vec<_>>());
    assert_eq!(layer.nodes().unwrap(), (1..=50).map(rows::node).collect::<Vec<_>>());
    assert_eq!(layer.lane(7, false).unwrap(), Some(rows::lane(7, false)));
    assert_eq!(layer.masks(7, true).unwrap(), Some(rows::masks(7, true)));
    let mut ways = layer.ways_in(&[world]).unwrap().0;
    ways.sort_by_key(|road| road.segment_id);
    assert_eq!(ways.iter().map(|road| road.segment_id).collect::<Vec<_>>(), (1..=50).collect::<Vec<_>>());
    let mut order = Vec::new();
    layer
        .each_masks(|row| {
            order.push((row.segment_id, row.forward));
            Ok(())
        })
        .unwrap();
    assert_eq!(order, (1..=50).flat_map(|id| [(id, true), (id, false)]).collect::<Vec<_>>());
}

#[test]
fn equal_rows_give_equal_bytes() {
    let (folder, path) = rows::folder();
    let other = folder.path().join("other.gpkg");
    rows::write(&path, false, 1100).unwrap();
    rows::write(&other, false, 1100).unwrap();
    let (a, b) = (std::fs::read(&path).unwrap(), std::fs::read(&other).unwrap());
    assert!(a == b, "first difference at byte {:?}", a.iter().zip(&b).position(|(x, y)| x != y));
    rows::write(&other, true, 1101).unwrap();
    assert!(std::fs::read(&other).unwrap() != a, "other rows, other bytes");
}

#[test]
fn hostile_text_is_only_text() {
    let names = [
        "'; DROP TABLE segments; --",
        "\"quoted\" <script>alert(1)</script> & ]]>",
        "🛰️ Straße Ελλάδα \u{202E}desrever",
        "line\nbreak\ttab",
        "",
    ];
    let (_folder, path) = rows::folder();
    let mut writer = LayerWriter::create(&path, false).unwrap();
    for (i, name) in names.iter().chain(&["before\0after"]).enumerate() {
        let row = waymask::layer::model::SegmentRow { name: Some((*name).into()), ..rows::segment(i as i64 + 1) };
        writer.segment(&row).unwrap();
    }
    let mut record = rows::record();
    record.inputs[0].name = "</dc:source><evil a='\"'/>\u{1}.pbf".into();
    record.inputs[0].attribution = Some("<b>credit</b> & '; DROP TABLE masks; --".into());
    writer.finish(&record).unwrap();
    let layer = Layer::open(&path).unwrap();
    for (i, name) in names.iter().enumerate() {
        assert_eq!(layer.segment(i as i64 + 1).unwrap().unwrap().name.as_deref(), Some(*name));
    }
    let last = layer.segment(names.len() as i64 + 1).unwrap().unwrap();
    assert_eq!(last.name.as_deref(), Some("before\u{FFFD}after"), "NUL ends text in C and SQL");
    assert_eq!(layer.record(), &record);
    let Some(python) = need::program("python3", "python3") else { return };
    viewers::parse_xml(python, &viewers::texts(&path, "SELECT metadata FROM gpkg_metadata"));
}

#[test]
fn wrong_rows_are_refused_and_named() {
    let (_folder, path) = rows::folder();
    type Spoil = fn(&mut waymask::layer::model::SegmentRow);
    let cases: [(&str, Spoil); 2] =
        [("length_m", |s| s.length_m = f64::NAN), ("two positions", |s| s.line.truncate(1))];
    for (word, spoil) in cases {
        let mut row = rows::segment(5);
        spoil(&mut row);
        let mut writer = LayerWriter::create(&path, false).unwrap();
        let added = writer.segment(&row);
        let error = added.and_then(|()| writer.finish(&rows::record())).unwrap_err().to_string();
        assert!(error.contains(word) && error.contains("row 5 of segments"), "{error}");
        assert!(!path.exists());
    }
}

#[test]
fn files_that_are_no_layer_are_named_as_such() {
    let (folder, path) = rows::folder();
    let error = |p: &std::path::Path| Layer::open(p).err().unwrap().to_string();
    assert!(error(&path).contains("does not exist"));
    let text = folder.path().join("text.gpkg");
    std::fs::write(&text, "not a database, but long enough to be taken for one by its length ".repeat(20)).unwrap();
    assert!(error(&text).contains("is not a waymask layer"));
    let plain = folder.path().join("plain.gpkg");
    Connection::open(&plain).unwrap().execute_batch("CREATE TABLE t (a)").unwrap();
    assert!(error(&plain).contains("not a GeoPackage"));
    Connection::open(&plain).unwrap().execute_batch("PRAGMA application_id = 0x47504B47").unwrap();
    assert!(error(&plain).contains("a GeoPackage of version 0; this program reads versions 10200 to 10499"));
    Connection::open(&plain).unwrap().execute_batch("PRAGMA user_version = 10200").unwrap();
    assert!(error(&plain).contains("without a build record"));
    rows::write(&path, false, 3).unwrap();
    let layer = Connection::open(&path).unwrap();
    layer.execute_batch("DROP TABLE masks").unwrap();
    assert!(error(&path).contains("table masks is missing"));
    layer.execute_batch("UPDATE build_record SET value = '99' WHERE key = 'schema_version'").unwrap();
    assert!(error(&path).contains("newer waymask (schema 99"));
    layer.execute_batch("UPDATE build_record SET value = '3' WHERE key = 'schema_version'").unwrap();
    let older = error(&path);
    let said = format!("older waymask (schema 3, this one reads {})", waymask::layer::SCHEMA_VERSION);
    assert!(older.contains(&said) && older.contains("waymask build"), "{older}");
    layer.execute_batch("UPDATE build_record SET value = 'x' WHERE key = 'schema_version'").unwrap();
    assert!(error(&path).contains("table build_record"));
}

#[test]
fn damaged_files_are_errors_not_panics() {
    let (folder, path) = rows::folder();
    rows::write(&path, false, 30).unwrap();
    let whole = std::fs::read(&path).unwrap();
    let cut = folder.path().join("cut.gpkg");
    let mut refused = 0;
    for share in 1..10 {
        std::fs::write(&cut, &whole[..whole.len() * share / 10]).unwrap();
        let all = Layer::open(&cut).and_then(|l| {
            (1..=30).try_for_each(|id| l.segment(id).and(l.masks(id, true)).and(l.overheads(id)).map(drop))
        });
        refused += usize::from(all.is_err());
    }
    assert_eq!(refused, 9, "a file cut short never reads as whole");
}
