//! What one raster file says about itself, checked.

use gdal::raster::{ColorInterpretation, GdalDataType};
use gdal::spatial_ref::{AxisMappingStrategy, CoordTransform, SpatialRef};
use gdal::{Dataset, GeoTransform, GeoTransformEx};

use super::absent::{absent, absent_behind};
use super::calls::{gdal_fact, open};
use super::files::RasterFile;
use super::kind::ElevationKind;
use crate::base::district::Reach;
use crate::base::error::{Error, Result};

/// Metres per international foot, exact by definition (1959 yard and pound agreement).
const FOOT_M: f64 = 0.3048;
/// Metres per US survey foot, exact by definition.
const US_SURVEY_FOOT_M: f64 = 1200.0 / 3937.0;
/// Metres per degree of a great circle, roughly.
const ROUGH_M_PER_DEG: f64 = 111_000.0;

/// Facts of one raster.
#[derive(Debug, Clone)]
pub(super) struct RasterFacts {
    pub file: RasterFile,
    /// What its heights are heights of.
    pub kind: ElevationKind,
    pub wkt: String,
    pub transform: GeoTransform,
    pub columns: usize,
    pub rows: usize,
    pub data_type: GdalDataType,
    pub nodata: Option<f64>,
    pub has_mask: bool,
    /// Height in metres = value * `metres_per_value` + `offset_m`.
    pub metres_per_value: f64,
    pub offset_m: f64,
    /// Side of a pixel, metres, roughly.
    pub rough_pixel_m: f64,
    /// Box around it; nothing where that is not known.
    pub reach: Option<Reach>,
}

impl RasterFacts {
    /// Rows run east and columns south, so GDAL can mosaic it.
    pub(crate) fn is_north_up(&self) -> bool {
        let t = &self.transform;
        t[2] == 0.0 && t[4] == 0.0 && t[1] > 0.0 && t[5] < 0.0
    }
    /// Rasters with equal keys can be laid side by side without touching a value.
    pub(crate) fn mosaic_key(&self) -> String {
        let t = &self.transform;
        if !self.is_north_up() {
            return self.file.open.to_string_lossy().into_owned();
        }
        // Fiftieths of a pixel: what is nearer than that is the same lattice.
        let phase = |origin: f64, step: f64| ((origin / step).rem_euclid(1.0) * 50.0).round() as i64 % 50;
        format!(
            "{}|{:.8e}|{:.8e}|{}|{}|{}|{:?}|{}|{}|{}",
            self.wkt,
            t[1],
            t[5],
            phase(t[0], t[1]),
            phase(t[3], t[5]),
            self.data_type,
            self.nodata.map(f64::to_bits),
            self.has_mask,
            self.metres_per_value,
            self.offset_m
        )
    }
}

/// Reads the facts of a raster; an error says what makes it no elevation. `metres_per_value` replaces what the raster
/// says of its unit.
pub(super) fn inspect(file: &RasterFile, kind: ElevationKind, metres_per_value: Option<f64>) -> Result<RasterFacts> {
    let bad = |fact: String, next: &str| Error::file(&file.disk, fact, next);
    let again = "download the file again or leave it out";
    let dataset = open(&file.open).map_err(|e| {
        bad(
            format!("is not a raster that GDAL can read: {}", gdal_fact(&e)),
            "`gdalinfo` on the file shows more; download it again or leave it out",
        )
    })?;
    check_bands(file, &dataset, kind)?;
    let wkt = crs_of(file, &dataset)?;
    let transform = dataset.geo_transform().ok().filter(|t| t.invert().is_ok()).ok_or_else(|| {
        bad(
            "does not say where its pixels lie (no geotransform)".into(),
            "give it bounds with `gdal_translate -a_ullr`",
        )
    })?;
    let band = dataset.rasterband(1).map_err(|e| bad(format!("its band cannot be read: {}", gdal_fact(&e)), again))?;
    let (columns, rows) = band.size();
    if columns < 2 || rows < 2 {
        return Err(bad(format!("is {columns} x {rows} pixels, too small for a surface"), "leave it out"));
    }
    let crs = SpatialRef::from_wkt(&wkt).map_err(|e| {
        let fact = format!("its coordinate reference system cannot be used: {}", gdal_fact(&e));
        bad(fact, "assign the one its supplier names with `gdal_edit.py -a_srs`")
    })?;
    let (metres_per_value, offset_m) = match metres_per_value {
        Some(given) => (given, 0.0),
        None => {
            let unit_m = unit_m(file, &band.unit(), &crs)?;
            (unit_m * band.scale().unwrap_or(1.0), unit_m * band.offset().unwrap_or(0.0))
        }
    };
    if let Some(gap) = absent(&dataset, &band).or_else(|| absent_behind(&file.disk)) {
        let next = if dataset.driver().short_name() == "VRT" {
            "make the mosaic anew with `gdalbuildvrt -vrtnodata VALUE new.vrt TILES`, where VALUE fits its numbers and is not a height \
             in it, such as -9999; or give the tiles themselves"
        } else {
            "download the file again; if zeros are meant there, `gdal_translate old.tif new.tif` writes them out"
        };
        return Err(bad(gap, next));
    }
    let flags = band.mask_flags().map_err(|e| bad(format!("its mask cannot be read: {}", gdal_fact(&e)), again))?;
    Ok(RasterFacts {
        file: file.clone(),
        kind,
        wkt,
        transform,
        columns,
        rows,
        data_type: band.band_type(),
        nodata: band.no_data_value(),
        has_mask: flags.is_per_dataset() && !flags.is_nodata(),
        metres_per_value,
        offset_m,
        rough_pixel_m: rough_pixel_m(&crs, &transform, rows),
        reach: reach(crs, &transform, (columns, rows)),
    })
}

/// The larger side of a pixel in the middle of a raster, metres, roughly.
fn rough_pixel_m(crs: &SpatialRef, t: &GeoTransform, rows: usize) -> f64 {
    let (along, down) = if crs.is_geographic() {
        let middle_deg = t[3] + t[5] * rows as f64 / 2.0;
        (ROUGH_M_PER_DEG * middle_deg.to_radians().cos(), ROUGH_M_PER_DEG)
    } else {
        (crs.linear_units(), crs.linear_units())
    };
    (along * t[1]).hypot(down * t[4]).max((along * t[2]).hypot(down * t[5]))
}

/// Box around a raster; nothing where it cannot be told, such as over a pole or across 180 degrees.
fn reach(mut crs: SpatialRef, t: &GeoTransform, (columns, rows): (usize, usize)) -> Option<Reach> {
    let mut wgs84 = SpatialRef::from_epsg(4326).ok()?;
    crs.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
    wgs84.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
    let corners = [(0, 0), (columns, 0), (0, rows), (columns, rows)].map(|(i, j)| t.apply(i as f64, j as f64));
    let range = |values: [f64; 4]| values.iter().fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(*v), b.max(*v)));
    let ((west, east), (south, north)) = (range(corners.map(|c| c.0)), range(corners.map(|c| c.1)));
    let to_lon_lat = CoordTransform::new(&crs, &wgs84).ok()?;
    let [west, south, east, north] = to_lon_lat.transform_bounds(&[west, south, east, north], 21).ok()?;
    let known = [west, south, east, north].iter().all(|deg| deg.abs() <= 720.0) && west < east && south < north;
    let e7 = |deg: f64| deg * 1e7;
    known.then(|| Reach {
        south_e7: e7(south).floor() as i64,
        north_e7: e7(north).ceil() as i64,
        west_e7: e7(west).floor() as i64,
        east_e7: e7(east).ceil() as i64,
    })
}

fn check_bands(file: &RasterFile, dataset: &Dataset, kind: ElevationKind) -> Result<()> {
    let next = "give a raster with one band of heights; `gdal_translate -b N` takes one band out";
    let count = dataset.raster_count();
    let mut values = 0;
    for band in dataset.rasterbands().flatten() {
        if band.color_interpretation() != ColorInterpretation::AlphaBand {
            values += 1;
        }
        // Canopy heights in bytes often carry a palette for display; elevation never fits into one.
        if band.color_table().is_some() && kind != ElevationKind::CanopyHeight {
            return Err(Error::file(&file.disk, "is a picture with a colour palette, not elevation", next));
        }
    }
    match (count, values) {
        (0, _) => Err(Error::file(&file.disk, "holds no raster band of its own (perhaps only sub-datasets)", next)),
        (_, 1) => Ok(()),
        _ => Err(Error::file(&file.disk, format!("has {count} bands; a raster of heights has one"), next)),
    }
}

fn crs_of(file: &RasterFile, dataset: &Dataset) -> Result<String> {
    let wkt = dataset.spatial_ref().ok().filter(|crs| !crs.is_local()).and_then(|crs| crs.to_wkt().ok());
    wkt.filter(|wkt| !wkt.is_empty()).ok_or_else(|| {
        Error::file(
            &file.disk,
            "has no coordinate reference system, so its position is not known",
            "assign the one its supplier names, for example `gdal_edit.py -a_srs EPSG:25831` on the file",
        )
    })
}

/// Metres per vertical unit: the band's own, else that of a compound CRS, else metres.
fn unit_m(file: &RasterFile, unit: &str, crs: &SpatialRef) -> Result<f64> {
    match unit.trim().to_lowercase().as_str() {
        "" => Ok(vertical_crs_unit_m(crs).unwrap_or(1.0)),
        "m" | "metre" | "meter" | "metres" | "meters" => Ok(1.0),
        "ft" | "foot" | "feet" | "international foot" => Ok(FOOT_M),
        "us-ft" | "ftus" | "us survey foot" | "us survey feet" | "foot_us" | "ussurvey foot" => Ok(US_SURVEY_FOOT_M),
        "dm" => Ok(0.1),
        "cm" | "centimetre" | "centimeter" => Ok(0.01),
        other => Err(Error::file(
            &file.disk,
            format!("gives heights in `{other}`, a unit this program does not know"),
            "convert it to metres, or set the unit with `gdal_edit.py -units m`",
        )),
    }
}

fn vertical_crs_unit_m(crs: &SpatialRef) -> Option<f64> {
    let unit_m = crs.get_attr_value("COMPD_CS|VERT_CS|UNIT", 1).ok()??;
    unit_m.parse().ok().filter(|m: &f64| m.is_finite() && *m > 0.0)
}
