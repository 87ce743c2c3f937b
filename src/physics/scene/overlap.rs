//! Which buildings of one map stand where those of another do.
use rstar::RTree;
use rstar::primitives::Rectangle;

use super::boxed::InBox;
use super::rings::{contains, rings_on_plane};
use crate::base::geodesy::{LocalPlane, Point, Position};
use crate::map::extract::model::Building;

/// Some buildings, to be asked whether another overlaps one of them.
pub struct Overlaps<'a> {
    buildings: &'a [Building],
    tree: RTree<InBox<usize>>,
}

impl<'a> Overlaps<'a> {
    /// Of these.
    pub fn new(buildings: &'a [Building]) -> Self {
        let boxed = |(i, b): (usize, &Building)| Some(InBox::new(rectangle(b)?, i));
        Self { buildings, tree: RTree::bulk_load(buildings.iter().enumerate().filter_map(boxed).collect()) }
    }
    /// Whether a good part of a building, or of one of these, lies in the other.
    pub fn any(&self, other: &Building) -> bool {
        let Some(rectangle) = rectangle(other) else { return false };
        let corners = rstar::AABB::from_corners(rectangle.lower(), rectangle.upper());
        self.tree.locate_in_envelope_intersecting(corners).any(|b| overlap(other, &self.buildings[b.data]))
    }
}

/// The box around an outline, degrees.
fn rectangle(building: &Building) -> Option<Rectangle<[f64; 2]>> {
    let outer = &building.area.outer;
    let corner = |p: &Position| [p.lon_deg(), p.lat_deg()];
    let first = corner(outer.first()?);
    let (mut low, mut high) = (first, first);
    for p in outer.iter().map(corner) {
        for axis in 0..2 {
            (low[axis], high[axis]) = (low[axis].min(p[axis]), high[axis].max(p[axis]));
        }
    }
    Some(Rectangle::from_corners(low, high))
}

/// Whether a good part of one lies in the other: neighbours that share a wall do not overlap, whatever a metre of error in
/// either survey says.
fn overlap(a: &Building, b: &Building) -> bool {
    let Some(origin) = a.area.outer.first() else { return false };
    let plane = LocalPlane::at_position(*origin);
    let (a, b) = (rings_on_plane(&plane, &a.area), rings_on_plane(&plane, &b.area));
    inside(&a, &b) || inside(&b, &a)
}

/// Whether a quarter or more of a grid of places in one set of rings lies in another.
fn inside(of: &[Vec<Point>], other: &[Vec<Point>]) -> bool {
    const ON_SIDE: usize = 8;
    let Some(outer) = of.first() else { return false };
    let range = |pick: fn(&Point) -> f64| {
        outer.iter().map(pick).fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)))
    };
    let ((west, east), (south, north)) = (range(|p| p.x_m), range(|p| p.y_m));
    let at = |low: f64, high: f64, k: usize| low + (high - low) * (k as f64 + 0.5) / ON_SIDE as f64;
    let (mut own, mut shared) = (0, 0);
    for row in 0..ON_SIDE {
        for column in 0..ON_SIDE {
            let place = Point::new(at(west, east, column), at(south, north, row));
            if contains(of, place) {
                own += 1;
                shared += usize::from(contains(other, place));
            }
        }
    }
    own > 0 && 4 * shared >= own
}
