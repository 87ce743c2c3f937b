//! From the frame in which SGP4 gives positions to directions over a place on the ellipsoid.
//!
//! SGP4 gives TEME, the true equator and mean equinox of date. Turned about its axis by sidereal time that
//! is the pseudo earth-fixed frame. The poles' wandering and UT1 - UTC are left out: together at most about
//! 300 m along the ground, 0.02 degrees for a low satellite, far below what moves a rating.
use jiff::Timestamp;

use super::geometry::{EARTH_ROTATION_RAD_S, SkyDirection};
use crate::base::geodesy::{WGS84_A_M, WGS84_E2, normal_deg};

/// 2000-01-01 12:00:00 as seconds since 1970 began.
const J2000_UNIX_S: i64 = 946_728_000;
/// Seconds in a Julian century.
const CENTURY_S: f64 = 36_525.0 * 86_400.0;
/// Degrees the earth turns in a second of sidereal time.
const DEG_PER_SIDEREAL_S: f64 = 1.0 / 240.0;

/// A position or velocity, kilometres (per second).
pub type Vector = [f64; 3];

/// Seconds since 2000-01-01 12:00:00 on the same clock as the time given.
pub(crate) fn since_j2000_s(time: Timestamp) -> f64 {
    (time.as_second() - J2000_UNIX_S) as f64 + f64::from(time.subsec_nanosecond()) * 1e-9
}

/// Greenwich mean sidereal time of 1982, radians in 0..2 pi, from UT1 seconds since 2000-01-01 12:00:00.
/// Aoki and others 1982, as printed in AIAA 2006-6753.
pub(crate) fn sidereal_rad(since_j2000_ut1_s: f64) -> f64 {
    let t = since_j2000_ut1_s / CENTURY_S;
    // The day itself turns the earth once: taken apart, the large term loses no digits.
    let days = since_j2000_ut1_s / 86_400.0;
    let whole_turns_deg = 360.0 * days.fract();
    let seconds = 67_310.548_41 + (8_640_184.812_866 + (0.093_104 - 6.2e-6 * t) * t) * t;
    normal_deg(seconds * DEG_PER_SIDEREAL_S + whole_turns_deg).to_radians()
}

/// Position and velocity turned about the earth's axis by a sidereal angle: TEME to pseudo earth-fixed.
pub fn earth_fixed(position: Vector, velocity: Vector, sidereal_rad: f64) -> (Vector, Vector) {
    let (sin, cos) = sidereal_rad.sin_cos();
    let turned = |v: Vector| [cos * v[0] + sin * v[1], cos * v[1] - sin * v[0], v[2]];
    let (r, v) = (turned(position), turned(velocity));
    (r, [v[0] + EARTH_ROTATION_RAD_S * r[1], v[1] - EARTH_ROTATION_RAD_S * r[0], v[2]])
}

/// A place on or above the WGS 84 ellipsoid, and its level axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observer {
    /// Geodetic latitude, degrees.
    pub latitude_deg: f64,
    /// Longitude, degrees, east positive.
    pub longitude_deg: f64,
    place_km: Vector,
    east: Vector,
    north: Vector,
    up: Vector,
}

impl Observer {
    /// A place by geodetic latitude, longitude and height above the ellipsoid.
    pub fn at(latitude_deg: f64, longitude_deg: f64, height_m: f64) -> Self {
        let (sin_lat, cos_lat) = latitude_deg.to_radians().sin_cos();
        let (sin_lon, cos_lon) = longitude_deg.to_radians().sin_cos();
        let normal_km = WGS84_A_M / 1000.0 / (1.0 - WGS84_E2 * sin_lat * sin_lat).sqrt();
        let height_km = height_m / 1000.0;
        let level_km = (normal_km + height_km) * cos_lat;
        Self {
            latitude_deg,
            longitude_deg,
            place_km: [level_km * cos_lon, level_km * sin_lon, (normal_km * (1.0 - WGS84_E2) + height_km) * sin_lat],
            east: [-sin_lon, cos_lon, 0.0],
            north: [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
            up: [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat],
        }
    }

    /// Earth-fixed place, kilometres.
    pub fn place_km(&self) -> Vector {
        self.place_km
    }

    /// An earth-fixed position as kilometres east, north and up of the observer.
    pub fn level_km(&self, earth_fixed_km: Vector) -> Vector {
        let d = [0, 1, 2].map(|k| earth_fixed_km[k] - self.place_km[k]);
        [dot(self.east, d), dot(self.north, d), dot(self.up, d)]
    }

    /// Direction and distance in kilometres of an earth-fixed position.
    pub fn look(&self, earth_fixed_km: Vector) -> (SkyDirection, f64) {
        let [east, north, up] = self.level_km(earth_fixed_km);
        let flat = east.hypot(north);
        let direction = SkyDirection::new(normal_deg(east.atan2(north).to_degrees()), up.atan2(flat).to_degrees());
        (direction, flat.hypot(up))
    }
}

/// Scalar product.
pub fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Length of a vector.
pub fn length(a: Vector) -> f64 {
    dot(a, a).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seconds of arc to radians.
    const ARC_SECOND: f64 = std::f64::consts::PI / 648_000.0;

    #[test]
    fn sidereal_time_is_the_published_one() {
        // D. Vallado, Fundamentals of Astrodynamics and Applications, 4th edition (2013), example 3-5: 1992-08-20 12:14 UT1,
        // 152.578 787 810 degrees.
        let t: Timestamp = "1992-08-20T12:14:00Z".parse().unwrap();
        assert!((sidereal_rad(since_j2000_s(t)).to_degrees() - 152.578_787_81).abs() < 1e-7);
        // AIAA 2006-6753 appendix C: UTC with UT1 - UTC = -0.4399619 s, 312.8098943 degrees.
        let t: Timestamp = "2004-04-06T07:51:28.386009Z".parse().unwrap();
        let degrees = sidereal_rad(since_j2000_s(t) - 0.439_961_9).to_degrees();
        assert!((degrees - 312.809_894_3).abs() < 1e-6, "{degrees}");
    }

    #[test]
    fn sidereal_time_before_2000_runs_on() {
        let second = sidereal_rad(-100_000.0) - sidereal_rad(-100_001.0);
        assert!((second - EARTH_ROTATION_RAD_S).abs() < 1e-9, "{second}");
        let across = sidereal_rad(0.5) - sidereal_rad(-0.5);
        assert!((across - EARTH_ROTATION_RAD_S).abs() < 1e-9, "{across}");
    }

    #[test]
    fn teme_to_earth_fixed_is_the_published_example() {
        // AIAA 2006-6753 Rev 2 appendix C. Polar motion is turned here only: the program leaves it out.
        let teme = [5_094.180_162_10, 6_127.644_659_50, 6_380.344_532_70];
        let velocity = [-4.746_131_487, 0.785_818_041, 5.531_931_288];
        let t: Timestamp = "2004-04-06T07:51:28.386009Z".parse().unwrap();
        let (r, v) = earth_fixed(teme, velocity, sidereal_rad(since_j2000_s(t) - 0.439_961_9));
        for (got, want) in r.into_iter().zip([-1_033.475_031_20, 7_901.305_585_60, 6_380.344_532_70]) {
            assert!((got - want).abs() < 2e-5, "{r:?}");
        }
        let (xp, yp) = (-0.140_682 * ARC_SECOND, 0.333_309 * ARC_SECOND);
        // Rotations about y by xp and about x by yp, so small that their order is below the tolerance.
        let wander = |p: Vector| [p[0] + xp * p[2], p[1] - yp * p[2], p[2] - xp * p[0] + yp * p[1]];
        for (got, want) in wander(r).into_iter().zip([-1_033.479_383_00, 7_901.295_275_40, 6_380.356_595_80]) {
            assert!((got - want).abs() < 2e-5, "{got} {want}");
        }
        // 2e-8: the example's rotation rate is less the excess length of that day (1.5563 ms of 86400 s),
        // which this leaves out: 1.3e-12 rad/s over 7 900 km.
        for (got, want) in wander(v).into_iter().zip([-3.225_636_520, -2.872_451_450, 5.531_924_446]) {
            assert!((got - want).abs() < 2e-8, "{got} {want}");
        }
    }

    #[test]
    fn level_axes_are_square_and_up_is_the_ellipsoids_normal() {
        let o = Observer::at(45.0, 10.0, 0.0);
        // Geocentric radius at 45 degrees from the axes of WGS 84 (NGA.STND.0036: a = 6 378.137 km, 1/f = 298.257 223 563):
        // the root of (a^4 + b^4) / (a^2 + b^2), since sine and cosine are one.
        let (a, b) = (6_378.137_f64, 6_378.137_f64 * (1.0 - 1.0 / 298.257_223_563));
        let radius_km = ((a.powi(4) + b.powi(4)) / (a * a + b * b)).sqrt();
        assert!((length(o.place_km()) - radius_km).abs() < 1e-6, "{radius_km}");
        let above = Observer::at(45.0, 10.0, 700_000.0).place_km();
        let (direction, range_km) = o.look(above);
        assert!((direction.elevation_deg - 90.0).abs() < 1e-9 && (range_km - 700.0).abs() < 1e-9);
        let east = Observer::at(45.0, 10.001, 0.0).place_km();
        let north = Observer::at(45.001, 10.0, 0.0).place_km();
        assert!((o.look(east).0.azimuth_deg - 90.0).abs() < 1e-2);
        assert!(o.look(north).0.azimuth_deg.min(360.0 - o.look(north).0.azimuth_deg) < 1e-2);
        // Geodetic against geocentric: at 45 degrees the centre lies 0.1924 degrees off the vertical.
        let off = dot(o.place_km(), o.up) / length(o.place_km());
        assert!((off.acos().to_degrees() - 0.1924).abs() < 1e-3);
    }
}
