//! Trees taken from a real surface model over bare earth, against rays marched over that surface.
//!
//! Data: lidar bare earth and highest hit of one conifer slope, 0.5 m pixels (`surface` of the shared data; from the R
//! package spatial.tools). The march below shares no code with the program: it reads the two rasters itself, has its own metres
//! per degree and its own bilinear height.
use std::path::Path;

use gdal::Dataset;
use waymask::base::geodesy::{LocalPlane, Point};
use waymask::base::index::SegmentIndex;
use waymask::base::window::Elevation;
use waymask::physics::scene::above::AboveGround;
use waymask::physics::scene::trees::stack::CrownStack;
use waymask::physics::sky::canopy::{CanopyCaster, CanopyScratch};
use waymask::physics::sky::ground::{Eye, Ground};
use waymask::physics::sky::leaves::LeafOdds;
use waymask::physics::sky::mask::{AZIMUTH_BINS, azimuth_deg};
use waymask::profile::Profile;
use waymask::relief::{ElevationKind, Sources};

use super::support::{ANTENNA_M, GRID, World};

/// Places looked at.
const PLACES: usize = 200;
/// They lie within this distance of the middle along x and y, so that no tree that matters is outside the rasters, metres.
const INNER_M: f64 = 55.0;

/// A raster as the test reads it.
struct Plain {
    z_m: Vec<f32>,
    highest_m: f32,
    columns: usize,
    rows: usize,
    west_deg: f64,
    north_deg: f64,
    step_deg: (f64, f64),
}

impl Plain {
    fn read(path: &Path) -> Self {
        let dataset = Dataset::open(path).unwrap();
        let t = dataset.geo_transform().unwrap();
        let (columns, rows) = dataset.raster_size();
        let band = dataset.rasterband(1).unwrap();
        let z_m = band.read_as::<f32>((0, 0), (columns, rows), (columns, rows), None).unwrap().data().to_vec();
        let highest_m = z_m.iter().copied().fold(f32::MIN, f32::max);
        Self { z_m, highest_m, columns, rows, west_deg: t[0], north_deg: t[3], step_deg: (t[1], t[5]) }
    }
    fn middle_deg(&self) -> (f64, f64) {
        let half = |first: f64, step: f64, n: usize| first + step * n as f64 / 2.0;
        (half(self.west_deg, self.step_deg.0, self.columns), half(self.north_deg, self.step_deg.1, self.rows))
    }
    /// Bilinear height at metres east and north of the middle; `None` outside.
    fn height_m(&self, x_m: f64, y_m: f64) -> Option<f64> {
        let (lon_deg, lat_deg) = self.middle_deg();
        // Metres per degree by a series for the ellipsoid of WGS 84; within 0.16 m of the radii of curvature at every latitude
        // (computed from the axes in NGA.STND.0036).
        let b = lat_deg.to_radians();
        let per_lat_deg = 111_132.954 - 559.822 * (2.0 * b).cos() + 1.175 * (4.0 * b).cos();
        let per_lon_deg = 111_412.84 * b.cos() - 93.5 * (3.0 * b).cos();
        let column = (lon_deg + x_m / per_lon_deg - self.west_deg) / self.step_deg.0 - 0.5;
        let row = (lat_deg + y_m / per_lat_deg - self.north_deg) / self.step_deg.1 - 0.5;
        let inside = column >= 0.0 && row >= 0.0 && column < self.columns as f64 - 1.0 && row < self.rows as f64 - 1.0;
        let at = |c: usize, r: usize| f64::from(self.z_m[r * self.columns + c]);
        inside.then(|| {
            let (c, r) = (column as usize, row as usize);
            let (u, v) = (column.fract(), row.fract());
            (1.0 - v) * ((1.0 - u) * at(c, r) + u * at(c + 1, r))
                + v * ((1.0 - u) * at(c, r + 1) + u * at(c + 1, r + 1))
        })
    }
}

/// Whether a ray meets the surface from one metre on.
fn meets(surface: &Plain, (x_m, y_m, z_m): (f64, f64, f64), azimuth: f64, elevation: f64) -> bool {
    let (sin, cos) = azimuth.to_radians().sin_cos();
    let rise = elevation.to_radians().tan();
    let highest_m = f64::from(surface.highest_m);
    (2..)
        .map(|i| f64::from(i) * 0.5)
        .take_while(|d| z_m + rise * d < highest_m)
        .any(|d| surface.height_m(x_m + sin * d, y_m + cos * d).is_some_and(|top_m| top_m > z_m + rise * d))
}

/// Places with low ground cover, by the golden ratio over the inner square.
fn places(bare: &Plain, surface: &Plain) -> Vec<(f64, f64)> {
    let all = (0..).map(|i| {
        let turn = |ratio: f64| ((f64::from(i) * ratio).fract() * 2.0 - 1.0) * INNER_M;
        (turn(0.754_877_666_246_693), turn(0.569_840_290_998_053))
    });
    let open = all.filter(|(x, y)| {
        let (ground_m, top_m) = (bare.height_m(*x, *y).unwrap(), surface.height_m(*x, *y).unwrap());
        top_m - ground_m < 1.0
    });
    open.take(PLACES).collect()
}

/// Everything both ways need.
struct Slope {
    bare: Plain,
    surface: Plain,
    world: World,
    ground: Elevation,
    tops: Elevation,
}

fn slope(folder: &Path) -> Slope {
    let path = |name: &str| folder.join(name);
    let (bare_path, surface_path) = (path("tahoe_lidar_bareearth.tif"), path("tahoe_lidar_highesthit.tif"));
    let (bare, surface) = (Plain::read(&bare_path), Plain::read(&surface_path));
    let (lon_deg, lat_deg) = bare.middle_deg();
    let mut world = World::default();
    world.window.plane = LocalPlane::at(lon_deg, lat_deg);
    // A road of no width: it only says where trees matter.
    world.add_road(&[(0.0, -80.0), (0.0, 80.0)], 0.0, 0.0, None);
    let window = |path: &Path, kind| -> Elevation {
        let sources = Sources::open(&[path.to_owned()], kind).unwrap();
        sources.reader().unwrap().window(&world.window.plane, 100.0, 50.0).unwrap()
    };
    let ground = window(&bare_path, ElevationKind::BareEarth);
    let tops = window(&surface_path, ElevationKind::Surface);
    Slope { bare, surface, world, ground, tops }
}

/// Solid angle of the cells of one row, as a share of the cone.
fn weight(row: usize) -> f64 {
    let (low, high) = GRID.row_edges_deg(row);
    let whole = 1.0 - GRID.floor_deg.to_radians().sin();
    (high.to_radians().sin() - low.to_radians().sin()) / whole / AZIMUTH_BINS as f64
}

/// Share of the cone that our trees block at every place.
fn ours(slope: &Slope, profile: &Profile) -> Vec<f64> {
    let (none, world) = (Elevation::default(), &slope.world);
    let above =
        AboveGround { canopy: &none, surface: &slope.tops, ground: &slope.ground, segments: &[SegmentIndex::new(0)] };
    let canopy = world.canopy_with(profile, Some(&above));
    let caster = CanopyCaster::new(GRID, profile);
    let odds = LeafOdds::of(profile);
    let (mut cells, mut scratch) = (vec![0; GRID.cells()], CanopyScratch::default());
    let blocked = |(x, y): &(f64, f64)| {
        let (at, z_m) = (Point::new(*x, *y), slope.bare.height_m(*x, *y).unwrap());
        let eye = Eye { ground: Ground::around(&slope.ground, at, z_m, 0.0), ..Eye::level(at, ANTENNA_M) };
        caster.cast(&CrownStack::of([&canopy]), &eye, &mut scratch, [&mut cells]);
        let cell = |i: usize| weight(i % GRID.rows()) * odds.blocked(cells[i]);
        (0..GRID.cells()).map(cell).sum()
    };
    places(&slope.bare, &slope.surface).iter().map(blocked).collect()
}

/// The share that rays meet, two through every cell.
fn marched(slope: &Slope) -> Vec<f64> {
    let blocked = |(x, y): &(f64, f64)| {
        let from = (*x, *y, slope.bare.height_m(*x, *y).unwrap() + ANTENNA_M);
        let cell = |(bin, row): (usize, usize)| {
            let (low, high) = GRID.row_edges_deg(row);
            let hit = |a: f64, e: f64| meets(&slope.surface, from, azimuth_deg(bin) + a, low + e * (high - low));
            let hits = u8::from(hit(-1.25, 0.25)) + u8::from(hit(1.25, 0.75));
            weight(row) * f64::from(hits) / 2.0
        };
        (0..AZIMUTH_BINS).flat_map(|bin| (0..GRID.rows()).map(move |row| (bin, row))).map(cell).sum()
    };
    places(&slope.bare, &slope.surface).iter().map(blocked).collect()
}

/// Mean difference, and the difference that 95 of 100 places and all places keep to.
fn differences(ours: &[f64], marched: &[f64]) -> [f64; 3] {
    let all: Vec<f64> = ours.iter().zip(marched).map(|(a, b)| a - b).collect();
    let mut sizes: Vec<f64> = all.iter().map(|d| d.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    [all.iter().sum::<f64>() / all.len() as f64, sizes[sizes.len() * 95 / 100], sizes[sizes.len() - 1]]
}

#[test]
fn trees_of_a_surface_over_bare_earth_block_what_rays_over_the_surface_meet() {
    let Some(folder) = crate::need::data("surface") else { return };
    let slope = slope(&folder);
    let marched = marched(&slope);
    assert_eq!(marched.len(), PLACES);
    let mean = marched.iter().sum::<f64>() / PLACES as f64;
    // Neither a clearing nor a roof of leaves, or the comparison would say little.
    assert!((0.3..0.7).contains(&mean), "{mean}");
    // A surface is solid to the ground and lets nothing through; so are our trees here.
    let mut opaque = Profile::default();
    opaque.canopy.crown_base_share = 0.0;
    (opaque.canopy.between_ln, opaque.canopy.within_ln) = (0.0, 0.05);
    opaque.link.margin_db = 0.1;
    let [mean, most, largest] = differences(&ours(&slope, &opaque), &marched);
    println!("opaque: mean difference {mean:.4}, 95 of 100 within {most:.4}, all within {largest:.4}");
    // Crowns fill whole pixels of one metre, half a pixel wider on each side, and a ray meets every pixel whose corner it
    // touches.
    // A mask's cell with leaves before any part of it counts whole at so small a margin.
    assert!(mean.abs() < 0.065 && most < 0.135 && largest < 0.28, "{mean} {most} {largest}");
    // With trunks to look through below crowns and thin crowns to look through, as the program takes trees.
    let [mean, most, largest] = differences(&ours(&slope, &Profile::default()), &marched);
    println!("as trees: mean difference {mean:.4}, 95 of 100 within {most:.4}, all within {largest:.4}");
    // A metre or two of leaves at the side of a crown let a good part of the rays through: less than a solid surface, never
    // more by much.
    assert!((-0.07..0.0).contains(&mean) && most < 0.12 && largest < 0.25, "{mean} {most} {largest}");
}
