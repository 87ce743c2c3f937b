//! Whether places lie in polygons, however many corners these have.
use geo::{Coord, MultiPolygon};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

use crate::base::geodesy::Position;
use crate::layer::Bounds;

/// Farther east than any place, degrees.
const FAR_EAST_DEG: f64 = 1_000.0;

type RingEdge = GeomWithData<Rectangle<[f64; 2]>, (Coord<f64>, Coord<f64>)>;

/// Edges of all rings of polygons.
pub(super) struct RingEdges {
    edges: RTree<RingEdge>,
    /// A box around each polygon.
    pub boxes: Vec<Bounds>,
}

impl RingEdges {
    pub fn of(polygons: &MultiPolygon<f64>) -> Self {
        let rings = polygons.iter().flat_map(|p| std::iter::once(p.exterior()).chain(p.interiors()));
        let edge = |(a, b): (Coord<f64>, Coord<f64>)| {
            GeomWithData::new(Rectangle::from_corners([a.x, a.y], [b.x, b.y]), (a, b))
        };
        let edges = rings.flat_map(|ring| ring.lines()).map(|line| edge((line.start, line.end)));
        let corners = |p: &geo::Polygon<f64>| -> Vec<Position> {
            p.exterior().coords().map(|c| Position::from_deg(c.x, c.y)).collect()
        };
        let boxes = polygons.iter().filter_map(|p| Bounds::around(&corners(p))).collect();
        Self { edges: RTree::bulk_load(edges.collect()), boxes }
    }
    /// Whether a place lies inside: a line eastwards from it crosses an odd number of edges. Only those that it can cross are
    /// looked at.
    pub fn hold(&self, at: Position) -> bool {
        let (x, y) = (at.lon_deg(), at.lat_deg());
        let eastwards = AABB::from_corners([x, y], [FAR_EAST_DEG, y]);
        let crosses = |(a, b): &(Coord<f64>, Coord<f64>)| {
            (a.y > y) != (b.y > y) && x < a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x)
        };
        self.edges.locate_in_envelope_intersecting(eastwards).filter(|edge| crosses(&edge.data)).count() % 2 == 1
    }
}

#[cfg(test)]
mod tests {
    use geo::{Contains, LineString, Point, Polygon};

    use super::*;

    #[test]
    fn places_are_inside_where_another_library_finds_them() {
        // A star of many corners with a hole, and an island in it.
        let star = |x: f64, y: f64, wide: f64, corners: u32| {
            let at = |k: u32| {
                let turn = std::f64::consts::TAU * f64::from(k) / f64::from(corners);
                let far = wide * (1.0 + 0.4 * (7.0 * turn).sin());
                Coord { x: x + far * turn.cos(), y: y + far * turn.sin() }
            };
            LineString((0..=corners).map(|k| at(k % corners)).collect())
        };
        let ring = Polygon::new(star(1.5, 42.5, 0.4, 999), vec![star(1.5, 42.5, 0.2, 101)]);
        let all = MultiPolygon(vec![ring, Polygon::new(star(1.5, 42.5, 0.05, 37), vec![])]);
        let edges = RingEdges::of(&all);
        let mut inside = 0;
        for k in 0..40_u32 {
            for n in 0..40_u32 {
                let at = Position::from_deg(0.9 + f64::from(k) * 0.030_1, 41.9 + f64::from(n) * 0.030_3);
                let wanted = all.contains(&Point::new(at.lon_deg(), at.lat_deg()));
                assert_eq!(edges.hold(at), wanted, "{at:?}");
                inside += u32::from(wanted);
            }
        }
        assert!((200..1_000).contains(&inside), "{inside}");
        assert_eq!(edges.boxes.len(), 2);
    }
}
