//! An eye over one grid of elevation, and the highest that has been seen from it.
use super::blocks::Level;
use super::eye::{HorizonEye, HorizonQuery};
use crate::base::geodesy::EARTH_RADIUS_M;
use crate::base::window::ElevationGrid;

/// A ray never starts nearer than this, metres: at the eye itself the angle is not defined.
const NEAREST_M: f64 = 0.01;

/// The highest so far: tangent of its elevation angle, and where.
pub(super) struct Best {
    pub tangent: f64,
    pub distance_m: f64,
}

impl Best {
    pub fn offer(&mut self, tangent: f64, distance_m: f64) {
        if tangent > self.tangent {
            self.tangent = tangent;
            self.distance_m = distance_m;
        }
    }
}

/// An eye over one grid: what all its rays have in common.
///
/// The exact angle of height z at distance d has the tangent `w / d - d / 2R'` with
/// `w = (z - eye) / (1 + z / R')` (derived here; the terms left out are below 1e-5 of it up to 50 km).
/// So curvature only needs a corrected height `w` per pixel and one constant. As a function of z, w is
/// concave, so `(z - eye) / (1 + eye / R')`, its tangent at the eye, never lies below it.
pub(super) struct Standpoint<'a> {
    pub grid: &'a ElevationGrid,
    pub levels: &'a [Level],
    /// Fractional column and row of the eye.
    pub at: [f64; 2],
    /// Columns and rows per metre moved east, and moved north.
    pub per_east_m: (f64, f64),
    pub per_north_m: (f64, f64),
    pub eye_z_m: f64,
    pub per_radius: f64,
    pub half_curve: f64,
    /// `1 + eye / R'`.
    pub stretch: f64,
    pub from_m: f64,
    pub to_m: f64,
}

impl<'a> Standpoint<'a> {
    /// `None` where the grid has no cell.
    pub fn new(grid: &'a ElevationGrid, levels: &'a [Level], eye: &HorizonEye, query: &HorizonQuery) -> Option<Self> {
        let (column, row) = grid.map.apply(eye.at);
        if levels.is_empty() || !(column.is_finite() && row.is_finite()) {
            return None;
        }
        let per_radius = (1.0 - query.refraction_k) / EARTH_RADIUS_M;
        Some(Self {
            grid,
            levels,
            at: [column, row],
            per_east_m: grid.map.per_metre(eye.at, 90.0),
            per_north_m: grid.map.per_metre(eye.at, 0.0),
            eye_z_m: eye.z_m,
            per_radius,
            half_curve: per_radius / 2.0,
            stretch: 1.0 + eye.z_m * per_radius,
            from_m: query.start_m.max(NEAREST_M),
            to_m: query.max_m,
        })
    }

    /// Height above the eye, corrected so that the tangent of its angle is `w / d - d / 2R'`.
    #[inline]
    pub fn above_eye_m(&self, z_m: f32) -> f64 {
        let z_m = f64::from(z_m);
        let x = z_m * self.per_radius;
        (z_m - self.eye_z_m) * (1.0 - x * (1.0 - x))
    }

    /// Height that ground between two distances must pass to rise above the best so far.
    ///
    /// `w <= (tangent + d / 2R') d` over the whole stretch; ground above the eye looks highest from near,
    /// ground below it from afar, and the smaller product is the right one for both.
    #[inline]
    pub fn limit_m(&self, near_m: f64, far_m: f64, best: &Best) -> f64 {
        let slope = (best.tangent + self.half_curve * near_m) * self.stretch;
        self.eye_z_m + (slope * near_m).min(slope * far_m)
    }
}
