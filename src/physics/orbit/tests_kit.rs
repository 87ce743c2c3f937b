//! What the tests of orbits share.
use super::model::SkyWeights;
use super::weights::sky_weights;
use crate::physics::sky::mask::SkyGrid;
use crate::profile::{Constellation, Link, Shell};

/// Values printed to four decimals, computed by an independent one-dimensional integral and
/// confirmed by Monte Carlo with 4e6 satellites (derived here).
pub(super) const COUNT_TOLERANCE: f64 = 1e-3;

pub(super) fn near(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!((got - want).abs() <= tolerance, "{what}: got {got}, want {want} within {tolerance}");
}

/// A thousand satellites at 550 km, 53 degrees.
pub(super) fn thousand() -> Shell {
    Shell { altitude_km: 550.0, inclination_deg: 53.0, planes: 40, per_plane: 25 }
}

pub(super) fn only(shell: Shell) -> Constellation {
    Constellation { shells: vec![shell], geostationary_exclusion_deg: 0.0 }
}

/// Everything usable, no preference: weights are plain expected counts.
fn plain_link() -> Link {
    Link { usable_share: 1.0, elevation_preference: 0.0, ..Link::default() }
}

pub(super) fn weights(latitude_deg: f64, constellation: &Constellation, floor_deg: f64) -> SkyWeights {
    sky_weights(latitude_deg, constellation, &plain_link(), SkyGrid { floor_deg })
}
