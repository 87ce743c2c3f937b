//! Where the sky is seen from, what is asked of a ray, and how the curvature of the earth counts.
use crate::base::geodesy::{EARTH_RADIUS_M, Point};

/// How much lower than the tangent plane a distant point appears, metres: `(1 - k) d^2 / 2R`.
///
/// `k` is the coefficient of refraction, at most 1: 0 none, 0.13 visible light, 0.25 radio (a 4/3 earth).
pub fn drop_m(distance_m: f64, refraction_k: f64) -> f64 {
    (1.0 - refraction_k) * distance_m * distance_m / (2.0 * EARTH_RADIUS_M)
}

/// Exact elevation angle, degrees, of a point at height `z_m` seen from height `eye_z_m`, at
/// `distance_m` along a sphere whose radius is stretched for refraction.
pub fn elevation_angle_deg(eye_z_m: f64, z_m: f64, distance_m: f64, refraction_k: f64) -> f64 {
    let radius_m = EARTH_RADIUS_M / (1.0 - refraction_k);
    let (sin, cos) = (distance_m / radius_m).sin_cos();
    let up_m = (radius_m + z_m) * cos - (radius_m + eye_z_m);
    up_m.atan2((radius_m + z_m) * sin).to_degrees()
}

/// Where the sky is seen from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HorizonEye {
    /// Place in the plane of the cell.
    pub at: Point,
    /// Height of the antenna above the elevation's datum, metres.
    pub z_m: f64,
}

/// What is asked of a ray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HorizonQuery {
    /// Terrain nearer than this is not looked at, metres.
    pub start_m: f64,
    /// Terrain farther than this is not looked at, metres.
    pub max_m: f64,
    /// Horizons below this are not wanted and come out as this, degrees; -90 asks for all.
    pub floor_deg: f64,
    /// Coefficient of refraction, at most 1, see [`drop_m`].
    pub refraction_k: f64,
}
