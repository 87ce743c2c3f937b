//! What lies near lines, however long these are.
use rstar::primitives::Line;
use rstar::{PointDistance, RTree};

use crate::base::geodesy::{Position, distance_m};

/// Equatorial radius, metres, and first eccentricity squared of WGS 84 (NGA.STND.0036).
const RADIUS_M: f64 = 6_378_137.0;
const E2: f64 = 6.694_379_990_141e-3;
/// Longest straight line through the earth that stands for a line on it, metres: it runs less than a metre below.
const LONGEST_M: f64 = 5_000.0;

/// Lines on the earth, as straight lines in space.
pub(super) struct NearLines(RTree<Line<[f64; 3]>>);

impl NearLines {
    pub fn of<'p>(lines: impl IntoIterator<Item = &'p [Position]>) -> Self {
        let mut all = Vec::new();
        for line in lines {
            if let [only] = line {
                all.push(Line::new(in_space(*only), in_space(*only)));
            }
            for pair in line.windows(2) {
                let parts = (distance_m(pair[0], pair[1]) / LONGEST_M).ceil().max(1.0) as u32;
                let at = |k: u32| between(pair[0], pair[1], f64::from(k) / f64::from(parts));
                all.extend((0..parts).map(|k| Line::new(in_space(at(k)), in_space(at(k + 1)))));
            }
        }
        Self(RTree::bulk_load(all))
    }
    /// Whether a place lies within a distance of one of them, metres.
    pub fn within(&self, at: Position, distance_m: f64) -> bool {
        let at = in_space(at);
        self.0.nearest_neighbor(at).is_some_and(|line| line.distance_2(&at) <= distance_m * distance_m)
    }
}

/// A place between two, without a jump at the antimeridian.
fn between(a: Position, b: Position, share: f64) -> Position {
    let away = f64::from(b.lon_e7) - f64::from(a.lon_e7);
    let away = away - (away / 3.6e9).round() * 3.6e9;
    let lon_deg = crate::base::geodesy::lon_on_earth_deg((f64::from(a.lon_e7) + away * share) * 1e-7);
    Position::from_deg(lon_deg, a.lat_deg() + (b.lat_deg() - a.lat_deg()) * share)
}

/// Metres from the middle of the earth, at no height.
fn in_space(at: Position) -> [f64; 3] {
    let ((sin, cos), (sin_lon, cos_lon)) = (at.lat_deg().to_radians().sin_cos(), at.lon_deg().to_radians().sin_cos());
    let across_m = RADIUS_M / (1.0 - E2 * sin * sin).sqrt();
    [across_m * cos * cos_lon, across_m * cos * sin_lon, across_m * (1.0 - E2) * sin]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_those_of_the_plane_also_across_180_degrees() {
        for (lon, lat) in [(1.5, 42.5), (179.99, -17.0), (25.0, 69.0)] {
            let line =
                [Position::from_deg(lon, lat), Position::from_deg(if lon > 179.0 { -179.99 } else { lon + 0.02 }, lat)];
            let near = NearLines::of([&line[..]]);
            // A degree of latitude is 110.6 to 111.6 km long (NGA.STND.0036).
            let at = Position::from_deg(lon + 0.005, lat + 0.01);
            assert!(near.within(at, 1_120.0) && !near.within(at, 1_100.0), "{lon} {lat}");
        }
        let far = NearLines::of([&[Position::from_deg(0.0, 50.0), Position::from_deg(1.0, 50.0)][..]]);
        assert!(far.within(Position::from_deg(0.5, 50.0), 5.0), "a long line does not run below the ground");
        assert!(!NearLines::of([]).within(Position::from_deg(0.0, 0.0), 1e9));
    }
}
