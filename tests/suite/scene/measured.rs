//! Buildings as a surface model shows them, against rays marched over the same surface by plain loops.
use proptest::prelude::*;
use waymask::base::geodesy::Point;
use waymask::base::index::SegmentIndex;
use waymask::base::window::Elevation;
use waymask::map::extract::model::LeafType;
use waymask::physics::scene::above::AboveGround;
use waymask::physics::scene::building::BuildingHeights;
use waymask::physics::scene::solids::index::Solids;
use waymask::physics::scene::solids::measured::Measured;
use waymask::physics::scene::trees::canopy::Planting;
use waymask::physics::scene::trees::grid::{CanopyGrid, PIXEL_M};
use waymask::physics::scene::trees::stack::CrownStack;
use waymask::physics::sky::canopy::{CanopyCaster, CanopyScratch};
use waymask::physics::sky::ground::{Eye, Ground};
use waymask::physics::sky::horizon::HorizonEye;
use waymask::physics::sky::leaves::LeafOdds;
use waymask::physics::sky::mask::{AZIMUTH_BINS, Mask};
use waymask::physics::sky::measured::MeasuredTops;
use waymask::physics::sky::solid::SolidPainter;
use waymask::profile::{Cases, Profile};

use super::rasters::raster;
use super::support::{ANTENNA_M, GRID, World};

/// A block or a clump of trees: west, south, east, north, height, all metres.
type Block = [f64; 5];

/// What stands at a place: the highest of the blocks, crowns rough by up to a metre and a half.
fn height_m(blocks: &[Block], trees: &[Block], x: f64, y: f64) -> f64 {
    let over = |b: &&Block| x > b[0] && y > b[1] && x < b[2] && y < b[3];
    let roof = blocks.iter().filter(over).map(|b| b[4]).fold(0.0, f64::max);
    // Neighbouring pixels differ as if by chance.
    let rough = ((x * 12.9898 + y * 78.233).sin() * 43_758.547).fract().abs() * 1.5;
    trees.iter().filter(over).map(|b| b[4] + rough).fold(roof, f64::max)
}

fn surface(blocks: &[Block], trees: &[Block]) -> Elevation {
    raster(1.0, |x, y| (100.0 + height_m(blocks, trees, x, y)) as f32)
}

/// What a panel on the road through the middle sees: the mask of what is solid and what trees stand.
fn mask(world: &World, surface: &Elevation) -> Mask {
    mask_with(world, &world.heights(), surface)
}

/// The same with heights of buildings that are given.
fn mask_with(world: &World, heights: &BuildingHeights, surface: &Elevation) -> Mask {
    let ground = raster(5.0, |_, _| 100.0);
    let none = Elevation::default();
    let above = AboveGround { canopy: &none, surface, ground: &ground, segments: &[SegmentIndex::new(0)] };
    let (near, profile) = (world.near(), Profile::default());
    let around = world.vicinity(&near, heights);
    let measured = Measured::of(&around, &above).unwrap();
    let planting = Planting {
        around,
        profile: &profile.canopy,
        above: Some(&above),
        measured: Some(&measured),
        stated_crown_m: profile.canopy.crown_diameter_m,
        views: None,
    };
    let canopy = CanopyGrid::build(&planting, PIXEL_M);
    let solids = Solids::build(&around, Some(&ground), Some(&measured), &Cases::of(&profile).unwrap(), GRID.floor_deg);
    let mut mask = Mask::open(GRID);
    let eye = Eye {
        ground: Ground::around(&ground, Point::default(), 100.0, 4.0),
        ..Eye::level(Point::default(), ANTENNA_M)
    };
    SolidPainter::new(GRID).paint(&solids, &eye, None, &mut mask.solid_deg);
    let tops_eye = HorizonEye { at: Point::default(), z_m: 100.0 + ANTENNA_M };
    MeasuredTops::new(&measured).paint(&tops_eye, GRID.floor_deg, &mut mask.solid_deg);
    CanopyCaster::new(GRID, &profile).cast(
        &CrownStack::of([&canopy]),
        &eye,
        &mut CanopyScratch::default(),
        [&mut mask.canopy],
    );
    mask
}

/// Share of the solid angle above 25 degrees that is open.
fn open_share(mask: &Mask) -> f64 {
    let odds = LeafOdds::of(&Profile::default());
    let (mut open, mut all) = (0.0, 0.0);
    for bin in 0..AZIMUTH_BINS {
        for row in 0..GRID.rows() {
            // In slices, as a horizon may run through a row.
            let (low_deg, high_deg) = GRID.row_edges_deg(row);
            for slice in 0..10 {
                let elevation_deg = low_deg + (high_deg - low_deg) * (f64::from(slice) + 0.5) / 10.0;
                let weight = elevation_deg.to_radians().cos();
                all += weight;
                if elevation_deg > f64::from(mask.solid_deg[bin]) {
                    open += weight * (1.0 - odds.blocked(mask.canopy[GRID.cell(bin, row)]));
                }
            }
        }
    }
    open / all
}

/// The same for opaque blocks, by marching rays in steps of a decimetre.
fn marched(blocks: &[Block]) -> f64 {
    let (mut open, mut all) = (0.0, 0.0);
    let highest_m = blocks.iter().map(|b| b[4]).fold(0.0, f64::max);
    for azimuth in 0..360 {
        let (sin, cos) = (f64::from(azimuth) + 0.5).to_radians().sin_cos();
        for slice in 0..65 {
            let elevation = (25.5 + f64::from(slice)).to_radians();
            let hits = (1..)
                .map(|i| f64::from(i) * 0.1)
                .take_while(|d| ANTENNA_M + d * elevation.tan() < highest_m)
                .any(|d| height_m(blocks, &[], sin * d, cos * d) > ANTENNA_M + d * elevation.tan());
            all += elevation.cos();
            open += if hits { 0.0 } else { elevation.cos() };
        }
    }
    open / all
}

fn corners(b: &Block) -> [(f64, f64); 4] {
    [(b[0], b[1]), (b[2], b[1]), (b[2], b[3]), (b[0], b[3])]
}

/// A world with a road through its middle and some blocks mapped: with a height, or without.
fn world(mapped: &[(Block, Option<f32>)]) -> World {
    let mut world = World::default();
    world.add_road(&[(0.0, -90.0), (0.0, 50.0)], 6.0, 2.0, None);
    for (block, tag) in mapped {
        world.add_building(&corners(block), 0.0).height_m = *tag;
    }
    world
}

/// A street: a hall with a tower on it, a row of houses, and a block across the end.
const STREET: [Block; 5] = [
    [8.0, -60.0, 40.0, 30.0, 12.0],
    [12.0, -20.0, 28.0, 0.0, 55.0],
    [-32.0, -70.0, -9.0, -20.0, 9.0],
    [-30.0, -12.0, -10.0, 45.0, 18.0],
    [-20.0, 60.0, 25.0, 75.0, 40.0],
];

#[test]
fn measured_buildings_hide_what_rays_over_the_surface_meet_whatever_the_map_says() {
    let truth = marched(&STREET);
    assert!((0.4..0.8).contains(&truth), "{truth}");
    for tag in [None, Some(6.0), Some(90.0)] {
        // The tower is not drawn: it stands as it is on the hall.
        let mapped: Vec<_> = [0, 2, 3, 4].map(|i| (STREET[i], tag)).to_vec();
        let mask = mask(&world(&mapped), &surface(&STREET, &[]));
        assert!(mask.canopy.iter().all(|c| *c == 0), "nothing here is a tree");
        let found = open_share(&mask);
        assert!((found - truth).abs() < 0.02, "{tag:?}: {found} {truth}");
    }
    // Nor need the map know any of them: they are large and smooth.
    let found = open_share(&mask(&world(&[]), &surface(&STREET, &[])));
    assert!((found - truth).abs() < 0.02, "{found} {truth}");
}

#[test]
fn trees_beside_buildings_stay_trees() {
    let house = [8.0, -20.0, 20.0, 20.0, 8.0];
    let wood = [-60.0, -60.0, -8.0, 60.0, 16.0];
    let crown = [8.0, 21.0, 14.0, 27.0, 14.0];
    let mask = mask(&world(&[(house, None)]), &surface(&[house], &[wood, crown]));
    let west = 3 * AZIMUTH_BINS / 4;
    let east = AZIMUTH_BINS / 4;
    let odds = LeafOdds::of(&Profile::default());
    let canopy = |bin: usize| odds.blocked(mask.canopy[GRID.cell(bin, 1)]);
    assert!(canopy(west) > 0.78 && mask.solid_deg[west] < 25.0, "{} {}", canopy(west), mask.solid_deg[west]);
    // The wall at 8 m ends 6 m above the panel: 36.9 degrees, half a pixel either way.
    assert!((f64::from(mask.solid_deg[east]) - 36.9).abs() < 2.5, "{}", mask.solid_deg[east]);
    assert_eq!(canopy(east), 0.0, "{:?}", &mask.canopy[GRID.cell(east, 0)..GRID.cell(east + 1, 0)]);
    // The tree touches the house, and stands higher: it is still one.
    let north_east = Point::default().azimuth_deg(Point::new(11.0, 24.0)) / 360.0 * AZIMUTH_BINS as f64;
    assert!(canopy(north_east as usize) > 0.24, "{}", canopy(north_east as usize));
}

#[test]
fn what_the_raster_does_not_show_stands_as_mapped() {
    // Built after the flight, or outside of the raster.
    let house = [8.0, -20.0, 20.0, 20.0, 8.0];
    let east = AZIMUTH_BINS / 4;
    let built = mask(&world(&[(house, Some(8.0))]), &surface(&[], &[]));
    assert!((built.solid_deg[east] - 36.9).abs() < 1.0, "{}", built.solid_deg[east]);
    let cut = raster(1.0, |x, _| if x > 15.0 { f32::NAN } else { 100.0 });
    let outside = mask(&world(&[(house, Some(8.0))]), &cut);
    assert_eq!(outside.solid_deg, built.solid_deg);
}

fn block() -> impl Strategy<Value = Block> {
    let side = prop_oneof![4.0..40.0f64, -60.0..-24.0f64];
    (side, -60.0..40.0f64, 6.0..20.0f64, 6.0..30.0f64, 2.5..40.0f64)
        .prop_map(|(x, y, wide, long, height)| [x, y, x + wide, y + long, height])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    /// The law that adding an obstacle never opens the sky, with a surface in: buildings are mapped with and without heights where the
    /// surface shows buildings, trees, both or nothing.
    #[test]
    fn mapping_a_building_or_a_wood_never_opens_the_sky(
        blocks in proptest::collection::vec(block(), 0..4),
        trees in proptest::collection::vec(block(), 0..4),
        mapped in proptest::collection::vec((block(), proptest::option::of(3.0..40.0f32)), 1..4),
        on_top in any::<bool>(),
        wood in block(),
    ) {
        let surface = surface(&blocks, &trees);
        let mut mapped = mapped;
        // Half of the time the map draws what the surface shows.
        if on_top {
            for (drawn, stands) in mapped.iter_mut().zip(blocks.iter().chain(&trees)) {
                drawn.0 = *stands;
            }
        }
        // A tagged height says something about untagged buildings around it, and may well lower what is assumed of them: it is
        // evidence and no obstacle. So what is assumed is the same before and after.
        let heights = world(&mapped).heights();
        let mut before = open_share(&mask_with(&world(&[]), &heights, &surface));
        for count in 1..=mapped.len() {
            let mut world = world(&mapped[..count]);
            let now = open_share(&mask_with(&world, &heights, &surface));
            // Rays of the two ways to look differ by less than this at the corners of blocks.
            prop_assert!(now <= before + 0.002, "{} {} {:?}", before, now, mapped[count - 1]);
            world.add_wood(&corners(&wood), LeafType::Needleleaved);
            let wooded = open_share(&mask_with(&world, &heights, &surface));
            prop_assert!(wooded <= now + 0.002, "{} {}", now, wooded);
            before = now;
        }
    }
}
