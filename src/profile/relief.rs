//! What is assumed where rasters end, are coarse or hold nothing.
use serde::{Deserialize, Serialize};

/// How elevation is read where it says little.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Relief {
    /// Slope along which the offset between two rasters fades beside their seam, degrees.
    pub seam_slope_deg: f64,
    /// Slope at which ground may rise inside a void from what is known around it, degrees.
    pub void_slope_deg: f64,
    /// And up to this much above the highest known ground around, metres.
    pub void_rise_m: f64,
    /// Larger pixels may hide a rock face inside one of them, metres.
    pub coarse_pixel_m: f64,
    /// Ground that differs by this much between two neighbouring pixels may hold such a face, metres.
    pub coarse_rise_m: f64,
}

impl Default for Relief {
    fn default() -> Self {
        Self {
            seam_slope_deg: 1.0,
            void_slope_deg: 60.0,
            void_rise_m: 300.0,
            coarse_pixel_m: 10.0,
            coarse_rise_m: 10.0,
        }
    }
}
