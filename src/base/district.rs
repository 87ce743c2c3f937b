//! Squares of a quarter of a degree.
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::geodesy::Position;

/// Side of a district, 1e-7 degrees: 28 km from south to north, as many degrees from west to east.
const SIDE_E7: i64 = 2_500_000;
/// Districts around the globe.
const AROUND: i64 = 1_440;
/// A turn around the globe, 1e-7 degrees.
const TURN_E7: i64 = 3_600_000_000;
/// One degree of latitude, metres: the mean over the meridian of WGS 84, rounded down, so that reaches are never too short.
const DEGREE_M: f64 = 110_500.0;
/// Nearer to the poles than this, degrees, districts are as wide as there.
const NARROWEST_DEG: f64 = 89.9;

/// One square of the globe.
///
/// Rows count from the equator northwards, columns from the meridian of Greenwich eastwards, once around the globe.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct District {
    row: i32,
    column: i32,
}

/// A box on the globe, 1e-7 degrees; west may lie below -180 degrees and east beyond 180.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Reach {
    /// Southern edge.
    pub south_e7: i64,
    /// Northern edge.
    pub north_e7: i64,
    /// Western edge.
    pub west_e7: i64,
    /// Eastern edge.
    pub east_e7: i64,
}

impl District {
    /// The district a place lies in; one on a line belongs to the district north or east of it.
    pub fn of(p: Position) -> Self {
        let line = |angle_e7: i32| i64::from(angle_e7).div_euclid(SIDE_E7);
        Self { row: line(p.lat_e7) as i32, column: line(p.lon_e7).rem_euclid(AROUND) as i32 }
    }
    /// Its middle.
    pub fn middle(self) -> Position {
        let own = self.reach(0.0);
        let lon_e7 = (own.west_e7 + SIDE_E7 / 2 + TURN_E7 / 2).rem_euclid(TURN_E7) - TURN_E7 / 2;
        Position { lon_e7: lon_e7 as i32, lat_e7: (own.south_e7 + SIDE_E7 / 2) as i32 }
    }
    /// The square grown on every side by at least `by_m` metres.
    pub fn reach(self, by_m: f64) -> Reach {
        let (row, column) = (i64::from(self.row), i64::from(self.column));
        let (south_e7, west_e7) = (row * SIDE_E7, column * SIDE_E7);
        let north_e7 = south_e7 + SIDE_E7;
        let up_e7 = (by_m / DEGREE_M * 1e7).ceil() as i64;
        // Degrees of longitude are shortest at the edge farther from the equator.
        let farthest_deg = ((south_e7 - up_e7).abs().max((north_e7 + up_e7).abs()) as f64 * 1e-7).min(NARROWEST_DEG);
        let aside_e7 = (up_e7 as f64 / farthest_deg.to_radians().cos()).ceil() as i64;
        Reach {
            south_e7: south_e7 - up_e7,
            north_e7: north_e7 + up_e7,
            west_e7: west_e7 - aside_e7,
            east_e7: west_e7 + SIDE_E7 + aside_e7,
        }
    }
    /// Districts that a box touches, by row and column.
    pub fn touched(reach: &Reach) -> impl Iterator<Item = Self> {
        let line = |angle_e7: i64| angle_e7.div_euclid(SIDE_E7);
        let (from, to) = (line(reach.west_e7), line(reach.east_e7));
        let to = to.min(from + AROUND - 1);
        (line(reach.south_e7)..=line(reach.north_e7)).flat_map(move |row| {
            (from..=to).map(move |column| Self { row: row as i32, column: column.rem_euclid(AROUND) as i32 })
        })
    }
    /// Districts of which the square grown by `by_m` metres touches a box, in order.
    pub fn around(at: &Reach, by_m: f64) -> Vec<Self> {
        let up_e7 = Self { row: 0, column: 0 }.reach(by_m).north_e7 - SIDE_E7;
        let mut out = Vec::new();
        for row in (at.south_e7 - up_e7).div_euclid(SIDE_E7) - 1..=(at.north_e7 + up_e7).div_euclid(SIDE_E7) + 1 {
            let own = |column| Self { row: row as i32, column };
            let aside_e7 = -own(0).reach(by_m).west_e7;
            let from = (at.west_e7 - aside_e7).div_euclid(SIDE_E7) - 1;
            let to = ((at.east_e7 + aside_e7).div_euclid(SIDE_E7) + 1).min(from + AROUND - 1);
            let columns = (from..=to).map(|column| own(column.rem_euclid(AROUND) as i32));
            out.extend(columns.filter(|district| district.reach(by_m).meets(at)));
        }
        out.sort_unstable();
        out.dedup();
        out
    }
}

impl Reach {
    /// The smallest box around some places, without a jump at 180 degrees; nothing without any.
    pub fn around(places: impl IntoIterator<Item = Position>) -> Option<Self> {
        let mut places = places.into_iter();
        let first = places.next()?;
        let (lon, lat) = (i64::from(first.lon_e7), i64::from(first.lat_e7));
        let mut all = Self { south_e7: lat, north_e7: lat, west_e7: lon, east_e7: lon };
        for p in places {
            let lat = i64::from(p.lat_e7);
            // From one place to the next it is never more than half around the globe.
            let lon = nearest_turn(p.lon_e7.into(), lon);
            all.south_e7 = all.south_e7.min(lat);
            all.north_e7 = all.north_e7.max(lat);
            all.west_e7 = all.west_e7.min(lon);
            all.east_e7 = all.east_e7.max(lon);
        }
        Some(all)
    }
    /// The smallest box around two, without a turn around the globe between them.
    pub fn with(&self, other: &Self) -> Self {
        Self {
            south_e7: self.south_e7.min(other.south_e7),
            north_e7: self.north_e7.max(other.north_e7),
            west_e7: self.west_e7.min(other.west_e7),
            east_e7: self.east_e7.max(other.east_e7),
        }
    }
    /// Whether a place lies in it.
    pub fn holds(&self, p: Position) -> bool {
        Self::around([p]).is_some_and(|at| self.meets(&at))
    }
    /// Whether two boxes touch.
    pub fn meets(&self, other: &Self) -> bool {
        let apart = |other_west: i64, other_east: i64| other_east < self.west_e7 || other_west > self.east_e7;
        let beside = [-TURN_E7, 0, TURN_E7].iter().all(|turn| apart(other.west_e7 + turn, other.east_e7 + turn));
        !beside && other.south_e7 <= self.north_e7 && other.north_e7 >= self.south_e7
    }
}

/// A longitude, turned so that it lies no more than half around the globe from another.
fn nearest_turn(lon_e7: i64, from_e7: i64) -> i64 {
    match lon_e7 - from_e7 {
        east if east > TURN_E7 / 2 => lon_e7 - TURN_E7,
        west if west < -TURN_E7 / 2 => lon_e7 + TURN_E7,
        _ => lon_e7,
    }
}

/// By its south-western corner in hundredths of a degree, such as `n4250e00125`: a name that a file may have.
impl fmt::Display for District {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let west = if i64::from(self.column) < AROUND / 2 { self.column } else { self.column - AROUND as i32 };
        let (north, east) = (self.row >= 0, west >= 0);
        write!(
            f,
            "{}{:04}{}{:05}",
            if north { 'n' } else { 's' },
            25 * self.row.abs(),
            if east { 'e' } else { 'w' },
            25 * west.abs()
        )
    }
}

impl FromStr for District {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let read = || {
            let (lat, lon) = (text.get(..5)?, text.get(5..)?);
            let hundredths = |part: &str, plus: char, minus: char| {
                let number: i32 = part.get(1..)?.parse().ok()?;
                let sign = part.chars().next().filter(|c| [plus, minus].contains(c))?;
                (number % 25 == 0).then_some(if sign == minus { -number / 25 } else { number / 25 })
            };
            let (row, west) = (hundredths(lat, 'n', 's')?, hundredths(lon, 'e', 'w')?);
            let known = Self { row, column: i64::from(west).rem_euclid(AROUND) as i32 };
            (known.to_string() == text && (-360..360).contains(&row)).then_some(known)
        };
        read().ok_or_else(|| format!("`{text}` is not the name of a district, such as n4250e00125"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon: f64, lat: f64) -> District {
        District::of(Position::from_deg(lon, lat))
    }

    #[test]
    fn a_place_on_a_line_belongs_to_the_north_and_east_and_the_globe_closes() {
        assert_eq!(
            (at(1.5, 42.5).to_string(), at(1.499_999_9, 42.5).to_string()),
            ("n4250e00150".into(), "n4250e00125".into())
        );
        assert_eq!(
            (at(-0.1, -0.1).to_string(), at(0.0, 0.0).to_string()),
            ("s0025w00025".into(), "n0000e00000".into())
        );
        assert_eq!(at(180.0, 10.0), at(-180.0, 10.0));
        assert_eq!(at(-180.0, 10.0).to_string(), "n1000w18000");
        assert_eq!(at(179.9, 10.0).middle(), Position::from_deg(179.875, 10.125));
        assert_eq!(at(-179.9, 10.0).middle(), Position::from_deg(-179.875, 10.125));
    }

    #[test]
    fn names_lead_back_and_others_do_not() {
        for (lon, lat) in [(1.6, 42.6), (-28.1, 47.1), (179.99, -89.9), (-180.0, 89.9), (0.1, -0.2)] {
            let district = at(lon, lat);
            assert_eq!(district.to_string().parse(), Ok(district));
        }
        for bad in [
            "",
            "n4250",
            "n4251e00125",
            "n4250e0125",
            "x4250e00125",
            "n4250e36000",
            "n9500e00000",
            "../passwd",
            "né250e0012",
        ] {
            assert!(bad.parse::<District>().is_err(), "{bad}");
        }
    }

    #[test]
    fn reach_is_never_shorter_than_asked_anywhere() {
        use crate::base::geodesy::distance_m;
        for (lon, lat) in [(10.1, 0.1), (10.1, 46.1), (-70.1, -54.9), (25.1, 71.1), (179.9, 47.1)] {
            let district = at(lon, lat);
            let reach = district.reach(7_000.0);
            for (corner_lon, corner_lat, east, north) in
                [(1.0, 1.0, 1.0, 0.0), (1.0, 1.0, 0.0, 1.0), (0.0, 0.0, -1.0, 0.0), (0.0, 0.0, 0.0, -1.0)]
            {
                let own = district.reach(0.0);
                let lon_e7 = own.west_e7 + (corner_lon * SIDE_E7 as f64) as i64;
                let lat_e7 = own.south_e7 + (corner_lat * SIDE_E7 as f64) as i64;
                let corner = Position { lon_e7: nearest_turn(lon_e7, 0) as i32, lat_e7: lat_e7 as i32 };
                // Walk out until the reach ends.
                let mut step = 0;
                let out = |step: i32| {
                    let lon = corner.lon_deg() + east * f64::from(step) * 1e-4;
                    Position::from_deg(
                        crate::base::geodesy::lon_on_earth_deg(lon),
                        corner.lat_deg() + north * f64::from(step) * 1e-4,
                    )
                };
                while reach.holds(out(step)) {
                    step += 1;
                }
                let far_m = distance_m(corner, out(step));
                assert!((7_000.0..10_000.0).contains(&far_m), "{lon} {lat}: {far_m}");
            }
        }
    }

    proptest::proptest! {
        #[test]
        fn those_around_a_box_are_all_that_meet_it(
            west in -1_799_999_999_i64..1_800_000_000, south in -899_999_999_i64..899_999_999,
            wide in 0_i64..20_000_000, high in 0_i64..20_000_000, by_m in 0.0..20_000.0_f64,
        ) {
            let north_e7 = (south + high).min(900_000_000);
            let at = Reach { south_e7: south, north_e7, west_e7: west, east_e7: west + wide };
            let rows = south.div_euclid(SIDE_E7) as i32 - 3..=north_e7.div_euclid(SIDE_E7) as i32 + 3;
            let all = rows.flat_map(|row| (0..AROUND as i32).map(move |column| District { row, column }));
            let want: Vec<_> = all.filter(|d| d.reach(by_m).meets(&at)).collect();
            proptest::prop_assert_eq!(District::around(&at, by_m), want);
        }
    }

    #[test]
    fn boxes_touch_the_districts_that_hold_any_of_them() {
        let around = |places: &[(f64, f64)]| {
            Reach::around(places.iter().map(|(lon, lat)| Position::from_deg(*lon, *lat))).unwrap()
        };
        let names = |reach: &Reach| District::touched(reach).map(|d| d.to_string()).collect::<Vec<_>>();
        let across = around(&[(179.9, 10.1), (-179.9, 10.3)]);
        assert_eq!(names(&across), ["n1000e17975", "n1000w18000", "n1025e17975", "n1025w18000"]);
        assert!(across.meets(&at(-179.9, 10.1).reach(0.0)) && !across.meets(&at(-179.6, 10.1).reach(0.0)));
        assert!(at(-179.9, 10.1).reach(1_000.0).holds(Position::from_deg(179.995, 10.1)));
        assert!(!at(-179.9, 10.1).reach(0.0).holds(Position::from_deg(179.995, 10.1)));
        assert_eq!(names(&around(&[(1.6, 42.6)])), ["n4250e00150"]);
    }
}
