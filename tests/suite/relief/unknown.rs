//! What elevation cannot tell is said: voids in sight, and pixels that may hide a rock face.
use waymask::base::geodesy::Point;
use waymask::base::window::{Elevation, ElevationGrid, PlaneToPixel};
use waymask::base::words::{Evidence, TerrainEvidence};
use waymask::physics::sky::horizon::{HorizonEye, HorizonQuery, TerrainPyramid, ceiling};
use waymask::profile::Profile;

use super::plane;
use crate::build::kit::{Place, Sketch, write_raster};

/// A square window of 10 m pixels.
fn grid(half_m: f64, z: impl Fn(f64, f64) -> f32) -> Elevation {
    let half = (half_m / 10.0) as usize;
    let (side, h) = (2 * half + 1, half as f64);
    let at = |i: usize| z(((i % side) as f64 - h) * 10.0, (h - (i / side) as f64) * 10.0);
    let map = PlaneToPixel { column: [h, 100.0, 0.0, 0.0, 0.0, 0.0], row: [h, 0.0, -100.0, 0.0, 0.0, 0.0] };
    let values_m = (0..side * side).map(at).collect();
    Elevation { grids: vec![ElevationGrid { columns: side, rows: side, values_m, map, pixel_m: 10.0, surface: false }] }
}

#[test]
fn ground_in_a_void_rises_along_the_slope_up_to_the_highest_around() {
    // A void from 100 to 700 m east, 600 m wide: at 45 degrees its middle may lie 300 m up, 400 m away.
    let void = |x: f64, y: f64| (100.0..700.0).contains(&x) && y.abs() < 300.0;
    let land = grid(1000.0, |x, y| if void(x, y) { f32::NAN } else { 50.0 });
    let query = HorizonQuery { start_m: 10.0, max_m: 1500.0, floor_deg: -10.0, refraction_k: 1.0 };
    let eye = HorizonEye { at: Point::default(), z_m: 52.0 };
    for (highest_m, top_m) in [(1e6, 298.0_f64), (150.0, 98.0)] {
        let ceiling = TerrainPyramid::new(ceiling(&land, 1000.0, 1.0, highest_m).unwrap());
        // Closed form: the line to where the ground would be cut off, or to the middle: 298 m over 400, 98 m over 200.
        let near_m = if top_m > 200.0 { 400.0 } else { 200.0 };
        let expected = (top_m / near_m).atan().to_degrees();
        let found = f64::from(ceiling.horizon_deg(&eye, 90.0, &query));
        assert!((found - expected).abs() < 2.5, "{highest_m}: {found} instead of {expected}");
        assert_eq!(ceiling.horizon_deg(&eye, 270.0, &query), -10.0, "nothing is unknown in the west");
    }
    assert!(ceiling(&grid(1000.0, |_, _| 50.0), 1000.0, 1.0, 1e6).is_none(), "no void, no ceiling");
    assert!(ceiling(&grid(500.0, |_, _| 50.0), 1000.0, 1.0, 1e6).is_some(), "beyond the border nothing is known");
}

fn road(pixel_m: f64, half_m: f64, z: impl Fn(Point) -> f32) -> Place {
    let mut profile = Profile::default();
    profile.link.drives = 4;
    let mut s = Sketch::at(44.0);
    s.line(&[(0.0, -400.0), (0.0, 400.0)], &[("highway", "primary")]);
    s.area([-900.0, 0.0, -880.0, 20.0], &[("building", "yes"), ("height", "3")]);
    s.node(-900.0, 60.0, &[("natural", "tree"), ("height", "4")]);
    s.build_with(profile, |o, folder| {
        let raster = folder.join("land.tif");
        write_raster(&raster, &plane(), half_m, pixel_m, z);
        o.elevation = vec![raster];
    })
}

#[test]
fn a_gorge_of_which_only_the_floor_is_known_is_not_open_land() {
    // Whether walls stand 140 m away on both sides nobody knows; walls of 360 m would leave a strip of sky.
    let gorge = road(30.0, 5000.0, |p| if p.x_m.abs() < 140.0 { 500.0 } else { f32::NAN });
    let row = &gorge.rows[0];
    let said = (row.evidence_terrain, row.terrain_unknown_share, row.evidence);
    assert!(said.0 == TerrainEvidence::Part && said.1 > 0.01 && said.2 == Evidence::Unknown, "{said:?}");
}

#[test]
fn voids_in_sight_are_told_and_those_out_of_sight_are_not() {
    // A mountain of 900 m far off bounds what could stand in the void.
    let land = |p: Point| if p.y_m > 3000.0 { 900.0 } else { 0.0 };
    let with =
        |from_m: f64, to_m: f64| {
            let place = road(30.0, 5000.0, |p| {
                if (from_m..to_m).contains(&p.x_m) && p.y_m.abs() < 600.0 { f32::NAN } else { land(p) }
            });
            (place.rows[0].evidence_terrain, place.rows[0].terrain_unknown_share, place.rows[0].evidence)
        };
    // Up to 830 m high 520 m away. Of 60 m: 52 m high 830 m away: 4 degrees.
    let (near, share, all) = with(40.0, 1000.0);
    assert!(near == TerrainEvidence::Part && share > 0.01 && all == Evidence::Unknown, "{near:?} {share} {all:?}");
    println!("void 40 to 1000 m east: {share}");
    let (far, share, _) = with(800.0, 860.0);
    assert!(far == TerrainEvidence::Raster && share == 0.0, "{far:?} {share}");
}

#[test]
fn large_pixels_beside_a_rock_face_are_coarse_and_flat_land_is_not() {
    for pixel_m in [5.0, 10.0, 30.0, 90.0] {
        for height_m in [15.0, 25.0, 40.0] {
            // True horizon of the face, 8.25 m from the lane: 58 to 78 degrees.
            let place = road(pixel_m, 2500.0, |p| if p.x_m > 10.0 { height_m } else { 0.0 });
            let found = place.rows.iter().map(|r| r.evidence_terrain).collect::<Vec<_>>();
            let expected = if pixel_m > 10.0 { TerrainEvidence::Coarse } else { TerrainEvidence::Raster };
            assert!(found.iter().all(|e| *e == expected), "{height_m} m, pixels of {pixel_m} m: {found:?}");
            let coarse = place.rows[0].terrain_coarse_share;
            assert!((coarse - f64::from(u8::from(pixel_m > 10.0))).abs() < 1e-9, "{coarse}");
        }
    }
    // Land that is flat, that is noisy by 3 m, and that rises by one in ten.
    let noise = |p: Point| ((p.x_m * 12.9898 + p.y_m * 78.233).sin() * 43_758.547).fract() * 3.0;
    let lands: [fn(Point) -> f64; 2] = [|_| 0.0, |p| p.x_m / 10.0];
    for (i, land) in lands.into_iter().enumerate() {
        let place = road(30.0, 2500.0, |p| (land(p) + noise(p)) as f32);
        assert!(
            place.rows.iter().all(|r| r.evidence_terrain == TerrainEvidence::Raster && r.terrain_coarse_share == 0.0),
            "{i}"
        );
    }
}
