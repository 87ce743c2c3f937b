//! Weights of the sky's cells, and the cone a panel can use.
use super::cone::Cone;
use super::density::cell_counts;
use super::model::SkyWeights;
use crate::physics::sky::mask::{AZIMUTH_BINS, AZIMUTH_STEP_DEG, SkyGrid};
use crate::profile::{Constellation, Link, Terminal};

/// Headings over which a figure that turns with the vehicle is averaged.
const HEADINGS: usize = 16;
/// Points per cell and coordinate at which a cell cut by the cone's edge is looked at.
const CONE_POINTS: usize = 5;

/// Weights of all cells of a grid at a latitude, before any cone.
///
/// Their sum is the expected number of usable satellites above the grid's floor, away from the
/// geostationary arc. Their distribution follows the satellites times sin(elevation) to the power of
/// the preference: a cell's weight is the part of the expected number that serves from there.
pub fn sky_weights(latitude_deg: f64, constellation: &Constellation, link: &Link, grid: SkyGrid) -> SkyWeights {
    let cells = cell_counts(constellation, latitude_deg, link.elevation_preference, grid);
    let clear: f64 = cells.iter().map(|c| c.clear).sum();
    let preferred: f64 = cells.iter().map(|c| c.preferred).sum();
    let scale = if preferred > 0.0 { link.usable_share * clear / preferred } else { 0.0 };
    SkyWeights { expected: cells.iter().map(|c| (c.preferred * scale) as f32).collect() }
}

/// Expected usable satellites of all cells, the sum of the weights.
#[cfg(test)]
pub(crate) fn expected_usable(weights: &SkyWeights) -> f64 {
    weights.expected.iter().map(|w| f64::from(*w)).sum()
}

/// Expected usable satellites that a panel sees, mean over headings around the compass.
pub fn expected_in_cone(weights: &SkyWeights, grid: SkyGrid, terminal: &Terminal) -> f64 {
    let cone = Cone::new(terminal);
    let headings = if cone.turns() { HEADINGS } else { 1 };
    let at = |k: usize| -> f64 { inside(weights, grid, &cone, 360.0 * k as f64 / headings as f64).iter().sum() };
    (0..headings).map(at).sum::<f64>() / headings as f64
}

/// Weights within the cone of a panel on a vehicle with a heading, brought to a sum of 1; all 0 where
/// no usable satellite is expected in the cone.
///
/// What the vehicle itself blocks is outside. The heading makes no difference where `Cone::turns` says so.
pub fn cone_weights(weights: &SkyWeights, grid: SkyGrid, terminal: &Terminal, heading_deg: f64) -> Vec<f32> {
    let inside = inside(weights, grid, &Cone::new(terminal), heading_deg);
    let total: f64 = inside.iter().sum();
    let scale = if total > 0.0 { 1.0 / total } else { 0.0 };
    inside.into_iter().map(|w| (w * scale) as f32).collect()
}

/// Expected satellites of every cell that the panel sees.
fn inside(weights: &SkyWeights, grid: SkyGrid, cone: &Cone, heading_deg: f64) -> Vec<f64> {
    let mut inside: Vec<f64> = Vec::with_capacity(weights.expected.len());
    for bin in 0..AZIMUTH_BINS {
        for row in 0..grid.rows() {
            let weight = weights.expected.get(grid.cell(bin, row)).copied().unwrap_or(0.0);
            let share = if weight > 0.0 { cell_share(cone, heading_deg, grid, bin, row) } else { 0.0 };
            inside.push(f64::from(weight) * share);
        }
    }
    inside
}

/// Share of a cell's solid angle inside the cone.
fn cell_share(cone: &Cone, heading_deg: f64, grid: SkyGrid, bin: usize, row: usize) -> f64 {
    let (low_deg, high_deg) = grid.row_edges_deg(row);
    let middle = |k: usize| (k as f64 + 0.5) / CONE_POINTS as f64;
    let (mut inside, mut whole) = (0.0, 0.0);
    for i in 0..CONE_POINTS {
        let elevation_deg = low_deg + (high_deg - low_deg) * middle(i);
        let area = elevation_deg.to_radians().cos();
        for j in 0..CONE_POINTS {
            let azimuth_deg = (bin as f64 + middle(j)) * AZIMUTH_STEP_DEG;
            whole += area;
            if cone.sees(heading_deg, azimuth_deg, elevation_deg) {
                inside += area;
            }
        }
    }
    if whole > 0.0 { inside / whole } else { 0.0 }
}
