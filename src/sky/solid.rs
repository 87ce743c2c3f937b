//! Horizon of buildings, walls and cliffs around one station.
//!
//! In: [`Solids`] and an [`Eye`]. Out: one horizon per azimuth bin, degrees. Each edge is upright and straight, so its
//! distance along an azimuth is exact (`tan h = H / distance`, the street-canyon mask of ITU-R P.681-11
//! section 4.4). A bin is looked at along five azimuths; its horizon is the one that hides the same mean solid angle above
//! the lowest elevation: `sin h = mean(max(sin h_i, sin floor))`.
use super::ground::{Eye, directions};
use super::mask::{AZIMUTH_BINS, SkyGrid};
use crate::geodesy::{Point, normal_deg, turn_deg};
use crate::scene::solids::{SolidEdge, Solids, distance_to_piece_m};

/// Azimuths looked at per bin.
const PER_BIN: usize = 5;
/// Azimuths looked at all round.
const RAYS: usize = AZIMUTH_BINS * PER_BIN;
/// Nothing stands nearer to the panel than this, metres. An edge that does has no direction worth the name: the
/// road runs through it, as at the mouth of a passage or a gate.
const NEAREST_M: f64 = 0.05;
/// Which side of its outline a building lies on is looked at this far from a station on it, metres.
const PROBE_M: f64 = 0.25;

/// Paints solid edges into horizons.
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

    /// Raises `horizon_deg` to what stands around the eye, and returns the buildings the eye is inside of
    /// (ascending indices); those are left out: a road does not run inside a building.
    pub fn paint(&self, solids: &Solids, eye: &Eye, horizon_deg: &mut [f32; AZIMUTH_BINS]) -> Vec<u32> {
        let touching = touching(solids, eye);
        let mut over = solids.buildings_over(eye.at);
        over.retain(|b| touching.iter().all(|(building, _)| building != b));
        let mut tangents = [f64::NEG_INFINITY; RAYS];
        let mut any = false;
        for edge in solids.edges_around(eye.at) {
            if edge.building.is_none_or(|b| over.binary_search(&b).is_err())
                && let Some(edge) = edge.within(eye.at, eye.within_m)
            {
                any |= self.paint_edge(&edge, eye, &mut tangents);
            }
        }
        for (building, above_m) in touching {
            any |= self.paint_behind(solids, building, above_m, eye, &mut tangents);
        }
        if any {
            for (bin, horizon) in horizon_deg.iter_mut().enumerate() {
                *horizon = horizon.max(self.bin_horizon_deg(&tangents[bin * PER_BIN..(bin + 1) * PER_BIN]));
            }
        }
        over
    }

    /// A building whose outline the eye stands on hides the directions that lead into it.
    fn paint_behind(
        &self,
        solids: &Solids,
        building: u32,
        above_m: f64,
        eye: &Eye,
        tangents: &mut [f64; RAYS],
    ) -> bool {
        let mut any = false;
        for ((dx, dy), tangent) in self.directions.iter().zip(tangents) {
            let probe = Point::new(eye.at.x_m + dx * PROBE_M, eye.at.y_m + dy * PROBE_M);
            if solids.buildings_over(probe).binary_search(&building).is_ok() {
                *tangent = tangent.max(above_m / NEAREST_M);
                any = true;
            }
        }
        any
    }

    fn paint_edge(&self, edge: &SolidEdge, eye: &Eye, tangents: &mut [f64; RAYS]) -> bool {
        let height_m = |distance_m: f64| {
            let lift_m = match (&eye.ground, edge.base_z_m) {
                (Some(ground), Some(base_z_m)) => ground.lift_of_m(base_z_m, distance_m),
                _ => 0.0,
            };
            edge.height_m + lift_m - eye.antenna_height_m
        };
        let nearest_m = distance_to_piece_m(eye.at, edge.a, edge.b);
        let full_m = height_m(nearest_m).max(height_m(f64::MAX));
        if nearest_m < NEAREST_M || full_m <= nearest_m * self.floor_tan {
            return false;
        }
        let (ax, ay) = (edge.a.x_m - eye.at.x_m, edge.a.y_m - eye.at.y_m);
        let (ex, ey) = (edge.b.x_m - edge.a.x_m, edge.b.y_m - edge.a.y_m);
        // Above zero: the eye is left of the line from a to b.
        let left = ax * ey - ay * ex;
        if edge.right_only && left >= 0.0 {
            return false;
        }
        // An edge seen along its length is nearly parallel to its rays: the quotient is kept on the edge.
        let near_m = nearest_m.max(NEAREST_M);
        let far_m = eye.at.distance_m(edge.a).max(eye.at.distance_m(edge.b)).max(near_m);
        let mut any = false;
        for ray in rays_across(eye.at, edge) {
            let (dx, dy) = self.directions[ray];
            let distance_m = (left / (dx * ey - dy * ex)).max(near_m).min(far_m);
            let tangent = height_m(distance_m) / distance_m;
            if tangent > self.floor_tan {
                tangents[ray] = tangents[ray].max(tangent);
                any = true;
            }
        }
        any
    }

    fn bin_horizon_deg(&self, tangents: &[f64]) -> f32 {
        let sine = |t: &f64| (t / (1.0 + t * t).sqrt()).max(self.floor_sin);
        let known = |t: &f64| {
            if t.is_finite() { sine(t) } else { self.floor_sin }
        };
        let mean = tangents.iter().map(known).sum::<f64>() / tangents.len() as f64;
        if mean > self.floor_sin { mean.min(1.0).asin().to_degrees() as f32 } else { -90.0 }
    }
}

/// Buildings whose outline the eye stands on, each with its height above the panel, metres.
fn touching(solids: &Solids, eye: &Eye) -> Vec<(u32, f64)> {
    let mut out: Vec<(u32, f64)> = Vec::new();
    for edge in solids.edges_around(eye.at) {
        let above_m = edge.height_m - eye.antenna_height_m;
        if let Some(building) = edge.building.filter(|_| above_m > 0.0)
            && out.iter().all(|(b, _)| *b != building)
            && distance_to_piece_m(eye.at, edge.a, edge.b) < NEAREST_M
        {
            out.push((building, above_m));
        }
    }
    out.sort_unstable_by_key(|t| t.0);
    out
}

/// Numbers of the rays that cross an edge.
fn rays_across(eye: Point, edge: &SolidEdge) -> impl Iterator<Item = usize> {
    let (from_deg, to_deg) = (eye.azimuth_deg(edge.a), eye.azimuth_deg(edge.b));
    let turn = turn_deg(from_deg, to_deg);
    let start_deg = if turn >= 0.0 { from_deg } else { to_deg };
    let step_deg = 360.0 / RAYS as f64;
    let first = (normal_deg(start_deg) / step_deg - 0.5).ceil();
    let last = ((normal_deg(start_deg) + turn.abs()) / step_deg - 0.5).floor();
    let count = (last - first + 1.0).max(0.0) as usize;
    (0..count).map(move |i| (first as usize + i) % RAYS)
}
