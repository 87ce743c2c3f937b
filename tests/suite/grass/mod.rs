//! What the comparison with GRASS and the bench share: the Andorra raster at 30 m, places on its roads,
//! and GRASS itself.
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::process::Command;

use gdal::spatial_ref::{AxisMappingStrategy, CoordTransform, SpatialRef};

use crate::need;

/// Projection of the 30 m raster: UTM zone 31 N.
pub const EPSG: u32 = 32631;

/// Folder of the Andorra data, where GRASS and gdalwarp are there too.
pub fn inputs() -> Option<PathBuf> {
    need::program("grass", "grass-core")?;
    need::program("gdalwarp", "gdal-bin")?;
    need::data("andorra")
}

/// Runs a program to its end and gives back what it printed.
pub fn run(program: &str, args: &[&str]) -> String {
    let out = Command::new(program).args(args).output().unwrap();
    assert!(out.status.success(), "{program}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

/// Warps both tiles to a 30 m raster, bilinear, with a margin of some 20 km around the roads.
pub fn warp(folder: &Path, to: &Path) -> PathBuf {
    let tile = |name: &str| format!("/vsizip/{}/{name}.hgt.zip/{name}.hgt", folder.display());
    let (raster, crs) = (to.join("dem.tif"), format!("EPSG:{EPSG}"));
    let (north, south) = (tile("N42E001"), tile("N41E001"));
    let args = [
        "-q",
        "-t_srs",
        &crs,
        "-tr",
        "30",
        "30",
        "-tap",
        "-r",
        "bilinear",
        "-ot",
        "Float32",
        "-dstnodata",
        "-9999",
        "-te_srs",
        "EPSG:4326",
        "-te",
        "1.2",
        "42.25",
        "1.95",
        "42.8",
        &south,
        &north,
        &raster.to_string_lossy(),
    ];
    run("gdalwarp", &args);
    raster
}

/// Longitudes and latitudes along every road a car drives, way by way.
pub fn roads(folder: &Path) -> Vec<Vec<(f64, f64)>> {
    let file = std::fs::File::open(folder.join("andorra-2025.osm.pbf")).unwrap();
    let mut nodes = HashMap::new();
    let mut ways = Vec::new();
    let drivable = ["motorway", "trunk", "primary", "secondary", "tertiary", "unclassified", "residential"];
    for object in osmpbfreader::OsmPbfReader::new(file).iter().map(Result::unwrap) {
        match object {
            osmpbfreader::OsmObj::Node(n) => {
                nodes.insert(n.id, (n.lon(), n.lat()));
            }
            osmpbfreader::OsmObj::Way(w) if w.tags.get("highway").is_some_and(|h| drivable.contains(&h.as_str())) => {
                ways.push(w.nodes);
            }
            _ => {}
        }
    }
    ways.iter().map(|way| way.iter().filter_map(|id| nodes.get(id).copied()).collect()).collect()
}

/// Transforms between longitude and latitude and the raster's metres, east first.
pub fn transforms() -> (CoordTransform, CoordTransform) {
    let crs = |code| {
        let mut crs = SpatialRef::from_epsg(code).unwrap();
        crs.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
        crs
    };
    let (wgs84, utm) = (crs(4326), crs(EPSG));
    (CoordTransform::new(&wgs84, &utm).unwrap(), CoordTransform::new(&utm, &wgs84).unwrap())
}

/// One point through a transform.
pub fn transformed(t: &CoordTransform, (x, y): (f64, f64)) -> (f64, f64) {
    let (mut x, mut y) = ([x], [y]);
    t.transform_coords(&mut x, &mut y, &mut []).unwrap();
    (x[0], y[0])
}

/// Runs shell lines in a GRASS session of its own, with the raster loaded as `dem`.
///
/// Voids become 0 m, lower than any ground here, since r.horizon of GRASS 8.2 gives 0 degrees for every
/// ray after one that has met a void (seen here). Rays over voids must be left out of any comparison.
pub fn grass(folder: &Path, raster: &Path, lines: &str) -> String {
    let script = folder.join("session.sh");
    let load = format!(
        "set -e\nr.in.gdal -o --quiet input={} output=dem\nr.null --quiet map=dem null=0\ng.region raster=dem\n",
        raster.display()
    );
    std::fs::write(&script, format!("{load}{lines}")).unwrap();
    run("grass", &["--tmp-location", &format!("EPSG:{EPSG}"), "--exec", "bash", &script.to_string_lossy()])
}
