//! Small places made for one test: a map drawn in metres, a raster, a build, its rows.
use std::path::{Path, PathBuf};

use gdal::DriverManager;
use gdal::raster::Buffer;
use gdal::spatial_ref::SpatialRef;
use waymask::base::geodesy::{LocalPlane, Point, lon_on_earth_deg};
use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions, Built};
use waymask::layer::model::SegmentRow;
use waymask::layer::{Bounds, Layer};
use waymask::profile::Profile;

use crate::extract_builder::{Map, Obj, node, way};

/// A map being drawn around a place, in metres east and north of it.
pub struct Sketch {
    pub plane: LocalPlane,
    pub objects: Vec<Obj>,
    next_id: i64,
}

impl Sketch {
    /// At whole degrees four districts meet: most places of tests lie in all of them.
    pub fn at(lat_deg: f64) -> Self {
        Self::around(lat_deg, -28.0)
    }
    pub fn around(lat_deg: f64, lon_deg: f64) -> Self {
        Self { plane: LocalPlane::at(lon_deg, lat_deg), objects: Vec::new(), next_id: 1 }
    }
    fn id(&mut self) -> i64 {
        self.next_id += 1;
        self.next_id
    }
    pub fn node(&mut self, x_m: f64, y_m: f64, tags: &[(&str, &str)]) -> i64 {
        let id = self.id();
        let (lon, lat) = self.plane.to_lon_lat(Point::new(x_m, y_m));
        self.objects.push(node(id, lon_on_earth_deg(lon), lat, tags));
        id
    }
    /// A way through new nodes; returns the way's id and its nodes.
    pub fn line(&mut self, points: &[(f64, f64)], tags: &[(&str, &str)]) -> (i64, Vec<i64>) {
        let nodes: Vec<i64> = points.iter().map(|(x, y)| self.node(*x, *y, &[])).collect();
        (self.way(&nodes, tags), nodes)
    }
    pub fn way(&mut self, nodes: &[i64], tags: &[(&str, &str)]) -> i64 {
        let id = self.id();
        self.objects.push(way(id, nodes, tags));
        id
    }
    /// A closed way around a box: west, south, east, north.
    pub fn area(&mut self, [w, s, e, n]: [f64; 4], tags: &[(&str, &str)]) -> i64 {
        let mut nodes: Vec<i64> =
            [(w, s), (e, s), (e, n), (w, n)].iter().map(|(x, y)| self.node(*x, *y, &[])).collect();
        nodes.push(nodes[0]);
        self.way(&nodes, tags)
    }
    pub fn write(&self, folder: &Path) -> PathBuf {
        let path = folder.join("place.osm.pbf");
        std::fs::write(&path, Map::of(&self.objects).bytes()).unwrap();
        path
    }
    /// Builds the place without elevation and opens its layer.
    pub fn build(&self, profile: Profile) -> Place {
        self.build_with(profile, |_, _| {})
    }
    /// The same with other options; the folder is for what they need.
    pub fn build_with(&self, profile: Profile, change: impl FnOnce(&mut BuildOptions, &Path)) -> Place {
        let folder = tempfile::tempdir().unwrap();
        let output = folder.path().join("place.gpkg");
        let mut options = BuildOptions { profile, ..BuildOptions::new(self.write(folder.path()), output) };
        change(&mut options, folder.path());
        let built = build::build(&options, &Silent).unwrap();
        let layer = Layer::open(&options.output).unwrap();
        let rows = layer.segments_in(Bounds::from_deg(-180.0, -90.0, 180.0, 90.0)).unwrap();
        Place { built, layer, rows, path: options.output, _folder: folder }
    }
}

/// A built place.
pub struct Place {
    pub built: Built,
    pub layer: Layer,
    pub rows: Vec<SegmentRow>,
    pub path: PathBuf,
    _folder: tempfile::TempDir,
}

impl Place {
    pub fn of_way(&self, way_id: i64) -> Vec<&SegmentRow> {
        let mut rows: Vec<&SegmentRow> = self.rows.iter().filter(|r| r.way_id == way_id).collect();
        // Rows lie in the order of districts.
        rows.sort_by_key(|r| r.part);
        assert!(!rows.is_empty(), "no row of way {way_id}");
        rows
    }
    /// Expected seconds without a link over all edges.
    pub fn outage_s(&self) -> f64 {
        self.layer.edges().map(|e| e.unwrap().outage_s).sum()
    }
}

/// Writes heights (metres, by metres east and north of the plane's origin) as a GeoTIFF in degrees.
pub fn write_raster(path: &Path, plane: &LocalPlane, half_m: f64, pixel_m: f64, z: impl Fn(Point) -> f32) {
    let size = (2.0 * half_m / pixel_m).round() as usize;
    let (west, north) = plane.to_lon_lat(Point::new(-half_m, half_m));
    let (east, south) = plane.to_lon_lat(Point::new(half_m, -half_m));
    let (dx, dy) = ((east - west) / size as f64, (south - north) / size as f64);
    let values = (0..size * size)
        .map(|i| z(plane.from_lon_lat(west + (0.5 + (i % size) as f64) * dx, north + (0.5 + (i / size) as f64) * dy)))
        .collect();
    let driver = DriverManager::get_driver_by_name("GTiff").unwrap();
    let mut dataset = driver.create_with_band_type::<f32, _>(path, size, size, 1).unwrap();
    dataset.set_spatial_ref(&SpatialRef::from_epsg(4326).unwrap()).unwrap();
    dataset.set_geo_transform(&[west, dx, 0.0, north, 0.0, dy]).unwrap();
    let mut buffer = Buffer::new((size, size), values);
    dataset.rasterband(1).unwrap().write((0, 0), (size, size), &mut buffer).unwrap();
}

/// The demo's layer, rated with few drives.
pub fn varrow(folder: &Path, drives: u32) -> PathBuf {
    let layer = folder.join("varrow.gpkg");
    let mut options = BuildOptions::new(sample("varrow.osm.pbf"), layer.clone());
    options.elevation = vec![sample("varrow-elevation.tif")];
    options.canopy = vec![sample("varrow-canopy.tif")];
    options.profile.link.drives = drives;
    build::build(&options, &Silent).unwrap();
    layer
}

/// The demo's files.
pub fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples").join(name)
}
