//! Circular orbits seen from a spherical earth, and the geostationary arc.
use crate::base::geodesy::{EARTH_RADIUS_M, WGS84_A_M, normal_deg};

/// Radius of the earth under low orbits, kilometres (the radius 3GPP TR 38.821 computes with).
pub(crate) const EARTH_RADIUS_KM: f64 = EARTH_RADIUS_M / 1000.0;
/// Radius of the geostationary orbit, kilometres: the cube root of the two constants below, parameter over rotation
/// squared, which a test checks.
pub(crate) const GEOSTATIONARY_RADIUS_KM: f64 = 42_164.17;
/// Gravitational parameter of the earth, km^3/s^2 (WGS 84: NGA.STND.0036).
pub(crate) const EARTH_MU_KM3_S2: f64 = 398_600.441_8;
/// Sidereal rotation of the earth, radians per second (WGS 84).
pub(crate) const EARTH_ROTATION_RAD_S: f64 = 7.292_115e-5;

/// A direction in the observer's sky.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SkyDirection {
    /// Azimuth, degrees clockwise from true north.
    pub azimuth_deg: f64,
    /// Elevation, degrees above the horizontal.
    pub elevation_deg: f64,
}

impl SkyDirection {
    /// A direction from azimuth and elevation in degrees.
    pub fn new(azimuth_deg: f64, elevation_deg: f64) -> Self {
        Self { azimuth_deg, elevation_deg }
    }
    /// Unit vector east, north, up.
    pub fn unit(self) -> [f64; 3] {
        let (sin_az, cos_az) = self.azimuth_deg.to_radians().sin_cos();
        let (sin_el, cos_el) = self.elevation_deg.to_radians().sin_cos();
        [cos_el * sin_az, cos_el * cos_az, sin_el]
    }
    /// Angle to another direction, degrees.
    pub fn angle_deg(self, other: SkyDirection) -> f64 {
        angle_rad(self.unit(), other.unit()).to_degrees()
    }
}

/// A circular orbit around a spherical earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CircularOrbit {
    /// Radius of the earth, kilometres.
    pub earth_radius_km: f64,
    /// Radius of the orbit, kilometres.
    pub radius_km: f64,
}

impl CircularOrbit {
    /// The geostationary orbit around a sphere of the equatorial radius.
    pub(crate) const GEOSTATIONARY: Self =
        Self { earth_radius_km: WGS84_A_M / 1000.0, radius_km: GEOSTATIONARY_RADIUS_KM };

    /// An orbit at a height in kilometres above the mean sphere.
    pub(crate) fn at_altitude(altitude_km: f64) -> Self {
        Self { earth_radius_km: EARTH_RADIUS_KM, radius_km: EARTH_RADIUS_KM + altitude_km }
    }
    /// Whether the orbit runs above the ground; nothing is ever seen of one that does not.
    pub(crate) fn is_above_ground(&self) -> bool {
        self.radius_km.is_finite() && self.radius_km > self.earth_radius_km
    }
    /// Distance to a satellite seen at an elevation, kilometres: `sqrt(r^2 - R^2 cos^2 e) - R sin e`.
    #[cfg(test)]
    pub(crate) fn slant_range_km(&self, elevation_deg: f64) -> f64 {
        let (sin, cos) = elevation_deg.to_radians().sin_cos();
        (self.radius_km.powi(2) - (self.earth_radius_km * cos).powi(2)).sqrt() - self.earth_radius_km * sin
    }
    /// Angle at the satellite between nadir and an observer who sees it at an elevation, degrees:
    /// `asin(R cos e / r)`.
    pub(crate) fn nadir_angle_deg(&self, elevation_deg: f64) -> f64 {
        (self.earth_radius_km * elevation_deg.to_radians().cos() / self.radius_km).asin().to_degrees()
    }
    /// Angle at the earth's centre between observer and sub-satellite point, degrees; the three
    /// angles add up to 90.
    pub(crate) fn central_angle_deg(&self, elevation_deg: f64) -> f64 {
        90.0 - elevation_deg - self.nadir_angle_deg(elevation_deg)
    }
    /// Elevation of a satellite at a central angle in radians, degrees: the inverse of
    /// `central_angle_deg`.
    pub fn elevation_deg(&self, central_rad: f64) -> f64 {
        let (sin, cos) = central_rad.sin_cos();
        (cos - self.earth_radius_km / self.radius_km).atan2(sin).to_degrees()
    }
    /// Radius along the ground of the circle from which a satellite stands above an elevation, kilometres.
    #[cfg(test)]
    pub(crate) fn footprint_radius_km(&self, elevation_deg: f64) -> f64 {
        self.earth_radius_km * self.central_angle_deg(elevation_deg).to_radians()
    }
    /// Share of the sphere within the footprint.
    #[cfg(test)]
    pub(crate) fn sphere_share(&self, elevation_deg: f64) -> f64 {
        (1.0 - self.central_angle_deg(elevation_deg).to_radians().cos()) / 2.0
    }
    /// Mean motion, radians per second: `sqrt(mu / r^3)`.
    pub(crate) fn mean_motion_rad_s(&self) -> f64 {
        (EARTH_MU_KM3_S2 / self.radius_km.powi(3)).sqrt()
    }
    /// Direction and distance in kilometres of a point of this orbit above the equator,
    /// `longitude_difference_deg` east of an observer; below the horizon the elevation is negative.
    pub(crate) fn above_equator(&self, latitude_deg: f64, longitude_difference_deg: f64) -> (SkyDirection, f64) {
        let (sin_lat, cos_lat) = latitude_deg.to_radians().sin_cos();
        let (sin_lon, cos_lon) = longitude_difference_deg.to_radians().sin_cos();
        let east_km = self.radius_km * sin_lon;
        let north_km = -self.radius_km * sin_lat * cos_lon;
        let up_km = self.radius_km * cos_lon * cos_lat - self.earth_radius_km;
        let level_km = east_km.hypot(north_km);
        let azimuth_deg = normal_deg(east_km.atan2(north_km).to_degrees());
        (SkyDirection::new(azimuth_deg, up_km.atan2(level_km).to_degrees()), level_km.hypot(up_km))
    }
}

/// The geostationary orbit as it stands in the sky of one latitude.
#[derive(Debug, Clone, PartialEq)]
pub struct GeostationaryArc {
    /// Unit vectors east, north, up along the part above the horizon.
    points: Vec<[f64; 3]>,
}

/// Longitude between points of the arc, degrees: chords this long leave the arc by less than 0.003 degrees.
const ARC_STEP_DEG: f64 = 1.0;

impl GeostationaryArc {
    /// The part of the arc above the horizon; empty beyond 81.3 degrees of latitude.
    pub fn at(latitude_deg: f64) -> Self {
        let orbit = CircularOrbit::GEOSTATIONARY;
        // On the horizon `r cos(dlon) cos(L) = R`.
        let cos_end = orbit.earth_radius_km / (orbit.radius_km * latitude_deg.to_radians().cos());
        if !(0.0..=1.0).contains(&cos_end) {
            return Self { points: Vec::new() };
        }
        let end_deg = cos_end.acos().to_degrees();
        let steps = (2.0 * end_deg / ARC_STEP_DEG).ceil().max(1.0) as usize;
        let points = (0..=steps)
            .map(|k| orbit.above_equator(latitude_deg, end_deg * (2.0 * k as f64 / steps as f64 - 1.0)).0.unit())
            .collect();
        Self { points }
    }

    /// Angle from a direction to the nearest point of the arc above the horizon, degrees; `None`
    /// where the arc is not seen at all.
    pub fn distance_deg(&self, direction: SkyDirection) -> Option<f64> {
        let d = direction.unit();
        let (nearest, _) =
            self.points.iter().enumerate().map(|(k, p)| (k, dot(*p, d))).max_by(|a, b| a.1.total_cmp(&b.1))?;
        let first = nearest.saturating_sub(1);
        let last = (nearest + 2).min(self.points.len());
        let chords = self.points[first..last].windows(2).map(|c| angle_rad(nearest_on_chord(c[0], c[1], d), d));
        Some(chords.fold(angle_rad(self.points[nearest], d), f64::min).to_degrees())
    }
}

fn nearest_on_chord(a: [f64; 3], b: [f64; 3], d: [f64; 3]) -> [f64; 3] {
    let along = [b[0] - a[0], b[1] - a[1], b[2] - a[2]];
    let length2 = dot(along, along);
    if length2 == 0.0 {
        return a;
    }
    let t = (dot(along, [d[0] - a[0], d[1] - a[1], d[2] - a[2]]) / length2).clamp(0.0, 1.0);
    [a[0] + t * along[0], a[1] + t * along[1], a[2] + t * along[2]]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Angle between two vectors, radians; exact for small angles too, where an arc cosine is not.
fn angle_rad(a: [f64; 3], b: [f64; 3]) -> f64 {
    let cross = [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
    dot(cross, cross).sqrt().atan2(dot(a, b))
}
