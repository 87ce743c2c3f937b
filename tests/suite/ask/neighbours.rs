//! Layers of neighbouring parts of the demo island, asked together, against the layer of all of it: rows by plain SQL, ways by a
//! plain search over tables, answers as the program gives them.
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Command;

use rusqlite::Connection;
use serde_json::Value;
use waymask::ask::neighbours::joined;
use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions};
use waymask::layer::Layer;
use waymask::map::district::region::Region;

use crate::build::kit::sample;
use crate::need;

/// Four districts meet at 47 degrees north, 28 degrees west: two of them each.
const HALVES: [(&str, [f64; 4]); 4] = [
    ("west.gpkg", [-28.2, 46.8, -28.01, 47.2]),
    ("east.gpkg", [-27.99, 46.8, -27.8, 47.2]),
    ("north.gpkg", [-28.2, 47.01, -27.8, 47.2]),
    ("south.gpkg", [-28.2, 46.8, -27.8, 46.99]),
];

/// The whole island and its halves, in a folder of their own.
struct Island(tempfile::TempDir);

impl Island {
    fn built() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let whole = [("whole.gpkg", None)];
        for (name, sides) in whole.into_iter().chain(HALVES.map(|(name, sides)| (name, Some(sides)))) {
            let mut options = BuildOptions::new(sample("varrow.osm.pbf"), folder.path().join(name));
            options.elevation = vec![sample("varrow-elevation.tif")];
            // Each district is rated once.
            options.work = Some(folder.path().join("work"));
            // With few drives the districts beside a line disagree on where a long outage begins, and a layer of one side does
            // not hold what the other found.
            options.profile.link.drives = 64;
            if let Some([west, south, east, north]) = sides {
                options.region = Region::bounds(west, south, east, north).unwrap();
            }
            build::build(&options, &Silent).unwrap();
        }
        Self(folder)
    }
    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }
    /// Layers joined in a folder, and their file there.
    fn joined(&self, names: &[&str], folder: &Path) -> (waymask::ask::neighbours::JoinedLayers, PathBuf) {
        let layers = names.iter().map(|name| Layer::open(&self.at(name)).unwrap()).collect();
        let all = joined(layers, None, folder).unwrap();
        let hidden = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).next().unwrap();
        (all, hidden.join("content.gpkg"))
    }
    /// What the program answers, as JSON.
    fn answer(&self, words: &[&str]) -> Value {
        let out = Command::new(env!("CARGO_BIN_EXE_waymask")).current_dir(self.0.path()).args(words).output().unwrap();
        assert!(out.status.success(), "{words:?}: {}", String::from_utf8_lossy(&out.stderr));
        serde_json::from_slice(&out.stdout).unwrap()
    }
}

/// Rows that only one of two queries gives.
fn apart(joined: &Path, whole: &Path, sql: &str) -> Vec<String> {
    let of = |path: &Path| -> BTreeMap<String, usize> {
        let file = Connection::open(path).unwrap();
        let mut statement = file.prepare(sql).unwrap();
        let columns = statement.column_count();
        let mut rows = statement.query([]).unwrap();
        let mut out = BTreeMap::new();
        while let Some(row) = rows.next().unwrap() {
            let told: Vec<String> = (0..columns).map(|i| format!("{:?}", row.get_ref(i).unwrap())).collect();
            *out.entry(told.join(" ")).or_insert(0) += 1;
        }
        assert!(!out.is_empty(), "{sql}: no rows");
        out
    };
    let (a, b) = (of(joined), of(whole));
    let only = |a: &BTreeMap<String, usize>, b: &BTreeMap<String, usize>, which: &str| {
        a.iter().filter(|(row, n)| b.get(*row) != Some(n)).map(|(row, _)| format!("{which}: {row}")).collect::<Vec<_>>()
    };
    [only(&a, &b, "joined"), only(&b, &a, "whole")].concat()
}

/// Columns of a table but those that are ids of rows.
fn figures(path: &Path, table: &str, but: &[&str]) -> String {
    let file = Connection::open(path).unwrap();
    let mut statement = file.prepare("SELECT name FROM pragma_table_info(?)").unwrap();
    let names = statement.query_map([table], |r| r.get::<_, String>(0)).unwrap().map(Result::unwrap);
    let kept: Vec<String> =
        names.filter(|n| n != "fid" && !but.contains(&n.as_str())).map(|n| format!("{table}.\"{n}\"")).collect();
    kept.join(", ")
}

/// Checks every table but those named, by what does not depend on the numbers of rows.
fn check_rows(joined: &Path, whole: &Path, without_stops: bool) {
    let key = |alias: &str| format!("{alias}.way_id, {alias}.part");
    let of = |table: &str, but: &[&str]| figures(whole, table, but);
    // The outage that a lane leads to, where that has a row.
    let begin = "o.segment_from = (lanes.outage_from + 1) / 2 AND o.forward = lanes.outage_from % 2";
    let mut queries = vec![
        format!("SELECT {} FROM segments", of("segments", &["segment_id", "edge_forward", "edge_backward"])),
        format!(
            "SELECT {}, {} FROM way_nodes JOIN segments s USING (segment_id)",
            key("s"),
            of("way_nodes", &["segment_id"])
        ),
        format!(
            "SELECT {}, {} FROM overheads JOIN segments s ON s.segment_id = overheads.segment_id",
            key("s"),
            of("overheads", &["segment_id", "overhead_id"])
        ),
        format!(
            "SELECT {}, {}, {}, o.forward FROM lanes JOIN segments s ON s.segment_id = lanes.segment_id LEFT JOIN outages o \
             ON {begin} LEFT JOIN segments b ON b.segment_id = o.segment_from",
            key("s"),
            key("b"),
            of("lanes", &["lane_id", "segment_id", "stroke", "outage_from"])
        ),
        format!(
            "SELECT {}, {}, {} FROM outages JOIN segments a ON a.segment_id = segment_from JOIN segments b ON \
             b.segment_id = segment_to",
            key("a"),
            key("b"),
            of("outages", &["outage_id", "stroke", "segment_from", "segment_to"])
        ),
        "SELECT node_id, geom FROM nodes".to_owned(),
        "SELECT from_node, to_node, way_id, forward, rating, highway, access, local, unpaved, maxheight_m FROM edges"
            .to_owned(),
        format!("SELECT {} FROM places", of("places", &["place_id"])),
        format!("SELECT {} FROM ground", of("ground", &["ground_id"])),
        format!("SELECT {} FROM ground_lines", of("ground_lines", &["ground_line_id"])),
    ];
    if !without_stops {
        let stops = of("stops", &["stop_id", "segment_id"]);
        queries.push(format!("SELECT {}, {stops} FROM stops JOIN segments s USING (segment_id)", key("s")));
        queries.push("SELECT DISTINCT folded, name, kind FROM names".to_owned());
    }
    for sql in queries {
        assert_eq!(apart(joined, whole, &sql), Vec::<String>::new(), "{sql}");
    }
}

/// Figures of edges are those of the whole layer but for roundings: they are added up of those of several layers.
fn check_edges(joined: &Path, whole: &Path) {
    let of = |path: &Path| -> BTreeMap<(i64, i64, i64, bool), [f64; 4]> {
        let file = Connection::open(path).unwrap();
        let sql = "SELECT from_node, to_node, way_id, forward, length_m, time_s, outage_s, longest_outage_s FROM edges";
        let mut statement = file.prepare(sql).unwrap();
        let of_row = |r: &rusqlite::Row| {
            let key = (r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?);
            Ok((key, [r.get(4)?, r.get(5)?, r.get(6)?, r.get(7)?]))
        };
        statement.query_map([], of_row).unwrap().map(Result::unwrap).collect()
    };
    let (a, b) = (of(joined), of(whole));
    assert_eq!(a.len(), b.len());
    for (key, figures) in &a {
        let far = figures.iter().zip(b[key]).any(|(x, y)| (x - y).abs() > 0.05);
        assert!(!far, "{key:?}: {figures:?} and {:?}", b[key]);
    }
}

/// How many rows of `segments` some files hold together, each way and part once.
fn union_count(paths: &[PathBuf]) -> usize {
    let mut all = BTreeSet::new();
    for path in paths {
        let file = Connection::open(path).unwrap();
        let mut statement = file.prepare("SELECT way_id, part FROM segments").unwrap();
        let rows = statement.query_map([], |r| Ok((r.get::<_, i64>(0)?, r.get::<_, i64>(1)?))).unwrap();
        all.extend(rows.map(Result::unwrap));
    }
    all.len()
}

/// Seconds of the fastest way from a node to all others, by plain relaxation over a table of edges.
fn seconds_from(path: &Path, start: i64) -> BTreeMap<i64, f64> {
    let file = Connection::open(path).unwrap();
    let mut statement = file.prepare("SELECT from_node, to_node, time_s FROM edges").unwrap();
    let rows = statement.query_map([], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?))).unwrap();
    let edges: Vec<(i64, i64, f64)> = rows.map(Result::unwrap).collect();
    let mut best = BTreeMap::from([(start, 0.0)]);
    loop {
        let mut moved = false;
        for (from, to, time_s) in &edges {
            let Some(sum_s) = best.get(from).map(|s| s + time_s) else { continue };
            if best.get(to).is_none_or(|known| sum_s < known - 1e-9) {
                best.insert(*to, sum_s);
                moved = true;
            }
        }
        if !moved {
            return best;
        }
    }
}

/// Where two answers differ besides numbers of rows and notes; figures may differ by a rounding.
fn differences(a: &Value, b: &Value, path: &str, out: &mut Vec<String>) {
    const ROUNDED: f64 = 0.011;
    match (a, b) {
        (Value::Object(x), Value::Object(y)) => {
            let keys: BTreeSet<&String> = x.keys().chain(y.keys()).collect();
            for key in keys.into_iter().filter(|k| !["segment_id", "stop_id", "notes", "assumed"].contains(&k.as_str()))
            {
                let of = |m: &serde_json::Map<String, Value>| m.get(key).cloned().unwrap_or_default();
                differences(&of(x), &of(y), &format!("{path}.{key}"), out);
            }
        }
        (Value::Array(x), Value::Array(y)) if x.len() == y.len() => {
            (0..x.len()).for_each(|i| differences(&x[i], &y[i], &format!("{path}[{i}]"), out));
        }
        (Value::Number(x), Value::Number(y)) => {
            let (x, y) = (x.as_f64().unwrap(), y.as_f64().unwrap());
            if (x - y).abs() > ROUNDED {
                out.push(format!("{path}: {x} and {y}"));
            }
        }
        _ if a == b => {}
        _ => out.push(format!("{path}: {a} and {b}")),
    }
}

#[test]
fn layers_of_parts_of_an_island_answer_as_the_layer_of_all_of_it() {
    let island = Island::built();
    let whole = island.at("whole.gpkg");
    // That share a line only, and that overlap.
    for (names, shares_a_line) in [
        (&["west.gpkg", "east.gpkg"][..], true),
        (&["north.gpkg", "south.gpkg"][..], true),
        (&["south.gpkg", "west.gpkg", "north.gpkg"][..], false),
        (&["east.gpkg", "whole.gpkg"][..], false),
    ] {
        let folder = tempfile::tempdir().unwrap();
        {
            let (all, file) = island.joined(names, folder.path());
            check_rows(&file, &whole, shares_a_line);
            check_edges(&file, &whole);
            let paths: Vec<PathBuf> = names.iter().map(|name| island.at(name)).collect();
            let there = union_count(std::slice::from_ref(&file));
            assert_eq!(there, union_count(&paths), "{names:?}");
            assert_eq!(all.layer.counts().unwrap()[0], ("segments", there as u64));
            assert!(all.told.len() == 1 && all.told[0].contains(names[1]), "{:?}", all.told);
            // A node of a town and one at the other end of the island.
            let nodes: Vec<i64> = all.layer.nodes().unwrap().iter().map(|n| n.node_id).collect();
            for start in [nodes[0], nodes[nodes.len() / 2]] {
                let (here, there) = (seconds_from(&file, start), seconds_from(&whole, start));
                assert_eq!(here.keys().collect::<Vec<_>>(), there.keys().collect::<Vec<_>>());
                let far = here.iter().filter(|(node, s)| (*s - there[node]).abs() > 0.05).count();
                assert!(here.len() > 20 && far == 0, "{names:?} {start}");
            }
            // Masks are those of the rows, wherever they lie.
            let old = Layer::open(&whole).unwrap();
            let (mut rows, mut masks) = (0, 0);
            let by_key: BTreeMap<_, _> =
                old.segments().unwrap().into_iter().map(|s| ((s.way_id, s.part), s.segment_id)).collect();
            for row in all.layer.segments().unwrap() {
                let id = by_key[&(row.way_id, row.part)];
                for forward in [true, false] {
                    let packed = |l: &Layer, id| l.masks(id, forward).unwrap().map(|m| (m.stations, m.packed));
                    assert_eq!(packed(&all.layer, row.segment_id), packed(&old, id));
                    let ends = |l: &Layer, id: i64| {
                        let found = l.end_masks(id, forward).unwrap();
                        found.into_iter().map(|m| (m.at.name(), m.packed)).collect::<Vec<_>>()
                    };
                    assert_eq!(ends(&all.layer, row.segment_id), ends(&old, id));
                    masks += usize::from(packed(&old, id).is_some());
                }
                rows += 1;
            }
            assert!(rows == there && masks > rows, "{rows} rows, {masks} masks");
        }
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0, "the joined layer goes with its question");
    }
}

#[test]
fn answers_across_a_line_are_those_of_the_whole_layer_and_name_the_layers() {
    let island = Island::built();
    let circuit = sample("varrow-circuit.gpx").display().to_string();
    let meetings = sample("varrow-meetings.ics").display().to_string();
    let day = ["--zone=-01:00", "--depart", "2026-06-15T08:50", "--meetings", &meetings];
    let asked: [Vec<&str>; 6] = [
        vec!["corridor", "LAYER", &circuit, "--buffer", "300m"],
        [vec!["plan", "LAYER", "Harrow Quay to Eastmark", "--way", "steadiest"], day[..3].to_vec()].concat(),
        vec!["route", "LAYER", "Harrow Quay to Eastmark"],
        vec!["route", "LAYER", "46.96922,-28.05054", "46.98550,-27.94961"],
        vec!["stops", "LAYER", "--along", &circuit],
        [vec!["plan", "LAYER", &circuit], day.to_vec()].concat(),
    ];
    // Places to stop right at a line whose road begins beyond it are in no layer of one side alone.
    let west = ["west.gpkg", "--with", "east.gpkg"];
    let south = ["south.gpkg", "--with", "west.gpkg", "--with", "north.gpkg"];
    for (layers, question) in asked.iter().flat_map(|q| [(&west[..], q), (&south[..], q)]) {
        let needs_stops = ["stops", "plan"].contains(&question[0]);
        if needs_stops && layers.len() == west.len() {
            continue;
        }
        let with = |layers: &[&str]| -> Value {
            let words = question.iter().flat_map(|w| if *w == "LAYER" { layers.to_vec() } else { vec![*w] });
            island.answer(&words.chain(["--json"]).collect::<Vec<_>>())
        };
        let (whole, together) = (with(&["whole.gpkg"]), with(layers));
        let mut found = Vec::new();
        differences(&whole, &together, "", &mut found);
        assert_eq!(found, Vec::<String>::new(), "{layers:?} {question:?}");
        let text = together.to_string();
        assert!(text.contains("rests on") && layers.iter().filter(|l| **l != "--with").all(|l| text.contains(l)));
        assert!(!whole.to_string().contains("rests on"));
    }
    // One half alone knows of half the drive only.
    let half = island.answer(&["corridor", "west.gpkg", &circuit, "--json"]);
    assert!(half["unmatched_m"].as_f64().unwrap() > 30_000.0, "{}", half["unmatched_m"]);
}

#[test]
fn heavy_two_parts_of_andorra_answer_across_their_line_as_all_of_it() {
    let (Some(extract), Some(tile)) =
        (need::data("andorra/andorra-2025.osm.pbf"), need::data("andorra/N42E001.hgt.zip"))
    else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    // Two parts that share the line at 1.5 degrees east, one that holds both sides of it, and all.
    for (name, sides) in [
        ("west.gpkg", Some([1.3, 42.3, 1.49, 42.9])),
        ("east.gpkg", Some([1.51, 42.3, 1.9, 42.9])),
        ("middle.gpkg", Some([1.3, 42.3, 1.74, 42.9])),
        ("whole.gpkg", None),
    ] {
        let mut options = BuildOptions::new(extract.clone(), at(name));
        options.elevation = vec![tile.clone()];
        options.work = Some(at("work"));
        if let Some([west, south, east, north]) = sides {
            options.region = Region::bounds(west, south, east, north).unwrap();
        }
        build::build(&options, &Silent).unwrap();
    }
    let island = Island(folder);
    let (from, to) = ("42.46370,1.49120", "42.54270,1.73410");
    let track = island.at("drive.gpx");
    let route = ["route", "whole.gpkg", from, to, "--way", "fastest", "--json", "-o", "drive.gpx"];
    assert!(island.answer(&route)["ways"][0]["length_m"].as_f64().unwrap() > 30_000.0);
    let track = track.display().to_string();
    for question in [
        vec!["corridor", "LAYER", &track, "--json"],
        vec!["route", "LAYER", from, to, "--json"],
        vec!["plan", "LAYER", &track, "--depart", "2026-06-15T08:50", "--json"],
    ] {
        for (first, other) in [("west.gpkg", "east.gpkg"), ("middle.gpkg", "east.gpkg")] {
            let with = |layers: &[&str]| {
                let words = question.iter().flat_map(|w| if *w == "LAYER" { layers.to_vec() } else { vec![*w] });
                island.answer(&words.collect::<Vec<_>>())
            };
            let mut found = Vec::new();
            differences(&with(&["whole.gpkg"]), &with(&[first, "--with", other]), "", &mut found);
            assert_eq!(found, Vec::<String>::new(), "{first} {other} {question:?}");
        }
    }
}
