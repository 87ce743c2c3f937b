//! Buildings, walls, cliffs and cuttings around one cell as upright edges and slabs.
//!
//! In: footprints and lines of an extract near a window, heights above the ground by tag or default,
//! and elevation where there is any. Out: [`Solids`]: edges, footprints and slabs in trees, each found from
//! every place whose usable sky it may reach into. What is open below is a slab: roofs, and parts that
//! start high above the ground. No angles and no stations here.
use rstar::RTree;
use rstar::primitives::Rectangle;

use super::banks::bank_edges;
use super::edge::SolidEdge;
use super::measured::Measured;
use super::slabs::{Carriageways, Slab, is_slab};
use crate::base::geodesy::Point;
use crate::base::window::Elevation;
use crate::base::words::PerCase;
use crate::map::extract::model::{BarrierKind, Building};
use crate::physics::scene::boxed::{InBox, at};
use crate::physics::scene::building::BuildingHeight;
use crate::physics::scene::rings::contains;
use crate::physics::scene::vicinity::Vicinity;
use crate::profile::{Barriers, Cases, Profile};

/// Parts replace an outline from this share of its area on; assumed.
const LEAST_COVERED: f64 = 0.5;
/// On land with elevation edges also stand above the road by the ground's rise; they are looked for this much
/// further away, metres. Beyond it the hill itself closes the sky a building on it could.
pub(crate) const RISE_REACH_M: f64 = 200.0;

/// Height of a barrier without a tag, metres.
fn barrier_height_m(kind: BarrierKind, assumed: &Barriers) -> f64 {
    match kind {
        BarrierKind::Wall => assumed.wall_m,
        BarrierKind::RetainingWall => assumed.retaining_wall_m,
        BarrierKind::Bank => assumed.bank_m,
        BarrierKind::NoiseBarrier => assumed.noise_barrier_m,
        BarrierKind::Cliff => assumed.cliff_m,
    }
}

/// Whether a barrier holds the ground up on the left of its line: it rises only for those below, on the right.
fn rises_for_the_right(kind: BarrierKind) -> bool {
    matches!(kind, BarrierKind::RetainingWall | BarrierKind::Cliff | BarrierKind::Bank)
}

#[derive(Debug, Clone, PartialEq)]
struct Footprint {
    rings: Vec<Vec<Point>>,
    building: u32,
}

/// Solid things around one cell.
#[derive(Debug)]
pub struct Solids {
    edges: RTree<InBox<SolidEdge>>,
    footprints: RTree<InBox<Footprint>>,
    slabs: RTree<InBox<Slab>>,
}

impl Solids {
    /// Collects what is solid in a vicinity and is not measured. `lowest_elevation_deg` is the lowest elevation anyone will ask
    /// about.
    pub fn build(
        around: &Vicinity,
        elevation: Option<&Elevation>,
        measured: Option<&Measured>,
        cases: &Cases,
        lowest_elevation_deg: f64,
    ) -> Self {
        let mut gather = Gathered {
            edges: Vec::new(),
            footprints: Vec::new(),
            slabs: Vec::new(),
            elevation,
            reach_per_m: 1.0 / lowest_elevation_deg.clamp(1.0, 89.0).to_radians().tan(),
        };
        let shapes = Shapes::of(around);
        let roads = Carriageways::of(around);
        for (building, rings, _) in &shapes.0 {
            let Some(b) = around.extract.buildings.get(*building as usize) else {
                continue;
            };
            if is_slab(b) {
                let base_z_m = rings.first().and_then(|ring| lowest_z_m(elevation, ring));
                gather.slab(Slab::of(b, around.height(*building, b), rings, base_z_m, &roads));
            } else if measured.is_some_and(|m| m.gives(*building)) {
                gather.footprint(*building, rings);
            } else if !shapes.replaced(b, rings) {
                gather.building(*building, around.height(*building, b), rings);
            }
        }
        gather.barriers(around, cases);
        for edge in bank_edges(around, elevation, cases) {
            gather.edge(edge);
        }
        Self {
            edges: RTree::bulk_load(gather.edges),
            footprints: RTree::bulk_load(gather.footprints),
            slabs: RTree::bulk_load(gather.slabs),
        }
    }

    /// Number of edges.
    pub fn len(&self) -> usize {
        self.edges.size()
    }
    /// Whether there is neither an edge nor a slab.
    pub fn is_empty(&self) -> bool {
        self.len() == 0 && self.slabs.size() == 0
    }
    /// Edges that may reach into the usable sky of a place.
    pub(crate) fn edges_around(&self, p: Point) -> impl Iterator<Item = &SolidEdge> {
        self.edges.locate_in_envelope_intersecting(at(p)).map(|e| &e.data)
    }
    /// Slabs that may reach into the usable sky of a place.
    pub(crate) fn slabs_around(&self, p: Point) -> impl Iterator<Item = &Slab> {
        self.slabs.locate_in_envelope_intersecting(at(p)).map(|s| &s.data)
    }
    /// Buildings solid to the ground whose footprint a place lies in, ascending indices into [`crate::map::extract::model::Extract::buildings`].
    pub fn buildings_over(&self, p: Point) -> Vec<u32> {
        let mut over: Vec<u32> = self
            .footprints
            .locate_in_envelope_intersecting(at(p))
            .filter(|f| contains(&f.data.rings, p))
            .map(|f| f.data.building)
            .collect();
        over.sort_unstable();
        over
    }
}

/// Buildings near a window: index, rings in the plane, and whether a part that stands on the ground.
struct Shapes(Vec<(u32, Vec<Vec<Point>>, bool)>);

impl Shapes {
    fn of(around: &Vicinity) -> Self {
        let solid = |i: &u32| {
            let b = around.extract.buildings.get(*i as usize)?;
            let solid = b.layer >= 0 && b.area.outer.len() >= 4;
            solid.then(|| (*i, around.rings(&b.area), b.part && !is_slab(b)))
        };
        Self(around.near.buildings.iter().filter_map(solid).collect())
    }
    /// Whether parts that stand on the ground cover most of an outline: they say more about it than it does. Where only
    /// a tower is drawn as a part, the outline stays, or the rest of the building would be gone.
    fn replaced(&self, outline: &Building, rings: &[Vec<Point>]) -> bool {
        let Some((low, high)) = bounds(rings).filter(|_| !outline.part) else {
            return false;
        };
        let on_outline = |part: &&(u32, Vec<Vec<Point>>, bool)| {
            let middle = part.1.first().filter(|_| part.2).and_then(|ring| middle(ring));
            middle.is_some_and(|m| {
                let near = m.x_m >= low[0] && m.x_m <= high[0] && m.y_m >= low[1] && m.y_m <= high[1];
                near && contains(rings, m)
            })
        };
        let covered_m2: f64 = self.0.iter().filter(on_outline).map(|(_, part, _)| area_m2(part)).sum();
        covered_m2 > LEAST_COVERED * area_m2(rings)
    }
}

struct Gathered<'a> {
    edges: Vec<InBox<SolidEdge>>,
    footprints: Vec<InBox<Footprint>>,
    slabs: Vec<InBox<Slab>>,
    elevation: Option<&'a Elevation>,
    reach_per_m: f64,
}

impl Gathered<'_> {
    fn building(&mut self, index: u32, height: BuildingHeight, rings: &[Vec<Point>]) {
        let BuildingHeight { height_m, low_m, high_m, tagged } = height;
        let heights_m = PerCase { best: low_m, likely: height_m, worst: high_m };
        let base_z_m = rings.first().and_then(|ring| lowest_z_m(self.elevation, ring));
        for pair in rings.iter().flat_map(|ring| ring.windows(2)) {
            let building = Some(index);
            self.edge(SolidEdge {
                a: pair[0],
                b: pair[1],
                heights_m,
                base_z_m,
                right_only: false,
                seen_within_m: f64::INFINITY,
                building,
                assumed: !tagged,
            });
        }
        self.footprint(index, rings);
    }
    fn footprint(&mut self, index: u32, rings: &[Vec<Point>]) {
        if let Some((low, high)) = bounds(rings) {
            let footprint = Footprint { rings: rings.to_vec(), building: index };
            self.footprints.push(InBox::new(Rectangle::from_corners(low, high), footprint));
        }
    }
    fn barriers(&mut self, around: &Vicinity, cases: &Cases) {
        for barrier in around.barriers() {
            let tagged_m = barrier.height_m.map(f64::from).filter(|h| h.is_finite() && *h > 0.0);
            let in_case = |profile: &Profile| tagged_m.unwrap_or(barrier_height_m(barrier.kind, &profile.barrier));
            let heights_m = PerCase::of(|case| in_case(cases.profile(case)));
            let line = around.line(&barrier.line);
            for pair in line.windows(2) {
                self.edge(SolidEdge {
                    a: pair[0],
                    b: pair[1],
                    heights_m,
                    base_z_m: lowest_z_m(self.elevation, pair),
                    right_only: rises_for_the_right(barrier.kind),
                    seen_within_m: f64::INFINITY,
                    building: None,
                    assumed: tagged_m.is_none(),
                });
            }
        }
    }
    fn slab(&mut self, slab: Slab) {
        let corners = bounds(&slab.rings);
        if let Some(reach) = corners.and_then(|c| self.reach(c, slab.tops_m.worst, slab.base_z_m.is_some())) {
            self.slabs.push(InBox::new(reach, slab));
        }
    }
    fn edge(&mut self, edge: SolidEdge) {
        let low = [edge.a.x_m.min(edge.b.x_m), edge.a.y_m.min(edge.b.y_m)];
        let high = [edge.a.x_m.max(edge.b.x_m), edge.a.y_m.max(edge.b.y_m)];
        if let Some(reach) = self.reach((low, high), edge.highest_m(), edge.base_z_m.is_some()) {
            self.edges.push(InBox::new(reach, edge));
        }
    }
    /// From where something of a height within some corners may reach into the usable sky; `None` where that is not finite.
    fn reach(&self, (low, high): ([f64; 2], [f64; 2]), height_m: f64, on_land: bool) -> Option<Rectangle<[f64; 2]>> {
        let reach_m = height_m * self.reach_per_m + if on_land { RISE_REACH_M } else { 0.0 };
        let (low, high) = (low.map(|v| v - reach_m), high.map(|v| v + reach_m));
        let finite = low.iter().chain(&high).all(|v| v.is_finite());
        finite.then(|| Rectangle::from_corners(low, high))
    }
}

/// Lowest ground under some points, metres.
fn lowest_z_m<'p>(elevation: Option<&Elevation>, points: impl IntoIterator<Item = &'p Point>) -> Option<f64> {
    let elevation = elevation?;
    points.into_iter().filter_map(|p| elevation.height_m(*p)).map(f64::from).reduce(f64::min)
}

fn bounds(rings: &[Vec<Point>]) -> Option<([f64; 2], [f64; 2])> {
    let outer = rings.first().filter(|ring| !ring.is_empty())?;
    let fold = |f: fn(f64, f64) -> f64, start: f64| {
        [outer.iter().fold(start, |v, p| f(v, p.x_m)), outer.iter().fold(start, |v, p| f(v, p.y_m))]
    };
    Some((fold(f64::min, f64::INFINITY), fold(f64::max, f64::NEG_INFINITY)))
}

/// Area of rings, holes taken off, square metres.
fn area_m2(rings: &[Vec<Point>]) -> f64 {
    let twice = |ring: &Vec<Point>| ring.windows(2).map(|w| w[0].x_m * w[1].y_m - w[1].x_m * w[0].y_m).sum::<f64>();
    let mut areas = rings.iter().map(|ring| twice(ring).abs() / 2.0);
    areas.next().unwrap_or(0.0) - areas.sum::<f64>()
}

/// Mean of a closed ring's corners.
fn middle(ring: &[Point]) -> Option<Point> {
    let corners = ring.get(..ring.len().checked_sub(1)?).filter(|c| !c.is_empty())?;
    let n = corners.len() as f64;
    Some(Point::new(corners.iter().map(|p| p.x_m).sum::<f64>() / n, corners.iter().map(|p| p.y_m).sum::<f64>() / n))
}
