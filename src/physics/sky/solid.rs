//! Horizon of buildings, walls and cliffs around one station.
//!
//! In: [`Solids`] and an [`Eye`]. Out: one horizon per azimuth bin, degrees. Each edge is upright and straight, so its
//! distance along an azimuth is exact (`tan h = H / distance`, the street-canyon mask of ITU-R P.681-11
//! section 4.4). A bin is looked at along five azimuths; its horizon is the one that hides the same mean solid angle above
//! the lowest elevation. What a slab hides begins above the horizontal; it counts by its solid angle as
//! well, so a bin's horizon hides as much sky as there is hidden, if lower than where it is.
use super::ground::{Eye, directions};
use super::mask::{AZIMUTH_BINS, SkyGrid};
use crate::base::geodesy::{Point, normal_deg, turn_deg};
use crate::base::index::SegmentIndex;
use crate::base::words::{Case, PerCase};
use crate::physics::scene::rings::contains;
use crate::physics::scene::rings::distance_to_piece_m;
use crate::physics::scene::solids::edge::SolidEdge;
use crate::physics::scene::solids::index::Solids;
use crate::physics::scene::solids::slabs::Slab;

/// Azimuths looked at per bin.
const PER_BIN: usize = 5;
/// Azimuths looked at all round.
const RAYS: usize = AZIMUTH_BINS * PER_BIN;
/// Nothing stands nearer to the panel than this, metres. An edge that does has no direction worth the name: the
/// road runs through it, as at the mouth of a passage or a gate.
const NEAREST_M: f64 = 0.05;
/// Which side of its outline a building lies on is looked at this far from a station on it, metres.
const PROBE_M: f64 = 0.25;

/// What was painted around one station.
#[derive(Debug, Clone, PartialEq)]
pub struct Painted {
    /// Buildings the station is inside of, ascending indices into [`crate::map::extract::model::Extract::buildings`]; they
    /// are left out: a road does not run inside a building.
    pub inside: Vec<u32>,
    /// Something whose height is a default hides sky that nothing of known height hides.
    pub assumed: bool,
    /// Share of the sky above the lowest elevation that assumed heights hide as well where they are as high as they may be.
    pub may_hide: f64,
}

/// What stands along every azimuth looked at, as tangents of elevations.
struct Rays {
    /// Tops of what is solid to the ground, by tag and by default.
    tagged: [f64; RAYS],
    assumed: [f64; RAYS],
    /// Tops of the latter where they are as low and as high as they may be.
    best: [f64; RAYS],
    worst: [f64; RAYS],
    slabs: Vec<Band>,
    any: bool,
}

/// What one slab hides along one azimuth: from its lowest to its highest direction, tangents.
struct Band {
    ray: usize,
    low: f64,
    high: PerCase<f64>,
    assumed: bool,
}

impl Rays {
    fn new() -> Self {
        let nothing = [f64::NEG_INFINITY; RAYS];
        Self { tagged: nothing, assumed: nothing, best: nothing, worst: nothing, slabs: Vec::new(), any: false }
    }
    fn raise(&mut self, ray: usize, tangent: f64, assumed: bool) {
        let top = if assumed { &mut self.assumed[ray] } else { &mut self.tagged[ray] };
        *top = top.max(tangent);
        self.any = true;
    }
    /// The top of what is solid to the ground along a ray.
    fn top(&self, ray: usize, case: Case) -> f64 {
        let assumed = match case {
            Case::Best => self.best[ray],
            Case::Likely => self.assumed[ray],
            Case::Worst => self.worst[ray],
        };
        self.tagged[ray].max(assumed)
    }
}

/// Paints solid things into horizons.
#[derive(Debug, Clone)]
pub struct SolidPainter {
    directions: Vec<(f64, f64)>,
    floor_tan: f64,
    floor_sin: f64,
}

impl SolidPainter {
    /// A painter for masks of one grid.
    pub fn new(grid: SkyGrid) -> Self {
        let floor = grid.floor_deg.to_radians();
        Self { directions: directions(RAYS), floor_tan: floor.tan(), floor_sin: floor.sin() }
    }

    /// Raises `horizon_deg` to what stands around the eye. `segment` is the one the eye drives on: what stands over
    /// it is left out, because it is an interval of the lane.
    pub fn paint(
        &self,
        solids: &Solids,
        eye: &Eye,
        segment: Option<SegmentIndex>,
        horizon_deg: &mut [f32; AZIMUTH_BINS],
    ) -> Painted {
        self.paint_beside(solids, eye, &beside(segment), horizon_deg)
    }

    /// The same for what is assumed of heights at either end of its range as well.
    pub fn paint_cases(
        &self,
        solids: &Solids,
        eye: &Eye,
        segment: Option<SegmentIndex>,
        horizons_deg: &mut PerCase<[f32; AZIMUTH_BINS]>,
    ) -> Painted {
        let (rays, inside) = self.look(solids, eye, &beside(segment));
        let mut assumed = false;
        if rays.any {
            for case in [Case::Best, Case::Worst] {
                self.fill(&rays, case, &mut horizons_deg[case]);
            }
            assumed = self.fill(&rays, Case::Likely, &mut horizons_deg.likely);
        }
        Painted { inside, assumed, may_hide: self.may_hide(&rays) }
    }

    /// The same with the slabs that count chosen.
    pub(crate) fn paint_beside(
        &self,
        solids: &Solids,
        eye: &Eye,
        counts: &dyn Fn(&Slab) -> bool,
        horizon_deg: &mut [f32; AZIMUTH_BINS],
    ) -> Painted {
        let (rays, inside) = self.look(solids, eye, counts);
        let assumed = rays.any && self.fill(&rays, Case::Likely, horizon_deg);
        Painted { inside, assumed, may_hide: self.may_hide(&rays) }
    }

    /// What stands around the eye, and the buildings it is inside of.
    fn look(&self, solids: &Solids, eye: &Eye, counts: &dyn Fn(&Slab) -> bool) -> (Rays, Vec<u32>) {
        let touching = touching(solids, eye);
        let mut inside = solids.buildings_over(eye.at);
        inside.retain(|b| touching.iter().all(|t| t.0 != *b));
        let mut rays = Rays::new();
        for edge in solids.edges_around(eye.at) {
            if edge.building.is_none_or(|b| inside.binary_search(&b).is_err())
                && let Some(edge) = counted(edge, eye)
            {
                self.paint_edge(&edge, eye, &mut rays);
            }
        }
        for touched in touching {
            self.paint_behind(solids, touched, eye, &mut rays);
        }
        for slab in solids.slabs_around(eye.at) {
            if counts(slab) {
                self.paint_slab(slab, eye, &mut rays);
            }
        }
        rays.slabs.sort_by(|a, b| a.ray.cmp(&b.ray).then(a.low.total_cmp(&b.low)));
        (rays, inside)
    }

    /// A building whose outline the eye stands on hides the directions that lead into it.
    fn paint_behind(&self, solids: &Solids, (building, above_m, assumed): Touched, eye: &Eye, rays: &mut Rays) {
        for (ray, (dx, dy)) in self.directions.iter().enumerate() {
            let probe = Point::new(eye.at.x_m + dx * PROBE_M, eye.at.y_m + dy * PROBE_M);
            if solids.buildings_over(probe).binary_search(&building).is_ok() {
                rays.raise(ray, above_m / NEAREST_M, assumed);
                // Whoever stands at a wall sees nothing of what is behind it, however low it is.
                for top in [&mut rays.best[ray], &mut rays.worst[ray]] {
                    *top = top.max(above_m / NEAREST_M);
                }
            }
        }
    }

    fn paint_edge(&self, edge: &SolidEdge, eye: &Eye, rays: &mut Rays) {
        let foot_m = |distance_m: f64| lift_m(eye, edge.base_z_m, distance_m) - eye.antenna_height_m;
        let nearest_m = distance_to_piece_m(eye.at, edge.a, edge.b);
        let full_m = edge.highest_m() + foot_m(nearest_m).max(foot_m(f64::MAX));
        let out_of_sight =
            !(NEAREST_M..=edge.seen_within_m).contains(&nearest_m) || full_m <= nearest_m * self.floor_tan;
        if out_of_sight || edge.right_only && left_of_eye(eye.at, edge.a, edge.b) >= 0.0 {
            return;
        }
        for (ray, distance_m) in self.hits(eye.at, edge.a, edge.b) {
            let foot_m = foot_m(distance_m);
            let tangents = edge.heights_m.map(|height_m| (height_m + foot_m) / distance_m);
            if tangents.likely > self.floor_tan {
                rays.raise(ray, tangents.likely, edge.assumed);
            }
            if edge.assumed && tangents.each_ref().into_iter().any(|t| *t > self.floor_tan) {
                rays.best[ray] = rays.best[ray].max(tangents.best);
                rays.worst[ray] = rays.worst[ray].max(tangents.worst);
                rays.any = true;
            }
        }
    }

    /// Along each azimuth a slab hides what lies between its underside where it ends and its top where it begins.
    fn paint_slab(&self, slab: &Slab, eye: &Eye, rays: &mut Rays) {
        let under = contains(&slab.rings, eye.at);
        let mut low = [f64::INFINITY; RAYS];
        let mut high = [PerCase::of(|_| f64::NEG_INFINITY); RAYS];
        for piece in slab.rings.iter().flat_map(|ring| ring.windows(2)) {
            for (ray, distance_m) in self.hits(eye.at, piece[0], piece[1]) {
                let above_m = lift_m(eye, slab.base_z_m, distance_m) - eye.antenna_height_m;
                low[ray] = low[ray].min((slab.underside_m + above_m) / distance_m);
                for (high, top_m) in high[ray].each_mut().into_iter().zip(slab.tops_m.each_ref()) {
                    *high = if under { f64::INFINITY } else { high.max((top_m + above_m) / distance_m) };
                }
            }
        }
        let highest = |ray: usize| high[ray].each_ref().into_iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let seen = (0..RAYS).filter(|ray| highest(*ray) > self.floor_tan && highest(*ray) > low[*ray]);
        rays.slabs.extend(seen.map(|ray| Band { ray, low: low[ray], high: high[ray], assumed: slab.assumed }));
        rays.any |= !rays.slabs.is_empty();
    }

    /// Azimuths looked at that cross a straight piece, with the distance to it, metres.
    fn hits(&self, eye: Point, a: Point, b: Point) -> impl Iterator<Item = (usize, f64)> {
        // A piece seen along its length is nearly parallel to its rays: the quotient is kept on the piece.
        let near_m = distance_to_piece_m(eye, a, b).max(NEAREST_M);
        let far_m = eye.distance_m(a).max(eye.distance_m(b)).max(near_m);
        let (ex, ey) = (b.x_m - a.x_m, b.y_m - a.y_m);
        let left = left_of_eye(eye, a, b);
        rays_across(eye, a, b).map(move |ray| {
            let (dx, dy) = self.directions[ray];
            (ray, (left / (dx * ey - dy * ex)).max(near_m).min(far_m))
        })
    }

    /// Share of the sky above the lowest elevation that is hidden as well where assumed heights are as high as they may be.
    fn may_hide(&self, rays: &Rays) -> f64 {
        let tops = rays.tagged.iter().zip(&rays.assumed).map(|(t, a)| t.max(*a));
        let more: f64 = tops.zip(&rays.worst).map(|(top, worst)| (self.sine(*worst) - self.sine(top)).max(0.0)).sum();
        if self.floor_sin < 1.0 { more / (RAYS as f64 * (1.0 - self.floor_sin)) } else { 0.0 }
    }

    /// Raises the horizons to what was found; tells whether a default height hides what nothing else does.
    fn fill(&self, rays: &Rays, case: Case, horizon_deg: &mut [f32; AZIMUTH_BINS]) -> bool {
        let mut assumed = false;
        let mut bands = rays.slabs.iter().peekable();
        for (bin, horizon) in horizon_deg.iter_mut().enumerate() {
            let mut hidden = 0.0;
            for ray in bin * PER_BIN..(bin + 1) * PER_BIN {
                let top = rays.top(ray, case);
                assumed |= top > rays.tagged[ray];
                let mut hidden_to = self.sine(top);
                hidden += hidden_to - self.floor_sin;
                while let Some(band) = bands.next_if(|b| b.ray == ray) {
                    let high = self.sine(band.high[case]);
                    let more = (high - self.sine(band.low).max(hidden_to)).max(0.0);
                    assumed |= band.assumed && more > 0.0;
                    hidden += more;
                    hidden_to = hidden_to.max(high);
                }
            }
            let mean = self.floor_sin + hidden / PER_BIN as f64;
            if hidden > 0.0 {
                *horizon = horizon.max(mean.min(1.0).asin().to_degrees() as f32);
            }
        }
        assumed
    }

    /// Sine of an elevation given by its tangent, at least that of the lowest elevation.
    fn sine(&self, tangent: f64) -> f64 {
        let sine = if tangent.is_finite() { tangent / (1.0 + tangent * tangent).sqrt() } else { tangent.signum() };
        sine.max(self.floor_sin)
    }
}

/// Slabs that do not stand over a segment: those that do are intervals of its lanes.
fn beside(segment: Option<SegmentIndex>) -> impl Fn(&Slab) -> bool {
    move |slab| segment.is_none_or(|s| slab.over.binary_search(&s).is_err())
}

/// The part of an edge that counts: all of it beside what a surface shows, and on a surface what is near.
fn counted(edge: &SolidEdge, eye: &Eye) -> Option<SolidEdge> {
    match eye.shown {
        Some(elevation) if elevation.is_surface(edge.a.towards(edge.b, 0.5)) => edge.nearer_than(eye.at, eye.within_m),
        _ => Some(*edge),
    }
}

/// How far the ground under something lies above the road, as far as it counts at a distance, metres.
fn lift_m(eye: &Eye, base_z_m: Option<f64>, distance_m: f64) -> f64 {
    match (&eye.ground, base_z_m) {
        (Some(ground), Some(base_z_m)) => ground.lift_of_m(base_z_m, distance_m),
        _ => 0.0,
    }
}

/// Above zero where the eye is left of the line from `a` to `b`; square metres.
fn left_of_eye(eye: Point, a: Point, b: Point) -> f64 {
    (a.x_m - eye.x_m) * (b.y_m - a.y_m) - (a.y_m - eye.y_m) * (b.x_m - a.x_m)
}

/// A building, its height above the panel (metres), and whether that is a default.
type Touched = (u32, f64, bool);

/// Buildings whose outline the eye stands on.
fn touching(solids: &Solids, eye: &Eye) -> Vec<Touched> {
    let mut out: Vec<Touched> = Vec::new();
    for edge in solids.edges_around(eye.at) {
        let above_m = edge.heights_m.likely - eye.antenna_height_m;
        if let Some(building) = edge.building.filter(|_| above_m > 0.0)
            && out.iter().all(|t| t.0 != building)
            && distance_to_piece_m(eye.at, edge.a, edge.b) < NEAREST_M
        {
            out.push((building, above_m, edge.assumed));
        }
    }
    out.sort_unstable_by_key(|t| t.0);
    out
}

/// Numbers of the rays that cross a straight piece.
fn rays_across(eye: Point, a: Point, b: Point) -> impl Iterator<Item = usize> {
    let (from_deg, to_deg) = (eye.azimuth_deg(a), eye.azimuth_deg(b));
    let turn = turn_deg(from_deg, to_deg);
    let start_deg = if turn >= 0.0 { from_deg } else { to_deg };
    let step_deg = 360.0 / RAYS as f64;
    let first = (normal_deg(start_deg) / step_deg - 0.5).ceil();
    let last = ((normal_deg(start_deg) + turn.abs()) / step_deg - 0.5).floor();
    let count = (last - first + 1.0).max(0.0) as usize;
    (0..count).map(move |i| (first as usize + i) % RAYS)
}
