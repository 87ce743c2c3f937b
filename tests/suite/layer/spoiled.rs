//! Every figure of every row spoiled in turn: whoever reads it says so by table, row and column, and every question ends
//! soon, with a sane answer or a clear error, never with a panic.
use std::path::Path;
use std::time::{Duration, Instant};

use rusqlite::Connection;
use rusqlite::config::DbConfig;
use rusqlite::types::Value;
use waymask::ask::corridor::CorridorQuestion;
use waymask::ask::days::{PlanQuestion, PlanRoad};
use waymask::ask::diff::DiffQuestion;
use waymask::ask::matching::{MatchOptions, TrackPoint};
use waymask::ask::place::SkyQuestion;
use waymask::ask::rerate::{RerateQuestion, Wanted};
use waymask::ask::settings::Settings;
use waymask::ask::stops::{StopsIn, StopsQuestion};
use waymask::ask::track::Track;
use waymask::ask::{self, route::Limits, route::RouteQuestion, route::RouteRules};
use waymask::base::geodesy::{Point, Position};
use waymask::base::progress::Silent;
use waymask::base::words::{HowTold, Units};
use waymask::layer::{Bounds, Layer};
use waymask::profile::Profile;
use waymask::report;

use crate::build::kit::{Place, Sketch};

/// A street with a footbridge, a side street with a posted clearance, and a car park.
fn town() -> Place {
    let mut sketch = Sketch::at(47.0);
    let street: Vec<i64> = (0..5).map(|i| sketch.node(-400.0 + 200.0 * f64::from(i), 0.0, &[])).collect();
    sketch.way(&street, &[("highway", "tertiary"), ("name", "Pier Street"), ("maxheight", "4")]);
    let end = sketch.node(0.0, 300.0, &[]);
    sketch.way(&[street[2], end], &[("highway", "residential")]);
    sketch.line(&[(100.0, -60.0), (100.0, 60.0)], &[("highway", "footway"), ("bridge", "yes"), ("layer", "1")]);
    sketch.area([-60.0, 20.0, -20.0, 60.0], &[("amenity", "parking")]);
    let (into, out) = (sketch.node(420.0, 0.0, &[]), sketch.node(700.0, 0.0, &[]));
    sketch.way(&[street[4], into], &[("highway", "tertiary"), ("name", "Pier Street")]);
    sketch.way(&[into, out], &[("highway", "tertiary"), ("name", "Pier Street"), ("tunnel", "yes"), ("layer", "-1")]);
    sketch.node(0.0, 1_500.0, &[("place", "village"), ("name", "Pier"), ("population", "40")]);
    sketch.area([1_500.0, 1_500.0, 1_700.0, 1_700.0], &[("natural", "water"), ("name", "Mere")]);
    sketch.line(&[(1_500.0, 2_000.0), (1_700.0, 2_100.0)], &[("waterway", "river")]);
    // As high as is assumed, or not.
    sketch.area([-150.0, 6.0, -120.0, 16.0], &[("building", "yes")]);
    let mut profile = Profile::default();
    profile.link.drives = 4;
    sketch.build(profile)
}

/// What is asked of every spoiled layer.
struct Questions {
    track: Track,
    place_deg: (f64, f64),
    plan: PlanQuestion,
    edges: std::path::PathBuf,
}

impl Questions {
    fn of(place: &Place, folder: &Path) -> Self {
        let plane = waymask::base::geodesy::LocalPlane::at(-28.0, 47.0);
        let at = |x_m: f64, y_m: f64| plane.to_position(Point::new(x_m, y_m));
        let point = |i: i32| TrackPoint { at: at(-390.0 + 60.0 * f64::from(i), 1.0), time_s: None };
        let track = Track { pieces: vec![(0..14).map(point).collect()], ..Track::default() };
        let on_road = at(50.0, 0.0);
        let plan = PlanQuestion {
            track: track.clone(),
            road: PlanRoad::Driven(MatchOptions::default()),
            departs: vec!["2026-06-15T08:00:00Z".parse().unwrap()],
            zone: jiff::tz::TimeZone::UTC,
            shown: HowTold::default(),
            calendars: Vec::new(),
            settings: Settings::default(),
        };
        assert!(place.rows.len() > 5);
        Self { track, place_deg: (on_road.lat_deg(), on_road.lon_deg()), plan, edges: folder.join("edges.json") }
    }
    fn ends(&self) -> Vec<Position> {
        let points = self.track.places();
        vec![points[0], points[points.len() - 1]]
    }
    /// Every answer as text, or the error.
    fn answers(&self, path: &Path) -> Vec<(&'static str, Result<String, String>)> {
        let layer = match Layer::open(path) {
            Ok(layer) => layer,
            Err(e) => return vec![("open", Err(e.to_string()))],
        };
        let told = |e: waymask::Error| e.to_string();
        let corridor = CorridorQuestion { track: self.track.clone(), worst: 9, buffer_m: 500.0, ..Default::default() };
        let rules = RouteRules { unpaved: true, boarded: true, private: true, height_m: 3.0 };
        let limits = Limits { ways: 3, longer_ms: None };
        let units = Units::Metric;
        let route = RouteQuestion { places: self.ends(), within_m: 200.0, rules, limits, worst: 5, units };
        let stops = |place| StopsQuestion { place, ..StopsQuestion::default() };
        let sky = SkyQuestion { at_deg: self.place_deg, within_m: 50.0, backward: false, passes: None };
        let again = Wanted::Values(vec!["link.drives=5".to_owned()]);
        let rerate = RerateQuestion { wanted: again, output: None, threads: Some(1) };
        let drive =
            |q| ask::corridor(&layer, q).map(|c| format!("{c:?}{}", report::table(&c, true, units))).map_err(told);
        vec![
            ("corridor", drive(&corridor)),
            (
                "route",
                ask::route(&layer, &route).map(|r| format!("{r:?}{}", report::route_table(&r, units))).map_err(told),
            ),
            ("stops", ask::stops(&layer, &stops(StopsIn::Layer)).map(|s| report::stops_table(&s, units)).map_err(told)),
            (
                "stops beside",
                ask::stops(&layer, &stops(StopsIn::Beside(self.track.clone()))).map(|s| format!("{s:?}")).map_err(told),
            ),
            ("plan", ask::plan(&layer, &self.plan, &Silent).map(|t| report::plan_table(&t)).map_err(told)),
            ("sky", ask::sky(&layer, &sky).map(|p| report::place_table(&p, false, units)).map_err(told)),
            ("edges", self.edges(&layer).map_err(told)),
            ("node pairs", self.pairs(&layer).map_err(told)),
            (
                "diff",
                ask::diff(&layer, &layer, &DiffQuestion { top: 5 }, &mut |_| Ok(()))
                    .and_then(|d| report::diff_json(&d))
                    .map_err(told),
            ),
            ("rerate", ask::rerate(&layer, &rerate, &Silent).map(|r| report::rerate_table(&r, false)).map_err(told)),
        ]
    }
    fn pairs(&self, layer: &Layer) -> waymask::Result<String> {
        let mut out = Vec::new();
        let mut file = report::ByMapFile::begin(&self.edges, &mut out)?;
        ask::by_map::way_drives(layer, 2.0, &mut |way| file.add(&way))?;
        ask::by_map::node_pairs(layer, 2.0, &mut |pair| file.add(&pair))?;
        file.finish::<ask::by_map::NodePair>()?;
        Ok(String::from_utf8(out).unwrap())
    }
    fn edges(&self, layer: &Layer) -> waymask::Result<String> {
        let mut out = Vec::new();
        report::edges_written(layer.edges(), &self.edges, &mut out)?;
        Ok(String::from_utf8(out).unwrap())
    }
}

/// A connection that may write anything anywhere.
fn spoiler(path: &Path) -> Connection {
    let file = Connection::open(path).unwrap();
    file.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).unwrap();
    file.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, false).unwrap();
    file.execute_batch(
        "PRAGMA synchronous=OFF; PRAGMA journal_mode=MEMORY; PRAGMA writable_schema=ON;
         UPDATE sqlite_master SET sql = replace(sql, ' NOT NULL', '') WHERE type = 'table' AND name NOT LIKE 'gpkg%'",
    )
    .unwrap();
    drop(file);
    let file = Connection::open(path).unwrap();
    file.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).unwrap();
    file.execute_batch("PRAGMA synchronous=OFF; PRAGMA journal_mode=MEMORY").unwrap();
    file
}

/// Tables with their ids.
const TABLES: [(&str, &str); 14] = [
    ("segments", "segment_id"),
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
];

fn values() -> Vec<(&'static str, Value)> {
    vec![
        // SQLite stores what is not a number as nothing.
        ("NULL", Value::Null),
        ("-1", Value::Integer(-1)),
        ("1e300", Value::Real(1e300)),
        ("inf", Value::Real(f64::INFINITY)),
        ("-inf", Value::Real(f64::NEG_INFINITY)),
        ("text", Value::Text("abc".into())),
        ("bytes", Value::Blob(vec![1, 2, 3])),
        ("huge", Value::Integer(i64::MAX)),
    ]
}

/// Reads every row of a table.
fn read_all(layer: &Layer, table: &str) -> waymask::Result<()> {
    match table {
        "segments" => layer.segments().map(drop),
        "edges" => layer.edges().try_for_each(|e| e.map(drop)),
        "nodes" => layer.nodes().map(drop),
        "overheads" => layer.overheads_in(Bounds::from_deg(-180.0, -90.0, 180.0, 90.0)).map(drop),
        "way_nodes" => layer.each_way_nodes(|_| Ok(())),
        "lanes" => layer.lanes().map(drop),
        "masks" => layer.each_masks(|_| Ok(())),
        "end_masks" => layer.each_end_masks(|_| Ok(())),
        "outages" => layer.outages().map(drop),
        "places" => layer.named_places().map(drop),
        "ground" => layer.ground().map(drop),
        "ground_lines" => layer.ground_lines().map(drop),
        "names" => layer.names().map(drop),
        _ => layer.stops().map(drop),
    }
}

/// Whether a value may stand in a column, as far as the table alone can tell.
fn allowed(column: &str, value: &str, nullable: bool) -> bool {
    let of_the_map = ["way_id", "osm_id", "node_id"].contains(&column);
    match value {
        "NULL" => nullable,
        // A climb may go down, an underside lie below the road, a place south or west; ids of the map are any whole number.
        "-1" => of_the_map || ["climb", "underside_m", "lat_deg", "lon_deg"].contains(&column),
        "huge" => of_the_map,
        _ => false,
    }
}

/// Columns that hold numbers, and whether they may be empty.
fn numeric(file: &Connection, table: &str) -> Vec<(String, bool)> {
    let sql = "SELECT name FROM pragma_table_info(?) WHERE type IN ('REAL', 'INTEGER', 'MEDIUMINT', 'BOOLEAN') AND name <> 'fid'";
    let mut statement = file.prepare(sql).unwrap();
    let names = statement.query_map([table], |r| r.get::<_, String>(0)).unwrap();
    let alone = ["maxheight_m", "climb", "population", "near_id"];
    names.map(Result::unwrap).map(|name| (name.clone(), alone.contains(&name.as_str()))).collect()
}

fn sane(question: &str, answer: &str, case: &str) {
    for word in ["NaN", "inf ", "inf,", "-inf", "e300"] {
        assert!(!answer.contains(word), "{case}: {question} tells `{word}`:\n{answer}");
    }
}

#[test]
fn a_spoiled_figure_of_a_segment_is_named_or_does_no_harm() {
    spoil_each(&["segments"], 290);
}

#[test]
fn a_spoiled_figure_of_an_edge_or_overhead_is_named_or_does_no_harm() {
    spoil_each(&["edges", "nodes", "way_nodes", "overheads"], 155);
}

#[test]
fn a_spoiled_figure_of_a_place_or_of_water_is_named_or_does_no_harm() {
    spoil_each(&["places", "ground", "ground_lines", "names"], 70);
}

#[test]
fn a_spoiled_figure_of_a_lane_mask_or_stop_is_named_or_does_no_harm() {
    spoil_each(&["lanes", "masks", "end_masks", "stops", "outages"], 200);
}

/// Spoils one row of each table, figure by figure; at least `least` cases.
fn spoil_each(tables: &[&str], least: usize) {
    let place = town();
    let folder = tempfile::tempdir().unwrap();
    let questions = Questions::of(&place, folder.path());
    for (question, answer) in questions.answers(&place.path) {
        let answer = answer.unwrap_or_else(|e| panic!("{question} of the whole layer: {e}"));
        sane(question, &answer, "whole");
    }
    let file = spoiler(&place.path);
    let (mut cases, mut named) = (0, 0);
    for (table, id) in TABLES.into_iter().filter(|(table, _)| tables.contains(table)) {
        let rows: i64 = file.query_row(&format!("SELECT count(*) FROM {table}"), [], |r| r.get(0)).unwrap();
        assert!(rows > 0, "{table} is empty");
        let row: i64 = file.query_row(&format!("SELECT min(rowid) FROM {table}"), [], |r| r.get(0)).unwrap();
        for (column, nullable) in numeric(&file, table) {
            let kept: Value = {
                let sql = format!("SELECT {column} FROM {table} WHERE rowid = ?");
                file.query_row(&sql, [row], |r| r.get(0)).unwrap()
            };
            let write = format!("UPDATE {table} SET {column} = ? WHERE rowid = ?");
            for (name, value) in values() {
                if value == kept {
                    continue;
                }
                file.execute(&write, rusqlite::params![value, row]).unwrap();
                let case = format!("{table}.{column} = {name}");
                let began = Instant::now();
                let layer = Layer::open(&place.path).unwrap();
                let read = read_all(&layer, table).map_err(|e| e.to_string());
                let dangling = table == "edges" && ["from_node", "to_node"].contains(&column.as_str());
                match read {
                    Ok(()) => assert!(
                        !dangling && allowed(&column, name, nullable),
                        "{case}: is read as if nothing were wrong"
                    ),
                    Err(e) => {
                        assert!(!allowed(&column, name, nullable), "{case}: {e}");
                        let whose = e.contains(&format!("table {table}, {id} ")) || column == id;
                        assert!(whose && e.contains("place.gpkg") && e.contains("`waymask build`"), "{case}: {e}");
                        // A flag belongs to the id of its row, an edge to the direction it drives.
                        let at = e.contains(&format!("column {column}:"))
                            || e.contains("_id:")
                            || e.contains("although edge_");
                        assert!(at, "{case}: {e}");
                        named += 1;
                    }
                }
                for (question, answer) in questions.answers(&place.path) {
                    match answer {
                        Ok(text) => sane(question, &text, &case),
                        Err(e) => {
                            assert!(e.contains('\n') && !e.contains("1000000000000000"), "{case}: {question}: {e}")
                        }
                    }
                }
                assert!(began.elapsed() < Duration::from_secs(20), "{case}: {:?}", began.elapsed());
                cases += 1;
                file.execute(&write, rusqlite::params![kept, row]).unwrap();
            }
        }
    }
    println!("{cases} cases, {named} named where they are read");
    assert!(cases >= least && named * 5 > cases * 4, "{cases} cases, {named} named");
    let whole = questions.answers(&place.path);
    assert!(whole.iter().all(|(_, a)| a.is_ok()), "restored");
}

/// Figures within their range that cannot be true beside the others of their row.
#[test]
fn what_columns_say_together_is_held_to() {
    let place = town();
    drop(spoiler(&place.path));
    let path = place.path.with_file_name("spoiled.gpkg");
    for (table, spoil, part) in [
        ("segments", "time_forward_s = 8591.0", "column time_forward_s: 8591 s for 200"),
        ("segments", "time_forward_s = 0.0", "is not a speed from 0.1 to 400 km/h"),
        ("segments", "outage_backward_s = 3000", "column outage_backward_s: 3000 s is more than the driving time"),
        (
            "segments",
            "open_share = 0.1, open_share_min = 0.9",
            "column open_share_min: 0.9 is more than open_share, 0.1",
        ),
        ("segments", "edge_forward = NULL", "holds a value, although edge_forward is empty"),
        ("segments", "geom = CAST(geom || x'00' AS BLOB)", "column geom: 1 bytes follow the geometry"),
        ("edges", "time_s = 8000000, outage_s = 5", "column time_s: 8000000 s for 400"),
        ("edges", "outage_s = 4000", "column outage_s"),
        ("lanes", "lane_id = 4000", "column lane_id: is not"),
        ("lanes", "road_kmh = 0.0", "column road_kmh: 0 is not from 0.1 to 400"),
        ("stops", "roofed = 'yes', roofed_from = 'none'", "column roofed: `yes` is not what `none` says"),
        ("stops", "places = '5000 0 0.5'", "column places: `5000 0 0.5` is not a place for a panel"),
        ("places", "rank = 4", "column rank: is not 5, which kind and population give"),
        ("places", "name = ''", "column name: is empty"),
        ("ground", "geom = (SELECT geom FROM ground_lines)", "column geom: geometry of kind 2 where 3 is expected"),
        ("ground", "geom = substr(geom, 1, 100)", "column geom: polygon claims 1 rings in 51 bytes"),
        ("names", "folded = 'other'", "column folded: is not the spelling of name without marks"),
        ("names", "kind = 'road', length_m = NULL", "column length_m: does not fit kind, road"),
        ("names", "kind = 'river'", "column kind: `river` is not one of city"),
        ("ground_lines", "kind = 'beach'", "column kind: `beach` is not one of coastline"),
    ] {
        std::fs::copy(&place.path, &path).unwrap();
        let file = Connection::open(&path).unwrap();
        file.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).unwrap();
        file.execute_batch(&format!("UPDATE {table} SET {spoil} WHERE rowid = (SELECT min(rowid) FROM {table})"))
            .unwrap();
        drop(file);
        let error = read_all(&Layer::open(&path).unwrap(), table).unwrap_err().to_string();
        assert!(error.contains(part) && error.contains(&format!("table {table}")), "{spoil}: {error}");
    }
}

/// What is packed in a column is told by file, table, row and column, and with one advice, whoever unpacks it.
#[test]
fn what_is_packed_is_told_by_its_column_and_with_one_advice() {
    let place = town();
    let folder = tempfile::tempdir().unwrap();
    let questions = Questions::of(&place, folder.path());
    drop(spoiler(&place.path));
    let path = place.path.with_file_name("packed.gpkg");
    let (lanes, masks) = ("table lanes, lane_id ", "table masks, mask_id ");
    for (spoil, row, part) in [
        ("lanes SET overheads = x'0102' WHERE overheads IS NOT NULL", lanes, "column overheads: ends early\n"),
        ("lanes SET overheads = x'09' WHERE overheads IS NOT NULL", lanes, "column overheads: format 9 is not known"),
        ("masks SET packed = x'01'", masks, "column packed: "),
        ("masks SET packed = substr(packed, 1, length(packed) - 8)", masks, "column packed: cannot be unpacked: "),
        ("masks SET packed = CAST(packed || x'00' AS BLOB)", masks, "column packed: holds bytes after its end\n"),
        ("masks SET stations = stations + 1", masks, " masks, but stations says "),
        ("build_record SET value = '7.5' WHERE key = 'mask_floor_deg'", masks, "those of the layer at 7.5\n"),
    ] {
        std::fs::copy(&place.path, &path).unwrap();
        Connection::open(&path).unwrap().execute_batch(&format!("UPDATE {spoil}")).unwrap();
        let answers = questions.answers(&path);
        for question in ["sky", "rerate"] {
            let (_, answer) = answers.iter().find(|(q, _)| *q == question).unwrap();
            let error = answer.as_ref().expect_err(spoil);
            let begin = format!("{}: cannot be read as a layer: {row}", path.display());
            assert!(error.starts_with(&begin) && error.contains(part), "{spoil}: {question}: {error}");
            assert!(error.ends_with("\n  Build it again with `waymask build`"), "{spoil}: {question}: {error}");
            assert!(error.lines().count() == 2 && error.matches("waymask build").count() == 1, "{question}: {error}");
        }
    }
}
