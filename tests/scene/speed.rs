//! Speeds that a build of a country rests on; run with `--release -- heavy_ --nocapture`.
use std::time::Instant;

use waymask::extract::model::LeafType;
use waymask::geodesy::{LocalPlane, Point};
use waymask::profile::Profile;
use waymask::scene::index::Window;
use waymask::sky::canopy::{CanopyCaster, CanopyScratch};
use waymask::sky::ground::{Eye, Ground};
use waymask::sky::mask::AZIMUTH_BINS;
use waymask::sky::solid::SolidPainter;
use waymask::terrain::grid::{Elevation, ElevationGrid, PlaneToPixel};

use super::support::{ANTENNA_M, GRID, World, square};

fn forest(half_wood_m: f64, wood_east_m: f64) -> World {
    let window = Window::new(LocalPlane::at(7.5, 46.2), 1_200.0);
    let mut world = World { window, ..World::default() };
    world.add_wood(&square(wood_east_m, 0.0, half_wood_m), LeafType::Needleleaved);
    for i in 0..20 {
        let x = f64::from(i) * 110.0 - 1_100.0;
        world.add_road(&[(x, -1_190.0), (x + 30.0, 0.0), (x, 1_190.0)], 5.0, 3.0, None);
    }
    world
}

fn slope() -> Elevation {
    let column = [60.0, 1000.0 / 30.0, 0.0, 0.0, 0.0, 0.0];
    let row = [60.0, 0.0, -1000.0 / 30.0, 0.0, 0.0, 0.0];
    let values_m = (0..121 * 121).map(|i| 900.0 + ((i % 121) as f32 - 60.0) * 9.0).collect();
    let map = PlaneToPixel { column, row };
    Elevation { grids: vec![ElevationGrid { columns: 121, rows: 121, values_m, map, pixel_m: 30.0 }] }
}

fn stations_per_s(world: &World, x_m: f64, elevation: Option<&Elevation>) -> f64 {
    let canopy = world.canopy().unwrap();
    let caster = CanopyCaster::new(GRID, &Profile::default());
    let (mut scratch, mut cells) = (CanopyScratch::default(), vec![0; GRID.cells()]);
    let (start, mut done) = (Instant::now(), 0u32);
    while start.elapsed().as_secs_f64() < 1.0 {
        for _ in 0..50 {
            let at = Point::new(x_m, f64::from(done % 2_000) - 1_000.0);
            let ground = elevation.and_then(|e| Ground::around(e, at, 900.0 + x_m * 0.3, 4.0));
            caster.cast(&canopy, &Eye { at, antenna_height_m: ANTENNA_M, ground }, &mut scratch, &mut cells);
            done += 1;
        }
    }
    f64::from(done) / start.elapsed().as_secs_f64()
}

#[test]
fn heavy_speed_of_canopy_and_solids() {
    let dense = forest(1_390.0, 0.0);
    let start = Instant::now();
    let grid = dense.canopy().unwrap();
    eprintln!("raster of a forest cell: {:.3} s, {} MB", start.elapsed().as_secs_f64(), grid.bytes() >> 20);
    eprintln!("dense forest: {:.0} stations/s", stations_per_s(&dense, 0.0, None));
    let slope = slope();
    eprintln!("dense forest on a slope: {:.0} stations/s", stations_per_s(&dense, 0.0, Some(&slope)));
    let sparse = forest(200.0, 900.0);
    eprintln!("open land: {:.0} stations/s", stations_per_s(&sparse, -500.0, None));
    eprintln!("open land on a slope: {:.0} stations/s", stations_per_s(&sparse, -500.0, Some(&slope)));
    let mut town = World { window: dense.window, ..World::default() };
    for i in 0..60 {
        for j in 0..60 {
            town.add_building(&square(f64::from(i) * 25.0 - 740.0, f64::from(j) * 25.0 - 740.0, 8.0), 9.0);
        }
    }
    let solids = town.solids();
    let painter = SolidPainter::new(GRID);
    let (start, mut done) = (Instant::now(), 0u32);
    while start.elapsed().as_secs_f64() < 1.0 {
        let at = Point::new(-2.5, f64::from(done % 1_400) - 700.0);
        let mut horizon = [-90.0; AZIMUTH_BINS];
        painter.paint(&solids, &Eye { at, antenna_height_m: ANTENNA_M, ground: None }, &mut horizon);
        done += 1;
    }
    let per_s = f64::from(done) / start.elapsed().as_secs_f64();
    eprintln!("town: {per_s:.0} stations/s");
    assert!(per_s > 200.0, "far below any use, whatever the machine and profile: {per_s}");
}
