//! Buildings, walls, cliffs and cuttings around one cell as upright edges and slabs.
//!
//! In: footprints and lines of an extract near a [`Window`], heights above the ground by tag or default,
//! and elevation where there is any. Out: [`Solids`]: edges, footprints and slabs in trees, each found from
//! every place whose usable sky it may reach into. What is open below is a slab: roofs, and parts that
//! start high above the ground. No angles and no stations here.
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

use super::banks::bank_edges;
use super::index::{Nearby, Window, line_on_plane, rings_on_plane};
use super::lane_path::contains;
use super::slabs::{Lanes, Slab, is_slab};
use crate::base::geodesy::Point;
use crate::base::window::Elevation;
use crate::map::extract::model::{BarrierKind, Building, Extract};
use crate::map::network::model::Network;
use crate::profile::Roadside;

/// Height of a storey, metres; common practice, no source.
pub const STOREY_M: f64 = 3.0;
/// Height of buildings without any height tag, metres: two storeys; assumed.
pub const BUILDING_HEIGHT_M: f64 = 6.0;
/// Parts replace an outline from this share of its area on; assumed.
const LEAST_COVERED: f64 = 0.5;
/// On land with elevation edges also stand above the road by the ground's rise; they are looked for this much
/// further away, metres. Beyond it the hill itself closes the sky a building on it could.
pub const RISE_REACH_M: f64 = 200.0;

/// Height of a barrier without a tag, metres; assumed.
pub fn barrier_height_m(kind: BarrierKind) -> f64 {
    match kind {
        BarrierKind::Wall => 2.0,
        BarrierKind::RetainingWall | BarrierKind::Bank => 3.0,
        BarrierKind::NoiseBarrier => 4.0,
        BarrierKind::Cliff => 10.0,
    }
}

/// Whether a barrier holds the ground up on the left of its line: it rises only for those below, on the right.
fn rises_for_the_right(kind: BarrierKind) -> bool {
    matches!(kind, BarrierKind::RetainingWall | BarrierKind::Cliff | BarrierKind::Bank)
}

/// Height of a building above the ground, metres, and whether tags gave it.
///
/// `height` reaches to the top of the roof; levels do not count the roof, so its height comes on top of them. What
/// would end below its own underside is taken as one storey above it.
pub fn building_height_m(building: &Building) -> (f64, bool) {
    let usable = |v: Option<f32>| v.map(f64::from).filter(|h| h.is_finite() && *h > 0.0);
    let roof_m = usable(building.roof_height_m).or(usable(building.roof_levels).map(|n| n * STOREY_M));
    let by_levels_m = usable(building.levels).map(|levels| levels * STOREY_M + roof_m.unwrap_or(0.0));
    let underside_m = usable(building.min_height_m).unwrap_or(0.0);
    match usable(building.height_m).or(by_levels_m) {
        Some(height_m) if height_m > underside_m => (height_m, true),
        None if BUILDING_HEIGHT_M > underside_m => (BUILDING_HEIGHT_M, false),
        _ => (underside_m + STOREY_M, false),
    }
}

/// One upright edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolidEdge {
    /// First end.
    pub a: Point,
    /// Last end.
    pub b: Point,
    /// Top above the ground at its foot, metres.
    pub height_m: f64,
    /// Height of the ground at its foot above the vertical datum, metres; `None` without elevation.
    pub base_z_m: Option<f64>,
    /// It only rises for those who stand right of the line from `a` to `b` (a cliff's high side is on its left).
    pub right_only: bool,
    /// It rises only for those nearer than this, metres: whoever stands farther from the rim of a cutting stands outside of
    /// the cutting, as high as the rim.
    pub seen_within_m: f64,
    /// Building it belongs to, index into [`Extract::buildings`].
    pub building: Option<u32>,
    /// Its height is a default, not a tag.
    pub assumed: bool,
}

impl SolidEdge {
    /// The part of it that lies within a distance of a place; `None` where there is none.
    pub fn within(&self, p: Point, distance_m: f64) -> Option<Self> {
        if distance_m == f64::INFINITY {
            return Some(*self);
        }
        let (ex, ey) = (self.b.x_m - self.a.x_m, self.b.y_m - self.a.y_m);
        let (px, py) = (p.x_m - self.a.x_m, p.y_m - self.a.y_m);
        let squared = ex * ex + ey * ey;
        if squared <= 0.0 {
            return None;
        }
        // Along the edge, its ends at 0 and 1: the foot of the perpendicular, and half the chord of the disc.
        let foot = (px * ex + py * ey) / squared;
        let aside_squared = px * px + py * py - foot * foot * squared;
        let half = ((distance_m * distance_m - aside_squared).max(0.0) / squared).sqrt();
        let (from, to) = ((foot - half).max(0.0), (foot + half).min(1.0));
        (from < to).then(|| Self { a: self.a.towards(self.b, from), b: self.a.towards(self.b, to), ..*self })
    }
}

#[derive(Debug, Clone, PartialEq)]
struct Footprint {
    rings: Vec<Vec<Point>>,
    building: u32,
}

type Indexed<T> = GeomWithData<Rectangle<[f64; 2]>, T>;

/// Solid things around one cell.
#[derive(Debug)]
pub struct Solids {
    edges: RTree<Indexed<SolidEdge>>,
    footprints: RTree<Indexed<Footprint>>,
    slabs: RTree<Indexed<Slab>>,
}

impl Solids {
    /// Collects what is solid near a window. `lowest_elevation_deg` is the lowest elevation anyone will ask about.
    pub fn build(
        window: &Window,
        extract: &Extract,
        network: &Network,
        near: &Nearby,
        elevation: Option<&Elevation>,
        roadside: &Roadside,
        lowest_elevation_deg: f64,
    ) -> Self {
        let mut gather = Gather {
            edges: Vec::new(),
            footprints: Vec::new(),
            slabs: Vec::new(),
            elevation,
            reach_per_m: 1.0 / lowest_elevation_deg.clamp(1.0, 89.0).to_radians().tan(),
        };
        let shapes = Shapes::of(window, extract, near);
        let lanes = Lanes::of(window, network, near);
        for (building, rings, _) in &shapes.0 {
            let Some(b) = extract.buildings.get(*building as usize) else {
                continue;
            };
            if is_slab(b) {
                let base_z_m = rings.first().and_then(|ring| lowest_z_m(elevation, ring));
                gather.slab(Slab::of(b, rings, base_z_m, &lanes));
            } else if !shapes.replaced(b, rings) {
                gather.building(*building, b, rings);
            }
        }
        gather.barriers(window, extract, near);
        for edge in bank_edges(window, extract, network, near, elevation, roadside) {
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
    pub fn edges_around(&self, p: Point) -> impl Iterator<Item = &SolidEdge> {
        self.edges.locate_in_envelope_intersecting(at(p)).map(|e| &e.data)
    }
    /// Slabs that may reach into the usable sky of a place.
    pub fn slabs_around(&self, p: Point) -> impl Iterator<Item = &Slab> {
        self.slabs.locate_in_envelope_intersecting(at(p)).map(|s| &s.data)
    }
    /// Buildings solid to the ground whose footprint a place lies in, ascending indices into [`Extract::buildings`].
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

/// A query for one place; a place that is not finite finds nothing.
fn at(p: Point) -> AABB<[f64; 2]> {
    let finite = p.x_m.is_finite() && p.y_m.is_finite();
    AABB::from_point(if finite { [p.x_m, p.y_m] } else { [f64::MAX; 2] })
}

/// Buildings near a window: index, rings in the plane, and whether a part that stands on the ground.
struct Shapes(Vec<(u32, Vec<Vec<Point>>, bool)>);

impl Shapes {
    fn of(window: &Window, extract: &Extract, near: &Nearby) -> Self {
        let solid = |i: &u32| {
            let b = extract.buildings.get(*i as usize)?;
            let solid = b.layer >= 0 && b.area.outer.len() >= 4;
            solid.then(|| (*i, rings_on_plane(&window.plane, &b.area), b.part && !is_slab(b)))
        };
        Self(near.buildings.iter().filter_map(solid).collect())
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

struct Gather<'a> {
    edges: Vec<Indexed<SolidEdge>>,
    footprints: Vec<Indexed<Footprint>>,
    slabs: Vec<Indexed<Slab>>,
    elevation: Option<&'a Elevation>,
    reach_per_m: f64,
}

impl Gather<'_> {
    fn building(&mut self, index: u32, building: &Building, rings: &[Vec<Point>]) {
        let (height_m, tagged) = building_height_m(building);
        let base_z_m = rings.first().and_then(|ring| lowest_z_m(self.elevation, ring));
        for pair in rings.iter().flat_map(|ring| ring.windows(2)) {
            let building = Some(index);
            self.edge(SolidEdge {
                a: pair[0],
                b: pair[1],
                height_m,
                base_z_m,
                right_only: false,
                seen_within_m: f64::INFINITY,
                building,
                assumed: !tagged,
            });
        }
        if let Some((low, high)) = bounds(rings) {
            let footprint = Footprint { rings: rings.to_vec(), building: index };
            self.footprints.push(GeomWithData::new(Rectangle::from_corners(low, high), footprint));
        }
    }
    fn barriers(&mut self, window: &Window, extract: &Extract, near: &Nearby) {
        for barrier in near.barriers.iter().filter_map(|i| extract.barriers.get(*i as usize)) {
            let tagged_m = barrier.height_m.map(f64::from).filter(|h| h.is_finite() && *h > 0.0);
            let line = line_on_plane(&window.plane, &barrier.line);
            for pair in line.windows(2) {
                self.edge(SolidEdge {
                    a: pair[0],
                    b: pair[1],
                    height_m: tagged_m.unwrap_or(barrier_height_m(barrier.kind)),
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
        if let Some(reach) = corners.and_then(|c| self.reach(c, slab.top_m, slab.base_z_m.is_some())) {
            self.slabs.push(GeomWithData::new(reach, slab));
        }
    }
    fn edge(&mut self, edge: SolidEdge) {
        let low = [edge.a.x_m.min(edge.b.x_m), edge.a.y_m.min(edge.b.y_m)];
        let high = [edge.a.x_m.max(edge.b.x_m), edge.a.y_m.max(edge.b.y_m)];
        if let Some(reach) = self.reach((low, high), edge.height_m, edge.base_z_m.is_some()) {
            self.edges.push(GeomWithData::new(reach, edge));
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

/// Distance from a point to a straight piece, metres.
pub fn distance_to_piece_m(p: Point, a: Point, b: Point) -> f64 {
    let (ex, ey) = (b.x_m - a.x_m, b.y_m - a.y_m);
    let squared = ex * ex + ey * ey;
    let t = if squared > 0.0 { ((p.x_m - a.x_m) * ex + (p.y_m - a.y_m) * ey) / squared } else { 0.0 };
    p.distance_m(a.towards(b, t.clamp(0.0, 1.0)))
}
