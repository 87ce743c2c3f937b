//! Rasters written by GDAL into temporary folders, and real tiles, read back through the sources.
use std::path::Path;

use gdal::raster::{Buffer, GdalType};
use gdal::spatial_ref::SpatialRef;
use gdal::{Dataset, DriverManager};
use waymask::base::error::Error;
use waymask::base::geodesy::{LocalPlane, Point, Position};
use waymask::base::window::Elevation;
use waymask::relief::{ElevationKind, Lookout, Sources, sight_m};

/// What a test raster is like.
struct Spec {
    epsg: Option<u32>,
    transform: [f64; 6],
    size: (usize, usize),
    nodata: Option<f64>,
}

fn write<T: GdalType + Copy>(path: &Path, spec: &Spec, z: impl Fn(usize, usize) -> T) -> Dataset {
    let driver = DriverManager::get_driver_by_name("GTiff").unwrap();
    let (columns, rows) = spec.size;
    let mut dataset = driver.create_with_band_type::<T, _>(path, columns, rows, 1).unwrap();
    dataset.set_geo_transform(&spec.transform).unwrap();
    if let Some(epsg) = spec.epsg {
        dataset.set_spatial_ref(&SpatialRef::from_epsg(epsg).unwrap()).unwrap();
    }
    let data = (0..columns * rows).map(|i| z(i % columns, i / columns)).collect();
    let mut band = dataset.rasterband(1).unwrap();
    band.set_no_data_value(spec.nodata).unwrap();
    band.write((0, 0), spec.size, &mut Buffer::new(spec.size, data)).unwrap();
    dataset
}

/// A geographic raster of 0.001 degrees a pixel whose north-west corner is given.
fn degrees(west: f64, north: f64, size: (usize, usize)) -> Spec {
    Spec { epsg: Some(4326), transform: [west, 0.001, 0.0, north, 0.0, -0.001], size, nodata: Some(-9999.0) }
}

fn open(paths: &[&Path]) -> waymask::Result<Sources> {
    Sources::open(&paths.iter().map(|p| p.to_path_buf()).collect::<Vec<_>>(), ElevationKind::BareEarth)
}

fn window(sources: &Sources, plane: &LocalPlane, half_m: f64, halo_m: f64) -> Elevation {
    sources.reader().unwrap().window(plane, half_m, halo_m).unwrap()
}

use crate::need::data;

/// 1 m per 1e-4 degrees east, 2 m per 1e-4 degrees north of a place.
fn tilted_m(lon_deg: f64, lat_deg: f64) -> f64 {
    500.0 + (lon_deg - 7.0) * 1e4 + (lat_deg - 47.0) * 2e4
}

#[test]
fn heights_lie_where_they_belong_in_three_coordinate_systems() {
    let folder = tempfile::tempdir().unwrap();
    let plane = LocalPlane::at(3.05, 47.02);
    let wgs84 = {
        let mut crs = SpatialRef::from_epsg(4326).unwrap();
        crs.set_axis_mapping_strategy(gdal::spatial_ref::AxisMappingStrategy::TraditionalGisOrder);
        crs
    };
    for (epsg, step) in [(4326, 0.0002), (32631, 20.0), (3857, 30.0)] {
        let mut crs = SpatialRef::from_epsg(epsg).unwrap();
        crs.set_axis_mapping_strategy(gdal::spatial_ref::AxisMappingStrategy::TraditionalGisOrder);
        let there = gdal::spatial_ref::CoordTransform::new(&wgs84, &crs).unwrap();
        let back = gdal::spatial_ref::CoordTransform::new(&crs, &wgs84).unwrap();
        let (mut x, mut y) = ([2.95], [47.09]);
        there.transform_coords(&mut x, &mut y, &mut []).unwrap();
        let size = (1000, 1000);
        let spec = Spec { epsg: Some(epsg), transform: [x[0], step, 0.0, y[0], 0.0, -step], size, nodata: None };
        // Every pixel holds the tilted plane's height at its own centre, by GDAL's exact transform.
        let centre = |i: usize| (x[0] + step * ((i % 1000) as f64 + 0.5), y[0] - step * ((i / 1000) as f64 + 0.5));
        let (mut lon, mut lat): (Vec<f64>, Vec<f64>) = (0..1_000_000).map(centre).unzip();
        back.transform_coords(&mut lon, &mut lat, &mut []).unwrap();
        let path = folder.path().join(format!("{epsg}.tif"));
        drop(write(&path, &spec, |c, r| tilted_m(lon[r * 1000 + c] + 4.0, lat[r * 1000 + c]) as f32));
        let sources = open(&[&path]).unwrap();
        let elevation = window(&sources, &plane, 1000.0, 3000.0);
        assert_eq!(elevation.grids.len(), 1);
        for (x_m, y_m) in [(0.0, 0.0), (3900.0, 3900.0), (-3900.0, 3900.0), (-2000.0, -3900.0), (123.4, 56.7)] {
            let p = Point::new(x_m, y_m);
            let (lon, lat) = plane.to_lon_lat(p);
            let expected = tilted_m(lon + 4.0, lat);
            // 0.05 of a 20 m pixel on a slope of 1 in 5 is 0.2 m.
            let found = f64::from(elevation.height_m(p).unwrap());
            assert!((found - expected).abs() < 0.2, "EPSG:{epsg} at {p:?}: {found} instead of {expected}");
            let point = sources.reader().unwrap().height_m(Position::from_deg(lon, lat)).unwrap().unwrap();
            assert!((f64::from(point) - expected).abs() < 0.05, "EPSG:{epsg} point {point} {expected}");
        }
    }
}

#[test]
fn feet_scale_offset_and_undeclared_voids() {
    let folder = tempfile::tempdir().unwrap();
    let plane = LocalPlane::at(7.05, 46.95);
    let feet = folder.path().join("feet.vrt");
    let tif = folder.path().join("raw.tif");
    drop(write(&tif, &degrees(7.0, 47.0, (100, 100)), |c, r| match (c, r) {
        (10, 10) => -9999.0,
        (20, 20) => 3e38,
        (30, 30) => f32::NAN,
        _ => 1000.0,
    }));
    let source = "<SourceFilename relativeToVRT=\"1\">raw.tif</SourceFilename><SourceBand>1</SourceBand>";
    let xml = format!(
        "<VRTDataset rasterXSize=\"100\" rasterYSize=\"100\"><SRS>EPSG:4326</SRS><GeoTransform>7.0, 0.001, 0, 47.0, 0, -0.001</GeoTransform>\
         <VRTRasterBand dataType=\"Float32\" band=\"1\"><UnitType>ft</UnitType><Offset>100</Offset><Scale>2</Scale>\
         <NoDataValue>-9999</NoDataValue><SimpleSource>{source}</SimpleSource></VRTRasterBand></VRTDataset>"
    );
    std::fs::write(&feet, &xml).unwrap();
    let elevation = window(&open(&[&feet]).unwrap(), &plane, 500.0, 20_000.0);
    let grid = &elevation.grids[0];
    assert_eq!(grid.values_m.iter().filter(|z| z.is_nan()).count(), 3, "nodata, out of range, NaN");
    // (1000 * 2 + 100) ft of 0.3048 m.
    assert!((elevation.height_m(Point::default()).unwrap() - 640.08).abs() < 1e-3);
    std::fs::write(&feet, xml.replace(">ft<", ">fathom<")).unwrap();
    let error = open(&[&feet]).unwrap_err().to_string();
    assert!(error.contains("fathom") && error.contains("feet.vrt"), "{error}");
}

#[test]
fn tiles_are_joined_without_a_seam_and_finer_ones_go_first() {
    let folder = tempfile::tempdir().unwrap();
    let z = |lon: f64, lat: f64| tilted_m(lon, lat) as f32;
    for (name, west) in [("a.tif", 7.0), ("b.tif", 7.1)] {
        let spec = degrees(west, 47.0, (100, 100));
        drop(write(&folder.path().join(name), &spec, |c, r| {
            z(west + 0.001 * (c as f64 + 0.5), 47.0 - 0.001 * (r as f64 + 0.5))
        }));
    }
    let fine = Spec { transform: [7.09, 0.0002, 0.0, 46.96, 0.0, -0.0002], ..degrees(7.09, 46.96, (100, 100)) };
    std::fs::create_dir(folder.path().join("fine")).unwrap();
    drop(write(&folder.path().join("fine/z.tif"), &fine, |c, r| {
        if (40..60).contains(&c) && (40..60).contains(&r) {
            -9999.0
        } else {
            z(7.09 + 0.0002 * (c as f64 + 0.5), 46.96 - 0.0002 * (r as f64 + 0.5)) + 50.0
        }
    }));
    std::fs::write(folder.path().join("notes.txt"), "not a raster").unwrap();
    let sources = open(&[folder.path()]).unwrap();
    let names: Vec<_> = sources.file_records().unwrap().into_iter().map(|r| (r.path, r.bytes, r.sha256)).collect();
    assert_eq!(names.len(), 3);
    assert!(names.iter().all(|n| n.1 > 0 && n.2.len() == 64));
    let plane = LocalPlane::at(7.1, 46.95);
    let elevation = window(&sources, &plane, 1000.0, 3000.0);
    assert_eq!(elevation.grids.len(), 2, "the fine tile, and one mosaic of the two coarse ones");
    assert!(elevation.grids[0].pixel_m < 25.0 && elevation.grids[1].pixel_m > 70.0);
    let at = |lon: f64, lat: f64| f64::from(elevation.height_m(plane.from_lon_lat(lon, lat)).unwrap());
    // Across the seam of the two tiles, beside the fine one.
    for k in -20..=20 {
        let (lon, lat) = (7.1 + f64::from(k) * 1e-4, 46.97);
        let (before, here) = (at(lon - 1e-4, lat), at(lon, lat));
        assert!((here - before - 1.0).abs() < 0.2, "seam at {lon}: 1 m per 1e-4 degrees, {before} {here}");
    }
    assert!((at(7.092, 46.958) - tilted_m(7.092, 46.958) - 50.0).abs() < 0.05, "the fine tile is on top");
    // The two differ by 50 m, so what fills the hole is lifted to meet its rim.
    assert!((at(7.1, 46.95) - tilted_m(7.1, 46.95) - 50.0).abs() < 0.5, "its hole is filled from the coarse one");
    let coarse = &elevation.grids[1];
    assert!(coarse.height_m(plane.from_lon_lat(7.093, 46.957)).is_none(), "the coarse one is void under the fine one");
    let border_deg = (7.0899, 46.95);
    assert!(coarse.height_m(plane.from_lon_lat(border_deg.0, border_deg.1)).is_some(), "and goes on from its border");
}

#[test]
fn fine_rasters_come_in_a_near_and_a_far_part_of_bounded_size() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("fine.tif");
    let size = (6000, 6000);
    let spec = Spec { epsg: Some(32631), transform: [500_000.0, 1.0, 0.0, 5_200_000.0, 0.0, -1.0], size, nodata: None };
    drop(write(&path, &spec, |c, r| ((c + r) / 10) as i16));
    let sources = open(&[&path]).unwrap();
    let plane = LocalPlane::at(3.0393, 46.9262);
    let elevation = window(&sources, &plane, 400.0, 2000.0);
    let pixels: usize = elevation.grids.iter().map(|g| g.values_m.len()).sum();
    assert!(pixels < 8_100_000, "{pixels} pixels");
    assert_eq!(elevation.grids.len(), 2);
    assert!((elevation.grids[0].pixel_m - 1.0).abs() < 0.01 && elevation.grids[1].pixel_m > 1.9);
    let near = elevation.height_m(Point::new(600.0, 0.0)).unwrap();
    let far = elevation.height_m(Point::new(2000.0, 0.0)).unwrap();
    assert!((far - near - 140.0).abs() < 1.5, "1 m per 10 m eastward: {near} {far}");
    assert!(elevation.grids[1].height_m(Point::new(0.0, 0.0)).is_none(), "the far part is void under the near part");
}

#[test]
fn coverage_relief_and_halo() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.tif");
    drop(write(&path, &degrees(7.0, 47.0, (100, 100)), |c, _| (c * 10) as f32));
    let sources = open(&[&path]).unwrap();
    let reader = sources.reader().unwrap();
    let places = [(7.05, 46.95), (7.01, 46.99), (8.0, 46.95), (7.05, 40.0)].map(|(x, y)| Position::from_deg(x, y));
    assert_eq!(reader.covered(&places).unwrap(), 2);
    let from = |floor_deg| Lookout { half_m: 1000.0, lowest_m: 0.0, floor_deg, refraction_k: 0.25 };
    // The raster is 7.6 by 11.1 km, within what 990 m of relief are seen over at 5 degrees: 11.2 km; at 45 it is 990 m.
    let (reach_m, highest_m) = reader.reach_m(&LocalPlane::at(7.05, 46.95), &from(5.0)).unwrap().unwrap();
    assert!((7_000.0..11_232.0).contains(&reach_m) && highest_m == 990.0, "{reach_m} {highest_m}");
    let (reach_m, _) = reader.reach_m(&LocalPlane::at(7.05, 46.95), &from(45.0)).unwrap().unwrap();
    assert!((reach_m - 990.0).abs() < 1.0, "{reach_m}");
    assert_eq!(reader.reach_m(&LocalPlane::at(11.0, 46.95), &from(25.0)).unwrap(), None);
    // Derived: relief / tan(lowest elevation), less what the earth bends away; R = 6371 km, k = 0.25:
    // 4000 / d - d / 16 989 333 = tan(5 degrees) at d = 44 394 m.
    for (relief, deg, m) in
        [(500.0, 25.0, 1072.0), (4000.0, 25.0, 8569.0), (4000.0, 20.0, 10_970.0), (4000.0, 5.0, 44_394.0)]
    {
        let d = sight_m(relief, deg, 0.25);
        assert!((d - m).abs() < 10.0, "{relief} {deg}: {d}");
        assert!((relief / d - d / 16_989_333.0 - deg.to_radians().tan()).abs() < 1e-9);
    }
    assert_eq!(sight_m(4000.0, 0.0, 1.0), 100_000.0);
    assert_eq!(sight_m(1.0, 25.0, 0.25), 500.0);
}

#[test]
fn errors_name_the_file_the_fact_and_the_next_step() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let expect = |path: &Path, fact: &str| match open(&[path]) {
        Err(Error::File { path: named, fact: found, next_step }) => {
            assert_eq!(named, path);
            assert!(found.contains(fact) && !next_step.is_empty(), "{found}");
        }
        other => panic!("{}: {other:?}", path.display()),
    };
    expect(&at("missing.tif"), "does not exist");
    std::fs::create_dir(at("empty")).unwrap();
    std::fs::write(at("empty/readme.md"), "x").unwrap();
    expect(&at("empty"), "no elevation rasters");
    std::fs::write(at("broken.tif"), "II*\0 this is no raster").unwrap();
    expect(&at("broken.tif"), "not a raster that GDAL can read");
    std::fs::write(at("broken.zip"), "PK no archive").unwrap();
    expect(&at("broken.zip"), "not a readable zip");
    drop(write(&at("nowhere.tif"), &Spec { epsg: None, ..degrees(7.0, 47.0, (9, 9)) }, |_, _| 1i16));
    expect(&at("nowhere.tif"), "no coordinate reference system");
    let driver = DriverManager::get_driver_by_name("GTiff").unwrap();
    let mut picture = driver.create_with_band_type::<u8, _>(at("picture.tif"), 9, 9, 3).unwrap();
    picture.set_geo_transform(&[7.0, 0.001, 0.0, 47.0, 0.0, -0.001]).unwrap();
    picture.set_spatial_ref(&SpatialRef::from_epsg(4326).unwrap()).unwrap();
    drop(picture);
    expect(&at("picture.tif"), "3 bands");
}

#[test]
fn a_truncated_raster_fails_when_it_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.tif");
    drop(write(&path, &degrees(7.0, 47.0, (400, 400)), |c, _| c as f32));
    let bytes = std::fs::read(&path).unwrap();
    std::fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    let read =
        open(&[&path]).and_then(|s| s.reader()?.window(&LocalPlane::at(7.2, 46.65), 500.0, 15_000.0).map(|_| ()));
    let error = read.unwrap_err().to_string();
    assert!(error.contains("a.tif"), "{error}");
}

/// Exact pixel of a tile, read by GDAL without this program.
fn pixel(tile: &Path, column: isize, row: isize) -> f32 {
    let inner = tile.file_stem().unwrap().to_string_lossy().into_owned();
    let dataset = Dataset::open(format!("/vsizip/{}/{inner}", tile.display())).unwrap();
    let band = dataset.rasterband(1).unwrap();
    band.read_as::<f32>((column, row), (1, 1), (1, 1), None).unwrap().data()[0]
}

#[test]
fn andorra_keeps_its_voids_and_its_heights() {
    let Some(folder) = data("andorra") else { return };
    let sources = open(&[&folder]).unwrap();
    assert_eq!(sources.file_records().unwrap().len(), 2);
    // Voids as listed with the tiles: 7,652 and 134 of 1201 x 1201, the row at 42 N shared.
    for (name, voids) in [("N42E001", 7652), ("N41E001", 134)] {
        let tile = folder.join(format!("{name}.hgt.zip"));
        let sources = open(&[&tile]).unwrap();
        let lat = if name == "N42E001" { 42.5 } else { 41.5 };
        let elevation = window(&sources, &LocalPlane::at(1.5, lat), 80_000.0, 0.0);
        assert_eq!(elevation.grids.len(), 1);
        let grid = &elevation.grids[0];
        assert_eq!((grid.columns, grid.rows), (1201, 1201));
        assert_eq!(grid.values_m.iter().filter(|z| z.is_nan()).count(), voids, "{name}");
    }
    let reader = sources.reader().unwrap();
    let tile = folder.join("N42E001.hgt.zip");
    for (column, row) in [(600, 600), (620, 590), (700, 510), (640, 1200)] {
        let (lon, lat) = (1.0 + column as f64 / 1200.0, 43.0 - row as f64 / 1200.0);
        let found = reader.height_m(Position::from_deg(lon, lat)).unwrap().unwrap();
        // A position is a whole number of 1e-7 degrees, a centimetre: nothing on any slope here.
        assert!((found - pixel(&tile, column, row)).abs() < 0.1, "{column} {row}: {found}");
        let plane = LocalPlane::at(lon + 0.003, lat + 0.003);
        let elevation = window(&sources, &plane, 500.0, 2000.0);
        let found = elevation.height_m(plane.from_lon_lat(lon, lat)).unwrap();
        assert!((found - pixel(&tile, column, row)).abs() < 0.1, "{column} {row}: window {found}");
    }
}

#[test]
fn azimuths_are_true_and_the_raster_s_grid_north_is_not() {
    // PROJ (by pyproj): in EPSG:32632 at 12 E 60 N grid north lies 2.5987 degrees east of true north, so true
    // 0, 45 and 90 degrees are grid bearings 357.4012, 42.4012 and 87.4013.
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("utm.tif");
    let place = LocalPlane::at(12.0, 60.0);
    let transform = [657_000.0, 30.0, 0.0, 6_666_000.0, 0.0, -30.0];
    let spec = Spec { epsg: Some(32632), transform, size: (800, 800), nodata: None };
    drop(write(&path, &spec, |_, _| 1.0_f32));
    let sources = open(&[&path]).unwrap();
    let elevation = window(&sources, &place, 1000.0, 3000.0);
    for (true_deg, grid_deg) in [(0.0, 357.4012), (45.0, 42.4012), (90.0, 87.4013)] {
        let (column, row) = elevation.grids[0].map.per_metre(Point::default(), true_deg);
        let found = column.atan2(-row).to_degrees().rem_euclid(360.0);
        // The plane is a sphere's and the raster's an ellipsoid's: metres differ by 0.3 % between north and
        // east, which turns 45 degrees by up to 0.1.
        let tolerance = if true_deg == 45.0 { 0.1 } else { 0.01 };
        assert!((found - grid_deg).abs() < tolerance, "{true_deg}: {found} instead of {grid_deg}");
    }
}

#[test]
fn bayreuth_has_no_seam_at_50_north() {
    let Some(folder) = data("bayreuth") else { return };
    let sources = open(&[&folder]).unwrap();
    let plane = LocalPlane::at(11.53, 50.0);
    let elevation = window(&sources, &plane, 2000.0, 6000.0);
    assert_eq!(elevation.grids.len(), 1, "both tiles come as one");
    assert!(elevation.grids[0].values_m.iter().filter(|z| z.is_nan()).count() <= 28);
    for k in -200..200 {
        let x_m = f64::from(k) * 30.0;
        let (below, above) = (elevation.height_m(Point::new(x_m, -1.0)), elevation.height_m(Point::new(x_m, 1.0)));
        // Two metres apart: the steepest of these hills rises less than 2 m over it.
        assert!((below.unwrap() - above.unwrap()).abs() < 2.0, "{x_m}: {below:?} {above:?}");
    }
}

#[test]
fn a_lidar_tile_in_half_metres_is_read_as_it_is() {
    let Some(path) = data("surface/tahoe_lidar_highesthit.tif") else { return };
    let sources = Sources::open(std::slice::from_ref(&path), ElevationKind::Surface).unwrap();
    assert_eq!(sources.kind(), ElevationKind::Surface);
    let plane = LocalPlane::at(-119.9317126, 39.2903192);
    let elevation = window(&sources, &plane, 500.0, 8000.0);
    let grid = &elevation.grids[0];
    assert_eq!((grid.columns, grid.rows), (400, 400));
    assert!((0.4..0.7).contains(&grid.pixel_m), "{}", grid.pixel_m);
    let z = f64::from(elevation.height_m(Point::default()).unwrap());
    assert!((2490.0..2560.0).contains(&z), "{z}");
}
