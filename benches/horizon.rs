//! Terrain horizons per second of one core, compared with GRASS r.horizon: same raster, radius, roads and run.
//!
//! Both: a 30 m raster, 20 km, earth curvature, no refraction, one thread, processor time.
//! GRASS, by its source: the height of the nearest cell every half cell (`distance=0.5`), from the ground;
//! blocks of 100 cells that cannot rise above what was seen are skipped, horizons below 0 degrees come out
//! as 0, and each ray's direction is found by two changes of projection. What a ray costs before it marches
//! is printed too. Its start-up is taken out by the slope between two numbers of azimuths at each place.
//! Ours: the whole bilinear surface, from 2 m above it, 72 azimuths at stations 20 m apart in road order,
//! each starting from the distances found at the last one; block maxima are built before.
#![allow(clippy::unwrap_used)] // A bench that cannot measure may stop.
use std::fmt::Write as _;
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

use waymask::base::geodesy::{LocalPlane, Point};
use waymask::physics::sky::horizon::{Hint, HorizonEye, HorizonQuery, TerrainPyramid};
use waymask::relief::{ElevationKind, Sources};

mod figures;
#[path = "../tests/suite/grass/mod.rs"]
mod grass;
#[allow(dead_code)]
#[path = "../tests/suite/need.rs"]
mod need;

/// Search radius of both, metres.
const RADIUS_M: f64 = 20_000.0;
/// A radius at which GRASS has little to march, metres.
const SHORT_M: f64 = 60.0;
/// Azimuths per place there: enough for the time to be told.
const MANY_SHORT: u32 = 144_000;
/// Half of the side of the cell whose roads are used, metres.
const CELL_HALF_M: f64 = 3000.0;
/// Stations along a road, metres.
const SPACING_M: f64 = 20.0;
/// Antenna above the road, metres.
const ANTENNA_M: f64 = 2.0;
/// Azimuths per place in the two runs of GRASS.
const FEW: u32 = 720;
const MANY: u32 = 14_400;
/// Places GRASS is run at.
const GRASS_PLACES: usize = 5;
/// A valley with many roads.
const CENTRE_DEG: (f64, f64) = (1.53, 42.51);

/// Stations in road order within the cell.
fn stations(data: &Path, plane: &LocalPlane) -> Vec<Point> {
    let mut stations = Vec::new();
    for road in grass::roads(data) {
        let points: Vec<_> = road.iter().map(|p| plane.from_lon_lat(p.0, p.1)).collect();
        for pair in points.windows(2) {
            let pieces = (pair[0].distance_m(pair[1]) / SPACING_M).ceil().max(1.0);
            stations.extend((0..pieces as u32).map(|i| pair[0].towards(pair[1], f64::from(i) / pieces)));
        }
    }
    stations.retain(|p| p.x_m.abs() < CELL_HALF_M && p.y_m.abs() < CELL_HALF_M);
    stations
}

fn eyes(pyramid: &TerrainPyramid, stations: &[Point]) -> Vec<HorizonEye> {
    let eye = |at: &Point| {
        let z_m = f64::from(pyramid.elevation().height_m(*at)?) + ANTENNA_M;
        Some(HorizonEye { at: *at, z_m })
    };
    stations.iter().filter_map(eye).collect()
}

fn all_horizons(pyramid: &TerrainPyramid, eyes: &[HorizonEye], floor_deg: f64) -> f32 {
    let query = HorizonQuery { start_m: 30.0, max_m: RADIUS_M, floor_deg, refraction_k: 0.0 };
    let mut hint = Hint::default();
    eyes.iter().map(|eye| pyramid.horizons_deg(eye, &query, &mut hint)[17]).sum()
}

/// Processor time of this thread so far, seconds, as Linux keeps it.
fn cpu_s() -> f64 {
    let kept = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap();
    kept.split(' ').next().unwrap().parse::<f64>().unwrap() * 1e-9
}

/// Rays per second, best of five: what others do on the machine only ever adds time.
fn rays_per_s(pyramid: &TerrainPyramid, eyes: &[HorizonEye], floor_deg: f64) -> f64 {
    let time_s = |_| {
        let start_s = cpu_s();
        black_box(all_horizons(pyramid, eyes, floor_deg));
        cpu_s() - start_s
    };
    eyes.len() as f64 * 72.0 / (0..5).map(time_s).fold(f64::MAX, f64::min)
}

/// Rays per second of GRASS at places along the same roads, best of three per place and size.
fn grass_rays_per_s(
    folder: &Path,
    raster: &Path,
    plane: &LocalPlane,
    stations: &[Point],
    radius_m: f64,
    many: u32,
) -> f64 {
    let (to_utm, _) = grass::transforms();
    let mut lines = String::new();
    for at in stations.iter().step_by(stations.len() / GRASS_PLACES).take(GRASS_PLACES) {
        let (x, y) = grass::transformed(&to_utm, plane.to_lon_lat(*at));
        for rays in [FEW, many] {
            let step = 360.0 / f64::from(rays);
            let options =
                format!("direction=0 step={step} distance=0.5 maxdistance={radius_m} file=out.txt --overwrite");
            let horizon = format!("r.horizon --quiet -d elevation=dem coordinates={x},{y} {options}");
            for _ in 0..3 {
                writeln!(lines, "t=$( {{ time {horizon} ; }} 2>&1 ); echo $(wc -l < out.txt) $t").unwrap();
            }
        }
    }
    let lines = format!("cd {}\nTIMEFORMAT='%U %S'\n{lines}", folder.display());
    let printed = grass::grass(folder, raster, &lines);
    let numbers = |line: &str| line.split(' ').map(|n| n.parse::<f64>().ok()).collect::<Option<Vec<_>>>();
    let timed = printed.lines().filter_map(numbers).filter(|n| n.len() == 3);
    // The first line of a table is its heading.
    let runs: Vec<(f64, f64)> = timed.map(|n| (n[0] - 1.0, n[1] + n[2])).collect();
    assert_eq!(runs.len(), GRASS_PLACES * 6, "{printed}");
    let best = |runs: &[(f64, f64)]| runs.iter().map(|r| r.1).fold(f64::MAX, f64::min);
    let (mut rays, mut time_s) = (0.0, 0.0);
    for place in runs.chunks(6) {
        rays += place[3].0 - place[0].0;
        time_s += best(&place[3..]) - best(&place[..3]);
    }
    rays / time_s
}

fn main() {
    let Some(data) = grass::inputs() else { return };
    let folder = tempfile::tempdir().unwrap();
    let raster = grass::warp(&data, folder.path());
    let plane = LocalPlane::at(CENTRE_DEG.0, CENTRE_DEG.1);
    let sources = Sources::open(std::slice::from_ref(&raster), ElevationKind::BareEarth).unwrap();
    let elevation = sources.reader().unwrap().window(&plane, CELL_HALF_M, RADIUS_M).unwrap();
    let start = Instant::now();
    let pyramid = TerrainPyramid::new(elevation);
    eprintln!(
        "block maxima of {} pixels: {:.1} ms",
        pyramid.elevation().grids[0].values_m.len(),
        start.elapsed().as_secs_f64() * 1e3
    );
    let stations = stations(&data, &plane);
    let eyes = eyes(&pyramid, &stations);
    let by_grass = |radius_m, many| grass_rays_per_s(folder.path(), &raster, &plane, &stations, radius_m, many);
    let (grass, short) = (by_grass(RADIUS_M, MANY), by_grass(SHORT_M, MANY_SHORT));
    eprintln!(
        "GRASS r.horizon, no floor: {:.3} million rays per second, {:.3} of its {:.3} us per ray for the first {SHORT_M} m",
        grass * 1e-6,
        1e6 / short,
        1e6 / grass
    );
    for (name, floor_deg) in [("no floor", -90.0), ("floor 35 degrees", 35.0)] {
        let ours = rays_per_s(&pyramid, &eyes, floor_deg);
        eprintln!(
            "ours, {name}: {:.3} million rays per second over {} stations, {:.2} times GRASS",
            ours * 1e-6,
            eyes.len(),
            ours / grass
        );
        figures::beside(&format!("a million horizon rays, {name}"), 1e6 / ours, "GRASS r.horizon", Some(1e6 / grass));
    }
}
