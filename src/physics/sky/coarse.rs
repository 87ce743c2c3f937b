//! Whether elevation could hide a rock face beside the road.
//!
//! The pixel a road lies in says nothing about what stands beside it: a face between two pixel centres is a slope in the raster,
//! and its foot and top may lie anywhere within one pixel. Where neighbouring pixels differ by less than a face that matters, there is
//! none (or the raster is wrong).
use crate::base::geodesy::Point;
use crate::base::window::Elevation;

/// Directions looked in.
const DIRECTIONS: u32 = 8;

/// Largest difference of heights one pixel apart, up to one and a half pixels from a place, metres; `None` without
/// elevation there.
pub fn rise_beside_m(elevation: &Elevation, at: Point) -> Option<f64> {
    let pixel_m = elevation.best(at)?.pixel_m;
    let mut most_m = 0.0_f64;
    for i in 0..DIRECTIONS {
        let azimuth_deg = 360.0 * f64::from(i) / f64::from(DIRECTIONS);
        let height = |pixels: f64| elevation.height_m(at.moved(azimuth_deg, pixels * pixel_m)).map(f64::from);
        let [behind, near, far] = [-0.5, 0.5, 1.5].map(height);
        for (a, b) in [(behind, near), (near, far)] {
            if let (Some(a), Some(b)) = (a, b) {
                most_m = most_m.max((b - a).abs());
            }
        }
    }
    Some(most_m)
}
