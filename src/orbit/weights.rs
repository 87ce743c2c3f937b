//! Weights of the sky's cells, and the cone a panel can use.
use super::density::cell_counts;
use super::geometry::Direction;
use super::model::SkyWeights;
use crate::profile::{Constellation, Link, Terminal};
use crate::sky::mask::{AZIMUTH_BINS, AZIMUTH_STEP_DEG, SkyGrid};

/// Slack at the edge of the cone, degrees, for rounding of directions.
const EDGE_SLACK_DEG: f64 = 1e-6;
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
pub fn expected_usable(weights: &SkyWeights) -> f64 {
    weights.expected.iter().map(|w| f64::from(*w)).sum()
}

/// Whether a panel on a vehicle with a heading can use a direction.
pub fn in_cone(terminal: &Terminal, heading_deg: f64, azimuth_deg: f64, elevation_deg: f64) -> bool {
    if elevation_deg < terminal.lowest_elevation_deg - EDGE_SLACK_DEG {
        return false;
    }
    let off_normal_deg = if terminal.tilt_deg == 0.0 {
        90.0 - elevation_deg
    } else {
        let normal = Direction::new(heading_deg + terminal.tilt_towards_deg, 90.0 - terminal.tilt_deg);
        normal.angle_deg(Direction::new(azimuth_deg, elevation_deg))
    };
    off_normal_deg <= terminal.scan_half_angle_deg + EDGE_SLACK_DEG
}

/// Weights within the cone of a panel on a vehicle with a heading, brought to a sum of 1; all 0 where
/// no usable satellite is expected in the cone.
///
/// Without tilt the heading makes no difference.
pub fn cone_weights(weights: &SkyWeights, grid: SkyGrid, terminal: &Terminal, heading_deg: f64) -> Vec<f32> {
    let mut inside: Vec<f64> = Vec::with_capacity(weights.expected.len());
    for bin in 0..AZIMUTH_BINS {
        for row in 0..grid.rows() {
            let weight = weights.expected.get(grid.cell(bin, row)).copied().unwrap_or(0.0);
            let share = if weight > 0.0 { cell_share(terminal, heading_deg, grid, bin, row) } else { 0.0 };
            inside.push(f64::from(weight) * share);
        }
    }
    let total: f64 = inside.iter().sum();
    let scale = if total > 0.0 { 1.0 / total } else { 0.0 };
    inside.into_iter().map(|w| (w * scale) as f32).collect()
}

/// Share of a cell's solid angle inside the cone.
fn cell_share(terminal: &Terminal, heading_deg: f64, grid: SkyGrid, bin: usize, row: usize) -> f64 {
    let (low_deg, high_deg) = grid.row_edges_deg(row);
    let middle = |k: usize| (k as f64 + 0.5) / CONE_POINTS as f64;
    let (mut inside, mut whole) = (0.0, 0.0);
    for i in 0..CONE_POINTS {
        let elevation_deg = low_deg + (high_deg - low_deg) * middle(i);
        let area = elevation_deg.to_radians().cos();
        for j in 0..CONE_POINTS {
            let azimuth_deg = (bin as f64 + middle(j)) * AZIMUTH_STEP_DEG;
            whole += area;
            if in_cone(terminal, heading_deg, azimuth_deg, elevation_deg) {
                inside += area;
            }
        }
    }
    if whole > 0.0 { inside / whole } else { 0.0 }
}
