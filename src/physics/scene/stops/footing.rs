//! Where something can be set down around one cell, and what a cable laid straight cannot cross.
//!
//! In: buildings, walls, water, tracks and carriageways near a window. Out: [`Footing`], asked for one place or one straight
//! line at a time. Under a roof counts as open ground: the sky decides there. Fences and whose ground it is are not known.
use rstar::primitives::Rectangle;
use rstar::{AABB, RTree};

use crate::base::geodesy::Point;
use crate::base::words::RoadClass;
use crate::map::extract::model::{Barred, BarredBy, BarredShape};
use crate::map::network::model::Segment;
use crate::physics::scene::boxed::{InBox, at};
use crate::physics::scene::rings::{contains, distance_to_piece_m};
use crate::physics::scene::solids::slabs::is_slab;
use crate::physics::scene::vicinity::Vicinity;

/// Nearest to a building or wall, metres; assumed: room for the feet of a stand.
pub const WALL_M: f64 = 0.5;
/// Nearest to the edge of water, metres; assumed.
pub(crate) const BANK_M: f64 = 1.0;
/// Nearest to the middle line of a railway track, metres; assumed: a vehicle is 3.2 m wide, and stays this far from people.
pub(crate) const TRACK_M: f64 = 4.0;
/// Beyond the edge of a carriageway, metres: past the shoulder of a motorway (10 ft, Interstate standard), else assumed.
pub(crate) fn beside_m(class: RoadClass) -> f64 {
    match class {
        RoadClass::Motorway | RoadClass::Trunk => 4.0,
        RoadClass::Primary | RoadClass::Secondary => 2.5,
        _ => 1.0,
    }
}

/// Width of running water without a tag, metres; assumed.
fn water_width_m(waterway: Option<&str>) -> f64 {
    match waterway {
        Some("river") => 10.0,
        Some("canal") => 8.0,
        Some("tidal_channel") => 5.0,
        Some("stream") => 2.0,
        _ => 1.5,
    }
}

/// A straight piece that keeps things off.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Strip {
    a: Point,
    b: Point,
    /// Nothing stands nearer to it than this, metres.
    off_m: f64,
    /// A cable may lie across it.
    crossable: bool,
}

/// An area nothing stands in: rings in the plane, and whether it is a building.
#[derive(Debug, Clone, PartialEq)]
struct Patch {
    rings: Vec<Vec<Point>>,
    building: bool,
}

/// Ground around one cell.
#[derive(Debug)]
pub struct Footing {
    strips: RTree<InBox<Strip>>,
    patches: RTree<InBox<Patch>>,
}

/// Whether only those drive on a road who stop there: aisles of car parks, ways of a camp site.
pub(crate) fn is_aisle(class: RoadClass) -> bool {
    class == RoadClass::Service
}

impl Footing {
    /// Collects what is in a vicinity.
    pub fn build(around: &Vicinity) -> Self {
        let mut gather = Obstacles { around, strips: Vec::new(), patches: Vec::new() };
        for b in around.buildings().filter(|b| b.layer >= 0 && b.area.outer.len() >= 4 && !is_slab(b)) {
            gather.area(around.rings(&b.area), WALL_M, true);
        }
        for b in around.barriers() {
            gather.line(&around.line(&b.line), WALL_M, false);
        }
        for b in around.barred() {
            gather.barred(b);
        }
        for s in around.segments() {
            gather.road(s, around.extract.roads[s.road.at()].class);
        }
        Self { strips: RTree::bulk_load(gather.strips), patches: RTree::bulk_load(gather.patches) }
    }

    /// Whether something can be set down at a place.
    pub fn free(&self, p: Point) -> bool {
        self.room(p, 0.0)
    }
    /// The same for what reaches `by_m` metres to every side.
    pub fn room(&self, p: Point, by_m: f64) -> bool {
        self.away(p, by_m, |_| true)
    }
    /// Whether a vehicle can stand at a place of a service road: off everything else.
    pub fn aisle(&self, p: Point) -> bool {
        self.away(p, 0.0, |s| !s.crossable)
    }
    fn away(&self, p: Point, by_m: f64, from: impl Fn(&Strip) -> bool) -> bool {
        let near = |s: &InBox<Strip>| from(&s.data) && distance_to_piece_m(p, s.data.a, s.data.b) < s.data.off_m + by_m;
        let around = AABB::from_corners([p.x_m - by_m, p.y_m - by_m], [p.x_m + by_m, p.y_m + by_m]);
        !self.inside(p, |_| true) && !self.strips.locate_in_envelope_intersecting(around).any(near)
    }
    /// Whether a place lies inside a building that stands on the ground.
    pub(crate) fn in_building(&self, p: Point) -> bool {
        self.inside(p, |patch| patch.building)
    }
    fn inside(&self, p: Point, which: impl Fn(&Patch) -> bool) -> bool {
        let around = self.patches.locate_in_envelope_intersecting(at(p));
        around.into_iter().any(|patch| which(&patch.data) && contains(&patch.data.rings, p))
    }
    /// Whether a cable can be laid straight from one place to another: not through a building, over a wall, through
    /// water, across tracks or a road that is more than a service road.
    pub(crate) fn cable_lies(&self, from: Point, to: Point) -> bool {
        let low = [from.x_m.min(to.x_m), from.y_m.min(to.y_m)];
        let high = [from.x_m.max(to.x_m), from.y_m.max(to.y_m)];
        let mut near = self.strips.locate_in_envelope_intersecting(AABB::from_corners(low, high));
        !near.any(|s| !s.data.crossable && cross(from, to, s.data.a, s.data.b))
    }
}

/// Whether a line from inside one side of a piece ends on its other side, and meets it.
fn cross(from: Point, to: Point, a: Point, b: Point) -> bool {
    let side = |p: Point, q: Point, r: Point| (q.x_m - p.x_m) * (r.y_m - p.y_m) - (q.y_m - p.y_m) * (r.x_m - p.x_m);
    side(a, b, from) * side(a, b, to) < 0.0 && side(from, to, a) * side(from, to, b) <= 0.0
}

struct Obstacles<'a> {
    around: &'a Vicinity<'a>,
    strips: Vec<InBox<Strip>>,
    patches: Vec<InBox<Patch>>,
}

impl Obstacles<'_> {
    fn line(&mut self, line: &[Point], off_m: f64, crossable: bool) {
        for pair in line.windows(2) {
            if let Some(around) = rectangle(pair, off_m) {
                let strip = Strip { a: pair[0], b: pair[1], off_m, crossable };
                self.strips.push(InBox::new(around, strip));
            }
        }
    }
    fn area(&mut self, rings: Vec<Vec<Point>>, off_m: f64, building: bool) {
        rings.iter().for_each(|ring| self.line(ring, off_m, false));
        if let Some(around) = rings.first().and_then(|outer| rectangle(outer, 0.0)) {
            self.patches.push(InBox::new(around, Patch { rings, building }));
        }
    }
    fn barred(&mut self, barred: &Barred) {
        let line = match &barred.shape {
            BarredShape::Area(area) => return self.area(self.around.rings(area), BANK_M, false),
            BarredShape::Line(line) => self.around.line(line),
        };
        let tagged_m = barred.width_m.map(f64::from);
        let off_m = match barred.by {
            BarredBy::Water => tagged_m.unwrap_or(water_width_m(barred.waterway.as_deref())) / 2.0 + BANK_M,
            BarredBy::Coast => BANK_M,
            BarredBy::Rail => TRACK_M,
        };
        self.line(&line, off_m, false);
    }
    /// What drives below the ground keeps nothing off; ferries do not drive.
    fn road(&mut self, segment: &Segment, class: RoadClass) {
        if segment.tunnel.is_none() && !class.is_boarded() {
            let off_m = f64::from(segment.section.width_m.value) / 2.0 + beside_m(class);
            self.line(&self.around.line(&segment.line), off_m, is_aisle(class));
        }
    }
}

/// The rectangle around points, grown by `by_m`; `None` where one is not finite.
fn rectangle(points: &[Point], by_m: f64) -> Option<Rectangle<[f64; 2]>> {
    let start = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    let (low, high) = points.iter().fold(start, |(low, high), p| {
        ([low[0].min(p.x_m), low[1].min(p.y_m)], [high[0].max(p.x_m), high[1].max(p.y_m)])
    });
    let (low, high) = (low.map(|v| v - by_m), high.map(|v| v + by_m));
    low.iter().chain(&high).all(|v| v.is_finite()).then(|| Rectangle::from_corners(low, high))
}
