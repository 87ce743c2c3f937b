//! Which satellites are expected where in the sky, by latitude: closed form and satellite timelines.
//!
//! Comes in: circular shells, link and terminal assumptions, a latitude. Goes out: [`SkyWeights`],
//! the expected number of usable satellites per cell of the sky, and a [`Timeline`], the satellites
//! themselves second by second. The closed form is the long-run mean of the timeline. Angles in degrees,
//! azimuth clockwise from true north; the earth is a turning sphere. [`elements`] does the same for real
//! satellites, with SGP4 over the ellipsoid. Drawing which satellites are usable, and serving them, are
//! not done here.
pub mod cone;
pub mod density;
pub mod elements;
pub mod frames;
pub mod geometry;
pub mod model;
mod quadrature;
pub mod timeline;
pub mod weights;

#[cfg(test)]
mod tests_density;
#[cfg(test)]
mod tests_geometry;
#[cfg(test)]
mod tests_kit;
#[cfg(test)]
mod tests_timeline;
#[cfg(test)]
mod tests_weights;

use crate::physics::sky::mask::SkyGrid;
use crate::profile::{Constellation, Link};
use model::{SkyWeights, Timeline};

/// Everything the sky holds at one whole degree of latitude.
#[derive(Debug, Clone, PartialEq)]
pub struct Sky {
    /// Expected usable satellites per cell of the grid.
    pub weights: SkyWeights,
    /// Satellites above the grid's floor, second by second.
    pub timeline: Timeline,
}

impl Sky {
    /// Weights and timeline at the latitude of a [`latitude_key`]; the timeline is `seconds` long.
    pub fn build(key: i32, constellation: &Constellation, link: &Link, grid: SkyGrid, seconds: u32) -> Self {
        let timeline = timeline::shell_timeline(f64::from(key), constellation, grid.floor_deg, seconds);
        Self::with_timeline(timeline, constellation, link, grid)
    }
    /// Weights at the latitude of a timeline made elsewhere, such as from real elements.
    pub fn with_timeline(timeline: Timeline, constellation: &Constellation, link: &Link, grid: SkyGrid) -> Self {
        Self { weights: weights::sky_weights(timeline.latitude_deg, constellation, link, grid), timeline }
    }
}

/// The whole degree of latitude under which a sky is shared, -90..=90.
pub fn latitude_key(latitude_deg: f64) -> i32 {
    latitude_deg.clamp(-90.0, 90.0).round() as i32
}
