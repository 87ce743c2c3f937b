//! What ways cost on layers that grow: square grids of streets, asked from near one corner to near the other. Prints,
//! asserts nothing. Costs of a street are drawn, so that many ways are worth telling.
use std::path::Path;
use std::time::Instant;

use waymask::ask::route::{Limits, RouteQuestion, RouteRules, route};
use waymask::base::geodesy::{LocalPlane, Point, Position};
use waymask::base::words::{
    BlockerEvidence, Cause, Evidence, Highway, Overhang, PerDirection, RatedBy, Rating, RoadAccess, TerrainEvidence,
    Units, ValueFrom,
};
use waymask::layer::model::Driven;
use waymask::layer::model::{BuildRecord, EdgeRow, NodeRow, SegmentRow};
use waymask::layer::{Layer, LayerWriter, SCHEMA_VERSION};

mod figures;

/// Distance between crossings, metres.
const STREET_M: f64 = 200.0;
const SIDES: [i64; 4] = [50, 100, 200, 400];

fn main() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    println!("    edges     time   ways     memory (peak so far)");
    for side in SIDES {
        let path = folder.path().join(format!("grid-{side}.gpkg"));
        let edges = write(&path, side);
        let layer = Layer::open(&path).expect("the layer opens");
        let rules = RouteRules { unpaved: true, boarded: true, private: true, height_m: 3.0 };
        let places = vec![at(1.3, 0.0), at(side as f64 - 2.6, side as f64 - 1.0)];
        let asked = RouteQuestion {
            places,
            within_m: 200.0,
            rules,
            limits: Limits { ways: 5, longer_ms: None },
            worst: 5,
            units: Units::Metric,
        };
        let began = Instant::now();
        let found = route(&layer, &asked).expect("the corners are joined");
        let seconds = began.elapsed().as_secs_f64();
        println!("{edges:9}  {seconds:5.2} s  {:5}  {:7.0} MB", found.ways.len(), peak_mb());
        figures::alone(&format!("ways on a grid of {edges} edges"), seconds);
    }
}

fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmHWM:")).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|kib| kib.parse::<f64>().ok()).unwrap_or(f64::NAN) / 1e3
}

/// A crossing, or a place between crossings.
fn at(column: f64, line: f64) -> Position {
    LocalPlane::at(1.0, 46.0).to_position(Point::new(STREET_M * column, STREET_M * line))
}

/// SplitMix64 (S. Vigna, public domain): a number of 0..1 for each street.
fn drawn(n: i64) -> f64 {
    let z = (n as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
}

fn write(path: &Path, side: i64) -> i64 {
    let mut writer = LayerWriter::create(path, true).expect("a writable folder");
    let mut street = 0;
    for line in 0..side {
        for column in 0..side {
            let node = NodeRow { node_id: line * side + column, at: at(column as f64, line as f64) };
            writer.node(&node).expect("a node is written");
            for (dx, dy) in [(1, 0), (0, 1)] {
                let (x, y) = (column + dx, line + dy);
                if x < side && y < side {
                    street += 1;
                    let ends = (line * side + column, y * side + x);
                    let shape = vec![at(column as f64, line as f64), at(x as f64, y as f64)];
                    add(&mut writer, street, ends, shape);
                }
            }
        }
    }
    writer.finish(&BuildRecord { schema_version: SCHEMA_VERSION, ..BuildRecord::default() }).expect("a whole layer");
    2 * street
}

/// A street of one segment and its two edges.
fn add(writer: &mut LayerWriter, street: i64, ends: (i64, i64), line: Vec<Position>) {
    let (time_s, outage_s) = (10.0 + 10.0 * drawn(3 * street), 5.0 * drawn(3 * street + 1).powi(4));
    let driven = |edge| Some(Driven { edge, rating: Rating::Steady, time_s, outage_s, ..known() });
    let segment = SegmentRow {
        segment_id: street,
        way_id: street,
        highway: Highway::Residential,
        length_m: STREET_M,
        driven: PerDirection { forward: driven(2 * street - 1), backward: driven(2 * street) },
        lanes: 2,
        width_m: 6.0,
        speed_kmh: 36.0,
        lanes_from: ValueFrom::Default,
        width_from: ValueFrom::Default,
        speed_from: ValueFrom::Default,
        rating: Rating::Steady,
        rated_by: RatedBy::None,
        main_cause: Cause::None,
        overhang_reason: Overhang::None,
        evidence_terrain: TerrainEvidence::None,
        evidence_canopy: BlockerEvidence::Map,
        evidence_building: BlockerEvidence::Map,
        evidence: Evidence::Default,
        line,
        ..known_row()
    };
    writer.segment(&segment).expect("a segment is written");
    for forward in [true, false] {
        let (from_node, to_node) = if forward { ends } else { (ends.1, ends.0) };
        let edge = EdgeRow {
            edge_id: 2 * street - i64::from(forward),
            from_node,
            to_node,
            way_id: street,
            forward,
            length_m: STREET_M,
            time_s,
            outage_s,
            highway: Highway::Residential,
            access: RoadAccess::Open,
            unpaved_from: ValueFrom::Default,
            rating: Rating::Steady,
            ..EdgeRow::default()
        };
        writer.edge(&edge).expect("an edge is written");
    }
}

/// A direction whose range is known and wide.
fn known() -> Driven {
    Driven {
        rating_best: Rating::Steady,
        rating_worst: Some(Rating::Dark),
        outage_share_worst: Some(1.0),
        ..Driven::default()
    }
}

/// The same of a segment.
fn known_row() -> SegmentRow {
    let (rating_worst, outage_share_worst) = (Some(Rating::Dark), Some(1.0));
    SegmentRow {
        rating_best: Rating::Steady,
        rating_worst,
        outage_share_worst,
        evidence: Evidence::Default,
        ..SegmentRow::default()
    }
}
