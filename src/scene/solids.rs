//! Buildings, walls and cliffs around one cell as upright edges.
//!
//! In: footprints and lines of an extract near a [`Window`], heights above the ground by tag or default,
//! and elevation where there is any. Out: [`Solids`]: edges and footprints in two trees, each edge found from
//! every place whose usable sky it may reach into. What is open below is not solid: roofs, and parts that
//! start high above a lane. No angles and no stations here.
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

use super::index::{Nearby, Window, line_on_plane, rings_on_plane};
use super::lane_path::contains;
use crate::extract::model::{BarrierKind, Building, Extract};
use crate::geodesy::Point;
use crate::network::model::Network;
use crate::terrain::grid::Elevation;

/// Height of a storey, metres; common practice, no source.
pub const STOREY_M: f64 = 3.0;
/// Height of buildings without any height tag, metres: two storeys; assumed.
pub const BUILDING_HEIGHT_M: f64 = 6.0;
/// A part that starts higher than this above the ground may stand over a lane, metres; assumed.
pub const OVER_LANE_M: f32 = 2.5;
/// On land with elevation edges also stand above the road by the ground's rise; they are looked for this much
/// further away, metres. Beyond it the hill itself closes the sky a building on it could.
pub const RISE_REACH_M: f64 = 200.0;

/// Height of a barrier without a tag, metres; assumed.
pub fn barrier_height_m(kind: BarrierKind) -> f64 {
    match kind {
        BarrierKind::Wall => 2.0,
        BarrierKind::RetainingWall => 3.0,
        BarrierKind::NoiseBarrier => 4.0,
        BarrierKind::Cliff => 10.0,
    }
}

/// Height of a building above the ground, metres, and whether tags gave it.
pub fn building_height_m(building: &Building) -> (f64, bool) {
    let usable = |v: Option<f32>| v.map(f64::from).filter(|h| h.is_finite() && *h > 0.0);
    if let Some(height_m) = usable(building.height_m) {
        return (height_m, true);
    }
    let roof_m = usable(building.roof_height_m).or(usable(building.roof_levels).map(|n| n * STOREY_M));
    match usable(building.levels) {
        Some(levels) => (levels * STOREY_M + roof_m.unwrap_or(0.0), true),
        None => (BUILDING_HEIGHT_M, false),
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
}

impl Solids {
    /// Collects the solid edges near a window. `lowest_elevation_deg` is the lowest elevation anyone will ask about.
    pub fn build(
        window: &Window,
        extract: &Extract,
        network: &Network,
        near: &Nearby,
        elevation: Option<&Elevation>,
        lowest_elevation_deg: f64,
    ) -> Self {
        let mut gather = Gather {
            edges: Vec::new(),
            footprints: Vec::new(),
            elevation,
            reach_per_m: 1.0 / lowest_elevation_deg.clamp(1.0, 89.0).to_radians().tan(),
        };
        let shapes = Shapes::of(window, extract, near);
        let lanes = Lanes::of(window, network, near);
        for (building, rings, _) in &shapes.0 {
            let Some(b) = extract.buildings.get(*building as usize) else {
                continue;
            };
            let over_lane = b.min_height_m.is_some_and(|m| m > OVER_LANE_M) && lanes.touch(rings);
            if !over_lane && !shapes.replaced(b, rings) {
                gather.building(*building, b, rings);
            }
        }
        for i in &near.barriers {
            let Some(barrier) = extract.barriers.get(*i as usize) else {
                continue;
            };
            let tagged_m = barrier.height_m.map(f64::from).filter(|h| h.is_finite() && *h > 0.0);
            let line = line_on_plane(&window.plane, &barrier.line);
            for pair in line.windows(2) {
                gather.edge(SolidEdge {
                    a: pair[0],
                    b: pair[1],
                    height_m: tagged_m.unwrap_or(barrier_height_m(barrier.kind)),
                    base_z_m: lowest_z_m(elevation, pair),
                    right_only: barrier.kind == BarrierKind::Cliff,
                    building: None,
                    assumed: tagged_m.is_none(),
                });
            }
        }
        Self { edges: RTree::bulk_load(gather.edges), footprints: RTree::bulk_load(gather.footprints) }
    }

    /// Whether the height of any edge is a default.
    pub fn any_assumed(&self) -> bool {
        self.edges.iter().any(|e| e.data.assumed)
    }

    /// Number of edges.
    pub fn len(&self) -> usize {
        self.edges.size()
    }
    /// Whether there is nothing solid.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
    /// Edges that may reach into the usable sky of a place.
    pub fn edges_around(&self, p: Point) -> impl Iterator<Item = &SolidEdge> {
        self.edges.locate_in_envelope_intersecting(at(p)).map(|e| &e.data)
    }
    /// Buildings whose footprint a place lies in, ascending indices into [`Extract::buildings`].
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

/// Solid buildings near a window: index, rings in the plane, and whether a part.
struct Shapes(Vec<(u32, Vec<Vec<Point>>, bool)>);

impl Shapes {
    fn of(window: &Window, extract: &Extract, near: &Nearby) -> Self {
        let solid = |i: &u32| {
            let b = extract.buildings.get(*i as usize)?;
            let solid = !b.roof_only && b.layer >= 0 && b.area.outer.len() >= 4;
            solid.then(|| (*i, rings_on_plane(&window.plane, &b.area), b.part))
        };
        Self(near.buildings.iter().filter_map(solid).collect())
    }
    /// Whether parts stand on the ground an outline covers: they say more about it than it does.
    fn replaced(&self, outline: &Building, rings: &[Vec<Point>]) -> bool {
        let Some((low, high)) = bounds(rings) else {
            return false;
        };
        let on_outline = |part: &[Vec<Point>]| {
            part.first().and_then(|ring| middle(ring)).is_some_and(|m| {
                let near = m.x_m >= low[0] && m.x_m <= high[0] && m.y_m >= low[1] && m.y_m <= high[1];
                near && contains(rings, m)
            })
        };
        !outline.part && self.0.iter().any(|(_, part, is_part)| *is_part && on_outline(part))
    }
}

/// Carriageways near a window: pieces of centre line and half the width, metres.
struct Lanes(Vec<(Point, Point, f64)>);

impl Lanes {
    fn of(window: &Window, network: &Network, near: &Nearby) -> Self {
        let mut lanes = Vec::new();
        for segment in near.segments.iter().filter_map(|i| network.segments.get(*i as usize)) {
            let half_m = f64::from(segment.section.width_m.value) / 2.0;
            let line = line_on_plane(&window.plane, &segment.line);
            lanes.extend(line.windows(2).map(|w| (w[0], w[1], half_m)));
        }
        Self(lanes)
    }
    /// Whether a carriageway runs through or into a footprint.
    fn touch(&self, rings: &[Vec<Point>]) -> bool {
        self.0.iter().any(|(a, b, half_m)| {
            let edges = || rings.iter().flat_map(|ring| ring.windows(2));
            contains(rings, *a) || edges().any(|e| pieces_within(*a, *b, e[0], e[1], *half_m))
        })
    }
}

struct Gather<'a> {
    edges: Vec<Indexed<SolidEdge>>,
    footprints: Vec<Indexed<Footprint>>,
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
                building,
                assumed: !tagged,
            });
        }
        if let Some((low, high)) = bounds(rings) {
            let footprint = Footprint { rings: rings.to_vec(), building: index };
            self.footprints.push(GeomWithData::new(Rectangle::from_corners(low, high), footprint));
        }
    }
    fn edge(&mut self, edge: SolidEdge) {
        let rise_m = if edge.base_z_m.is_some() { RISE_REACH_M } else { 0.0 };
        let reach_m = edge.height_m * self.reach_per_m + rise_m;
        let low = [edge.a.x_m.min(edge.b.x_m) - reach_m, edge.a.y_m.min(edge.b.y_m) - reach_m];
        let high = [edge.a.x_m.max(edge.b.x_m) + reach_m, edge.a.y_m.max(edge.b.y_m) + reach_m];
        if low.iter().chain(&high).all(|v| v.is_finite()) {
            self.edges.push(GeomWithData::new(Rectangle::from_corners(low, high), edge));
        }
    }
}

/// Lowest ground under some points, metres.
fn lowest_z_m(elevation: Option<&Elevation>, points: &[Point]) -> Option<f64> {
    let elevation = elevation?;
    points.iter().filter_map(|p| elevation.height_m(*p)).map(f64::from).reduce(f64::min)
}

fn bounds(rings: &[Vec<Point>]) -> Option<([f64; 2], [f64; 2])> {
    let outer = rings.first().filter(|ring| !ring.is_empty())?;
    let fold = |f: fn(f64, f64) -> f64, start: f64| {
        [outer.iter().fold(start, |v, p| f(v, p.x_m)), outer.iter().fold(start, |v, p| f(v, p.y_m))]
    };
    Some((fold(f64::min, f64::INFINITY), fold(f64::max, f64::NEG_INFINITY)))
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

/// Whether two straight pieces cross or come closer than a distance.
fn pieces_within(a: Point, b: Point, c: Point, d: Point, distance_m: f64) -> bool {
    let side = |p: Point, q: Point, r: Point| (q.x_m - p.x_m) * (r.y_m - p.y_m) - (q.y_m - p.y_m) * (r.x_m - p.x_m);
    let cross = side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0;
    cross
        || [(a, c, d), (b, c, d), (c, a, b), (d, a, b)]
            .iter()
            .any(|(p, q, r)| distance_to_piece_m(*p, *q, *r) < distance_m)
}
