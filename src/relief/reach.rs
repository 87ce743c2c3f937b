//! How far away ground can rise into the usable sky.
use super::overview::{CHUNK, Overview};
use super::source::{OpenSource, Pixels, Square};
use crate::base::error::Result;
use crate::base::geodesy::{EARTH_RADIUS_M, LocalPlane, Point};

/// No ground is higher, metres: the highest summit, 8,848.86 m (China and Nepal, joint announcement of 8 December 2020), and room for the raster's error.
const HIGHEST_M: f64 = 8_900.0;
/// Terrain is looked for at least this far, metres.
const LEAST_M: f64 = 500.0;
/// And no farther, metres: 9 km of relief rise above 5 degrees over 97 km.
const MOST_M: f64 = 100_000.0;
/// Nothing farther than this from a road is ever read for it, metres: the same, and room for the square that is looked from and for
/// the slope along which offsets between rasters fade.
pub const FARTHEST_SEEN_M: f64 = MOST_M + 50_000.0;

/// How far ground that is `relief_m` higher than the eye rises above an elevation, metres, between bounds: the `d` at which
/// `relief / d - d / 2R' = tan(lowest)`, R' the radius stretched for refraction.
pub fn sight_m(relief_m: f64, lowest_deg: f64, refraction_k: f64) -> f64 {
    let (tangent, per_radius) = (lowest_deg.to_radians().tan(), (1.0 - refraction_k) / EARTH_RADIUS_M);
    let root = (tangent * tangent + 2.0 * relief_m.max(0.0) * per_radius).max(0.0).sqrt();
    // The other form of the root, which does not lose its digits over short distances.
    let far_m = 2.0 * relief_m.max(0.0) / (root + tangent);
    if far_m.is_finite() && root + tangent > 0.0 { far_m.clamp(LEAST_M, MOST_M) } else { MOST_M }
}

/// Who looks, and how low.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lookout {
    /// Half the side of the square that is looked from, metres.
    pub half_m: f64,
    /// Lowest height that is looked from, metres.
    pub lowest_m: f64,
    /// Lowest elevation that counts, degrees.
    pub floor_deg: f64,
    /// Coefficient of refraction.
    pub refraction_k: f64,
}

impl Lookout {
    fn sight_m(&self, highest_m: f64) -> f64 {
        sight_m(highest_m - self.lowest_m, self.floor_deg, self.refraction_k)
    }
}

/// Distance up to which ground of a source rises above the lowest elevation, metres, and the height of the highest ground
/// looked at; `None` where the source shows none.
pub(super) fn reach_m(
    source: &OpenSource,
    overview: &Overview,
    plane: &LocalPlane,
    from: &Lookout,
) -> Result<Option<(f64, f64)>> {
    let mut found: Option<(f64, f64)> = None;
    for turn in source.turns() {
        let square = Square { turn: *turn, ..Square::around_origin(from.half_m + from.sight_m(HIGHEST_M)) };
        if let Some(pixels) = source.pixels_in(plane, square)
            && let Some((reach_m, highest_m)) = reach_of(source, overview, plane, from, pixels)?
        {
            let (reach, highest) = found.unwrap_or((reach_m, highest_m));
            found = Some((reach.max(reach_m), highest.max(highest_m)));
        }
    }
    Ok(found)
}

/// The same over some pixels of the source.
fn reach_of(
    source: &OpenSource,
    overview: &Overview,
    plane: &LocalPlane,
    from: &Lookout,
    pixels: Pixels,
) -> Result<Option<(f64, f64)>> {
    let side = CHUNK * Overview::factor(source);
    let mut found: Option<(f64, f64)> = None;
    for j in pixels.row / side..=(pixels.row + pixels.rows - 1) / side {
        for i in pixels.column / side..=(pixels.column + pixels.columns - 1) / side {
            let corner = |a: usize, b: usize| (((i + a) * side) as f64 - 0.5, ((j + b) * side) as f64 - 0.5);
            let corners = [corner(0, 0), corner(1, 0), corner(0, 1), corner(1, 1)];
            let Some((near_m, far_m)) = source.to_lon_lat(&corners).map(|at| distances_m(plane, from.half_m, &at))
            else {
                continue;
            };
            if near_m > from.sight_m(HIGHEST_M) {
                continue;
            }
            let Some(highest_m) = overview.chunk(source, (i, j))?.highest_m.map(f64::from) else { continue };
            let sight_m = from.sight_m(highest_m);
            let (reach_m, highest) = found.unwrap_or((LEAST_M, highest_m));
            let seen_m = if near_m < sight_m { sight_m.min(far_m.max(LEAST_M)) } else { LEAST_M };
            found = Some((reach_m.max(seen_m), highest.max(highest_m)));
        }
    }
    Ok(found)
}

/// Distances from a square around the origin to the nearest and farthest point of a quadrangle, metres: bounds.
fn distances_m(plane: &LocalPlane, half_m: f64, corners: &[(f64, f64)]) -> (f64, f64) {
    let corners: Vec<Point> = corners.iter().map(|(lon, lat)| plane.from_lon_lat(*lon, *lat)).collect();
    let n = corners.len() as f64;
    let middle =
        Point::new(corners.iter().map(|p| p.x_m).sum::<f64>() / n, corners.iter().map(|p| p.y_m).sum::<f64>() / n);
    let round_m = corners.iter().map(|p| p.distance_m(middle)).fold(0.0, f64::max);
    let away_m = middle.distance_m(Point::default());
    let diagonal_m = half_m * std::f64::consts::SQRT_2;
    ((away_m - round_m - diagonal_m).max(0.0), away_m + round_m + diagonal_m)
}
