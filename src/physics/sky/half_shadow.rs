//! How long one thing overhead takes more than half of the usable sky.
use super::mask::{SkyGrid, azimuth_deg};
use crate::physics::scene::overheads::overhead::Overhead;

/// Length of lane, metres, from which more than half of the usable sky is hidden by one overhead.
///
/// `weights` are expected satellites per cell, zero outside the cone. Every cell hides an exact
/// interval of the lane; the interval ends are swept in order.
pub(crate) fn half_shadow_m(grid: SkyGrid, weights: &[f32], overhead: &Overhead) -> f64 {
    let total: f64 = weights.iter().map(|w| f64::from(*w)).sum();
    let mut ends: Vec<(f64, f64)> = Vec::new();
    for (cell, weight) in weights.iter().enumerate().filter(|(_, w)| **w > 0.0) {
        let (bin, row) = (cell / grid.rows(), cell % grid.rows());
        if let Some((from_m, to_m)) = overhead.shadow(azimuth_deg(bin), grid.row_deg(row)) {
            ends.push((from_m, f64::from(*weight)));
            ends.push((to_m, -f64::from(*weight)));
        }
    }
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut hidden, mut last_m, mut length_m) = (0.0, 0.0, 0.0);
    for (at_m, change) in ends {
        // The rounding of a sum of small weights must not decide.
        if hidden > 0.5 * total + 1e-9 {
            length_m += at_m - last_m;
        }
        hidden += change;
        last_m = at_m;
    }
    length_m
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::OverheadKind;

    #[test]
    fn half_of_an_even_sky_is_hidden_exactly_under_an_endless_deck() {
        // At the edge of a deck that is endless sideways the open share is one half (closed form).
        let deck = Overhead {
            kind: OverheadKind::RoadDeck,
            osm_id: 1,
            start_m: 0.0,
            end_m: 25.0,
            heading_start_deg: 0.0,
            heading_end_deg: 0.0,
            skew_deg: 0.0,
            left_m: f64::INFINITY,
            right_m: f64::INFINITY,
            left_closed: false,
            right_closed: false,
            clearance_m: 2.9,
            thickness_m: 0.0,
            underside_above_road_m: 4.9,
            underside_from: crate::base::words::ValueFrom::Default,
            deck_width_m: 25.0,
        };
        let grid = SkyGrid { floor_deg: 25.0 };
        let weights = vec![1.0; grid.cells()];
        let length_m = half_shadow_m(grid, &weights, &deck);
        // The cells' centres stand for the cells: a fraction of a metre.
        assert!((length_m - 25.0).abs() < 0.5, "{length_m}");
    }
}
