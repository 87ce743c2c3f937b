//! No wall where a fine raster ends or has a hole: its neighbour is moved to meet it, and cliffs stay.
use waymask::base::geodesy::Point;
use waymask::physics::sky::horizon::{Hint, HorizonEye, HorizonQuery, TerrainPyramid};
use waymask::physics::sky::mask::azimuth_deg;
use waymask::relief::Sources;

use super::{open, plane, window_at};
use crate::build::kit::write_raster;

/// Half the side of the fine raster, metres.
const RIM_M: f64 = 1500.0;

/// Smooth hills: slopes up to 6 degrees.
fn hills_m(p: Point) -> f64 {
    400.0 + 60.0 * (p.x_m / 900.0).sin() * (p.y_m / 1300.0).cos() + 0.02 * p.x_m
}

/// Horizons of all bins around a panel 2 m above the ground, and the height of that ground.
fn horizons(sources: &Sources, at: (f64, f64)) -> ([f32; 72], f64) {
    let (_, elevation) = window_at(sources, at, 300.0, 6000.0);
    let z_m = f64::from(elevation.height_m(Point::default()).unwrap());
    let pyramid = TerrainPyramid::new(elevation);
    let start_m = pyramid.pixel_m(Point::default()).unwrap();
    let query = HorizonQuery { start_m, max_m: 6000.0, floor_deg: -45.0, refraction_k: 0.25 };
    let eye = HorizonEye { at: Point::default(), z_m: z_m + 2.0 };
    (pyramid.horizons_deg(&eye, &query, &mut Hint::default()), z_m)
}

/// Places inside and outside the rim, in its corner and far out; and around the hole.
const PLACES: [(f64, f64); 10] = [
    (1480.0, 0.0),
    (1400.0, 300.0),
    (1520.0, -200.0),
    (1650.0, 40.0),
    (2400.0, 0.0),
    (1485.0, 1485.0),
    (-1490.0, 700.0),
    (0.0, -1530.0),
    (230.0, 0.0),
    (-100.0, 260.0),
];

#[test]
fn the_horizon_at_the_rim_is_that_of_the_coarse_raster_alone() {
    type Offset = fn(Point) -> f64;
    let offsets: [(&str, Offset); 4] =
        [("18 m", |_| 18.0), ("40 m below", |_| -40.0), ("tilted", |p| 18.0 + p.x_m / 1000.0), ("none", |_| 0.0)];
    for (what, offset_m) in offsets {
        let folder = tempfile::tempdir().unwrap();
        let (fine, coarse) = (folder.path().join("fine.tif"), folder.path().join("coarse.tif"));
        // A hole of 400 m in the middle of the fine one.
        let hole = |p: Point| p.x_m.abs() < 200.0 && p.y_m.abs() < 200.0;
        write_raster(&fine, &plane(), RIM_M, 12.0, |p| if hole(p) { f32::NAN } else { hills_m(p) as f32 });
        write_raster(&coarse, &plane(), 10_000.0, 90.0, |p| (hills_m(p) + offset_m(p)) as f32);
        let (both, alone) = (open(&[&fine, &coarse]), open(&[&coarse]));
        let mut worst = 0.0_f32;
        for at in PLACES {
            let ((joined, _), (plain, _)) = (horizons(&both, at), horizons(&alone, at));
            for (bin, (a, b)) in joined.iter().zip(plain).enumerate() {
                worst = worst.max(a - b);
                assert!(*a <= b + 3.0, "{what} at {at:?}, azimuth {}: {a} instead of {b}", azimuth_deg(bin));
            }
        }
        println!("{what}: at most {worst:.2} degrees above the coarse raster alone");
    }
}

#[test]
fn a_cliff_beyond_the_rim_stands() {
    // 80 m, a hundred metres outside of the fine raster; both rasters agree but for 18 m of datum.
    let cliff = |p: Point| if p.x_m > RIM_M + 100.0 { 80.0 } else { 0.0 };
    let folder = tempfile::tempdir().unwrap();
    let (fine, coarse) = (folder.path().join("fine.tif"), folder.path().join("coarse.tif"));
    write_raster(&fine, &plane(), RIM_M, 12.0, |_| 300.0);
    write_raster(&coarse, &plane(), 10_000.0, 90.0, |p| 318.0 + cliff(p) as f32);
    let (joined, _) = horizons(&open(&[&fine, &coarse]), (1480.0, 0.0));
    let (plain, _) = horizons(&open(&[&coarse]), (1480.0, 0.0));
    // Closed form: the top is 78 m above the panel, 120 to 210 m away by where its pixel lies.
    let (least, most) = ((78.0_f64 / 210.0).atan().to_degrees(), (78.0_f64 / 120.0).atan().to_degrees());
    let east = f64::from(joined[18]);
    assert!(east > least - 2.0 && east < most + 2.0, "{east}, {least} to {most}");
    assert!((joined[18] - plain[18]).abs() < 3.0, "{} {}", joined[18], plain[18]);
}

#[test]
fn a_road_does_not_jump_at_the_seam_and_every_window_says_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let (fine, coarse) = (folder.path().join("fine.tif"), folder.path().join("coarse.tif"));
    write_raster(&fine, &plane(), RIM_M, 12.0, |p| hills_m(p) as f32);
    write_raster(&coarse, &plane(), 12_000.0, 90.0, |p| hills_m(p) as f32 + 18.0);
    let both = open(&[&fine, &coarse]);
    let (own, wide) = window_at(&both, (RIM_M, 0.0), 2000.0, 3000.0);
    let along = |x_m: f64| {
        own.from_lon_lat(plane().to_lon_lat(Point::new(x_m, 35.0)).0, plane().to_lon_lat(Point::new(x_m, 35.0)).1)
    };
    let mut before: Option<f32> = None;
    for i in 0..300 {
        let x_m = 700.0 + 10.0 * f64::from(i);
        let z = wide.height_m(along(x_m)).unwrap();
        // The land rises by less than 0.09 m a metre, and the offset fades by 0.0175 m a metre.
        assert!(before.is_none_or(|b| (z - b).abs() < 1.3), "at {x_m}: {before:?} {z}");
        before = Some(z);
    }
    let far = f64::from(wide.height_m(along(3600.0)).unwrap()) - hills_m(Point::new(3600.0, 35.0));
    assert!((far - 18.0).abs() < 0.5, "the offset is all there again two kilometres on: {far}");
    // Small windows elsewhere, as roads are read with, tell the same heights.
    for x_m in [1490.0, 1600.0, 1900.0, 2500.0, 3300.0] {
        let (_, small) = window_at(&both, (x_m, 35.0), 50.0, 200.0);
        let (here, there) = (small.height_m(Point::default()).unwrap(), wide.height_m(along(x_m)).unwrap());
        assert!((here - there).abs() < 0.1, "{x_m}: {here} {there}");
    }
}
