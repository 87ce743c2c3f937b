//! Horizon of buildings that a surface model shows.
//!
//! In: [`Measured`] and an eye of known height. Out: one horizon per azimuth bin, degrees. A bin is looked at along five
//! azimuths, and its horizon hides the same mean solid angle above the lowest elevation, as those of mapped
//! buildings do.
use super::horizon::{HorizonEye, HorizonQuery, TerrainPyramid};
use super::mask::AZIMUTH_BINS;
use crate::physics::scene::solids::measured::Measured;

/// Azimuths looked at per bin.
const PER_BIN: usize = 5;

/// The tops of measured buildings around a cell, ready to be asked.
#[derive(Debug)]
pub struct MeasuredTops {
    tops: TerrainPyramid,
    highest_m: f64,
}

impl MeasuredTops {
    /// Builds the block maxima.
    pub fn new(measured: &Measured) -> Self {
        let values = measured.tops().grids.iter().flat_map(|g| &g.values_m);
        let highest_m = f64::from(values.copied().fold(f32::NEG_INFINITY, f32::max));
        Self { tops: TerrainPyramid::new(measured.tops().clone()), highest_m }
    }
    /// Raises `horizon_deg` to what stands around an eye; whether anything was raised.
    pub fn paint(&self, eye: &HorizonEye, floor_deg: f64, horizon_deg: &mut [f32; AZIMUTH_BINS]) -> bool {
        let reach_m = (self.highest_m - eye.z_m) / floor_deg.to_radians().tan().max(f64::MIN_POSITIVE);
        let Some(pixel_m) = self.tops.pixel_m(eye.at).filter(|pixel_m| reach_m > *pixel_m) else { return false };
        // Curvature and refraction are millimetres within the reach of a building.
        let query = HorizonQuery { start_m: pixel_m, max_m: reach_m, floor_deg, refraction_k: 0.0 };
        let floor_sin = floor_deg.to_radians().sin();
        let bin_deg = 360.0 / AZIMUTH_BINS as f64;
        let mut raised = false;
        for (bin, horizon) in horizon_deg.iter_mut().enumerate() {
            let hidden = |ray: usize| {
                let azimuth_deg = bin_deg * (bin as f64 + (ray as f64 + 0.5) / PER_BIN as f64);
                f64::from(self.tops.horizon_deg(eye, azimuth_deg, &query)).to_radians().sin().max(floor_sin) - floor_sin
            };
            let mean = (0..PER_BIN).map(hidden).sum::<f64>() / PER_BIN as f64;
            if mean > 0.0 {
                let deg = (floor_sin + mean).min(1.0).asin().to_degrees() as f32;
                raised |= deg > *horizon;
                *horizon = horizon.max(deg);
            }
        }
        raised
    }
}
