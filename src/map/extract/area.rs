//! The shape of what the map draws as an area.
use serde::{Deserialize, Serialize};

use super::steps::{line, lines};

use crate::base::geodesy::{LocalPlane, Position};

/// A closed ring of positions, the first repeated at the end, at least four positions.
pub type Ring = Vec<Position>;

/// A polygon with holes.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Area {
    /// Outer ring.
    #[serde(with = "line")]
    pub outer: Ring,
    /// Holes.
    #[serde(with = "lines")]
    pub inners: Vec<Ring>,
}

impl Area {
    /// Ground it covers, holes taken off, square metres; none for what has no outline.
    pub fn ground_m2(&self) -> f64 {
        let Some(first) = self.outer.first() else { return 0.0 };
        let plane = LocalPlane::at_position(*first);
        let of = |ring: &Ring| {
            let points: Vec<_> = ring.iter().map(|p| plane.to_plane(*p)).collect();
            points.windows(2).map(|w| w[0].x_m * w[1].y_m - w[1].x_m * w[0].y_m).sum::<f64>().abs() / 2.0
        };
        (of(&self.outer) - self.inners.iter().map(of).sum::<f64>()).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Point;

    #[test]
    fn the_ground_of_a_square_is_its_side_squared() {
        let plane = LocalPlane::at(10.0, 46.0);
        let square = |half_m: f64| {
            let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0)];
            corners.iter().map(|(x, y)| plane.to_position(Point::new(x * half_m, y * half_m))).collect()
        };
        let area = Area { outer: square(20.0), inners: vec![square(5.0)] };
        assert!((area.ground_m2() - (1600.0 - 100.0)).abs() < 2.0, "{}", area.ground_m2());
    }
}
