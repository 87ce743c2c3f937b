//! `waymask corridor` along 30 to 600 km of a large layer, compared with SQL with a buffer in ogrinfo on the same file.
//!
//! The layer: Andorra's rows, copied many times. Copies in a row are shifted so that the end of the longest fastest
//! drive through one is the start of that of the next, where both share the junction; more copies of the row lie one
//! and two degrees north of it, so that the layer is larger than what is driven. Prints figures; asserts nothing.
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};
use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use waymask::base::geodesy::{Position, distance_m, length_m};
use waymask::base::progress::Silent;
use waymask::base::words::PerDirection;
use waymask::build::{self, BuildOptions};
use waymask::layer::model::{Driven, EdgeRow, NodeRow, OverheadRow, SegmentRow};
use waymask::layer::{Bounds, Layer, LayerWriter};

mod figures;
#[allow(dead_code)]
#[path = "../tests/suite/need.rs"]
mod need;

/// Copies in a row, and rows of copies.
const COPIES: (i64, i64) = (16, 3);
/// Runs of which the median counts.
const RUNS: usize = 5;
/// Half the width of the peer's buffer, degrees: about 20 m, what the matcher's points stray.
const BUFFER_DEG: f64 = 0.0002;

fn main() {
    let Some(andorra) = need::data("andorra") else { return };
    let folder = tempfile::tempdir().expect("a temporary folder");
    let country = Country::built(&andorra, &folder.path().join("andorra.gpkg"));
    let large = folder.path().join("large.gpkg");
    let line = country.copied(&large);
    let bytes = std::fs::metadata(&large).map_or(0, |m| m.len());
    let segments = country.segments.len() as i64 * COPIES.0 * COPIES.1;
    println!("layer: {segments} segments, {:.0} MB, {} x {} copies of Andorra", bytes as f64 / 1e6, COPIES.0, COPIES.1);
    for km in [30.0, 100.0, 300.0, 600.0] {
        measure(&large, &first_km(&line, km), folder.path());
    }
}

/// One length: the command as a user runs it, and the peer.
fn measure(layer: &Path, points: &[Position], folder: &Path) {
    let (track, sql) = (folder.join("track.gpx"), folder.join("peer.sql"));
    std::fs::write(&track, gpx(points)).expect("the track is written");
    std::fs::write(&sql, peer_sql(points)).expect("the query is written");
    let km = points.windows(2).map(|w| distance_m(w[0], w[1])).sum::<f64>() / 1e3;
    let (layer, track) = (layer.to_string_lossy(), track.to_string_lossy());
    let query = format!("@{}", sql.display());
    let ours = run(env!("CARGO_BIN_EXE_waymask"), &["corridor", &layer, &track, "--json"]);
    let peer = run("ogrinfo", &["-ro", "-q", &layer, "-sql", &query]);
    let (ours_s, peak_mb) = ours.expect("waymask answers");
    println!("{km:.0} km, {} points: peak {peak_mb:.0} MB", points.len());
    let what = format!("corridor of {km:.0} km");
    figures::beside(&what, ours_s, "ogrinfo, R-tree and buffer", peer.map(|(s, _)| s));
}

/// Median seconds and largest memory of a program, MB; nothing where it fails.
fn run(program: &str, args: &[&str]) -> Option<(f64, f64)> {
    let (mut seconds, mut peak_mb) = (Vec::new(), 0.0_f64);
    for _ in 0..RUNS {
        let began = Instant::now();
        let mut child = Command::new(program).args(args).stdout(Stdio::null()).stderr(Stdio::inherit()).spawn().ok()?;
        let status = format!("/proc/{}/status", child.id());
        let done = loop {
            let text = std::fs::read_to_string(&status).unwrap_or_default();
            let line = text.lines().find(|l| l.starts_with("VmHWM:"));
            let kb = line.and_then(|l| l.split_whitespace().nth(1)?.parse::<f64>().ok());
            peak_mb = peak_mb.max(kb.unwrap_or(0.0) / 1024.0);
            if let Some(done) = child.try_wait().ok()? {
                break done;
            }
            std::thread::sleep(std::time::Duration::from_millis(1));
        };
        if !done.success() {
            return None;
        }
        seconds.push(began.elapsed().as_secs_f64());
    }
    seconds.sort_by(f64::total_cmp);
    Some((seconds[RUNS / 2], peak_mb))
}

/// Rows of one country.
struct Country {
    segments: Vec<SegmentRow>,
    edges: Vec<EdgeRow>,
    nodes: Vec<NodeRow>,
    overheads: Vec<OverheadRow>,
    record: waymask::layer::model::BuildRecord,
}

impl Country {
    fn built(data: &Path, path: &Path) -> Self {
        let mut options = BuildOptions::new(data.join("andorra-2025.osm.pbf"), path.to_owned());
        options.elevation = vec![data.to_owned()];
        options.profile.link.drives = 20;
        build::build(&options, &Silent).expect("Andorra builds");
        let layer = Layer::open(path).expect("the layer opens");
        let world = Bounds::from_deg(-180.0, -90.0, 180.0, 90.0);
        Self {
            segments: layer.segments().expect("segments"),
            edges: layer.edges().collect::<Result<_, _>>().expect("edges"),
            nodes: layer.nodes().expect("nodes"),
            overheads: layer.overheads_in(world).expect("overheads"),
            record: layer.record().clone(),
        }
    }
    /// Edges of the fastest drive from a junction to the one farthest from it, and that junction.
    fn farthest(&self, from: i64) -> (Vec<usize>, i64) {
        let mut leaving: HashMap<i64, Vec<usize>> = HashMap::new();
        self.edges.iter().enumerate().for_each(|(i, e)| leaving.entry(e.from_node).or_default().push(i));
        let mut before: HashMap<i64, Option<usize>> = HashMap::new();
        let mut open = BinaryHeap::from([(Reverse(0_u64), from, None)]);
        let mut last = from;
        while let Some((Reverse(ms), node, edge)) = open.pop() {
            if before.contains_key(&node) {
                continue;
            }
            before.insert(node, edge);
            last = node;
            let next = leaving.get(&node).into_iter().flatten();
            open.extend(next.map(|e| {
                let edge = &self.edges[*e];
                (Reverse(ms + 1 + (1e3 * edge.time_s) as u64), edge.to_node, Some(*e))
            }));
        }
        let (mut path, mut at) = (Vec::new(), last);
        while let Some(Some(edge)) = before.get(&at) {
            path.push(*edge);
            at = self.edges[*edge].from_node;
        }
        path.reverse();
        (path, last)
    }
    /// Positions along edges, in the direction driven.
    fn line(&self, path: &[usize]) -> Vec<Position> {
        let mut parts: HashMap<i64, Vec<&SegmentRow>> = HashMap::new();
        for s in &self.segments {
            [s.driven.forward, s.driven.backward]
                .into_iter()
                .flatten()
                .for_each(|d| parts.entry(d.edge).or_default().push(s));
        }
        let mut line = Vec::new();
        for edge in path.iter().map(|e| &self.edges[*e]) {
            let mut of_edge: Vec<Position> = Vec::new();
            let rows = parts.get_mut(&edge.edge_id).expect("an edge has segments");
            rows.sort_by_key(|s| s.part);
            rows.iter().for_each(|s| of_edge.extend(&s.line));
            if !edge.forward {
                of_edge.reverse();
            }
            line.extend(of_edge);
        }
        line.dedup();
        line
    }
    /// Writes the large layer; returns the drive through its first row of copies.
    fn copied(&self, path: &Path) -> Vec<Position> {
        let (_, first) = self.farthest(self.edges[0].from_node);
        let (drive, last) = self.farthest(first);
        let one = self.line(&drive);
        let (start, end) = (one[0], one[one.len() - 1]);
        let step = (end.lon_e7 - start.lon_e7, end.lat_e7 - start.lat_e7);
        let mut writer = LayerWriter::create(path, true).expect("the layer begins");
        let mut all = Vec::new();
        for row in 0..COPIES.1 {
            for copy in 0..COPIES.0 {
                let moved = |p: &Position| Position {
                    lon_e7: p.lon_e7 + copy as i32 * step.0,
                    lat_e7: p.lat_e7 + copy as i32 * step.1 + row as i32 * 10_000_000,
                };
                if row == 0 {
                    all.extend(one.iter().map(moved));
                }
                self.copy(&mut writer, row * COPIES.0 + copy, copy, (first, last), &moved);
            }
        }
        // The record tells of the rows that are there: a layer that lacks some of them is refused.
        let copies = (COPIES.0 * COPIES.1).unsigned_abs();
        let counts =
            [("segments", self.segments.len()), ("edges", self.edges.len()), ("overheads", self.overheads.len())];
        let mut record = self.record.clone();
        record.counts = counts.map(|(of, rows)| (of.to_owned(), copies * rows as u64)).into();
        writer.finish(&record).expect("the layer ends");
        all.dedup();
        all
    }
    /// One copy with ids of its own; where a drive ends the next copy begins.
    fn copy(
        &self,
        writer: &mut LayerWriter,
        number: i64,
        in_row: i64,
        (first, last): (i64, i64),
        moved: &dyn Fn(&Position) -> Position,
    ) {
        const APART: i64 = 1_000_000_000_000;
        let (segments, edges) = (number * self.segments.len() as i64, number * self.edges.len() as i64);
        let way = |id: i64| id + number * APART;
        let node = |id: i64| match id == first && in_row > 0 {
            true => last + (number - 1) * APART,
            false => id + number * APART,
        };
        let renumbered = |d: Option<Driven>| d.map(|d| Driven { edge: d.edge + edges, ..d });
        let mut long_m: HashMap<i64, f64> = HashMap::new();
        for s in &self.segments {
            let line: Vec<Position> = s.line.iter().map(moved).collect();
            for driven in [&s.driven.forward, &s.driven.backward].into_iter().flatten() {
                *long_m.entry(driven.edge).or_default() += length_m(&line);
            }
            let row = SegmentRow {
                segment_id: s.segment_id + segments,
                way_id: way(s.way_id),
                driven: PerDirection { forward: renumbered(s.driven.forward), backward: renumbered(s.driven.backward) },
                line,
                ..s.clone()
            };
            writer.segment(&row).expect("a segment is written");
        }
        for e in &self.edges {
            let (from_node, to_node) = (node(e.from_node), node(e.to_node));
            // Degrees of longitude are shorter farther north, and an edge is as long as its segments.
            let length_m = long_m.get(&e.edge_id).copied().unwrap_or(e.length_m);
            let (edge_id, way_id) = (e.edge_id + edges, way(e.way_id));
            let row = EdgeRow { edge_id, way_id, from_node, to_node, length_m, ..e.clone() };
            writer.edge(&row).expect("an edge is written");
        }
        for n in self.nodes.iter().filter(|n| n.node_id != first || in_row == 0) {
            writer.node(&NodeRow { node_id: node(n.node_id), at: moved(&n.at) }).expect("a node is written");
        }
        for o in &self.overheads {
            let row = OverheadRow {
                overhead_id: o.overhead_id + number * self.overheads.len() as i64,
                segment_id: o.segment_id + segments,
                at: moved(&o.at),
                ..o.clone()
            };
            writer.overhead(&row).expect("an overhead is written");
        }
    }
}

/// Points of the first kilometres of a line, as recorded every 20 m or farther.
fn first_km(line: &[Position], km: f64) -> Vec<Position> {
    let (mut out, mut done_m) = (vec![line[0]], 0.0);
    for pair in line.windows(2) {
        done_m += distance_m(pair[0], pair[1]);
        if distance_m(out[out.len() - 1], pair[1]) >= 20.0 {
            out.push(pair[1]);
        }
        if done_m >= 1e3 * km {
            break;
        }
    }
    out
}

fn gpx(points: &[Position]) -> String {
    let mut text = String::from("<gpx version=\"1.1\"><trk><trkseg>\n");
    for p in points {
        let _ = writeln!(text, "<trkpt lat=\"{:.6}\" lon=\"{:.6}\"/>", p.lat_deg(), p.lon_deg());
    }
    text + "</trkseg></trk></gpx>\n"
}

/// The same question as well as SQL can ask it: sums over the segments that touch a buffer around the track, found
/// through the R-tree of the file, piece of the track by piece. It cannot tell cross roads and the other direction.
fn peer_sql(points: &[Position]) -> String {
    const PIECE: usize = 20;
    let mut pieces = Vec::new();
    for start in (0..points.len() - 1).step_by(PIECE) {
        let piece = &points[start..(start + PIECE + 1).min(points.len())];
        let [west, east, south, north] = Bounds::around(piece).expect("points").degrees();
        let line: Vec<String> = piece.iter().map(|p| format!("{:.6} {:.6}", p.lon_deg(), p.lat_deg())).collect();
        let (w, e, s, n) = (west - BUFFER_DEG, east + BUFFER_DEG, south - BUFFER_DEG, north + BUFFER_DEG);
        pieces.push(format!("({w},{e},{s},{n},'LINESTRING({})')", line.join(",")));
    }
    format!(
        "WITH p(minx, maxx, miny, maxy, line) AS (VALUES {}),
         b AS MATERIALIZED (SELECT minx, maxx, miny, maxy, ST_Buffer(ST_GeomFromText(line, 4326), {BUFFER_DEG}) AS around FROM p)
         SELECT count(*), sum(length_m), sum(outage_forward_s), max(outage_p95_s) FROM (
           SELECT DISTINCT s.segment_id, s.length_m, s.outage_forward_s, s.outage_p95_s FROM b
           CROSS JOIN rtree_segments_geom r ON r.maxx >= b.minx AND r.minx <= b.maxx AND r.maxy >= b.miny AND r.miny <= b.maxy
           CROSS JOIN segments s ON s.fid = r.id
           WHERE ST_Intersects(GeomFromGPB(s.geom), b.around))",
        pieces.join(",")
    )
}
