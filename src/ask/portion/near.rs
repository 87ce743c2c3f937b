//! What lies near lines, however long these are.
use rstar::primitives::Line;
use rstar::{PointDistance, RTree};

use crate::base::geodesy::{Position, distance_m, lon_on_earth_deg, unwrapped_deg};
use crate::physics::orbit::frames::Observer;

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
    let to_deg = unwrapped_deg(a.lon_deg(), b.lon_deg());
    let lon_deg = lon_on_earth_deg(a.lon_deg() + (to_deg - a.lon_deg()) * share);
    Position::from_deg(lon_deg, a.lat_deg() + (b.lat_deg() - a.lat_deg()) * share)
}

/// Metres from the middle of the earth, at no height.
fn in_space(at: Position) -> [f64; 3] {
    Observer::at(at.lat_deg(), at.lon_deg(), 0.0).place_km().map(|km| km * 1e3)
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
