//! What rasters show of trees, laid over what the map says.
use waymask::base::geodesy::Point;
use waymask::base::index::SegmentIndex;
use waymask::base::window::{Elevation, ElevationGrid, PlaneToPixel};
use waymask::base::words::RoadClass;
use waymask::map::extract::model::{CanopyShape, DeckShape, DeckUse, LeafType, Sides};
use waymask::physics::scene::above::AboveGround;
use waymask::physics::scene::trees::crown::{Foliage, HeightFrom};
use waymask::physics::scene::trees::grid::CanopyGrid;

use super::support::{World, square};

/// A raster of square pixels, north up, 400 m around the origin, with a value by metres east and north of it.
pub fn raster(pixel_m: f64, value: impl Fn(f64, f64) -> f32) -> Elevation {
    let size = (400.0 / pixel_m) as usize;
    let centre = |i: usize| (i as f64 + 0.5) * pixel_m - 200.0;
    let values_m = (0..size * size).map(|i| value(centre(i % size), -centre(i / size))).collect();
    // Column 0 is centred half a pixel inside the western edge; rows run south.
    let zero = (200.0 - pixel_m / 2.0) / pixel_m;
    let per_km = 1000.0 / pixel_m;
    let map = PlaneToPixel { column: [zero, per_km, 0.0, 0.0, 0.0, 0.0], row: [zero, 0.0, -per_km, 0.0, 0.0, 0.0] };
    Elevation { grids: vec![ElevationGrid { columns: size, rows: size, values_m, map, pixel_m, surface: false }] }
}

/// Trees of a world under a canopy raster; the first segment is the cell's own.
fn under(world: &World, canopy: &Elevation) -> CanopyGrid {
    let none = Elevation::default();
    world.canopy_under(Some(&AboveGround { canopy, surface: &none, ground: &none, segments: &[SegmentIndex::new(0)] }))
}

fn top_m(grid: &CanopyGrid, x_m: f64, y_m: f64) -> f64 {
    grid.crown(Point::new(x_m, y_m)).map_or(0.0, |c| c.top_m())
}

/// A north-south road of 6 m with 4 m of verge on each side, without trees.
fn road() -> World {
    let mut world = World::default();
    world.add_road(&[(0.0, -90.0), (0.0, 90.0)], 6.0, 4.0, None);
    world
}

#[test]
fn the_raster_decides_whether_a_tree_stands_and_how_high_the_map_what_leaves_it_has() {
    let mut world = road();
    world.add_wood(&square(50.0, 0.0, 30.0), LeafType::Needleleaved);
    let shown = raster(1.0, |x, y| if y > 0.0 && x.abs() < 100.0 { 11.0 } else { 0.5 });
    let grid = under(&world, &shown);
    let both = grid.crown(Point::new(50.0, 15.0)).unwrap();
    assert_eq!((both.top_m(), both.height_from(), both.foliage()), (11.0, HeightFrom::Raster, Foliage::Evergreen));
    let unmapped = grid.crown(Point::new(-50.0, 15.0)).unwrap();
    assert_eq!((unmapped.top_m(), unmapped.foliage()), (11.0, Foliage::Mixed));
    assert_eq!(top_m(&grid, 50.0, -15.0), 0.0, "felled");
    let seen = grid.disagreement();
    // Half of the wood's 3600 square metres is shown; the rest of the northern half near the road was not mapped.
    assert!(seen.both_m2 > 0.0 && (seen.both_m2 - seen.mapped_only_m2).abs() < 130.0, "{seen:?}");
    assert!(seen.shown_only_m2 > 4.0 * seen.both_m2, "{seen:?}");
}

#[test]
fn where_a_raster_is_void_the_map_holds() {
    let mut world = road();
    world.add_wood(&square(50.0, 0.0, 30.0), LeafType::Needleleaved);
    let shown = raster(1.0, |_, y| if y > 0.0 { f32::NAN } else { 0.0 });
    let grid = under(&world, &shown);
    let crown = grid.crown(Point::new(50.0, 15.0)).unwrap();
    assert_eq!((crown.top_m(), crown.height_from()), (20.0, HeightFrom::Default));
    assert_eq!(top_m(&grid, 50.0, -15.0), 0.0);
}

#[test]
fn a_fine_raster_shows_trees_nearer_than_the_class_says_and_over_the_carriageway() {
    let world = road();
    let everywhere = raster(1.0, |_, _| 12.0);
    let fine = under(&world, &everywhere);
    // The verge of the class would keep seven metres from the middle free of trees.
    assert_eq!(top_m(&fine, 4.5, 0.0), 12.0);
    let over = fine.crown(Point::new(0.0, 0.0)).unwrap();
    assert_eq!((over.base_m(), over.top_m()), (4.5, 12.0), "crowns over the road are cut back for lorries");
    // Pixels of 30 m lie on road and wood alike: the class decides.
    let coarse = under(&world, &raster(25.0, |_, _| 12.0));
    assert_eq!((top_m(&coarse, 0.0, 0.0), top_m(&coarse, 6.5, 0.0), top_m(&coarse, 7.5, 0.0)), (0.0, 0.0, 12.0));
    // In between, a pixel that touches the carriageway says nothing about the verge.
    let middling = under(&world, &raster(400.0 / 192.0, |_, _| 12.0));
    let share = |x_m: f64| middling.crown(Point::new(x_m, 0.0)).map_or(0.0, |c| c.share());
    // Three metres of carriageway and a diagonal of 2.95 m.
    assert!((share(5.5) - 0.05).abs() < 0.01 && share(6.5) == 1.0, "{} {}", share(5.5), share(6.5));
}

#[test]
fn a_fine_raster_without_values_on_the_road_still_shows_trees_beside_it() {
    let world = road();
    let beside = raster(1.0, |x, _| if x.abs() < 4.0 { f32::NAN } else { 12.0 });
    let grid = under(&world, &beside);
    assert_eq!((top_m(&grid, 4.5, 0.0), top_m(&grid, -4.5, 30.0), top_m(&grid, 0.0, 0.0)), (12.0, 12.0, 0.0));
}

#[test]
fn buildings_and_decks_in_a_raster_are_no_trees() {
    let mut world = road();
    world.add_building(&square(40.0, 40.0, 10.0), 9.0);
    let line = world.line(&[(-60.0, -40.0), (60.0, -40.0)]);
    world.extract.decks.push(waymask::map::extract::model::Deck {
        id: 9,
        carries: DeckUse::Road(RoadClass::Primary),
        shape: DeckShape::Line(line),
        end_nodes: [1, 2],
        width_m: Some(8.0),
        lanes: None,
        layer: 1,
        min_height_m: None,
        name: None,
    });
    let grid = under(&world, &raster(1.0, |_, _| 9.0));
    assert_eq!((top_m(&grid, 40.0, 40.0), top_m(&grid, 49.5, 40.0), top_m(&grid, 55.0, 40.0)), (0.0, 0.0, 9.0));
    assert_eq!((top_m(&grid, -30.0, -40.0), top_m(&grid, -30.0, -50.0)), (0.0, 9.0));
}

#[test]
fn a_surface_over_bare_earth_grows_no_trees_on_a_bare_slope() {
    let world = road();
    let slope = |x: f64, y: f64| 800.0 + 0.8 * x - 0.3 * y;
    let ground = raster(5.0, |x, y| slope(x, y) as f32);
    let tops = |x: f64, y: f64| slope(x, y) + if (x - 40.0).abs() < 10.0 && y.abs() < 50.0 { 17.0 } else { 0.3 };
    let surface = raster(2.0, |x, y| tops(x, y) as f32);
    let none = Elevation::default();
    let above = AboveGround { canopy: &none, surface: &surface, ground: &ground, segments: &[SegmentIndex::new(0)] };
    let grid = world.canopy_under(Some(&above));
    assert!((top_m(&grid, 40.0, 0.0) - 17.0).abs() < 0.3, "{}", top_m(&grid, 40.0, 0.0));
    for (x, y) in [(20.0, 0.0), (60.0, 0.0), (-40.0, 30.0), (40.0, 80.0)] {
        assert_eq!(top_m(&grid, x, y), 0.0, "{x} {y}");
    }
    // A canopy raster comes before a surface.
    let canopy = raster(1.0, |_, _| 6.0);
    let grid = world.canopy_under(Some(&AboveGround { canopy: &canopy, ..above }));
    assert_eq!(top_m(&grid, 40.0, 0.0), 6.0);
}

#[test]
fn single_trees_stand_unless_a_raster_could_show_their_crowns() {
    let mut world = road();
    for y in [-20.0, 20.0] {
        world.add_trees(CanopyShape::Tree(world.line(&[(15.0, y)])[0]), LeafType::Needleleaved, Some(14.0));
    }
    let north = |tall: f32| move |_: f64, y: f64| if y > 0.0 { tall } else { 0.0 };
    let fine = under(&world, &raster(1.0, north(9.0)));
    assert_eq!((top_m(&fine, 15.0, 20.0), top_m(&fine, 15.0, -20.0)), (9.0, 0.0));
    assert_eq!(fine.crown(Point::new(15.0, 20.0)).unwrap().foliage(), Foliage::Evergreen, "leaves as the map says");
    let coarse = under(&world, &raster(20.0, north(0.0)));
    assert_eq!((top_m(&coarse, 15.0, 20.0), top_m(&coarse, 15.0, -20.0)), (14.0, 14.0));
}

#[test]
fn planted_trees_stand_on_the_tagged_side_of_the_way() {
    for (sides, left, right) in [
        (Sides { left: true, right: false }, true, false),
        (Sides { left: false, right: true }, false, true),
        (Sides { left: true, right: true }, true, true),
        (Sides::default(), false, false),
    ] {
        let mut world = road();
        world.add_extract_road(RoadClass::Tertiary).tree_lined = sides;
        let grid = world.canopy_under(None);
        // The way runs north, so its left is west: crowns of six metres begin 1.5 m beyond the carriageway's 3 m.
        let stands = |x: f64| top_m(&grid, x, 0.0) > 0.0;
        assert_eq!((stands(-7.5), stands(7.5)), (left, right), "{sides:?}");
        assert!(!stands(-3.5) && !stands(3.5) && !stands(11.0) && !stands(0.0));
    }
}

#[test]
fn planted_trees_keep_off_bridges_and_out_of_tunnels() {
    let mut world = road();
    world.add_extract_road(RoadClass::Tertiary).tree_lined = Sides { left: true, right: true };
    world.network.segments[0].bridge = true;
    assert_eq!(world.canopy_under(None).top_m(), 0.0);
}
