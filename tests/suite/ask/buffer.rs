//! Roads nearby, against buffers of GEOS (through GDAL) in the plane.
use std::collections::HashMap;

use gdal::vector::Geometry;
use waymask::ask::corridor::{DriveRows, of_rows};
use waymask::ask::matching::{Matched, Step};
use waymask::base::geodesy::{LocalPlane, Point, Position, length_m};
use waymask::base::words::Cause;
use waymask::layer::model::SegmentRow;

use crate::ask::driven::Draws;
use crate::layer::rows::known_row;

fn geometry(plane: &LocalPlane, line: &[Position]) -> Geometry {
    let points: Vec<String> = line.iter().map(|p| plane.to_plane(*p)).map(|p| format!("{} {}", p.x_m, p.y_m)).collect();
    Geometry::from_wkt(&format!("LINESTRING ({})", points.join(","))).unwrap()
}

fn segment(segment_id: i64, name: &str, line: Vec<Position>) -> SegmentRow {
    let length_m = length_m(&line);
    SegmentRow { segment_id, name: Some(name.into()), length_m, main_cause: Cause::None, line, ..known_row() }
}

#[test]
fn the_roads_in_a_buffer_are_those_that_geos_finds() {
    let plane = LocalPlane::at(8.0, 50.0);
    let at = |x: f64, y: f64| plane.to_position(Point::new(x, y));
    let driven = segment(1, "driven", vec![at(-900.0, 0.0), at(0.0, 300.0), at(900.0, 0.0)]);
    let mut draws = Draws(11);
    let mut place = || (3_000.0 * (draws.next() - 0.5), 2_000.0 * (draws.next() - 0.5));
    let others: Vec<SegmentRow> = (2..400)
        .map(|id| {
            let ((x, y), (dx, dy)) = (place(), place());
            segment(id, &format!("road {id}"), vec![at(x, y), at(x + 0.2 * dx, y + 0.2 * dy), at(x + 0.1 * dy, y)])
        })
        .collect();
    // Driven from 300 m on: what lies beside the part not driven is not nearby.
    let step = Step {
        segment_id: 1,
        forward: true,
        from_m: 300.0,
        to_m: driven.length_m,
        drive: 0,
        enter_s: None,
        leave_s: None,
    };
    let matched = Matched { steps: vec![step], ..Matched::default() };
    let segments = HashMap::from([(1, driven.clone())]);
    let part: Vec<Position> = [plane.to_position(
        plane.to_plane(driven.line[0]).towards(plane.to_plane(driven.line[1]), 300.0 / length_m(&driven.line[..2])),
    )]
    .into_iter()
    .chain(driven.line[1..].iter().copied())
    .collect();
    for buffer_m in [5.0, 60.0, 300.0] {
        let rows = DriveRows {
            matched: &matched,
            segments: &segments,
            overheads: &[],
            nearby: &others,
            worst: 0,
            buffer_m,
            edges: &Default::default(),
            outages: &Default::default(),
        };
        let found: Vec<String> = of_rows(&rows).nearby.into_iter().map(|r| r.road).collect();
        let around = |m: f64| geometry(&plane, &part).buffer(m, 64).unwrap();
        // A metre of tolerance: what GEOS finds inside must be found, what it does not find outside must not.
        let (inner, outer) = (around(buffer_m - 1.0), around(buffer_m + 1.0));
        let (mut inside, mut outside) = (0, 0);
        for s in &others {
            let (line, name) = (geometry(&plane, &s.line), s.name.clone().unwrap());
            if line.intersects(&inner) {
                assert!(found.contains(&name), "{name} lies within {buffer_m} m");
                inside += 1;
            } else if !line.intersects(&outer) {
                assert!(!found.contains(&name), "{name} does not lie within {buffer_m} m");
                outside += 1;
            }
        }
        assert!(inside > 10 && outside > 100, "{inside} {outside}");
    }
}
