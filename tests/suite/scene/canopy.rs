//! Woods, tree rows and roads through them.
use proptest::prelude::*;
use waymask::base::geodesy::Point;
use waymask::base::words::ValueFrom;
use waymask::map::extract::model::{CanopyShape, LeafCycle, LeafType};
use waymask::physics::scene::raster::{Raster, fill_capsule, fill_rings};
use waymask::physics::scene::trees::crown::{Foliage, HeightFrom};
use waymask::physics::scene::trees::stack::CrownStack;
use waymask::physics::sky::foliage::blocked_probability;
use waymask::physics::sky::leaves::LeafOdds;
use waymask::physics::sky::mask::{AZIMUTH_BINS, azimuth_bin};
use waymask::profile::{Profile, Season};

use super::support::{ANTENNA_M, GRID, World, square};

const TRACK: [(f64, f64); 2] = [(0.0, -90.0), (0.0, 90.0)];

/// Spread at which paths are turned into probabilities: that of the default profile.
const SPREAD_LN: f64 = 0.7;

fn odds() -> LeafOdds {
    LeafOdds::new(Profile::default().link.margin_db, SPREAD_LN)
}

fn zenith(cells: &[u8]) -> f64 {
    let top = GRID.rows() - 1;
    let sum: f64 = (0..AZIMUTH_BINS).map(|b| odds().blocked(cells[GRID.cell(b, top)])).sum();
    sum / AZIMUTH_BINS as f64
}

fn at(cells: &[u8], azimuth_deg: f64, elevation_deg: f64) -> f64 {
    odds().blocked(cells[GRID.cell(azimuth_bin(azimuth_deg), GRID.row(elevation_deg).unwrap())])
}

/// Whether a point lies in an odd number of rings, by summing signed angles: another method than the fill.
fn winds(rings: &[Vec<Point>], p: Point) -> bool {
    let turns = |ring: &Vec<Point>| {
        let sum: f64 =
            ring.windows(2).map(|w| waymask::base::geodesy::turn_deg(p.azimuth_deg(w[0]), p.azimuth_deg(w[1]))).sum();
        (sum / 360.0).round() as i64
    };
    rings.iter().map(turns).filter(|t| t % 2 != 0).count() % 2 == 1
}

#[test]
fn polygons_with_holes_are_filled_to_the_pixel_centre() {
    let raster = Raster::around_origin(40.0, 1.0);
    let ring = |points: &[(f64, f64)]| points.iter().map(|(x, y)| Point::new(*x, *y)).collect::<Vec<_>>();
    // A star-like outline beyond the raster's border, and a hole.
    let outer =
        ring(&[(-60.3, -20.7), (3.1, -33.3), (12.7, -8.2), (38.9, 5.5), (8.8, 17.9), (-20.1, 36.6), (-60.3, -20.7)]);
    let hole = ring(&[(-10.2, -10.1), (4.4, -6.3), (-2.2, 9.7), (-10.2, -10.1)]);
    let rings = vec![outer, hole];
    let mut filled = vec![0u8; raster.size * raster.size];
    fill_rings(&raster, &rings, |row, columns| {
        for c in columns {
            filled[row * raster.size + c] += 1;
        }
    });
    for row in 0..raster.size {
        for column in 0..raster.size {
            let p = Point::new(raster.corner.x_m + column as f64 + 0.5, raster.corner.y_m + row as f64 + 0.5);
            assert_eq!(filled[row * raster.size + column], u8::from(winds(&rings, p)), "{p:?}");
        }
    }
}

#[test]
fn strips_are_filled_to_the_pixel_centre() {
    let raster = Raster::around_origin(30.0, 1.0);
    for (a, b, radius) in [
        (Point::new(-12.2, -3.3), Point::new(15.9, 11.1), 5.3),
        (Point::new(-40.0, 7.7), Point::new(-10.0, 7.7), 2.3),
        (Point::new(3.1, 4.4), Point::new(3.1, 4.4), 3.0),
        (Point::new(3.1, -14.4), Point::new(3.1, 50.0), 0.5),
    ] {
        let mut filled = vec![0u8; raster.size * raster.size];
        fill_capsule(&raster, a, b, radius, |row, columns| {
            for c in columns {
                filled[row * raster.size + c] += 1;
            }
        });
        for row in 0..raster.size {
            for column in 0..raster.size {
                let p = Point::new(raster.corner.x_m + column as f64 + 0.5, raster.corner.y_m + row as f64 + 0.5);
                let within = waymask::physics::scene::rings::distance_to_piece_m(p, a, b) < radius;
                assert_eq!(filled[row * raster.size + column], u8::from(within), "{p:?} {a:?}");
            }
        }
    }
}

#[test]
fn without_trees_there_is_no_raster() {
    let mut world = World::default();
    world.add_road(&TRACK, 6.0, 4.0, None);
    assert!(world.canopy().is_none());
}

#[test]
fn crowns_carry_height_base_and_where_the_height_is_from() {
    let mut world = World::default();
    world.add_wood(&square(50.0, 0.0, 30.0), LeafType::Needleleaved);
    world.add_trees(CanopyShape::Tree(world.line(&[(-50.0, 0.0)])[0]), LeafType::Broadleaved, Some(8.0));
    let area = world.area(&square(-50.0, 60.0, 20.0), &[]);
    world.add_trees(CanopyShape::Orchard(area), LeafType::Unknown, None);
    let canopy = world.canopy().unwrap();
    let inner = canopy.crown(Point::new(50.0, 0.0)).unwrap();
    assert_eq!((inner.top_m(), inner.base_m(), inner.height_from()), (20.0, 5.0, HeightFrom::Default));
    assert_eq!(inner.foliage(), Foliage::Evergreen);
    // One metre inside its edge a wood carries leaves to the ground.
    assert_eq!(canopy.crown(Point::new(21.3, 0.0)).unwrap().base_m(), 0.0);
    let tree = canopy.crown(Point::new(-50.0, 0.0)).unwrap();
    assert_eq!((tree.top_m(), tree.base_m(), tree.height_from()), (8.0, 2.0, HeightFrom::Tag));
    assert!(canopy.crown(Point::new(-46.0, 0.0)).is_none(), "a crown of six metres reaches three");
    assert_eq!(canopy.crown(Point::new(-50.0, 60.0)).unwrap().top_m(), 4.0);
    assert!(canopy.crown(Point::new(1e9, f64::NAN)).is_none());
}

#[test]
fn leaf_cycles_follow_tags_then_leaf_type() {
    use LeafCycle::{Deciduous, Unknown};
    // Larch is needle-leaved and loses its needles.
    assert_eq!(Foliage::of(LeafType::Needleleaved, Deciduous), Foliage::Deciduous);
    assert_eq!(Foliage::of(LeafType::Needleleaved, Unknown), Foliage::Evergreen);
    assert_eq!(Foliage::of(LeafType::Broadleaved, Unknown), Foliage::Deciduous);
    assert_eq!(Foliage::of(LeafType::Unknown, Unknown), Foliage::Mixed);
}

#[test]
fn a_wide_road_through_a_wood_is_open_at_the_zenith() {
    let mut world = World::default();
    world.add_wood(&square(0.0, 0.0, 95.0), LeafType::Broadleaved);
    assert!(zenith(&world.canopy_mask((0.0, 0.0), Season::LeafOn)) > 0.9, "no road, no gap");
    world.add_road(&TRACK, 11.0, 6.0, None);
    let cells = world.canopy_mask((0.0, 0.0), Season::LeafOn);
    assert_eq!(zenith(&cells), 0.0);
    // Trees start 11.5 m to the east with their tops 13 m above the panel: 48.5 degrees.
    assert!(at(&cells, 92.0, 40.0) > 0.8, "{}", at(&cells, 92.0, 40.0));
    assert_eq!(at(&cells, 92.0, 52.0), 0.0);
    // Along the road the gap is open.
    assert!(at(&cells, 1.0, 40.0) < 0.1);
}

#[test]
fn crowns_close_over_a_narrow_track() {
    let zenith_over = |gap_m, cut_back_m| {
        let mut world = World::default();
        world.add_wood(&square(0.0, 0.0, 95.0), LeafType::Broadleaved);
        world.add_road(&TRACK, 3.0, 1.0, gap_m);
        let mut profile = Profile::default();
        profile.canopy.cut_back_m = cut_back_m;
        zenith(&world.canopy_mask_with((0.0, 0.0), &profile))
    };
    assert_eq!(zenith_over(None, 5.0), 0.0);
    // From 5 to 15 m above the road: ten metres of leaves.
    let link = Profile::default().link;
    let want = blocked_probability(10.0, 0.0, link.margin_db, SPREAD_LN);
    let closed = zenith_over(Some(0.0), 5.0);
    assert!((closed - want).abs() < 0.01, "{closed} {want}");
    assert_eq!(zenith_over(Some(0.0), 16.0), 0.0, "trees of 15 m do not close above 16 m");
}

#[test]
fn a_bridge_through_a_wood_has_no_trees_on_its_deck() {
    let mut world = World::default();
    world.add_wood(&square(0.0, 0.0, 95.0), LeafType::Broadleaved);
    world.add_road(&TRACK, 8.0, 4.0, None).bridge = true;
    let cells = world.canopy_mask((0.0, 0.0), Season::LeafOn);
    assert_eq!(zenith(&cells), 0.0);
    // Trees beside it stand as they do beside any road: 8 m away with their tops 13 m above the panel, 58 degrees.
    assert!(at(&cells, 92.0, 45.0) > 0.5 && at(&cells, 92.0, 62.0) == 0.0);
}

#[test]
fn tunnels_clear_nothing_and_mapped_rows_stay() {
    let mut world = World::default();
    world.add_wood(&square(0.0, 0.0, 95.0), LeafType::Broadleaved);
    world.add_road(&TRACK, 8.0, 4.0, None).tunnel = Some(waymask::map::extract::model::TunnelKind::Tunnel);
    assert!(zenith(&world.canopy_mask((0.0, 0.0), Season::LeafOn)) > 0.9);
    let mut world = World::default();
    world.add_trees(CanopyShape::Row(world.line(&[(4.0, -90.0), (4.0, 90.0)])), LeafType::Broadleaved, None);
    let road = world.add_road(&TRACK, 8.0, 4.0, None);
    assert_eq!(road.section.width_m.from, ValueFrom::Default);
    let cells = world.canopy_mask((0.0, 0.0), Season::LeafOn);
    assert!(at(&cells, 92.0, 60.0) > 0.9 && at(&cells, 272.0, 26.0) == 0.0);
}

#[test]
fn the_season_moves_deciduous_trees_and_leaves_spruce_alone() {
    let masks = |leaf_type| {
        let mut world = World::default();
        world.add_wood(&square(0.0, 0.0, 95.0), leaf_type);
        world.add_road(&TRACK, 6.0, 3.0, None);
        (world.canopy_mask((0.0, 0.0), Season::LeafOn), world.canopy_mask((0.0, 0.0), Season::LeafOff))
    };
    let (on, off) = masks(LeafType::Needleleaved);
    assert_eq!(on, off);
    let sum = |cells: &[u8]| cells.iter().map(|c| u64::from(*c)).sum::<u64>();
    let (on, off) = masks(LeafType::Broadleaved);
    assert!(on.iter().zip(&off).all(|(a, b)| b <= a) && (sum(&off) as f64) < 0.95 * sum(&on) as f64);
    let (on, half) = masks(LeafType::Mixed);
    assert!(on.iter().zip(&half).all(|(a, b)| b <= a) && sum(&half) > sum(&off));
}

#[test]
fn path_through_a_slab_of_crowns_is_exact() {
    // A row of crowns 3 m either side of x = 20, base 2 m and top 8 m above the ground: at azimuth 90 and
    // elevation e the ray is in them from 17 to 23 m out, and below the top at 6 m over the panel.
    let mut world = World::default();
    world.add_trees(CanopyShape::Row(world.line(&[(20.0, -90.0), (20.0, 90.0)])), LeafType::Needleleaved, Some(8.0));
    let cells = world.canopy_mask((0.0, 0.0), Season::LeafOn);
    // The top just reaches 25 degrees only where 6 / tan e > 17: e < 19.4. Nothing to see from 2 m.
    assert!(cells.iter().all(|c| *c == 0));
    let mut world = World::default();
    world.add_trees(CanopyShape::Row(world.line(&[(20.0, -90.0), (20.0, 90.0)])), LeafType::Needleleaved, Some(14.0));
    let cells = world.canopy_mask((0.0, 0.0), Season::LeafOn);
    let link = Profile::default().link;
    for row in 0..4 {
        let elevation = GRID.row_deg(row).to_radians();
        // Mean over the three azimuths of the bin next to east (90.83, 92.5, 94.17), each with its own oblique crossing.
        let mut want = 0.0;
        for off in [0.8333f64, 2.5, 4.1667] {
            let (enter, leave) = (17.0 / off.to_radians().cos(), 23.0 / off.to_radians().cos());
            let path = ((12.0 / elevation.tan()).min(leave) - enter).max(0.0) / elevation.cos();
            want += blocked_probability(path, 0.0, link.margin_db, SPREAD_LN) / 3.0;
        }
        let found = at(&cells, 92.5, GRID.row_deg(row));
        // Pixels put the row's side up to half a metre off.
        assert!((found - want).abs() < 0.12, "{row}: {found} {want}");
    }
}

type Patch = (f64, f64, f64, bool);

fn with_woods(woods: &[Patch], quarter_turns: u32) -> World {
    let mut world = World::turned(quarter_turns);
    for (x, y, half, needles) in woods {
        let leaf_type = if *needles { LeafType::Needleleaved } else { LeafType::Broadleaved };
        world.add_wood(&square(*x, *y, *half), leaf_type);
    }
    // Sides of the strip at 4.6 and 6.6 m: not on pixel centres.
    world.add_road(&TRACK, 5.2, 2.0, None);
    world
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn another_wood_never_opens_a_direction(
        woods in proptest::collection::vec((-40.0..40.0f64, -40.0..40.0f64, 3.0..30.0f64, any::<bool>()), 1..5),
        leaf_on in any::<bool>(),
    ) {
        let season = if leaf_on { Season::LeafOn } else { Season::LeafOff };
        let fewer = with_woods(&woods[1..], 0).canopy_mask((0.3, 0.2), season);
        let more = with_woods(&woods, 0).canopy_mask((0.3, 0.2), season);
        for (cell, (a, b)) in fewer.iter().zip(&more).enumerate() {
            prop_assert!(b >= a, "cell {}: {} {}", cell, a, b);
        }
    }
    #[test]
    fn a_wood_turned_by_a_right_angle_turns_the_mask(
        woods in proptest::collection::vec((-40i32..40, -40i32..40, 3i32..30, any::<bool>()), 1..4)
    ) {
        // Whole metres plus a little, so that no side runs through pixel centres.
        let woods: Vec<Patch> = woods
            .iter()
            .map(|(x, y, h, n)| (f64::from(*x) + 0.21, f64::from(*y) + 0.13, f64::from(*h), *n))
            .collect();
        let straight = with_woods(&woods, 0).canopy_mask((0.31, 0.17), Season::LeafOff);
        let turned = with_woods(&woods, 1).canopy_mask((0.31, 0.17), Season::LeafOff);
        let odds = odds();
        for bin in 0..AZIMUTH_BINS {
            for row in 0..GRID.rows() {
                let (a, b) = (straight[GRID.cell(bin, row)], turned[GRID.cell((bin + 18) % AZIMUTH_BINS, row)]);
                // Places are rounded to a centimetre and parts of pixels to four millimetres, which is no more than one step of
                // attenuation where that counts; where next to nothing blocks it is several, of no account.
                let (a, b) = (odds.blocked(a), odds.blocked(b));
                prop_assert!((a - b).abs() < 0.06, "{} {} {} {}", bin, row, a, b);
            }
        }
    }
    #[test]
    fn the_order_of_woods_changes_nothing(
        woods in proptest::collection::vec((-40.0..40.0f64, -40.0..40.0f64, 3.0..30.0f64, any::<bool>()), 2..5)
    ) {
        let mut reversed = woods.clone();
        reversed.reverse();
        let (a, b) = (with_woods(&woods, 0).canopy().unwrap(), with_woods(&reversed, 0).canopy().unwrap());
        for i in 0..120 {
            for j in 0..120 {
                let p = Point::new(f64::from(i) - 60.0, f64::from(j) - 60.0);
                prop_assert_eq!(a.crown(p), b.crown(p));
            }
        }
    }
}

#[test]
fn trees_on_a_slope_rise_and_the_verge_stays_level() {
    use waymask::base::window::{Elevation, ElevationGrid, PlaneToPixel};
    use waymask::physics::sky::canopy::{CanopyCaster, CanopyScratch};
    use waymask::physics::sky::ground::{Eye, Ground};
    // A plane that climbs one metre in two to the east, in pixels of 30 m around the origin.
    let column = [20.0, 1000.0 / 30.0, 0.0, 0.0, 0.0, 0.0];
    let row = [20.0, 0.0, -1000.0 / 30.0, 0.0, 0.0, 0.0];
    let values_m = (0..41 * 41).map(|i| 500.0 + ((i % 41) as f32 - 20.0) * 15.0).collect();
    let map = PlaneToPixel { column, row };
    let grid = ElevationGrid { columns: 41, rows: 41, values_m, map, pixel_m: 30.0, surface: false };
    let elevation = Elevation { grids: vec![grid] };
    let mut world = World::default();
    world.add_wood(&[(60.0, -90.0), (90.0, -90.0), (90.0, 90.0), (60.0, 90.0)], LeafType::Needleleaved);
    let canopy = world.canopy().unwrap();
    let at_origin = Point::default();
    let ground = Ground::around(&elevation, at_origin, 500.0, 5.0).unwrap();
    assert_eq!((ground.share(5.0), ground.share(35.0)), (0.0, 1.0));
    assert!((ground.lift_m(Point::new(20.0, 0.0), 20.0).unwrap() - 5.0).abs() < 1e-6);
    let caster = CanopyCaster::new(GRID, &Profile::default());
    let cast = |ground| {
        let mut cells = vec![0; GRID.cells()];
        let eye = Eye { ground, ..Eye::level(at_origin, ANTENNA_M) };
        caster.cast(&CrownStack::of([&canopy]), &eye, &mut CanopyScratch::default(), [&mut cells]);
        cells
    };
    // Level land: 18 m at 60 m is 16.7 degrees, below the floor. On the slope: 48 m at 60 m, 38.7 degrees.
    assert!(cast(None).iter().all(|c| *c == 0));
    let lifted = cast(Some(ground));
    assert!(at(&lifted, 92.0, 34.0) > 0.9, "{}", at(&lifted, 92.0, 34.0));
    assert_eq!(at(&lifted, 92.0, 42.0), 0.0);
    assert_eq!(at(&lifted, 272.0, 26.0), 0.0);
}
