//! Footprints of buildings with their heights, from any vector file that GDAL reads.
use std::path::{Path, PathBuf};

use gdal::spatial_ref::{AxisMappingStrategy, CoordTransform, SpatialRef};
use gdal::vector::{Feature, Geometry, Layer, LayerAccess};
use gdal::{Dataset, DatasetOptions, GdalOpenFlags};
use geo::{LineString, Polygon};
use serde::{Deserialize, Serialize};

use super::calls::{gdal_fact, set_up_gdal};
use super::sources::{FileRecord, file_record};
use crate::base::defect::{Defect, Defects};
use crate::base::error::{Error, Result};
use crate::base::foreign::foreign;
use crate::base::geodesy::Position;
use crate::base::input::cannot_read;
use crate::base::nearest::meant;

/// No building is higher, metres (the highest one stands 828 m: Council on Tall Buildings and Urban Habitat, Burj Khalifa).
const HIGHEST_M: f64 = 1000.0;
/// WGS 84, longitude and latitude.
const LON_LAT: u32 = 4326;

/// A file of footprints as asked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FootprintFile {
    /// The file.
    pub path: PathBuf,
    /// The layer in it; the only one with areas where not given.
    pub layer: Option<String>,
    /// The column of heights, metres above the ground.
    pub height_column: String,
}

/// One outline.
#[derive(Debug, Clone, PartialEq)]
pub struct BuildingOutline {
    /// Number of the feature in its file.
    pub id: i64,
    /// Closed rings, the outer one first.
    pub rings: Vec<Vec<Position>>,
    /// Its height above the ground, metres; `None` where the file has none that can be.
    pub height_m: Option<f32>,
}

/// What a file of footprints holds in a region.
#[derive(Debug, Clone, Default)]
pub struct Footprints {
    /// Outlines, in the order of the file.
    pub found: Vec<BuildingOutline>,
    /// What is wrong in it.
    pub defects: Defects,
}

impl FootprintFile {
    /// Reads the outlines that touch a box of longitudes and latitudes, south-western and north-eastern corner. What is wrong
    /// with a feature is counted where `counts` says so of its place: who reads boxes that overlap counts it once.
    ///
    /// # Errors
    /// The file cannot be read, has no such layer or column, or no coordinate reference system.
    pub fn read(
        &self,
        low: Position,
        high: Position,
        counts: &(dyn Fn(Position) -> bool + std::panic::RefUnwindSafe),
    ) -> Result<Footprints> {
        set_up_gdal();
        let read = foreign("files of buildings", || self.read_there(low, high, counts));
        read.map_err(|broken| self.bad(&broken.to_string(), "create the file again, or leave it out"))?
    }

    /// The file with its checksum.
    ///
    /// # Errors
    /// It cannot be read any more.
    pub fn record(&self) -> Result<FileRecord> {
        file_record(&self.path)
    }

    fn read_there(&self, low: Position, high: Position, counts: &dyn Fn(Position) -> bool) -> Result<Footprints> {
        let unreadable = |e| {
            let next = "`ogrinfo` on the file shows more; give a vector file such as GeoPackage, GeoJSON or FlatGeobuf";
            self.bad(&format!("is not a vector file that GDAL can read: {}", gdal_fact(&e)), next)
        };
        check_is_file(&self.path)?;
        let open_flags = GdalOpenFlags::GDAL_OF_VECTOR | GdalOpenFlags::GDAL_OF_READONLY;
        let options = DatasetOptions { open_flags, ..DatasetOptions::default() };
        let dataset = Dataset::open_ex(&self.path, options).map_err(unreadable)?;
        let mut layer = self.layer_of(&dataset)?;
        let height = self.column_of(&layer)?;
        let lon_lat = lon_lat().map_err(unreadable)?;
        let own = layer.spatial_ref().ok_or_else(|| {
            let next = "assign the one its supplier names with `ogr2ogr -a_srs`";
            self.bad("does not give its coordinate reference system", next)
        })?;
        let mut own = own;
        own.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
        let unusable = |e| {
            let fact = format!("its coordinate reference system cannot be used: {}", gdal_fact(&e));
            self.bad(&fact, "convert the file to longitudes and latitudes with `ogr2ogr -t_srs EPSG:4326`")
        };
        let there = CoordTransform::new(&lon_lat, &own).map_err(unusable)?;
        let back = CoordTransform::new(&own, &lon_lat).map_err(unusable)?;
        let bounds = [low.lon_deg(), low.lat_deg(), high.lon_deg(), high.lat_deg()];
        let [west, south, east, north] = there.transform_bounds(&bounds, 21).map_err(unusable)?;
        layer.set_spatial_filter_rect(west, south, east, north);
        let mut out = Footprints::default();
        for feature in layer.features() {
            self.take(&feature, height, (&back, counts), &mut out);
        }
        Ok(out)
    }

    /// The layer asked for, else the only one with areas.
    fn layer_of<'d>(&self, dataset: &'d Dataset) -> Result<Layer<'d>> {
        let names = || dataset.layers().map(|l| l.name()).collect::<Vec<_>>();
        let next = "name one of them with --buildings-layer";
        if let Some(name) = &self.layer {
            return dataset.layer_by_name(name).map_err(|_| {
                let names = names();
                let fact = format!("has no layer '{name}'; it has {}", names.join(", "));
                self.bad(&fact, &meant(name, names.iter().map(String::as_str), next))
            });
        }
        let mut layers = dataset.layers();
        match (layers.next(), layers.next()) {
            (Some(only), None) => Ok(only),
            (None, _) => Err(self.bad("holds no layer", "give a file of outlines with heights")),
            _ => Err(self.bad(&format!("holds several layers: {}", names().join(", ")), next)),
        }
    }

    fn column_of(&self, layer: &Layer) -> Result<usize> {
        let wanted = &self.height_column;
        let fields: Vec<String> = layer.defn().fields().map(|f| f.name()).collect();
        fields.iter().position(|f| f == wanted).ok_or_else(|| {
            let next = "name the column of heights in metres with --buildings-height";
            let next = meant(wanted, fields.iter().map(String::as_str), next);
            self.bad(&format!("has no column '{wanted}'; it has {}", fields.join(", ")), &next)
        })
    }

    /// Takes one feature.
    fn take(
        &self,
        feature: &Feature,
        height: usize,
        (back, counts): (&CoordTransform, &dyn Fn(Position) -> bool),
        out: &mut Footprints,
    ) {
        let id = feature.fid().map_or(0, |fid| fid as i64);
        let example = || format!("feature {id} of {}", self.path.display());
        let height_m = height_m(feature, height);
        let outlines = feature.geometry().and_then(|g| outlines(g, back)).unwrap_or_default();
        let own = feature.geometry().and_then(|g| middle(g, back)).is_some_and(counts);
        if outlines.is_empty() && own {
            out.defects.add(Defect::NoFootprint, example);
        } else if height_m.is_none() && own {
            out.defects.add(Defect::FootprintHeight, example);
        }
        out.found.extend(outlines.into_iter().map(|rings| BuildingOutline { id, rings, height_m }));
    }

    fn bad(&self, fact: &str, next: &str) -> Error {
        Error::file(&self.path, fact, next)
    }
}

fn check_is_file(path: &Path) -> Result<()> {
    let next = "check the path and its permissions";
    match std::fs::metadata(path) {
        Ok(metadata) if metadata.is_file() => Ok(()),
        Ok(metadata) if metadata.is_dir() => {
            Err(Error::file(path, "is a folder", "give one file, such as a GeoPackage made with ogr2ogr"))
        }
        Ok(_) => Err(Error::file(path, "is a pipe or device, not a file", "save the outlines to a file first")),
        Err(e) => Err(cannot_read(path, &e, next)),
    }
}

fn lon_lat() -> gdal::errors::Result<SpatialRef> {
    let mut lon_lat = SpatialRef::from_epsg(LON_LAT)?;
    lon_lat.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
    Ok(lon_lat)
}

/// A height that can be: a number, or text that is one.
fn height_m(feature: &Feature, column: usize) -> Option<f32> {
    let number = match feature.field(column).ok()?? {
        gdal::vector::FieldValue::StringValue(text) => text.trim().parse().ok()?,
        other => other.into_real().or_else(|| feature.field_as_double(column).ok().flatten())?,
    };
    (number > 0.0 && number <= HIGHEST_M).then_some(number as f32)
}

/// The middle of the box around a geometry.
fn middle(geometry: &Geometry, back: &CoordTransform) -> Option<Position> {
    let around = geometry.transform(back).ok()?.envelope();
    let (lon, lat) = ((around.MinX + around.MaxX) / 2.0, (around.MinY + around.MaxY) / 2.0);
    ((-180.0..=180.0).contains(&lon) && (-90.0..=90.0).contains(&lat)).then(|| Position::from_deg(lon, lat))
}

/// Rings of every polygon of a geometry, in longitudes and latitudes.
fn outlines(geometry: &Geometry, back: &CoordTransform) -> Option<Vec<Vec<Vec<Position>>>> {
    let placed = geometry.transform(back).ok()?;
    let polygons: Vec<Polygon<f64>> = match placed.to_geo().ok()? {
        geo::Geometry::Polygon(p) => vec![p],
        geo::Geometry::MultiPolygon(many) => many.0,
        _ => return None,
    };
    Some(polygons.iter().filter_map(rings).collect())
}

fn rings(polygon: &Polygon<f64>) -> Option<Vec<Vec<Position>>> {
    let mut rings = vec![ring(polygon.exterior())?];
    rings.extend(polygon.interiors().iter().filter_map(ring));
    Some(rings)
}

/// A closed ring on the globe; `None` where it encloses nothing.
fn ring(line: &LineString<f64>) -> Option<Vec<Position>> {
    let mut ring = Vec::with_capacity(line.0.len());
    for c in &line.0 {
        let on_globe = (-180.0..=180.0).contains(&c.x) && (-90.0..=90.0).contains(&c.y);
        on_globe.then(|| ring.push(Position::from_deg(c.x, c.y)))?;
    }
    ring.dedup();
    (ring.len() >= 4 && ring.first() == ring.last()).then_some(ring)
}
