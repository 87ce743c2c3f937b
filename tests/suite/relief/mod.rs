//! Rasters made for one question each: seams, far mountains, voids, coarse pixels, wrong units, damaged archives, kinds.
use std::path::{Path, PathBuf};

use waymask::base::geodesy::{LocalPlane, Point};
use waymask::base::window::Elevation;
use waymask::relief::{ElevationKind, Sources};

mod archives;
mod kinds;
mod natural;
mod reach;
mod seams;
mod unknown;

/// Where the rasters lie: that of [`crate::build::kit::Sketch`].
pub fn plane() -> LocalPlane {
    LocalPlane::at(-28.0, 44.0)
}

/// Bare earth, best first.
pub fn open(paths: &[&Path]) -> Sources {
    let paths: Vec<PathBuf> = paths.iter().map(|p| p.to_path_buf()).collect();
    Sources::open(&paths, ElevationKind::BareEarth).unwrap()
}

/// The window around a place given in metres from the middle, in a plane of its own.
pub fn window_at(sources: &Sources, (x_m, y_m): (f64, f64), half_m: f64, halo_m: f64) -> (LocalPlane, Elevation) {
    let (lon, lat) = plane().to_lon_lat(Point::new(x_m, y_m));
    let own = LocalPlane::at(lon, lat);
    let elevation = sources.reader().unwrap().window(&own, half_m, halo_m).unwrap();
    (own, elevation)
}
