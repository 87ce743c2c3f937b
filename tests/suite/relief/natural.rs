//! What cannot be stops the build and says what to do.
use std::path::Path;

use waymask::base::geodesy::Point;
use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions};
use waymask::profile::Profile;

use super::plane;
use crate::build::kit::{Sketch, write_raster};

/// Hills of a low mountain range: slopes up to 25 degrees, 800 to 1200 m.
fn hills_m(p: Point) -> f64 {
    1000.0 + 150.0 * (p.x_m / 400.0).sin() + 50.0 * (p.y_m / 300.0).cos()
}
/// Blocks of trees 18 m and 27 m high with gaps, decimetre by decimetre.
fn trees_m(p: Point) -> f64 {
    match ((p.x_m / 37.0).floor() as i64 + (p.y_m / 53.0).floor() as i64).rem_euclid(4) {
        0 => 0.0,
        1 => 18.0,
        2 => 22.5,
        _ => 27.0,
    }
}

/// Roads across the hills, with a wood along them.
fn place() -> Sketch {
    let mut s = Sketch::at(44.0);
    for i in -4..=4 {
        let along = 200.0 * f64::from(i);
        s.line(&[(-1200.0, along), (1200.0, along)], &[("highway", "tertiary")]);
    }
    s.area([-1200.0, -900.0, 1200.0, 900.0], &[("natural", "wood")]);
    s
}

/// The outcome of a build with rasters: what it said, or the share of the sky that trees block.
fn built(change: impl FnOnce(&mut BuildOptions, &Path)) -> Result<f64, String> {
    let folder = tempfile::tempdir().unwrap();
    let mut profile = Profile::default();
    profile.link.drives = 4;
    let output = folder.path().join("place.gpkg");
    let mut options = BuildOptions { profile, ..BuildOptions::new(place().write(folder.path()), output) };
    change(&mut options, folder.path());
    match build::build(&options, &Silent) {
        Ok(_) => {
            let layer = waymask::layer::Layer::open(&options.output).unwrap();
            let all = waymask::layer::Bounds::from_deg(-180.0, -90.0, 180.0, 90.0);
            let rows = layer.segments_in(all).unwrap();
            Ok(rows.iter().map(|r| r.blocked_canopy).sum::<f64>() / rows.len() as f64)
        }
        Err(e) => Err(e.to_string()),
    }
}

fn raster(folder: &Path, name: &str, pixel_m: f64, z: impl Fn(Point) -> f64) -> Vec<std::path::PathBuf> {
    let path = folder.join(name);
    write_raster(&path, &plane(), 3000.0, pixel_m, |p| z(p) as f32);
    vec![path]
}

fn refused(what: &str, words: &[&str], change: impl FnOnce(&mut BuildOptions, &Path)) {
    let said = built(change).expect_err(what);
    assert!(words.iter().all(|w| said.contains(w)), "{what}: {said}");
    println!("{what}: {said}");
}

#[test]
fn elevation_in_decimetres_is_refused_and_its_scale_makes_it_right() {
    // 800 to 1200 m are 8,000 to 12,000 dm: above the highest mountain.
    refused("decimetres of mountains", &["dem.tif", "outside", "--elevation-scale"], |o, f| {
        o.elevation = raster(f, "dem.tif", 30.0, |p| 10.0 * hills_m(p));
    });
    // 0 to 400 m are 0 to 4,000 dm, which could be; but no road rises so.
    refused("decimetres of hills", &["dem.tif", "roads are steeper", "--elevation-scale"], |o, f| {
        o.elevation = raster(f, "dem.tif", 30.0, |p| 10.0 * (hills_m(p) - 800.0));
    });
    built(|o, f| {
        o.elevation = raster(f, "dem.tif", 30.0, |p| 10.0 * hills_m(p));
        o.elevation_scale = Some(0.1);
    })
    .unwrap();
    built(|o, f| o.elevation = raster(f, "dem.tif", 30.0, hills_m)).unwrap();
    // Voids that nobody declared are no heights.
    built(|o, f| o.elevation = raster(f, "dem.tif", 30.0, |p| if p.x_m > 500.0 { -9999.0 } else { hills_m(p) }))
        .unwrap();
}

#[test]
fn heights_of_trees_in_decimetres_are_refused_and_their_scale_makes_them_right() {
    refused("decimetres of trees", &["chm.tif", "higher than 80 m", "--canopy-scale"], |o, f| {
        o.canopy = raster(f, "chm.tif", 5.0, |p| 10.0 * trees_m(p));
    });
    let metres = built(|o, f| o.canopy = raster(f, "chm.tif", 5.0, trees_m)).unwrap();
    let scaled = built(|o, f| {
        o.canopy = raster(f, "chm.tif", 5.0, |p| 10.0 * trees_m(p));
        o.canopy_scale = Some(0.1);
    })
    .unwrap();
    assert!(metres > 0.1 && (metres - scaled).abs() < 1e-6, "{metres} {scaled}");
}

#[test]
fn rasters_of_one_kind_given_as_another_are_refused() {
    refused("elevation as canopy", &["dem.tif", "--elevation"], |o, f| {
        o.canopy = raster(f, "dem.tif", 30.0, hills_m);
    });
    refused("low land as canopy", &["looks like elevation"], |o, f| {
        o.canopy = raster(f, "dem.tif", 30.0, |p| 40.0 + p.x_m / 400.0);
    });
    refused("canopy as elevation", &["looks like heights of trees", "--canopy"], |o, f| {
        o.elevation = raster(f, "chm.tif", 5.0, trees_m);
    });
    refused("canopy as surface", &["looks like heights of trees", "--canopy"], |o, f| {
        o.elevation = raster(f, "dem.tif", 30.0, hills_m);
        o.surface = raster(f, "chm.tif", 5.0, trees_m);
    });
    // Above the sea and above the ellipsoid, or the two of them the wrong way round: nothing lies below the ground.
    refused("a surface of another datum", &["dsm.tif", "18 m below --elevation", "datum"], |o, f| {
        o.elevation = raster(f, "dtm.tif", 5.0, hills_m);
        o.surface = raster(f, "dsm.tif", 5.0, |p| hills_m(p) - 18.0);
    });
    refused("a surface of elsewhere", &["dsm.tif", "in the median", "--surface-scale"], |o, f| {
        o.elevation = raster(f, "dem.tif", 30.0, hills_m);
        o.surface = raster(f, "dsm.tif", 5.0, |p| hills_m(p) + 700.0 + trees_m(p));
    });
    refused("two elevations", &["dem.tif", "fine.tif", "in the median"], |o, f| {
        o.elevation = raster(f, "fine.tif", 10.0, |p| hills_m(p) / 3.0);
        o.elevation.extend(raster(f, "dem.tif", 30.0, hills_m));
    });
    // A shore: sea at exactly 0 beside land.
    built(|o, f| o.elevation = raster(f, "shore.tif", 30.0, |p| (p.x_m / 20.0).max(0.0))).unwrap();
}

#[test]
fn scales_that_are_none_are_refused() {
    for scale in [0.0, -0.1, f64::NAN, f64::INFINITY, 1000.0] {
        refused("scale", &["not a plausible scale", "0.1 for decimetres"], |o, f| {
            o.elevation = raster(f, "dem.tif", 30.0, hills_m);
            o.elevation_scale = Some(scale);
        });
        refused("scale", &["not a plausible scale"], |o, f| {
            o.elevation = raster(f, "dem.tif", 30.0, hills_m);
            o.surface = raster(f, "dsm.tif", 30.0, hills_m);
            o.surface_scale = Some(scale);
        });
    }
}
