//! Horizon of the terrain: the highest elevation angle of the ground along an azimuth, with earth
//! curvature and refraction.
//!
//! In: elevations around a cell and an eye above the ground. Out: degrees per azimuth. The surface is
//! the bilinear one through the raster's pixels, and its highest point per crossed cell is found in
//! closed form, so no ridge between pixels is missed. Cells and blocks of cells that cannot rise above what
//! has been seen are skipped by their maxima. A ray is straight in pixels, along the azimuth at the eye: over 20 km a
//! conformal projection bends it by about one 30 m pixel, sideways.
mod blocks;
mod ceiling;
mod eye;
mod ray;
mod standpoint;

use super::mask::{AZIMUTH_BINS, azimuth_deg};
use crate::base::geodesy::Point;
use crate::base::window::Elevation;
use blocks::{Level, levels_of};
use ray::Ray;
use standpoint::{Best, Standpoint};

pub use ceiling::{CeilingBlocks, ceiling};
pub use eye::{HorizonEye, HorizonQuery, drop_m, elevation_angle_deg};

/// Where the horizon was found, per azimuth bin: handed from station to station along a road it makes
/// the next search short. It never changes an answer by more than rounding.
#[derive(Debug, Clone)]
pub struct Hint {
    distance_m: [f32; AZIMUTH_BINS],
}

impl Default for Hint {
    fn default() -> Self {
        Self { distance_m: [0.0; AZIMUTH_BINS] }
    }
}

/// Elevation of a cell with block maxima, built once and then asked for every station.
#[derive(Debug, Clone)]
pub struct TerrainPyramid {
    elevation: Elevation,
    levels: Vec<Vec<Level>>,
    /// Sine and cosine of the centre of every azimuth bin.
    towards: [(f64, f64); AZIMUTH_BINS],
}

impl TerrainPyramid {
    /// Builds the block maxima.
    pub fn new(elevation: Elevation) -> Self {
        let levels = elevation.grids.iter().map(levels_of).collect();
        Self { elevation, levels, towards: std::array::from_fn(|bin| azimuth_deg(bin).to_radians().sin_cos()) }
    }
    /// The elevation it was built from.
    pub fn elevation(&self) -> &Elevation {
        &self.elevation
    }
    /// Pixel size, metres, of the best source that has a height at a place.
    pub fn pixel_m(&self, at: Point) -> Option<f64> {
        self.elevation.grids.iter().find(|g| g.height_m(at).is_some()).map(|g| g.pixel_m)
    }
    /// Horizons at the centres of all azimuth bins, degrees; `floor_deg` where nothing rises above it.
    pub fn horizons_deg(&self, eye: &HorizonEye, query: &HorizonQuery, hint: &mut Hint) -> [f32; AZIMUTH_BINS] {
        let stands = self.stands(eye, query);
        let floor = floor_tangent(query);
        std::array::from_fn(|bin| {
            let (deg, found_m) = search(&stands, floor, self.towards[bin], query, f64::from(hint.distance_m[bin]));
            hint.distance_m[bin] = found_m.unwrap_or(0.0) as f32;
            deg
        })
    }
    /// Horizon along one azimuth, degrees.
    pub fn horizon_deg(&self, eye: &HorizonEye, azimuth_deg: f64, query: &HorizonQuery) -> f32 {
        self.horizon_and_distance(eye, azimuth_deg, query).0
    }
    /// Horizon along one azimuth and its distance, `None` where nothing rises above the floor.
    pub fn horizon_and_distance(&self, eye: &HorizonEye, azimuth_deg: f64, query: &HorizonQuery) -> (f32, Option<f64>) {
        let towards = azimuth_deg.to_radians().sin_cos();
        search(&self.stands(eye, query), floor_tangent(query), towards, query, 0.0)
    }

    fn stands(&self, eye: &HorizonEye, query: &HorizonQuery) -> Vec<Standpoint<'_>> {
        let grids = self.elevation.grids.iter().zip(&self.levels);
        grids.filter_map(|(grid, levels)| Standpoint::new(grid, levels, eye, query)).collect()
    }
}

fn floor_tangent(query: &HorizonQuery) -> f64 {
    if query.floor_deg <= -90.0 { f64::NEG_INFINITY } else { query.floor_deg.to_radians().tan() }
}

/// One ray over all grids; `towards` is the sine and cosine of its azimuth.
fn search(
    stands: &[Standpoint],
    floor: f64,
    towards: (f64, f64),
    query: &HorizonQuery,
    hint_m: f64,
) -> (f32, Option<f64>) {
    let mut best = Best { tangent: floor, distance_m: 0.0 };
    for stand in stands {
        if let Some(ray) = Ray::new(stand, towards) {
            ray.look_near(hint_m, &mut best);
            ray.march(&mut best);
        }
    }
    if best.distance_m > 0.0 {
        (best.tangent.atan().to_degrees() as f32, Some(best.distance_m))
    } else {
        (query.floor_deg as f32, None)
    }
}
