//! Small networks drawn in metres around a place, and tracks along lines.
use waymask::ask::matching::TrackPoint;
use waymask::base::geodesy::{LocalPlane, Point, Position};
use waymask::layer::model::{EdgeRow, RoadRow};

use crate::ask::driven::Draws;

/// A network being drawn.
pub struct Network {
    pub plane: LocalPlane,
    pub rows: Vec<RoadRow>,
    pub edges: Vec<EdgeRow>,
}

impl Network {
    pub fn at(lon_deg: f64, lat_deg: f64) -> Self {
        Self { plane: LocalPlane::at(lon_deg, lat_deg), rows: Vec::new(), edges: Vec::new() }
    }
    pub fn position(&self, (x_m, y_m): (f64, f64)) -> Position {
        let at = self.plane.to_position(Point::new(x_m, y_m));
        // As maps write it on the other side of the antimeridian.
        let turn = 3_600_000_000_i64;
        let lon = i64::from(at.lon_e7);
        let lon = if lon > turn / 2 { lon - turn } else { lon };
        Position { lon_e7: lon as i32, ..at }
    }
    /// A road of one segment between two nodes; its segment id.
    pub fn road(&mut self, nodes: (i64, i64), line: &[(f64, f64)], two_way: bool) -> i64 {
        let way_id = self.rows.len() as i64 + 1;
        let line: Vec<Position> = line.iter().map(|p| self.position(*p)).collect();
        let mut edge = |from_node: i64, to_node: i64, forward: bool| {
            let edge_id = self.edges.len() as i64 + 1;
            self.edges.push(EdgeRow { edge_id, from_node, to_node, way_id, forward, ..EdgeRow::default() });
            edge_id
        };
        let edge_forward = Some(edge(nodes.0, nodes.1, true));
        let edge_backward = two_way.then(|| edge(nodes.1, nodes.0, false));
        let row = RoadRow { segment_id: way_id, way_id, edge_forward, edge_backward, line, ..RoadRow::default() };
        self.rows.push(row);
        way_id
    }
    /// Points every `step_m` along a line from its start to its end, scattered.
    pub fn track(&self, line: &[(f64, f64)], step_m: f64, noise_m: f64, seed: u64) -> Vec<TrackPoint> {
        let (mut draws, mut out, mut next_m, mut done_m) = (Draws(seed), Vec::new(), 0.0, 0.0);
        for pair in line.windows(2) {
            let (a, b) = (Point::new(pair[0].0, pair[0].1), Point::new(pair[1].0, pair[1].1));
            let length_m = a.distance_m(b);
            while next_m <= done_m + length_m {
                let p = a.towards(b, (next_m - done_m) / length_m);
                let at = self.position((p.x_m + noise_m * draws.normal(), p.y_m + noise_m * draws.normal()));
                out.push(TrackPoint { at, time_s: None });
                next_m += step_m;
            }
            done_m += length_m;
        }
        out
    }
}
