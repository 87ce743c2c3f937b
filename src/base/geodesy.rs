//! Positions on the earth, the local metric plane of one cell, and directions.
//!
//! Azimuth: degrees clockwise from true north. Elevation: degrees above the horizontal.

/// Mean earth radius, metres (IUGG mean radius R1 rounded; the value the published check cases use).
pub(crate) const EARTH_RADIUS_M: f64 = 6_371_000.0;
/// WGS 84 semi-major axis, metres.
pub(crate) const WGS84_A_M: f64 = 6_378_137.0;
/// WGS 84 first eccentricity squared.
pub(crate) const WGS84_E2: f64 = 6.694_379_990_141_317e-3;

/// A place in WGS 84, in units of 1e-7 degrees (the resolution of the map data; 8 bytes).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, serde::Serialize, serde::Deserialize)]
pub struct Position {
    /// Longitude, 1e-7 degrees, east positive.
    pub lon_e7: i32,
    /// Latitude, 1e-7 degrees, north positive.
    pub lat_e7: i32,
}

impl Position {
    /// From degrees; values are rounded to 1e-7 degrees.
    pub fn from_deg(lon_deg: f64, lat_deg: f64) -> Self {
        Self { lon_e7: (lon_deg * 1e7).round() as i32, lat_e7: (lat_deg * 1e7).round() as i32 }
    }
    /// Longitude, degrees.
    pub fn lon_deg(self) -> f64 {
        f64::from(self.lon_e7) * 1e-7
    }
    /// Latitude, degrees.
    pub fn lat_deg(self) -> f64 {
        f64::from(self.lat_e7) * 1e-7
    }
}

/// A point of a local plane: metres east and north of its origin.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Point {
    /// East, metres.
    pub x_m: f64,
    /// North, metres.
    pub y_m: f64,
}

impl Point {
    /// A point from metres east and north.
    pub fn new(x_m: f64, y_m: f64) -> Self {
        Self { x_m, y_m }
    }
    /// Distance to another point, metres.
    pub fn distance_m(self, other: Point) -> f64 {
        let (dx_m, dy_m) = (other.x_m - self.x_m, other.y_m - self.y_m);
        // Not `hypot`, whose care for the largest of numbers takes several times as long.
        (dx_m * dx_m + dy_m * dy_m).sqrt()
    }
    /// Azimuth towards another point, degrees in 0..360.
    pub fn azimuth_deg(self, other: Point) -> f64 {
        normal_deg((other.x_m - self.x_m).atan2(other.y_m - self.y_m).to_degrees())
    }
    /// The point `distance_m` away at `azimuth_deg`.
    pub fn moved(self, azimuth_deg: f64, distance_m: f64) -> Point {
        let (sin, cos) = azimuth_deg.to_radians().sin_cos();
        Point { x_m: self.x_m + distance_m * sin, y_m: self.y_m + distance_m * cos }
    }
    /// The point a share `t` of the way to `other`.
    pub fn towards(self, other: Point, t: f64) -> Point {
        Point { x_m: self.x_m + t * (other.x_m - self.x_m), y_m: self.y_m + t * (other.y_m - self.y_m) }
    }
}

/// The eighth of the compass a bearing lies in: 0 around north, 1 around north-east, clockwise.
pub fn eighth(bearing_deg: f64) -> usize {
    ((bearing_deg + 22.5).rem_euclid(360.0) / 45.0) as usize % 8
}

/// An angle brought into 0..360 degrees.
pub fn normal_deg(angle_deg: f64) -> f64 {
    let a = angle_deg.rem_euclid(360.0);
    if a >= 360.0 { 0.0 } else { a }
}

/// The signed turn from one azimuth to another, degrees in -180..=180, clockwise positive.
pub fn turn_deg(from_deg: f64, to_deg: f64) -> f64 {
    let d = (to_deg - from_deg).rem_euclid(360.0);
    if d > 180.0 { d - 360.0 } else { d }
}

/// A longitude within -180..=180 degrees.
pub fn lon_on_earth_deg(lon_deg: f64) -> f64 {
    if (-180.0..=180.0).contains(&lon_deg) { lon_deg } else { turn_deg(0.0, lon_deg) }
}

/// Longitudes of a line, degrees, each counted from the one of `from_deg` without a jump at the antimeridian: those beyond it
/// run on past 180 degrees.
pub(crate) fn unwrapped_deg(from_deg: f64, lon_deg: f64) -> f64 {
    // Exact where nothing is turned: a sum and a difference would cost the last digit.
    if (lon_deg - from_deg).abs() <= 180.0 { lon_deg } else { lon_deg - 360.0 * (lon_deg - from_deg).signum() }
}

/// A metric plane around one place: equirectangular on the WGS 84 ellipsoid at the origin's latitude.
///
/// North is +y everywhere. Fifteen kilometres from the origin east-west distances are off by at most
/// 0.25 % at 45 degrees of latitude, which is why work goes cell by cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalPlane {
    lon_deg: f64,
    lat_deg: f64,
    x_m_per_deg: f64,
    y_m_per_deg: f64,
}

impl LocalPlane {
    /// The plane with its origin at a place.
    pub fn at(lon_deg: f64, lat_deg: f64) -> Self {
        let (sin, cos) = lat_deg.to_radians().sin_cos();
        let w = 1.0 - WGS84_E2 * sin * sin;
        let meridian_m = WGS84_A_M * (1.0 - WGS84_E2) / (w * w.sqrt());
        let normal_m = WGS84_A_M / w.sqrt();
        Self {
            lon_deg,
            lat_deg,
            x_m_per_deg: (normal_m * cos).to_radians().max(1.0),
            y_m_per_deg: meridian_m.to_radians(),
        }
    }
    /// The plane with its origin at a position.
    pub fn at_position(p: Position) -> Self {
        Self::at(p.lon_deg(), p.lat_deg())
    }
    /// Longitude of the origin, degrees.
    pub fn lon_deg(&self) -> f64 {
        self.lon_deg
    }
    /// Latitude of the origin, degrees.
    pub fn lat_deg(&self) -> f64 {
        self.lat_deg
    }
    /// Plane coordinates of a position.
    pub fn to_plane(&self, p: Position) -> Point {
        self.from_lon_lat(p.lon_deg(), p.lat_deg())
    }
    /// Plane coordinates of a longitude and latitude in degrees.
    pub fn from_lon_lat(&self, lon_deg: f64, lat_deg: f64) -> Point {
        let dlon = turn_deg(self.lon_deg, lon_deg);
        Point { x_m: dlon * self.x_m_per_deg, y_m: (lat_deg - self.lat_deg) * self.y_m_per_deg }
    }
    /// Longitude and latitude, degrees, of a plane point; the longitude runs on beyond 180 degrees.
    pub fn to_lon_lat(&self, p: Point) -> (f64, f64) {
        (self.lon_deg + p.x_m / self.x_m_per_deg, self.lat_deg + p.y_m / self.y_m_per_deg)
    }
    /// Position of a plane point; east of the antimeridian longitudes begin at -180 degrees.
    pub fn to_position(&self, p: Point) -> Position {
        let (lon, lat) = self.to_lon_lat(p);
        Position::from_deg(lon_on_earth_deg(lon), lat)
    }
}

/// Share of the way from one point to another at which it comes nearest to the origin, and the point there.
pub fn nearest_to_origin(a: Point, b: Point) -> (f64, Point) {
    let (dx, dy) = (b.x_m - a.x_m, b.y_m - a.y_m);
    let square = dx * dx + dy * dy;
    let share = if square > 0.0 { (-(a.x_m * dx + a.y_m * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
    (share, a.towards(b, share))
}

/// The eight winds in words, by [`eighth`].
pub const WINDS: [&str; 8] = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];

/// Distance between two nearby positions, metres (local plane at their middle; for pieces of a road).
pub fn distance_m(a: Position, b: Position) -> f64 {
    let lat = (a.lat_deg() + b.lat_deg()) / 2.0;
    let plane = LocalPlane::at(a.lon_deg(), lat);
    plane.to_plane(a).distance_m(plane.to_plane(b))
}

/// The position at a distance along a line, metres; its last one beyond the end, nothing where there is none.
pub fn along(line: &[Position], at_m: f64) -> Option<Position> {
    let mut done_m = 0.0;
    for pair in line.windows(2) {
        let step_m = distance_m(pair[0], pair[1]);
        if step_m > 0.0 && done_m + step_m >= at_m {
            let plane = LocalPlane::at_position(pair[0]);
            let (a, b) = (plane.to_plane(pair[0]), plane.to_plane(pair[1]));
            return Some(plane.to_position(a.towards(b, ((at_m - done_m) / step_m).clamp(0.0, 1.0))));
        }
        done_m += step_m;
    }
    line.last().copied()
}

/// Length of a line of positions, metres.
pub fn length_m(line: &[Position]) -> f64 {
    line.windows(2).map(|w| distance_m(w[0], w[1])).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_degree_of_latitude_and_longitude_on_the_ellipsoid() {
        // Radii of curvature of the ellipsoid (J. P. Snyder, Map Projections, USGS Professional Paper 1395) from the axes of
        // WGS 84 (NGA.STND.0036): a^2 b^2 / (..)^1.5 along the meridian, a^2 / (..)^0.5 across it.
        for latitude_deg in [0.0_f64, 45.0, -60.0] {
            let (a, b) = (6_378_137.0_f64, 6_378_137.0_f64 * (1.0 - 1.0 / 298.257_223_563));
            let (sin, cos) = latitude_deg.to_radians().sin_cos();
            let under = (a * cos).powi(2) + (b * sin).powi(2);
            let along = (a * b).powi(2) / under.powf(1.5) * 1_f64.to_radians();
            let across = a * a / under.sqrt() * cos * 1_f64.to_radians();
            let plane = LocalPlane::at(7.0, latitude_deg);
            assert!((plane.y_m_per_deg - along).abs() < 0.01, "{} {along}", plane.y_m_per_deg);
            assert!((plane.x_m_per_deg - across).abs() < 0.01, "{} {across}", plane.x_m_per_deg);
        }
    }

    #[test]
    fn azimuth_is_clockwise_from_north() {
        let o = Point::default();
        assert_eq!(o.azimuth_deg(Point::new(1.0, 0.0)), 90.0);
        assert_eq!(o.azimuth_deg(Point::new(0.0, -1.0)), 180.0);
        assert_eq!(o.azimuth_deg(Point::new(-1.0, 0.0)), 270.0);
        assert!(o.moved(90.0, 2.0).distance_m(Point::new(2.0, 0.0)) < 1e-12);
    }

    #[test]
    fn turns_are_signed_and_wrap() {
        assert_eq!(turn_deg(350.0, 10.0), 20.0);
        assert_eq!(turn_deg(10.0, 350.0), -20.0);
        assert_eq!(normal_deg(-10.0), 350.0);
    }

    #[test]
    fn longitudes_run_on_or_stay_on_earth_as_asked() {
        assert_eq!((lon_on_earth_deg(180.5), lon_on_earth_deg(-180.25)), (-179.5, 179.75));
        assert_eq!((lon_on_earth_deg(180.0), lon_on_earth_deg(-180.0), lon_on_earth_deg(7.1)), (180.0, -180.0, 7.1));
        assert_eq!((unwrapped_deg(179.5, -179.75), unwrapped_deg(-179.5, 179.75)), (180.25, -180.25));
        assert_eq!(unwrapped_deg(1.5, 1.523_456_7), 1.523_456_7);
        let plane = LocalPlane::at(179.999, -17.0);
        let p = plane.to_position(Point::new(1_000.0, 0.0));
        assert!((-180.0..-179.9).contains(&p.lon_deg()) && (plane.to_plane(p).x_m - 1_000.0).abs() < 0.02, "{p:?}");
    }

    #[test]
    fn positions_round_trip_through_the_plane() {
        let plane = LocalPlane::at(179.99, -17.0);
        let p = Position::from_deg(-179.99, -17.01);
        assert!(plane.to_plane(p).x_m > 0.0, "the plane crosses the antimeridian eastward");
        let q = LocalPlane::at(1.5, 42.5);
        let p = Position::from_deg(1.52, 42.49);
        assert_eq!(q.to_position(q.to_plane(p)), p);
    }
}
