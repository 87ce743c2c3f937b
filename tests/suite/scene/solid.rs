//! Horizons of walls, blocks and cliffs against closed forms.
use proptest::prelude::*;
use waymask::map::extract::model::{BarrierKind, Building};
use waymask::physics::sky::mask::{AZIMUTH_BINS, azimuth_bin};
use waymask::physics::sky::shares::hidden_share;

use super::support::{ANTENNA_M, GRID, World, square};

/// Far enough for an endless wall: the missing ends subtend less than a thousandth of the cone.
const ENDLESS_M: f64 = 4_000.0;
/// Five azimuths a bin against an integral over azimuth.
const SHARE_TOL: f64 = 2e-3;

/// A wall with its top `beta_deg` above the panel at `distance_m` east of it.
fn wall_share(beta_deg: f64, distance_m: f64) -> f64 {
    let mut world = World::default();
    let height_m = (ANTENNA_M + distance_m * beta_deg.to_radians().tan()) as f32;
    world.add_barrier(BarrierKind::Wall, &[(distance_m, -ENDLESS_M), (distance_m, ENDLESS_M)], Some(height_m));
    hidden_share(GRID, &world.solid_mask((0.0, 0.0), ANTENNA_M).0)
}

#[test]
fn share_of_the_cone_behind_an_endless_wall() {
    // Closed form: S = 2 [asin(sin b sin m) - m sin e] with cos m = tan e / tan b, over 2 pi (1 - sin e), e = 25.
    for (beta, want) in [(30.0, 0.018_060), (45.0, 0.119_616), (60.0, 0.241_337), (80.0, 0.412_893)] {
        let share = wall_share(beta, 20.0);
        assert!((share - want).abs() < SHARE_TOL, "{beta}: {share} {want}");
    }
}

#[test]
fn canyon_hides_what_both_of_its_walls_hide() {
    let mut world = World::default();
    let height = |beta: f64| Some((ANTENNA_M + 12.0 * beta.to_radians().tan()) as f32);
    world.add_barrier(BarrierKind::Wall, &[(12.0, -ENDLESS_M), (12.0, ENDLESS_M)], height(60.0));
    world.add_barrier(BarrierKind::Wall, &[(-12.0, -ENDLESS_M), (-12.0, ENDLESS_M)], height(45.0));
    let share = hidden_share(GRID, &world.solid_mask((0.0, 0.0), ANTENNA_M).0);
    assert!((share - 0.241_337 - 0.119_616).abs() < 2.0 * SHARE_TOL, "{share}");
}

#[test]
fn horizon_of_a_wall_along_its_length() {
    // Endless wall with its top at 45 degrees square off: tan h = cos(azimuth off the normal).
    let mut world = World::default();
    world.add_barrier(BarrierKind::Wall, &[(20.0, -ENDLESS_M), (20.0, ENDLESS_M)], Some(22.0));
    let (horizon, _) = world.solid_mask((0.0, 0.0), ANTENNA_M);
    for (azimuth, want) in [(62.5, 41.573), (117.5, 41.573), (92.5, 44.973)] {
        let found = f64::from(horizon[azimuth_bin(azimuth)]);
        // tan h = cos 27.5 and cos 2.5, each averaged over a bin of 5 degrees.
        assert!((found - want).abs() < 0.1, "{azimuth}: {found}");
    }
}

#[test]
fn a_wall_on_the_east_hides_the_east_only() {
    let mut world = World::default();
    world.add_barrier(BarrierKind::NoiseBarrier, &[(5.0, -300.0), (5.0, 300.0)], Some(12.0));
    let (horizon, _) = world.solid_mask((0.0, 0.0), ANTENNA_M);
    assert!(horizon[azimuth_bin(90.0)] > 60.0);
    assert!((0..36).filter(|b| horizon[*b] > 25.0).count() > 20);
    assert!((36..AZIMUTH_BINS).all(|b| horizon[b] == -90.0), "{horizon:?}");
}

#[test]
fn solid_angle_of_a_thin_block() {
    // 10 m above the panel, 20 m away, 30 m wide: 2 asin(sin b sin p) = 0.543314 sr above the horizontal.
    let mut world = World::default();
    world.add_barrier(BarrierKind::Wall, &[(-15.0, 20.0), (15.0, 20.0)], Some(12.0));
    let flat = waymask::physics::sky::mask::SkyGrid { floor_deg: 0.0 };
    let solids = world.solids_on(None, &waymask::profile::Profile::default(), 1.0);
    let mut horizon = [-90.0; AZIMUTH_BINS];
    let eye = waymask::physics::sky::ground::Eye::level(world.point(0.0, 0.0), ANTENNA_M);
    waymask::physics::sky::solid::SolidPainter::new(flat).paint(&solids, &eye, None, &mut horizon);
    let found = hidden_share(flat, &horizon) * std::f64::consts::TAU;
    assert!((found - 0.543_314).abs() < 1e-2, "{found}");
}

#[test]
fn a_cliff_rises_only_for_those_below_it() {
    // Drawn northward: its high side is on the left, which is west.
    let mut world = World::default();
    world.add_barrier(BarrierKind::Cliff, &[(0.0, -200.0), (0.0, 200.0)], None);
    let (below, _) = world.solid_mask((6.0, 0.0), ANTENNA_M);
    let (above, _) = world.solid_mask((-6.0, 0.0), ANTENNA_M);
    // Eight metres over the panel at six metres: atan(8/6) = 53.13.
    assert!((f64::from(below[azimuth_bin(268.0)]) - 53.13).abs() < 0.2, "{}", below[azimuth_bin(268.0)]);
    assert!(above.iter().all(|h| *h == -90.0));
}

#[test]
fn heights_follow_tags_then_storeys_then_a_default() {
    let mut world = World::default();
    let mut height = |change: fn(&mut Building)| {
        let b = world.add_building(&square(0.0, 30.0, 5.0), 9.0);
        change(b);
        let height = waymask::physics::scene::building::height_or(b, 6.5);
        (height.height_m, height.tagged)
    };
    assert_eq!(height(|_| ()), (9.0, true));
    assert_eq!(height(|b| (b.height_m, b.levels, b.roof_levels) = (None, Some(2.0), Some(1.0))), (9.0, true));
    assert_eq!(height(|b| (b.height_m, b.levels, b.roof_height_m) = (None, Some(2.0), Some(2.5))), (8.5, true));
    assert_eq!(height(|b| b.height_m = None), (6.5, false));
    assert_eq!(height(|b| b.height_m = Some(f32::NAN)), (6.5, false));
}

#[test]
fn a_building_around_the_station_is_named_and_left_out() {
    let mut world = World::default();
    world.add_building(&square(0.0, 0.0, 8.0), 12.0);
    let (horizon, over) = world.solid_mask((1.0, 2.0), ANTENNA_M);
    assert_eq!(over, vec![0]);
    assert!(horizon.iter().all(|h| *h == -90.0));
    let (beside, over) = world.solid_mask((12.0, 0.0), ANTENNA_M);
    assert!(over.is_empty() && beside[azimuth_bin(270.0)] > 60.0);
}

#[test]
fn a_station_on_the_outline_sees_the_half_of_the_sky_in_front_of_it() {
    // A passage meets the outline in a node of both: rounding must not decide whether that is inside.
    for (dx, dy) in [(0.0, 0.0), (0.0, 0.004), (0.0, -0.004), (0.004, 0.0)] {
        let mut world = World::default();
        world.add_building(&[(-8.0, 0.0), (0.0, 0.0), (8.0, 0.0), (8.0, 16.0), (-8.0, 16.0)], 12.0);
        let (horizon, _) = world.solid_mask((dx, dy), ANTENNA_M);
        let open = horizon.iter().filter(|h| **h < 40.0).count();
        assert!((35..=37).contains(&open), "{open} bins open at {dx} {dy}");
        assert!(horizon[azimuth_bin(180.0)] < 0.0 && horizon[azimuth_bin(1.0)] > 80.0, "{dx} {dy}");
    }
}

type Block = (f64, f64, f64, f64);

fn with_blocks(blocks: &[Block], quarter_turns: u32) -> World {
    let mut world = World::turned(quarter_turns);
    for (x, y, half, height) in blocks {
        world.add_building(&square(*x, *y, *half), *height as f32);
    }
    world
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn another_building_never_opens_a_direction(
        blocks in proptest::collection::vec((-60.0..60.0f64, -60.0..60.0f64, 2.0..12.0f64, 3.0..40.0f64), 1..6)
    ) {
        let all = with_blocks(&blocks, 0);
        prop_assume!(all.solids().buildings_over(all.point(0.0, 0.0)).is_empty());
        let fewer = with_blocks(&blocks[1..], 0).solid_mask((0.0, 0.0), ANTENNA_M).0;
        let more = all.solid_mask((0.0, 0.0), ANTENNA_M).0;
        for (a, b) in fewer.iter().zip(&more) {
            prop_assert!(b >= a);
        }
    }
    #[test]
    fn a_scene_turned_by_a_right_angle_turns_the_mask(
        blocks in proptest::collection::vec((-60.0..60.0f64, -60.0..60.0f64, 2.0..12.0f64, 3.0..40.0f64), 1..6)
    ) {
        // Positions are rounded to a centimetre: of a wall this near that alone turns its top by degrees.
        let beside = |(x, y, half, _): &Block| (x.abs() - half).max(y.abs() - half).abs() < 2.0;
        prop_assume!(!blocks.iter().any(beside));
        let straight = with_blocks(&blocks, 0).solid_mask((0.0, 0.0), ANTENNA_M).0;
        let turned = with_blocks(&blocks, 1).solid_mask((0.0, 0.0), ANTENNA_M).0;
        // That may also carry each corner across one of the azimuths looked at.
        let differs = |bin: &usize| {
            let (a, b) = (straight[*bin].max(25.0), turned[(bin + 18) % AZIMUTH_BINS].max(25.0));
            (a - b).abs() > 0.3
        };
        let off = (0..AZIMUTH_BINS).filter(differs).count();
        prop_assert!(off <= 4 * blocks.len(), "{} bins: {:?} {:?}", off, straight, turned);
    }
}
