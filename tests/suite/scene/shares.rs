//! Shares of the sky and their causes.
use proptest::prelude::*;
use waymask::base::words::{OverheadKind, ValueFrom};
use waymask::physics::scene::overheads::overhead::Overhead;
use waymask::physics::sky::leaves::LeafOdds;
use waymask::physics::sky::mask::{AZIMUTH_BINS, Mask};
use waymask::physics::sky::shares::{SeenThrough, Shares};

use super::support::GRID;

/// A roof or deck that lies on the antenna: the same interval is hidden from every direction.
fn always(cover: bool, from_m: f64, to_m: f64) -> Overhead {
    Overhead {
        kind: if cover { OverheadKind::Roof } else { OverheadKind::RoadDeck },
        osm_id: 1,
        start_m: from_m,
        end_m: to_m,
        heading_start_deg: 0.0,
        heading_end_deg: 0.0,
        skew_deg: 0.0,
        left_m: f64::INFINITY,
        right_m: f64::INFINITY,
        left_closed: false,
        right_closed: false,
        clearance_m: 1e-12,
        thickness_m: 0.0,
        underside_above_road_m: 2.0,
        underside_from: ValueFrom::Default,
        deck_width_m: to_m - from_m,
    }
}

/// Shares through leaves whose step is their probability in 1/255.
fn shares(masks: &[Mask], weights: &[f32], length_m: f64, overheads: &[Overhead]) -> Option<Shares> {
    let odds = LeafOdds::from_fn(|level| level as f64 / 255.0);
    let seen = SeenThrough { grid: GRID, odds: &odds, weights };
    waymask::physics::sky::shares::shares(&seen, masks, length_m, overheads)
}

const NOTHING: [Overhead; 0] = [];

/// Weights that follow the solid angle of the cells.
fn solid_angles() -> Vec<f32> {
    let row = |r| {
        let (low, high) = GRID.row_edges_deg(r);
        (high.to_radians().sin() - low.to_radians().sin()) as f32
    };
    (0..GRID.cells()).map(|c| row(c % GRID.rows())).collect()
}

fn sum(s: &Shares) -> f64 {
    s.open + s.cover + s.deck + s.solid + s.terrain + s.canopy
}

#[test]
fn horizons_count_within_a_row_by_solid_angle() {
    let mut mask = Mask::open(GRID);
    mask.terrain_deg[..36].fill(33.3);
    let s = shares(&[mask], &solid_angles(), 100.0, &NOTHING).unwrap();
    let floor = 25f64.to_radians().sin();
    let want = 0.5 * (33.3f64.to_radians().sin() - floor) / (1.0 - floor);
    assert!((s.terrain - want).abs() < 1e-5, "{} {want}", s.terrain);
    assert!((s.open - (1.0 - want)).abs() < 1e-5 && (sum(&s) - 1.0).abs() < 1e-9);
}

#[test]
fn causes_come_in_order_and_the_rest_is_open() {
    let mut mask = Mask::open(GRID);
    mask.solid_deg.fill(40.0);
    mask.terrain_deg.fill(50.0);
    mask.canopy.fill(51);
    let overheads = [always(false, -5.0, 30.0), always(true, 20.0, 40.0), always(false, 25.0, 35.0)];
    let s = shares(&vec![mask; 11], &solid_angles(), 100.0, &overheads).unwrap();
    let below = |h: f64| (h.to_radians().sin() - 25f64.to_radians().sin()) / (1.0 - 25f64.to_radians().sin());
    assert!((s.cover - 0.2).abs() < 1e-9 && (s.deck - 0.2).abs() < 1e-9, "{s:?}");
    assert!((s.solid - 0.6 * below(40.0)).abs() < 1e-5);
    assert!((s.terrain - 0.6 * (below(50.0) - below(40.0))).abs() < 1e-5);
    assert!((s.canopy - 0.6 * (1.0 - below(50.0)) * 0.2).abs() < 1e-5);
    assert!((sum(&s) - 1.0).abs() < 1e-9);
    assert_eq!(s.open_min, 0.0, "a station under the roof sees nothing");
}

#[test]
fn stations_at_the_ends_stand_for_half_as_much_road() {
    let mut dark = Mask::open(GRID);
    dark.solid_deg.fill(90.0);
    let masks = [dark, Mask::open(GRID), Mask::open(GRID)];
    let s = shares(&masks, &solid_angles(), 40.0, &NOTHING).unwrap();
    assert!((s.solid - 0.25).abs() < 1e-9 && (s.open - 0.75).abs() < 1e-9 && s.open_min == 0.0);
}

#[test]
fn only_weighted_sky_counts() {
    let mut weights = vec![0.0; GRID.cells()];
    weights[GRID.cell(0, 3)] = 2.0;
    let mut mask = Mask::open(GRID);
    mask.solid_deg[1..].fill(90.0);
    let s = shares(&[mask.clone()], &weights, 10.0, &NOTHING).unwrap();
    assert_eq!((s.open, s.solid), (1.0, 0.0));
    let none = vec![0.0; GRID.cells()];
    assert!(shares(&[mask.clone()], &none, 10.0, &NOTHING).is_none());
    assert!(shares(&[], &weights, 10.0, &NOTHING).is_none());
    assert!(shares(&[mask], &weights[1..], 10.0, &NOTHING).is_none());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]
    #[test]
    fn shares_sum_to_one_and_obstacles_never_open(
        solid in -90.0f32..90.0, terrain in -90.0f32..90.0, canopy in 0u8..=255,
        intervals in proptest::collection::vec((any::<bool>(), -50.0..150.0f64, 0.0..60.0f64), 0..4),
        stations in 1usize..6,
    ) {
        let mut mask = Mask::open(GRID);
        mask.solid_deg = [solid; AZIMUTH_BINS];
        mask.terrain_deg[10..50].fill(terrain);
        mask.canopy.fill(canopy);
        let masks = vec![mask; stations];
        let overheads: Vec<Overhead> =
            intervals.iter().map(|(cover, from_m, length_m)| always(*cover, *from_m, from_m + length_m)).collect();
        let all = shares(&masks, &solid_angles(), 100.0, &overheads).unwrap();
        prop_assert!((sum(&all) - 1.0).abs() < 1e-6);
        prop_assert!(all.open_min <= all.open + 1e-9);
        if !overheads.is_empty() {
            let fewer = shares(&masks, &solid_angles(), 100.0, &overheads[1..]).unwrap();
            prop_assert!(all.open <= fewer.open + 1e-9);
        }
    }
}
