//! Rasters that change: districts from which they are seen are rated again, and no other; a mosaic is what its files show.
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use waymask::base::geodesy::LocalPlane;
use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions};
use waymask::profile::Profile;

use crate::build::kit::{Sketch, write_raster};

/// Two hamlets, 220 km from each other, the second with a wood.
const APART_M: f64 = 222_000.0;

fn hamlets(folder: &Path) -> PathBuf {
    let mut s = Sketch::around(47.125, -28.125);
    for y_m in [0.0, APART_M] {
        s.line(&[(-600.0, y_m), (600.0, y_m)], &[("highway", "secondary")]);
    }
    s.area([-100.0, APART_M + 12.0, 100.0, APART_M + 90.0], &[("natural", "wood")]);
    s.write(folder)
}

/// Ground of 8 km around one of the hamlets that rises to the north.
fn tile(path: &Path, lat_deg: f64, slope: f64) {
    write_raster(path, &LocalPlane::at(-28.125, lat_deg), 4_000.0, 90.0, |p| (100.0 + slope * p.y_m.max(0.0)) as f32);
}

fn parts(work: &Path) -> BTreeSet<String> {
    let names = std::fs::read_dir(work).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned());
    names.filter(|name| name.ends_with(".gpkg")).collect()
}

/// The layers of a build that goes on in its folder and of one from nothing, which must be the same.
fn same(options: &BuildOptions) -> Vec<u8> {
    build::build(options, &Silent).unwrap();
    let updated = std::fs::read(&options.output).unwrap();
    let afresh = BuildOptions { work: None, ..options.clone() };
    build::build(&afresh, &Silent).unwrap();
    assert!(updated == std::fs::read(&options.output).unwrap(), "an update and a new build differ");
    updated
}

#[test]
fn a_tile_that_changed_rates_only_the_districts_that_see_it() {
    let home = tempfile::tempdir().unwrap();
    let at = |name: &str| home.path().join(name);
    let far_lat_deg = 47.125 + APART_M / 111_195.0;
    tile(&at("near.tif"), 47.125, 0.02);
    tile(&at("far.tif"), far_lat_deg, 0.02);
    // The far tile within a mosaic: its own file stays what it is.
    let made =
        std::process::Command::new("gdalbuildvrt").arg("-q").args([at("far.vrt"), at("far.tif")]).status().unwrap();
    assert!(made.success());
    let mut profile = Profile::default();
    profile.link.drives = 8;
    let options = BuildOptions {
        profile,
        elevation: vec![at("near.tif"), at("far.vrt")],
        overwrite: true,
        work: Some(at("work")),
        ..BuildOptions::new(hamlets(home.path()), at("layer.gpkg"))
    };
    let first = same(&options);
    let before = parts(&at("work"));
    assert_eq!(before.len(), 2, "{before:?}");
    // A steep slope north of the far road.
    tile(&at("far.tif"), far_lat_deg, 2.0);
    let second = same(&options);
    let now = parts(&at("work"));
    assert!(first != second, "the far hamlet should see less");
    assert_eq!((now.len(), now.intersection(&before).count()), (2, 1), "{before:?} {now:?}");
    // One more tile, anywhere: what is looked at first may change for all.
    tile(&at("more.tif"), 47.125 + 4.0, 0.0);
    let more = BuildOptions { elevation: [&options.elevation[..], &[at("more.tif")]].concat(), ..options.clone() };
    same(&more);
    assert!(parts(&at("work")).is_disjoint(&now), "a new tile");
}
