//! Where the vehicle stands at a place to stop, and whether under a roof.
//!
//! In: a place of the map, what can be stood on around it, its aisles, pitches and roofs. Out: a [`Stand`].
use super::footing::{Footing, is_aisle};
use crate::base::geodesy::Point;
use crate::base::words::StandsOn;
use crate::base::words::{Roofed, RoofedBy, StopKind};
use crate::map::extract::model::{Area, Shelter, StopPlace};
use crate::map::network::model::Segment;
use crate::map::network::station::spaced;
use crate::physics::scene::index::Window;
use crate::physics::scene::rings::{contains, rings_on_plane};
use crate::physics::scene::vicinity::Vicinity;

/// A roof this near to a fuel station drawn as a point is taken for its own, metres; assumed.
const ROOF_WITHIN_M: f64 = 30.0;
/// Whoever draws roofs this near to a fuel station that has an outline would have drawn the one over its pumps, metres; assumed.
const ROOFS_DRAWN_WITHIN_M: f64 = 100.0;
/// An aisle inside a building this near to a fuel station is that under which its pumps stand, metres; assumed.
const PUMPS_WITHIN_M: f64 = 15.0;
/// Free ground is looked for this far from a place, metres; assumed.
const MOVED_AT_MOST_M: f64 = 30.0;
/// The same within the outline of a place, metres; assumed.
const WITHIN_OUTLINE_M: f64 = 100.0;
/// Half the width of a vehicle and room to open its doors, metres; assumed.
const VEHICLE_M: f64 = 1.5;
/// Places along an aisle are this far apart, metres.
const AISLE_STEP_M: f64 = 3.0;

/// Where the vehicle stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stand {
    /// Place in the plane of the cell.
    pub at: Point,
    /// What it stands on.
    pub on: StandsOn,
    /// Whether it is under a roof.
    pub roofed: Roofed,
    /// What says so.
    pub roofed_from: RoofedBy,
}

/// Roofs, aisles and pitches around one cell.
#[derive(Debug)]
pub(crate) struct Sites {
    /// Rings of drawn roofs.
    roofs: Vec<Vec<Vec<Point>>>,
    /// Places along service roads.
    aisles: Vec<Point>,
    pitches: Vec<Point>,
}

impl Sites {
    /// Collects what is in a vicinity.
    pub fn build(around: &Vicinity) -> Self {
        let roofs = around.buildings().filter(|b| b.roof_only && b.area.outer.len() >= 4);
        let open_aisle =
            |s: &&Segment| s.tunnel.is_none() && !s.bridge && is_aisle(around.extract.roads[s.road.at()].class);
        let aisles = around.segments().filter(open_aisle);
        let along = aisles.flat_map(|s| {
            let count = (s.length_m / AISLE_STEP_M).ceil() as u32 + 1;
            spaced(&around.line(&s.line), count.max(2))
        });
        let pitches = around.stops().filter(|s| s.kind == StopKind::CampPitch);
        Self {
            roofs: roofs.map(|b| around.rings(&b.area)).collect(),
            aisles: along.map(|p| p.at).collect(),
            pitches: pitches.map(|s| around.window.plane.to_plane(s.at)).collect(),
        }
    }

    /// Where the vehicle stands at a place.
    pub fn stand(&self, window: &Window, footing: &Footing, place: &StopPlace) -> Stand {
        let middle = window.plane.to_plane(place.at);
        let outline = place.outline.as_ref().map(|area: &Area| rings_on_plane(&window.plane, area));
        let inside = |roofed| Stand { at: middle, on: StandsOn::Building, roofed, roofed_from: RoofedBy::Parking };
        let told = match place.shelter {
            Shelter::Enclosed => return inside(Roofed::Yes),
            Shelter::Rooftop => return Stand { roofed_from: RoofedBy::None, ..inside(Roofed::No) },
            Shelter::Covered => Some((Roofed::Yes, RoofedBy::Tag)),
            Shelter::Sheds => Some((Roofed::Yes, RoofedBy::Parking)),
            Shelter::Uncovered => Some((Roofed::No, RoofedBy::Tag)),
            Shelter::Untold => None,
        };
        let search = StandSearch { sites: self, footing, middle, outline: outline.as_deref() };
        let (at, on) = search.find(place.kind);
        if self.roofs.iter().any(|rings| contains(rings, at)) {
            return Stand { at, on: StandsOn::Roof, roofed: Roofed::Yes, roofed_from: RoofedBy::Roof };
        }
        let fuel = place.kind == StopKind::Fuel;
        if fuel
            && told.is_none()
            && let Some(at) = search.under_building()
        {
            // Where it has walls is not known: no cable is laid out of it.
            return Stand { at, on: StandsOn::Building, roofed: Roofed::Yes, roofed_from: RoofedBy::Roof };
        }
        let (roofed, roofed_from) = told.unwrap_or_else(|| match outline.as_deref() {
            _ if !fuel => (Roofed::No, RoofedBy::None),
            Some(outline) if self.draws_roofs(outline) => (Roofed::No, RoofedBy::Outline),
            // Most stations have one, and most maps do not.
            _ => (Roofed::Unknown, RoofedBy::None),
        });
        Stand { at, on, roofed, roofed_from }
    }

    /// Whether roofs are drawn near an outline.
    fn draws_roofs(&self, outline: &[Vec<Point>]) -> bool {
        let near = |p: &Point| {
            contains(outline, *p) || outline.iter().flatten().any(|o| o.distance_m(*p) <= ROOFS_DRAWN_WITHIN_M)
        };
        self.roofs.iter().flatten().flatten().any(near)
    }
}

/// The search for one place.
struct StandSearch<'a> {
    sites: &'a Sites,
    footing: &'a Footing,
    middle: Point,
    outline: Option<&'a [Vec<Point>]>,
}

impl StandSearch<'_> {
    fn find(&self, kind: StopKind) -> (Point, StandsOn) {
        if kind == StopKind::Fuel
            && let Some(at) = self.under_roof()
        {
            return (at, StandsOn::Roof);
        }
        // An aisle keeps panels off, not the vehicle.
        let inside = |p: &&Point| self.outline.is_some_and(|rings| contains(rings, **p));
        let standing = |p: &&Point| inside(p) && self.footing.aisle(**p);
        if let Some(at) = self.nearest(self.sites.aisles.iter().filter(standing)) {
            return (at, StandsOn::Aisle);
        }
        let free = |p: &&Point| inside(p) && self.footing.free(**p);
        let camp = matches!(kind, StopKind::CampSite | StopKind::CaravanSite);
        if camp && let Some(at) = self.nearest(self.sites.pitches.iter().filter(free)) {
            return (at, StandsOn::Pitch);
        }
        match self.free_ground() {
            Some(at) if kind == StopKind::CampPitch => (at, StandsOn::Pitch),
            Some(at) => (at, StandsOn::Ground),
            None if self.footing.in_building(self.middle) => (self.middle, StandsOn::Building),
            None => (self.middle, StandsOn::Point),
        }
    }
    fn nearest<'p>(&self, points: impl Iterator<Item = &'p Point>) -> Option<Point> {
        points.copied().min_by(|a, b| a.distance_m(self.middle).total_cmp(&b.distance_m(self.middle)))
    }
    /// Under the roof of a fuel station, on its aisle where one runs there.
    fn under_roof(&self) -> Option<Point> {
        let of_roof = |rings: &Vec<Vec<Point>>| {
            let inner = inner_point(rings)?;
            let own = match self.outline {
                Some(outline) => contains(outline, inner) || contains(rings, self.middle),
                None => contains(rings, self.middle) || inner.distance_m(self.middle) < ROOF_WITHIN_M,
            };
            own.then_some(inner)
        };
        let own = self.sites.roofs.iter().filter_map(|rings| Some((of_roof(rings)?, rings)));
        let (inner, rings) = own.min_by(|a, b| a.0.distance_m(self.middle).total_cmp(&b.0.distance_m(self.middle)))?;
        let below = self.sites.aisles.iter().filter(|p| contains(rings, **p));
        let aisle = below.min_by(|a, b| a.distance_m(inner).total_cmp(&b.distance_m(inner)));
        Some(aisle.copied().unwrap_or(inner))
    }
    /// Where an aisle runs through the building that stands over a fuel station.
    fn under_building(&self) -> Option<Point> {
        if !self.footing.in_building(self.middle) {
            return None;
        }
        let below = |p: &&Point| p.distance_m(self.middle) <= PUMPS_WITHIN_M && self.footing.in_building(**p);
        self.nearest(self.sites.aisles.iter().filter(below))
    }
    /// The free place nearest to the middle, inside the outline where there is one.
    fn free_ground(&self) -> Option<Point> {
        let most_m = if self.outline.is_some() { WITHIN_OUTLINE_M } else { MOVED_AT_MOST_M };
        let inside = |p: &Point| self.outline.is_none_or(|rings| contains(rings, *p));
        let with_room = |room_m: f64| spiral(self.middle, most_m).find(|p| inside(p) && self.footing.room(*p, room_m));
        with_room(VEHICLE_M).or_else(|| with_room(0.0))
    }
}

/// Places around a middle, from near to far: rings 2 m apart of sixteen each.
fn spiral(middle: Point, most_m: f64) -> impl Iterator<Item = Point> {
    let rings = (most_m / 2.0) as usize;
    let around = (1..=rings).flat_map(move |r| (0..16).map(move |i| middle.moved(22.5 * f64::from(i), 2.0 * r as f64)));
    std::iter::once(middle).chain(around)
}

/// A place inside rings: the mean of the outer corners, or what a grid over them finds.
fn inner_point(rings: &[Vec<Point>]) -> Option<Point> {
    const STEPS: usize = 8;
    let corners = rings.first()?.split_last()?.1;
    let n = corners.len() as f64;
    let sum = corners.iter().fold(Point::default(), |s, p| Point::new(s.x_m + p.x_m, s.y_m + p.y_m));
    let mean = Point::new(sum.x_m / n, sum.y_m / n);
    if contains(rings, mean) {
        return Some(mean);
    }
    let low = corners.iter().fold(mean, |l, p| Point::new(l.x_m.min(p.x_m), l.y_m.min(p.y_m)));
    let high = corners.iter().fold(mean, |h, p| Point::new(h.x_m.max(p.x_m), h.y_m.max(p.y_m)));
    let at = |low: f64, high: f64, i: usize| low + (high - low) * (i as f64 + 0.5) / STEPS as f64;
    let grid =
        (0..STEPS * STEPS).map(|i| Point::new(at(low.x_m, high.x_m, i % STEPS), at(low.y_m, high.y_m, i / STEPS)));
    grid.filter(|p| contains(rings, *p)).min_by(|a, b| a.distance_m(mean).total_cmp(&b.distance_m(mean)))
}
