//! Where things are: one tree of bounding rectangles over an extract, asked once per cell.
//!
//! In: an [`Extract`] and its [`Network`]. Out: per [`Window`] the indices of everything whose
//! rectangle touches it, in ascending order. Rectangles are in degrees, made from whole 1e-7 degrees
//! and so always finite; a query with a bound that is not finite finds nothing.
use rstar::primitives::Rectangle;
use rstar::{AABB, RTree};

use super::boxed::{InBox, TURNS_DEG, box_of};
use super::building::BuildingHeights;
use crate::base::geodesy::{LocalPlane, Point, Position};
use crate::base::index::SegmentIndex;
use crate::base::words::Case;
use crate::map::extract::model::{BarredShape, CanopyShape, DeckShape, Extract};
use crate::map::network::model::Network;

/// Default width of the border around a cell from which things still reach into its sky, metres.
///
/// A 60 m tree or tower reaches 129 m at 25 degrees; assumed, on the safe side.
pub const HALO_M: f64 = 200.0;

/// One over the tangent of 20 degrees: how far a building reaches per metre of its height, in the lowest cone a
/// profile sensibly asks for.
const REACH_PER_HEIGHT: f64 = 2.75;
/// No building is higher, metres (the highest one stands 828 m: Council on Tall Buildings and Urban Habitat, Burj Khalifa).
const HIGHEST_M: f64 = 1000.0;

/// A square of the region with its border, in its own plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Plane with its origin in the middle of the square.
    pub plane: LocalPlane,
    /// Half the side of the square, metres.
    pub half_size_m: f64,
    /// Width of the border on every side, metres; [`HALO_M`] unless there is a reason.
    pub halo_m: f64,
}

impl Window {
    /// A window with the default border.
    pub fn new(plane: LocalPlane, half_size_m: f64) -> Self {
        Self { plane, half_size_m, halo_m: HALO_M }
    }
    /// Half the side with the border, metres.
    pub fn reach_m(&self) -> f64 {
        self.half_size_m + self.halo_m
    }
}

/// What a rectangle of the tree is around: an index into the extract or network.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Thing {
    Canopy(u32),
    Building(u32),
    Barrier(u32),
    Segment(SegmentIndex),
    Deck(u32),
    Barred(u32),
    Stop(u32),
}

/// Indices of what lies near a window, each list ascending.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Nearby {
    /// Into [`Extract::canopy`].
    pub canopy: Vec<u32>,
    /// Into [`Extract::buildings`].
    pub buildings: Vec<u32>,
    /// Into [`Extract::barriers`].
    pub barriers: Vec<u32>,
    /// Into [`Network::segments`].
    pub segments: Vec<SegmentIndex>,
    /// Into [`Extract::decks`].
    pub decks: Vec<u32>,
    /// Into [`Extract::barred`].
    pub barred: Vec<u32>,
    /// Into [`Extract::stops`].
    pub stops: Vec<u32>,
}

impl Nearby {
    /// Puts every list in order, each index once.
    fn put_in_order(&mut self) {
        let Self { canopy, buildings, barriers, segments, decks, barred, stops } = self;
        [canopy, buildings, barriers, decks, barred, stops].into_iter().for_each(in_order);
        in_order(segments);
    }
}

/// The tree over a whole extract.
#[derive(Debug)]
pub struct FeatureIndex {
    tree: RTree<InBox<Thing>>,
}

impl FeatureIndex {
    /// Builds the tree; features without a position are left out.
    pub fn new(extract: &Extract, network: &Network, heights: &BuildingHeights) -> Self {
        let mut entries = Vec::with_capacity(
            extract.canopy.len()
                + extract.buildings.len()
                + extract.barriers.len()
                + network.segments.len()
                + extract.decks.len()
                + extract.barred.len()
                + extract.stops.len(),
        );
        for (i, c) in numbered(&extract.canopy) {
            add(&mut entries, canopy_positions(&c.shape), 0.0, Thing::Canopy(i));
        }
        for (i, b) in numbered(&extract.buildings) {
            // Towers reach beyond the border; without a bound a slip in a tag would be near everything.
            let height_m = heights.height(i, b, Case::Worst).height_m.min(HIGHEST_M);
            let beyond_m = (height_m * REACH_PER_HEIGHT - HALO_M).max(0.0);
            add(&mut entries, &b.area.outer, beyond_m, Thing::Building(i));
        }
        for (i, b) in numbered(&extract.barriers) {
            add(&mut entries, &b.line, 0.0, Thing::Barrier(i));
        }
        for (i, s) in SegmentIndex::numbered(&network.segments) {
            add(&mut entries, &s.line, 0.0, Thing::Segment(i));
        }
        for (i, d) in numbered(&extract.decks) {
            let positions = match &d.shape {
                DeckShape::Line(line) => line,
                DeckShape::Outline(area) => &area.outer,
            };
            add(&mut entries, positions, 0.0, Thing::Deck(i));
        }
        for (i, b) in numbered(&extract.barred) {
            let positions = match &b.shape {
                BarredShape::Line(line) => line,
                BarredShape::Area(area) => &area.outer,
            };
            add(&mut entries, positions, 0.0, Thing::Barred(i));
        }
        for (i, s) in numbered(&extract.stops) {
            add(&mut entries, std::slice::from_ref(&s.at), 0.0, Thing::Stop(i));
        }
        Self { tree: RTree::bulk_load(entries) }
    }

    /// Everything whose rectangle touches the window with its border.
    pub fn near(&self, window: &Window) -> Nearby {
        let reach_m = window.reach_m();
        let (west, south) = window.plane.to_lon_lat(Point::new(-reach_m, -reach_m));
        let (east, north) = window.plane.to_lon_lat(Point::new(reach_m, reach_m));
        let mut near = Nearby::default();
        for turn_deg in TURNS_DEG {
            self.collect([west + turn_deg, south], [east + turn_deg, north], &mut near);
        }
        near.put_in_order();
        near
    }

    fn collect(&self, low: [f64; 2], high: [f64; 2], near: &mut Nearby) {
        if !low.iter().chain(&high).all(|v| v.is_finite()) {
            return;
        }
        for entry in self.tree.locate_in_envelope_intersecting(AABB::from_corners(low, high)) {
            match entry.data {
                Thing::Canopy(i) => near.canopy.push(i),
                Thing::Building(i) => near.buildings.push(i),
                Thing::Barrier(i) => near.barriers.push(i),
                Thing::Segment(i) => near.segments.push(i),
                Thing::Deck(i) => near.decks.push(i),
                Thing::Barred(i) => near.barred.push(i),
                Thing::Stop(i) => near.stops.push(i),
            }
        }
    }
}

fn in_order<I: Ord>(list: &mut Vec<I>) {
    list.sort_unstable();
    list.dedup();
}

fn numbered<T>(items: &[T]) -> impl Iterator<Item = (u32, &T)> {
    (0u32..).zip(items)
}

fn canopy_positions(shape: &CanopyShape) -> &[Position] {
    match shape {
        CanopyShape::Wood(area) | CanopyShape::Orchard(area) => &area.outer,
        CanopyShape::Row(line) | CanopyShape::Hedge(line) => line,
        CanopyShape::Tree(at) => std::slice::from_ref(at),
    }
}

/// Adds the rectangle around some positions, grown by `beyond_m` on every side.
fn add(entries: &mut Vec<InBox<Thing>>, positions: &[Position], beyond_m: f64, thing: Thing) {
    let Some(first) = positions.first() else {
        return;
    };
    let (mut low, mut high) = box_of(first, positions);
    if beyond_m > 0.0 {
        (low, high) = grown(low, high, beyond_m);
    }
    entries.push(InBox::new(Rectangle::from_corners(low, high), thing));
}

/// Corners of a box grown by some metres, degrees.
fn grown(low: [f64; 2], high: [f64; 2], by_m: f64) -> ([f64; 2], [f64; 2]) {
    let moved =
        |[lon_deg, lat_deg]: [f64; 2], by_m| LocalPlane::at(lon_deg, lat_deg).to_lon_lat(Point::new(by_m, by_m));
    (moved(low, -by_m).into(), moved(high, by_m).into())
}
