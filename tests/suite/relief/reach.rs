//! Low profiles look as far as they must.
use waymask::base::geodesy::Point;
use waymask::physics::sky::horizon::{HorizonEye, HorizonQuery, TerrainPyramid, elevation_angle_deg};
use waymask::profile::Profile;
use waymask::relief::Lookout;

use super::{open, plane, window_at};
use crate::build::kit::{Sketch, write_raster};

/// Summit of a far mountain, metres; the land lies at 500.
const TOP_M: f64 = 4000.0;

/// A block from `near_m` to 3 km farther north, 4 km wide.
fn block(near_m: f64) -> impl Fn(Point) -> f32 {
    move |p| if (near_m..near_m + 3000.0).contains(&p.y_m) && p.x_m.abs() < 2000.0 { TOP_M as f32 } else { 500.0 }
}

#[test]
fn a_mountain_25_to_40_km_away_stands_where_it_must() {
    for near_m in [25_000.0, 33_000.0, 38_000.0] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("far.tif");
        write_raster(&path, &plane(), 45_000.0, 90.0, block(near_m));
        let sources = open(&[&path]);
        let from = Lookout { half_m: 1000.0, lowest_m: 500.0, floor_deg: 5.0, refraction_k: 0.25 };
        let (reach_m, highest_m) = sources.reader().unwrap().reach_m(&plane(), &from).unwrap().unwrap();
        assert!(reach_m > near_m + 300.0 && highest_m == TOP_M, "{near_m}: {reach_m} {highest_m}");
        let (_, elevation) = window_at(&sources, (0.0, 0.0), 1000.0, reach_m);
        let pixels: usize = elevation.grids.iter().map(|g| g.values_m.len()).sum();
        assert!(pixels < 700_000, "{pixels} pixels");
        let query = HorizonQuery { start_m: 90.0, max_m: reach_m, floor_deg: 5.0, refraction_k: 0.25 };
        let eye = HorizonEye { at: Point::default(), z_m: 502.0 };
        let (found, at_m) = TerrainPyramid::new(elevation).horizon_and_distance(&eye, 0.0, &query);
        // Closed form on the sphere with its radius stretched for refraction.
        let expected = elevation_angle_deg(502.0, TOP_M, near_m, 0.25);
        assert!((f64::from(found) - expected).abs() < 0.1, "{near_m}: {found} instead of {expected}");
        assert!((at_m.unwrap() - near_m).abs() < 300.0, "{at_m:?}");
        println!("{near_m} m: {found:.3} degrees, closed form {expected:.3}, reach {reach_m:.0} m, {pixels} pixels");
    }
}

#[test]
fn the_default_cone_looks_no_farther_than_before() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("far.tif");
    write_raster(&path, &plane(), 30_000.0, 90.0, block(20_000.0));
    let from = Lookout { half_m: 1000.0, lowest_m: 500.0, floor_deg: 25.0, refraction_k: 0.25 };
    let (reach_m, _) = open(&[&path]).reader().unwrap().reach_m(&plane(), &from).unwrap().unwrap();
    // 3500 m of relief rise above 25 degrees up to 7.5 km: the mountain at 20 km does not, and nothing else is there.
    assert_eq!(reach_m, 500.0);
}

#[test]
fn a_low_profile_is_told_of_a_mountain_30_km_away() {
    let mut profile = Profile::default();
    (profile.terminal.lowest_elevation_deg, profile.terminal.scan_half_angle_deg) = (5.0, 85.0);
    profile.link.drives = 4;
    let mut s = Sketch::at(44.0);
    s.line(&[(-100.0, 0.0), (100.0, 0.0)], &[("highway", "primary")]);
    let blocked = |near_m: f64| {
        let place = s.build_with(profile.clone(), |o, folder| {
            let raster = folder.join("far.tif");
            write_raster(&raster, &plane(), 40_000.0, 90.0, block(near_m));
            o.elevation = vec![raster];
        });
        place.rows[0].blocked_terrain
    };
    // 6.5 degrees high over 8 degrees of azimuth at 30 km; at 39 km it stands below 5 degrees.
    let (near, far) = (blocked(30_000.0), blocked(39_500.0));
    assert!(near > 1e-4 && far == 0.0, "{near} {far}");
}
