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
    /// Share of a building's ground that these cover together, and which of them cover any of it. Neighbours that share a wall
    /// cover next to nothing of each other, whatever a metre of error in either survey says.
    pub fn over(&self, other: &Building) -> (f64, Vec<usize>) {
        let (Some(rectangle), Some(origin)) = (rectangle(other), other.area.outer.first()) else {
            return (0.0, Vec::new());
        };
        let plane = LocalPlane::at_position(*origin);
        let corners = rstar::AABB::from_corners(rectangle.lower(), rectangle.upper());
        let near: Vec<(usize, Vec<Vec<Point>>)> = self
            .tree
            .locate_in_envelope_intersecting(corners)
            .map(|b| (b.data, rings_on_plane(&plane, &self.buildings[b.data].area)))
            .collect();
        let (mut own, mut covered) = (0, 0);
        let mut covers: Vec<usize> = Vec::new();
        for place in places(&rings_on_plane(&plane, &other.area)) {
            own += 1;
            let before = covers.len();
            let over = near.iter().filter(|(_, rings)| contains(rings, place)).map(|(i, _)| *i);
            covers.extend(over);
            covered += usize::from(covers.len() > before);
        }
        covers.sort_unstable();
        covers.dedup();
        (if own > 0 { f64::from(covered as u32) / f64::from(own) } else { 0.0 }, covers)
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

/// Places spread evenly over the ground of some rings.
fn places(of: &[Vec<Point>]) -> Vec<Point> {
    const ON_SIDE: usize = 12;
    let Some(outer) = of.first() else { return Vec::new() };
    let range = |pick: fn(&Point) -> f64| {
        outer.iter().map(pick).fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)))
    };
    let ((west, east), (south, north)) = (range(|p| p.x_m), range(|p| p.y_m));
    let at = |low: f64, high: f64, k: usize| low + (high - low) * (k as f64 + 0.5) / ON_SIDE as f64;
    let all = (0..ON_SIDE * ON_SIDE).map(|k| Point::new(at(west, east, k % ON_SIDE), at(south, north, k / ON_SIDE)));
    all.filter(|p| contains(of, *p)).collect()
}
