//! Parts of buildings, courtyards, and what is open below.
use super::support::{ANTENNA_M, GRID, World, square};
use waymask::base::index::SegmentIndex;
use waymask::map::extract::model::Building;
use waymask::physics::scene::building::height_or;
use waymask::physics::sky::ground::Eye;
use waymask::physics::sky::mask::{AZIMUTH_BINS, azimuth_bin};
use waymask::physics::sky::shares::hidden_share;
use waymask::physics::sky::solid::{Painted, SolidPainter};

/// Five azimuths a bin against an integral.
const SHARE_TOL: f64 = 3e-3;

fn north(world: &World) -> f64 {
    f64::from(world.solid_mask((0.0, 0.0), ANTENNA_M).0[azimuth_bin(1.0)])
}

fn painted(world: &World, at: (f64, f64), segment: Option<SegmentIndex>) -> ([f32; AZIMUTH_BINS], Painted) {
    let mut horizon = [-90.0; AZIMUTH_BINS];
    let eye = Eye::level(world.point(at.0, at.1), ANTENNA_M);
    let painted = SolidPainter::new(GRID).paint(&world.solids(), &eye, segment, &mut horizon);
    (horizon, painted)
}

#[test]
fn parts_replace_an_outline_they_cover() {
    let mut world = World::default();
    world.add_building(&square(0.0, 20.0, 10.0), 40.0);
    assert!((north(&world) - 75.23).abs() < 0.3, "38 m over the panel at 10 m: {}", north(&world));
    // A tower alone says nothing about the rest of the building.
    world.add_building(&square(0.0, 25.0, 3.0), 14.0).part = true;
    assert!(north(&world) > 75.0, "{}", north(&world));
    world.add_building(&square(0.0, 20.0, 9.0), 14.0).part = true;
    // 12 m over the panel at 11 m.
    assert!((north(&world) - 47.49).abs() < 0.3, "{}", north(&world));
}

#[test]
fn parts_high_above_the_ground_replace_no_outline() {
    let mut world = World::default();
    world.add_building(&square(0.0, 20.0, 10.0), 14.0);
    let tower = world.add_building(&square(0.0, 20.0, 10.0), 40.0);
    (tower.part, tower.min_height_m) = (true, Some(14.0));
    assert!((north(&world) - 75.23).abs() < 0.3, "{}", north(&world));
    // The gap between outline and tower would show, were the outline gone.
    let share = |world: &World| hidden_share(GRID, &world.solid_mask((0.0, 0.0), ANTENNA_M).0);
    let mut whole = World::default();
    whole.add_building(&square(0.0, 20.0, 10.0), 40.0);
    assert!((share(&world) - share(&whole)).abs() < 1e-6, "{} {}", share(&world), share(&whole));
}

#[test]
fn a_courtyard_is_open_above_and_closed_all_round() {
    let mut world = World::default();
    let area = world.area(&square(0.0, 0.0, 20.0), &[&square(0.0, 0.0, 8.0)]);
    world.add_building(&square(0.0, 0.0, 20.0), 10.0).area = area;
    let (horizon, inside) = world.solid_mask((0.0, 0.0), ANTENNA_M);
    assert!(inside.is_empty());
    // Walls 8 m away, 8 m over the panel: four endless-wall quarters, tan h = cos(azimuth off the normal).
    let want = |bin: usize| ((bin as f64 * 5.0 + 2.5 + 45.0) % 90.0 - 45.0).to_radians().cos().atan().to_degrees();
    for (bin, h) in horizon.iter().enumerate() {
        assert!((f64::from(*h) - want(bin)).abs() < 0.1, "{bin}: {h} {}", want(bin));
    }
    assert_eq!(world.solid_mask((14.0, 0.0), ANTENNA_M).1, vec![0], "in the building itself");
}

/// Solid angle over that of the cone of what an endless strip hides: its underside and far edge,
/// top and near edge, metres from the panel.
fn strip_share(low_m: f64, far_m: f64, high_m: f64, near_m: f64) -> f64 {
    // Endless wall: 2 [asin(sin b sin m) - m sin e] with cos m = tan e / tan b, over 2 pi (1 - sin e).
    let e = GRID.floor_deg.to_radians();
    let wall = |height_m: f64, distance_m: f64| {
        let b = (height_m / distance_m).atan();
        if b <= e {
            return 0.0;
        }
        let m = (e.tan() / b.tan()).acos();
        2.0 * ((b.sin() * m.sin()).asin() - m * e.sin())
    };
    (wall(high_m, near_m) - wall(low_m, far_m)) / (std::f64::consts::TAU * (1.0 - e.sin()))
}

#[test]
fn sky_shows_below_a_slab_beside_the_road() {
    // An endless slab from 6 to 9 m above the ground, 3 to 7 m beside the panel: it hides what a wall to its top hides, less
    // what a wall to its underside would at its far edge.
    let strip = [(3.0, -4_000.0), (7.0, -4_000.0), (7.0, 4_000.0), (3.0, 4_000.0)];
    let mut world = World::default();
    world.add_building(&strip, 9.0).min_height_m = Some(6.0);
    let share = |world: &World| hidden_share(GRID, &world.solid_mask((0.0, 0.0), ANTENNA_M).0);
    let want = strip_share(4.0, 7.0, 7.0, 3.0);
    assert!((share(&world) - want).abs() < SHARE_TOL, "{} {want}", share(&world));
    // With a building below it the gap is closed.
    world.add_building(&strip, 6.0);
    let want = strip_share(0.0, 7.0, 7.0, 3.0);
    assert!((share(&world) - want).abs() < SHARE_TOL, "{} {want}", share(&world));
}

#[test]
fn a_roof_beside_the_road_is_a_slab() {
    let strip = [(2.5, -4_000.0), (9.0, -4_000.0), (9.0, 4_000.0), (2.5, 4_000.0)];
    let hidden = |change: fn(&mut Building)| {
        let mut world = World::default();
        let roof = world.add_building(&strip, 6.0);
        roof.roof_only = true;
        change(roof);
        let (horizon, painted) = painted(&world, (0.0, 0.0), None);
        (hidden_share(GRID, &horizon), painted.assumed)
    };
    // Height by tag: the roof is its uppermost metre. Without any: 4.8 to 5.8 m.
    for (got, assumed, low_m, high_m) in [
        (hidden(|_| ()), false, 3.0, 4.0),
        (hidden(|b| b.min_height_m = Some(4.0)), false, 2.0, 4.0),
        (hidden(|b| b.height_m = None), true, 2.8, 3.8),
    ] {
        let want = strip_share(low_m, 9.0, high_m, 2.5);
        assert!((got.0 - want).abs() < SHARE_TOL, "{got:?} {want}");
        assert_eq!(got.1, assumed);
    }
}

#[test]
fn what_stands_over_a_lane_is_left_to_the_lane() {
    // A skyway over the road, its underside at 5 m, and a street beside it at 20 m.
    let mut world = World::default();
    world.add_building(&square(0.0, 20.0, 8.0), 30.0).min_height_m = Some(5.0);
    world.add_road(&[(0.0, -50.0), (0.0, 80.0)], 6.0, 3.0, None);
    world.add_road(&[(0.0, 80.0), (90.0, 80.0)], 6.0, 3.0, None);
    world.add_road(&[(20.0, -50.0), (20.0, 70.0)], 6.0, 3.0, None);
    let hidden = |at, segment| hidden_share(GRID, &painted(&world, at, segment).0);
    assert_eq!(hidden((0.0, 0.0), Some(SegmentIndex::new(0))), 0.0, "an interval of this lane");
    assert_eq!(hidden((0.0, 20.0), Some(SegmentIndex::new(0))), 0.0, "an interval of this lane");
    assert_eq!(hidden((5.0, 80.0), Some(SegmentIndex::new(1))), 0.0, "and of the one it leads to");
    assert!(hidden((20.0, 20.0), Some(SegmentIndex::new(2))) > 0.1, "but a tower to the street beside it");
}

#[test]
fn no_building_ends_below_its_own_underside() {
    let mut world = World::default();
    let mut height = |change: fn(&mut Building)| {
        let b = world.add_building(&square(0.0, 30.0, 5.0), 9.0);
        change(b);
        let height = height_or(b, 6.0);
        (height.height_m, height.tagged)
    };
    assert_eq!(height(|b| b.min_height_m = Some(4.0)), (9.0, true));
    assert_eq!(height(|b| b.min_height_m = Some(12.0)), (15.0, false));
    assert_eq!(height(|b| (b.height_m, b.levels, b.min_height_m) = (None, Some(2.0), Some(9.0))), (12.0, false));
    assert_eq!(height(|b| (b.height_m, b.min_height_m) = (None, Some(20.0))), (23.0, false));
}

#[test]
fn what_is_underground_hides_nothing() {
    let mut world = World::default();
    world.add_building(&square(0.0, -15.0, 5.0), 20.0).layer = -1;
    assert!(world.solids().is_empty());
}

#[test]
fn only_what_hides_sky_by_a_default_counts_as_assumed() {
    let assumed = |change: fn(&mut World)| {
        let mut world = World::default();
        world.add_building(&square(0.0, 7.0, 4.0), 10.0).height_m = None;
        change(&mut world);
        painted(&world, (0.0, 0.0), None).1.assumed
    };
    assert!(assumed(|_| ()), "a building without height, 3 m away");
    assert!(!assumed(|w| w.extract.buildings[0].height_m = Some(10.0)), "its height tagged");
    assert!(
        !assumed(|w| w.extract.buildings[0].area = w.area(&square(0.0, 40.0, 4.0), &[])),
        "too far to hide anything"
    );
    // In front of a high tower whose height is known it takes nothing that the tower does not.
    assert!(!assumed(|w| {
        w.add_building(&square(0.0, 15.0, 12.0), 90.0);
    }));
}
