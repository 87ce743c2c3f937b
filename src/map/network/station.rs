//! Places on the travelled lane where the sky is computed.
use super::model::{Segment, Station};
use crate::base::geodesy::{LocalPlane, Point, Position, turn_deg};
use crate::base::words::Direction;

impl Segment {
    /// Whether the segment is driven in a direction.
    pub fn driven(&self, direction: Direction) -> bool {
        match direction {
            Direction::Forward => self.forward,
            Direction::Backward => self.backward,
        }
    }
    /// Speed of the road in a direction, km/h, before the profile's factor.
    pub fn speed_kmh(&self, direction: Direction) -> f32 {
        match direction {
            Direction::Forward => self.speed_forward_kmh.value,
            Direction::Backward => self.speed_backward_kmh.value,
        }
    }
    /// Middle of its line, roughly: the middle of its bounding box.
    pub fn middle(&self) -> Position {
        middle(&self.line)
    }
}

/// Middle of a line, roughly: the middle of its bounding box.
pub(super) fn middle(line: &[Position]) -> Position {
    /// A turn around the earth, 1e-7 degrees.
    const TURN_E7: i64 = 3_600_000_000;
    let first_e7 = line.first().map_or(0, |p| i64::from(p.lon_e7));
    // A line across the antimeridian runs on: its middle is not on the other side of the earth.
    let lon = line.iter().map(|p| match i64::from(p.lon_e7) - first_e7 {
        east if east > TURN_E7 / 2 => first_e7 + east - TURN_E7,
        west if west < -TURN_E7 / 2 => first_e7 + west + TURN_E7,
        near => first_e7 + near,
    });
    let lat = line.iter().map(|p| i64::from(p.lat_e7));
    let mid = |min: Option<i64>, max: Option<i64>| (min.unwrap_or(0) + max.unwrap_or(0)) / 2;
    let lon_e7 = match mid(lon.clone().min(), lon.max()) {
        beyond if beyond > TURN_E7 / 2 => beyond - TURN_E7,
        before if before < -TURN_E7 / 2 => before + TURN_E7,
        on_earth => on_earth,
    };
    Position { lon_e7: lon_e7 as i32, lat_e7: mid(lat.clone().min(), lat.max()) as i32 }
}

/// A point of a line with the heading of the line there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinePoint {
    /// Where.
    pub at: Point,
    /// Heading in line order, degrees.
    pub heading_deg: f64,
}

/// Evenly spaced points of a line, `count` of them from its first to its last position (at least two).
///
/// At a bend the heading is the mean of the two pieces', so that lane offsets meet.
pub fn spaced(line: &[Point], count: u32) -> Vec<LinePoint> {
    let mut ends_m = Vec::with_capacity(line.len());
    let mut total_m = 0.0;
    ends_m.push(0.0);
    for w in line.windows(2) {
        total_m += w[0].distance_m(w[1]);
        ends_m.push(total_m);
    }
    let mut piece = 0;
    (0..count)
        .map(|i| {
            let along_m = total_m * f64::from(i) / f64::from(count.max(2) - 1);
            while piece + 2 < line.len() && ends_m[piece + 1] < along_m {
                piece += 1;
            }
            let piece_m = ends_m[piece + 1] - ends_m[piece];
            let t = if piece_m > 0.0 { ((along_m - ends_m[piece]) / piece_m).clamp(0.0, 1.0) } else { 0.0 };
            LinePoint { at: line[piece].towards(line[piece + 1], t), heading_deg: heading_deg(line, piece, t, piece_m) }
        })
        .collect()
}

/// Heading within a piece, turning over the last five metres before a bend towards the mean.
fn heading_deg(line: &[Point], piece: usize, t: f64, piece_m: f64) -> f64 {
    const BLEND_M: f64 = 5.0;
    let own = line[piece].azimuth_deg(line[piece + 1]);
    let (to_end_m, from_start_m) = ((1.0 - t) * piece_m, t * piece_m);
    let toward = |other: f64, distance_m: f64| {
        let share = 0.5 * (1.0 - distance_m / BLEND_M).clamp(0.0, 1.0);
        own + share * turn_deg(own, other)
    };
    if to_end_m < from_start_m && piece + 2 < line.len() {
        toward(line[piece + 1].azimuth_deg(line[piece + 2]), to_end_m)
    } else if from_start_m <= to_end_m && piece > 0 {
        toward(line[piece - 1].azimuth_deg(line[piece]), from_start_m)
    } else {
        own
    }
}

/// The stations of a segment in the order they are driven. `road_z_m` are the road's heights at the
/// stations in node order (NaN without elevation).
pub fn stations(segment: &Segment, direction: Direction, plane: &LocalPlane, road_z_m: &[f32]) -> Vec<Station> {
    let line: Vec<Point> = segment.line.iter().map(|p| plane.to_plane(*p)).collect();
    let points = spaced(&line, segment.stations);
    let offset_m = f64::from(match direction {
        Direction::Forward => segment.section.lane_forward_m,
        Direction::Backward => segment.section.lane_backward_m,
    });
    let last = f64::from(segment.stations - 1);
    let make = |(i, p): (usize, &LinePoint)| {
        let share = i as f64 / last;
        let (along, heading_deg) = match direction {
            Direction::Forward => (share, p.heading_deg),
            Direction::Backward => (1.0 - share, p.heading_deg + 180.0),
        };
        Station {
            at: p.at.moved(p.heading_deg + 90.0, offset_m),
            along_m: along * segment.length_m,
            heading_deg: crate::base::geodesy::normal_deg(heading_deg),
            road_z_m: road_z_m.get(i).copied().filter(|z| !z.is_nan()),
        }
    };
    let mut out: Vec<Station> = points.iter().enumerate().map(make).collect();
    if direction == Direction::Backward {
        out.reverse();
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::RoadClass;
    use crate::map::network::test_roads::{cut_anywhere, plane, road_along};

    #[test]
    fn stations_lie_on_the_lane_and_mirror_backward() {
        let r = road_along(1, RoadClass::Secondary, &[(1, 0.0, 0.0), (2, 0.0, 100.0)]);
        let n = cut_anywhere(&[r]);
        let s = &n.segments[0];
        let z: Vec<f32> = (0..s.stations).map(|i| i as f32).collect();
        let forward = stations(s, Direction::Forward, &plane(), &z);
        let backward = stations(s, Direction::Backward, &plane(), &z);
        assert_eq!(forward.len(), 11);
        // Northward in right-hand traffic the lane is east of the middle; southward west of it.
        assert!((forward[3].at.x_m - 1.65).abs() < 0.02 && (backward[3].at.x_m + 1.65).abs() < 0.02);
        assert!((forward[3].heading_deg - 0.0).abs() < 0.01 && (backward[3].heading_deg - 180.0).abs() < 0.01);
        assert!((forward[3].along_m - 30.0).abs() < 0.1 && (backward[3].along_m - 30.0).abs() < 0.1);
        assert_eq!((forward[3].road_z_m, backward[3].road_z_m), (Some(3.0), Some(7.0)));
    }

    #[test]
    fn the_middle_of_a_line_across_the_antimeridian_lies_on_it() {
        let line = |lons: [f64; 3]| lons.map(|lon| Position::from_deg(lon, -17.0));
        let lon_deg = |lons| middle(&line(lons)).lon_deg();
        assert!((lon_deg([179.9, 179.95, -179.96]) - 179.97).abs() < 1e-6);
        assert!((lon_deg([-179.9, -179.95, 179.96]) + 179.97).abs() < 1e-6);
        assert!((lon_deg([9.0, 9.5, 10.0]) - 9.5).abs() < 1e-6);
    }

    #[test]
    fn headings_turn_smoothly_through_a_bend() {
        let line = [Point::new(0.0, 0.0), Point::new(0.0, 50.0), Point::new(50.0, 50.0)];
        let points = spaced(&line, 11);
        assert!((points[5].heading_deg - 45.0).abs() < 1e-6);
        assert_eq!(points[2].heading_deg, 0.0);
        assert_eq!(points[8].heading_deg, 90.0);
        assert!(points[5].at.distance_m(line[1]) < 1e-9);
    }
}
