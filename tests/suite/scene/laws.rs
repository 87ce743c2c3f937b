//! Another obstacle never opens a direction, whatever stands there already: not one step of one cell, whatever the seed.
use proptest::prelude::*;
use waymask::map::extract::model::{BarrierKind, Canopy, CanopyShape, LeafCycle, LeafType};
use waymask::physics::sky::mask::AZIMUTH_BINS;
use waymask::profile::{Profile, Season};

use super::support::{ANTENNA_M, World, square};

/// The eye, a little off the middle of the road and of a pixel.
const EYE: (f64, f64) = (0.3, 0.2);

/// A square wood: its middle, half a side, whether of needles.
type Patch = (f64, f64, f64, bool);

/// Woods in which another wood opened a ray, found with 200 seeds while crowns that fill a part of a pixel leant towards
/// what stands beside it: half the side of the wood that was added around the origin, of broad leaves; the one that stood; in leaf.
const OPENED: [(f64, Patch, bool); 40] = [
    (18.1836, (0.0, 22.9481, 27.6101, false), true),
    (20.5302, (0.0, -24.7126, 20.0222, false), true),
    (15.1541, (13.0168, 0.0, 17.7602, true), false),
    (24.6929, (0.0, -5.362, 10.0919, true), false),
    (27.5765, (0.0, 24.953, 16.6487, true), false),
    (29.1138, (0.0, 1.3085, 8.7899, false), true),
    (28.7276, (0.0, -7.4757, 13.1057, true), false),
    (24.8396, (10.9296, 0.0, 15.7139, true), false),
    (25.8438, (0.0, 11.7789, 16.2531, true), false),
    (27.8579, (0.0, 16.0399, 20.3129, true), false),
    (19.0634, (17.5269, 0.0, 22.4702, true), false),
    (16.1269, (0.0, 10.8168, 16.1433, false), true),
    (28.6294, (0.0, 11.6647, 7.2971, false), true),
    (18.4488, (0.0, 0.0, 4.9482, true), false),
    (18.1394, (0.0, -19.6823, 24.398, true), false),
    (28.8479, (0.0, 12.3652, 16.9534, false), true),
    (16.456, (20.6508, 0.0, 25.3674, false), true),
    (26.422, (0.0, -34.4906, 28.9618, false), true),
    (29.6679, (-0.8213, 0.0, 3.6404, false), true),
    (17.8432, (-13.9351, 0.0, 18.9026, false), true),
    (28.3478, (0.0, 5.6727, 14.0728, true), false),
    (21.0283, (0.0, -26.2894, 21.8426, false), true),
    (21.4625, (-13.865, 0.0, 18.2633, false), true),
    (25.2104, (0.0, -33.2835, 27.5985, false), true),
    (26.3831, (0.0, 0.0, 5.6552, false), true),
    (23.3336, (0.0, -4.5566, 11.0893, false), true),
    (28.2127, (-22.4466, 0.0, 27.2083, true), false),
    (23.3134, (0.0, 20.3684, 28.7245, true), false),
    (23.8175, (0.0, -14.5053, 20.9586, true), false),
    (24.661, (0.0, 28.3437, 22.1097, true), false),
    (25.1962, (0.0, 22.5813, 15.2358, true), false),
    (22.0887, (0.0, 39.9411, 29.619, true), false),
    (12.5151, (-7.4918, 0.0, 11.9534, true), false),
    (25.8342, (0.0, 17.2272, 11.8894, false), true),
    (12.1531, (20.1489, 0.0, 24.8557, true), false),
    (6.8894, (-21.5848, 0.0, 26.1039, true), false),
    (15.0353, (0.0, 0.0, 4.6758, false), true),
    (28.9606, (-16.921, 0.0, 21.8275, false), true),
    (22.7606, (0.0, 31.4845, 26.1739, false), true),
    (24.3542, (0.0, -24.1597, 28.7291, false), true),
];

/// What can be added.
#[derive(Debug, Clone)]
enum Added {
    /// Middle, half side.
    Wood(f64, f64, f64),
    Orchard(f64, f64, f64),
    /// Crown diameter.
    Tree(f64, f64, f64),
    /// Place, azimuth, half length.
    Row(f64, f64, f64, f64),
    Hedge(f64, f64, f64, f64),
    /// Middle, half side, height.
    Building(f64, f64, f64, f32),
    /// Place, azimuth, half length, height.
    Wall(f64, f64, f64, f64, f32),
}

/// With leaves and a height of its own, or those of its kind.
type Obstacle = (Added, (usize, usize), Option<f32>);

fn obstacle() -> impl Strategy<Value = Obstacle> {
    let at = || -40.0..40.0f64;
    let added = prop_oneof![
        (at(), at(), 0.3..30.0f64).prop_map(|(x, y, half)| Added::Wood(x, y, half)),
        (at(), at(), 3.0..20.0f64).prop_map(|(x, y, half)| Added::Orchard(x, y, half)),
        (at(), at(), 0.4..14.0f64).prop_map(|(x, y, wide)| Added::Tree(x, y, wide)),
        (at(), at(), 0.0..180.0f64, 1.0..40.0f64).prop_map(|(x, y, turn, half)| Added::Row(x, y, turn, half)),
        (at(), at(), 0.0..180.0f64, 1.0..40.0f64).prop_map(|(x, y, turn, half)| Added::Hedge(x, y, turn, half)),
        (at(), at(), 2.0..12.0f64, 3.0..40.0f32).prop_map(|(x, y, half, high)| Added::Building(x, y, half, high)),
        (at(), at(), 0.0..180.0f64, 1.0..40.0f64, 2.5..15.0f32)
            .prop_map(|(x, y, turn, half, high)| Added::Wall(x, y, turn, half, high)),
    ];
    (added, (0usize..4, 0usize..3), proptest::option::of(3.0..30.0f32))
}

fn line(x: f64, y: f64, azimuth_deg: f64, half_m: f64) -> [(f64, f64); 2] {
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    [(x - half_m * sin, y - half_m * cos), (x + half_m * sin, y + half_m * cos)]
}

fn add(world: &mut World, (added, leaves, height_m): &Obstacle) {
    let (shape, diameter_m) = match *added {
        Added::Building(x, y, half, high) => {
            world.add_building(&square(x, y, half), high);
            return;
        }
        Added::Wall(x, y, turn, half, high) => {
            world.add_barrier(BarrierKind::Wall, &line(x, y, turn, half), Some(high));
            return;
        }
        Added::Wood(x, y, half) => (CanopyShape::Wood(world.area(&square(x, y, half), &[])), None),
        Added::Orchard(x, y, half) => (CanopyShape::Orchard(world.area(&square(x, y, half), &[])), None),
        Added::Tree(x, y, wide) => (CanopyShape::Tree(world.line(&[(x, y)])[0]), Some(wide as f32)),
        Added::Row(x, y, turn, half) => (CanopyShape::Row(world.line(&line(x, y, turn, half))), None),
        Added::Hedge(x, y, turn, half) => (CanopyShape::Hedge(world.line(&line(x, y, turn, half))), None),
    };
    let id = world.extract.canopy.len() as i64;
    let leaf_type = [LeafType::Broadleaved, LeafType::Needleleaved, LeafType::Mixed, LeafType::Unknown][leaves.0];
    let leaf_cycle = [LeafCycle::Unknown, LeafCycle::Evergreen, LeafCycle::Deciduous][leaves.1];
    let tree = Canopy { id, shape, leaf_type, leaf_cycle, height_m: *height_m, crown_diameter_m: diameter_m };
    world.extract.canopy.push(tree);
}

/// A road through obstacles: its width, clear width on either side, and the gap between the crowns over it where they reach over.
fn world(obstacles: &[Obstacle], (width_m, clear_m, gap_m): (f32, f32, Option<f32>), azimuth_deg: f64) -> World {
    let mut world = World::default();
    obstacles.iter().for_each(|obstacle| add(&mut world, obstacle));
    world.add_road(&line(0.0, 0.0, azimuth_deg, 90.0), width_m, clear_m, gap_m);
    world
}

/// Steps of attenuation of every cell, and the horizon of what is solid.
fn sky(world: &World, season: Season) -> (Vec<u8>, [f32; AZIMUTH_BINS]) {
    (world.canopy_mask(EYE, season), world.solid_mask(EYE, ANTENNA_M).0)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn another_obstacle_never_opens_a_direction(
        obstacles in proptest::collection::vec(obstacle(), 1..6),
        width_m in 2.0..9.0f32, clear_m in 0.5..5.0f32, gap in proptest::option::of(0.0..1.0f32),
        azimuth_deg in prop_oneof![Just(0.0), Just(90.0), 0.0..180.0f64],
        leaf_on in any::<bool>(),
    ) {
        let season = if leaf_on { Season::LeafOn } else { Season::LeafOff };
        let road = (width_m, clear_m, gap.map(|share| share * (width_m + 2.0 * clear_m)));
        let more = world(&obstacles, road, azimuth_deg);
        prop_assume!(more.solids().buildings_over(more.point(EYE.0, EYE.1)).is_empty());
        let (fewer, more) = (sky(&world(&obstacles[1..], road, azimuth_deg), season), sky(&more, season));
        for (cell, (a, b)) in fewer.0.iter().zip(&more.0).enumerate() {
            prop_assert!(b >= a, "crowns in cell {}: {} {}", cell, a, b);
        }
        for (bin, (a, b)) in fewer.1.iter().zip(&more.1).enumerate() {
            prop_assert!(b >= a, "horizon in bin {}: {} {}", bin, a, b);
        }
    }
}

#[test]
fn woods_in_which_another_wood_opened_a_ray_stay_shut() {
    for (half_m, stood, leaf_on) in OPENED {
        let season = if leaf_on { Season::LeafOn } else { Season::LeafOff };
        let world = |woods: &[Patch]| {
            let mut world = World::default();
            for (x, y, half, needles) in woods {
                let leaf_type = if *needles { LeafType::Needleleaved } else { LeafType::Broadleaved };
                world.add_wood(&square(*x, *y, *half), leaf_type);
            }
            world.add_road(&[(0.0, -90.0), (0.0, 90.0)], 5.2, 2.0, None);
            world.canopy_mask(EYE, season)
        };
        let (fewer, more) = (world(&[stood]), world(&[(0.0, 0.0, half_m, false), stood]));
        assert!(fewer.iter().zip(&more).all(|(a, b)| b >= a), "{half_m} {stood:?} {leaf_on}");
        assert_ne!(fewer, more, "{half_m} {stood:?}: nothing was added in sight");
    }
}

/// A crown over a place by plain comparison with outlines: base and top, metres.
fn crown(woods: &[Patch], half_m: f64, x: f64, y: f64) -> Option<(f64, f64)> {
    if x.abs() < half_m {
        return None;
    }
    let mut edge = x.abs() < half_m + 2.0;
    let (mut base_m, mut top_m) = (f64::INFINITY, 0.0_f64);
    for (wx, wy, half, needles) in woods {
        let (across, along) = ((x - wx).abs() - half, (y - wy).abs() - half);
        let inside = across < 0.0 && along < 0.0;
        let from_outline = if inside { -across.max(along) } else { across.max(0.0).hypot(along.max(0.0)) };
        edge |= from_outline < 2.0;
        if inside {
            let high_m = if *needles { 20.0 } else { 15.0 };
            (base_m, top_m) = (base_m.min(0.25 * high_m), top_m.max(high_m));
        }
    }
    (top_m > 0.0).then_some((if edge { 0.0 } else { base_m }, top_m))
}

#[test]
fn masks_are_what_plain_rays_through_plain_crowns_meet() {
    use super::support::GRID;
    use waymask::physics::link::draw::Draw;
    use waymask::physics::sky::foliage::blocked_probability;
    use waymask::physics::sky::leaves::LeafOdds;
    const STEP_M: f64 = 0.03;
    let link = Profile::default().link;
    let odds = LeafOdds::new(link.margin_db, 0.7);
    let (mut weights, mut squares) = (0.0, 0.0);
    for case in 0..24_u64 {
        let draw = |k: u64, name: u64| Draw::root(6).of(case).of(k).of(name).unit();
        let woods: Vec<_> = (1..2 + (4.0 * draw(0, 0)) as u64)
            .map(|k| (80.0 * draw(k, 0) - 40.0, 80.0 * draw(k, 1) - 40.0, 3.0 + 27.0 * draw(k, 2), draw(k, 3) < 0.5))
            .collect();
        let mut world = World::default();
        for (x, y, half, needles) in &woods {
            let leaf_type = if *needles { LeafType::Needleleaved } else { LeafType::Broadleaved };
            world.add_wood(&square(*x, *y, *half), leaf_type);
        }
        let clear_m = (1.0 + 3.0 * draw(0, 1)) as f32;
        world.add_road(&[(0.0, -90.0), (0.0, 90.0)], 5.2, clear_m, None);
        let cells = world.canopy_mask(EYE, Season::LeafOn);
        let (mut of_case, mut differ) = (0.0, 0.0);
        for (cell, found) in cells.iter().enumerate() {
            let (bin, row) = (cell / GRID.rows(), cell % GRID.rows());
            let (low_deg, high_deg) = GRID.row_edges_deg(row);
            let ray = |k: usize| {
                // The three rays of a cell: at azimuths of their own, and at heights of their own.
                let azimuth = (5.0 * (bin as f64 + (k as f64 + 0.5) / 3.0)).to_radians();
                let share = (((bin + k) % 3) as f64 + 0.5) / 3.0;
                let elevation = (low_deg + (high_deg - low_deg) * share).to_radians();
                let along = (0..).map(|i| (f64::from(i) + 0.5) * STEP_M);
                let met = along.take_while(|d| ANTENNA_M + d * elevation.tan() < 20.0).filter(|d| {
                    let z_m = ANTENNA_M + d * elevation.tan();
                    let half_m = 2.6 + f64::from(clear_m);
                    crown(&woods, half_m, EYE.0 + d * azimuth.sin(), EYE.1 + d * azimuth.cos())
                        .is_some_and(|(base_m, top_m)| z_m > base_m && z_m < top_m)
                });
                blocked_probability(met.count() as f64 * STEP_M / elevation.cos(), 0.0, link.margin_db, 0.7)
            };
            let want = (0..3).map(ray).sum::<f64>() / 3.0;
            let (off, weight) = (odds.blocked(*found) - want, GRID.row_deg(row).to_radians().cos());
            (of_case, differ) = (of_case + weight, differ + weight * off);
            squares += weight * off * off;
        }
        weights += of_case;
        // Of the whole sky.
        assert!((differ / of_case).abs() < 0.003, "{woods:?}: {}", differ / of_case);
    }
    let rms = (squares / weights).sqrt();
    assert!(rms < 0.0095, "{rms}");
}
