//! One thread's handles on the sources, and the windows it reads.
use std::sync::Arc;

use gdal::raster::ResampleAlg;
use gdal::spatial_ref::{AxisMappingStrategy, CoordTransform, SpatialRef};
use gdal::{Dataset, GeoTransformEx};

use super::calls::gdal_fact;
use super::fit::{Fit, leave_to_better};
use super::kind::ElevationKind;
use super::mosaic::Mosaic;
use crate::base::error::{Error, Result};
use crate::base::geodesy::{LocalPlane, Point, Position};
use crate::base::window::{Elevation, ElevationGrid};

/// How far around the cell the fine near part reaches, metres. A 10 m pixel beyond it is off by at
/// most 0.3 degrees: half a pixel over twice the distance (derived here).
const NEAR_HALO_M: f64 = 500.0;
/// Pixels per side at which a plane-to-pixel map may be off its exact transform.
const MAX_RESIDUAL_PX: f64 = 0.05;
/// How often a window is cut in four to keep to that.
const MAX_SPLITS: u32 = 3;
/// Points per side to which a map is fitted.
const FIT_SIDE: usize = 9;
/// Pixels per side of the read that looks for the highest and lowest ground.
const RANGE_SIDE: usize = 1024;
/// The search for terrain stops here, metres: 4 km of relief seen at 20 degrees.
const MAX_HALO_M: f64 = 11_000.0;
/// And goes at least this far, metres.
const MIN_HALO_M: f64 = 500.0;

/// How far terrain with a relief can rise above an elevation: `relief / tan(lowest)`, within bounds, metres.
pub fn halo_m(relief_m: f64, lowest_deg: f64) -> f64 {
    let tangent = lowest_deg.to_radians().tan();
    if tangent <= 0.0 { MAX_HALO_M } else { (relief_m / tangent).clamp(MIN_HALO_M, MAX_HALO_M) }
}

/// Open handles of one thread.
pub struct Reader {
    sources: Vec<OpenSource>,
    kind: ElevationKind,
}

struct OpenSource {
    mosaic: Arc<Mosaic>,
    dataset: Dataset,
    to_crs: CoordTransform,
    geographic: bool,
    kind: ElevationKind,
}

/// A rectangle of pixels and the size it is read at.
#[derive(Debug, Clone, Copy)]
struct Pixels {
    column: usize,
    row: usize,
    columns: usize,
    rows: usize,
}

/// A square of the plane.
#[derive(Debug, Clone, Copy)]
struct Square {
    centre: Point,
    half_m: f64,
    /// Turns around the earth by which its longitudes are counted otherwise, see [`OpenSource::turns`].
    turn: f64,
}

impl Square {
    fn lattice(&self) -> Vec<Point> {
        let at = |i: usize| self.half_m * (2.0 * i as f64 / (FIT_SIDE - 1) as f64 - 1.0);
        let point = |i| Point::new(self.centre.x_m + at(i % FIT_SIDE), self.centre.y_m + at(i / FIT_SIDE));
        (0..FIT_SIDE * FIT_SIDE).map(point).collect()
    }
    fn quarters(&self) -> [Square; 4] {
        let h = self.half_m / 2.0;
        [(-h, -h), (h, -h), (-h, h), (h, h)].map(|(x, y)| Square {
            centre: Point::new(self.centre.x_m + x, self.centre.y_m + y),
            half_m: h,
            ..*self
        })
    }
}

impl Reader {
    pub(super) fn new(mosaics: &[Arc<Mosaic>], kind: ElevationKind) -> Result<Self> {
        let sources = mosaics.iter().map(|m| OpenSource::new(m, kind)).collect::<Result<_>>()?;
        Ok(Self { sources, kind })
    }

    /// Elevation of a cell: a square of `half_m` around the plane's origin, and `halo_m` around it.
    ///
    /// Fine rasters come in two windows, native near the cell and averaged farther out, so that memory
    /// stays at about 40 MB (80 MB for surfaces and canopy) however fine the raster.
    pub fn window(&self, plane: &LocalPlane, half_m: f64, halo_m: f64) -> Result<Elevation> {
        let mut grids = Vec::new();
        for (source, turn) in self.sources.iter().flat_map(OpenSource::turns) {
            let whole = Square { centre: Point::default(), half_m: half_m + halo_m, turn };
            let Some(native) = source.pixels_in(plane, whole) else { continue };
            let total = native.columns as f64 * native.rows as f64;
            let budget = self.kind.window_pixels();
            if total <= budget {
                source.read(plane, whole, 1.0, MAX_SPLITS, &mut grids)?;
                continue;
            }
            let near = Square { half_m: half_m + NEAR_HALO_M.min(halo_m), ..whole };
            let far_factor = (total / budget).sqrt().ceil();
            if let Some(p) = source.pixels_in(plane, near) {
                let near_factor = (p.columns as f64 * p.rows as f64 / budget).sqrt().ceil();
                if near_factor < far_factor {
                    source.read(plane, near, near_factor, MAX_SPLITS, &mut grids)?;
                }
            }
            source.read(plane, whole, far_factor, MAX_SPLITS, &mut grids)?;
        }
        Ok(Elevation { grids })
    }

    /// Bilinear height of the best source that has one at a position, metres.
    pub fn height_m(&self, position: Position) -> Result<Option<f32>> {
        for (source, turn) in self.sources.iter().flat_map(OpenSource::turns) {
            if let Some(height_m) = source.height_m(position, turn)? {
                return Ok(Some(height_m));
            }
        }
        Ok(None)
    }

    /// How many of the positions have elevation.
    pub fn covered(&self, positions: &[Position]) -> Result<usize> {
        let mut count = 0;
        for position in positions {
            count += usize::from(self.height_m(*position)?.is_some());
        }
        Ok(count)
    }

    /// Bounds of the ground's height within a square of `half_m` around the plane's origin, metres, from a
    /// coarse read widened by half a coarse pixel, which a 45 degree slope rises within it; `None` without elevation.
    pub fn elevation_range_m(&self, plane: &LocalPlane, half_m: f64) -> Result<Option<(f64, f64)>> {
        let mut range: Option<(f64, f64)> = None;
        for (source, turn) in self.sources.iter().flat_map(OpenSource::turns) {
            let square = Square { centre: Point::default(), half_m, turn };
            let Some(pixels) = source.pixels_in(plane, square) else { continue };
            let factor = (pixels.columns.max(pixels.rows) as f64 / RANGE_SIDE as f64).max(1.0);
            let (_, values) = source.values_m(pixels, factor)?;
            let slack_m = if factor > 1.0 { factor * source.mosaic.first.rough_pixel_m / 2.0 } else { 0.0 };
            for z in values.into_iter().filter(|z| !z.is_nan()).map(f64::from) {
                let (low, high) = range.unwrap_or((z, z));
                range = Some((low.min(z - slack_m), high.max(z + slack_m)));
            }
        }
        Ok(range)
    }
}

impl OpenSource {
    fn new(mosaic: &Arc<Mosaic>, kind: ElevationKind) -> Result<Self> {
        let failed = |e: gdal::errors::GdalError| {
            Error::file(
                mosaic.disk(),
                format!("its coordinate system cannot be used: {}", gdal_fact(&e)),
                "reproject it with `gdalwarp -t_srs EPSG:4326`",
            )
        };
        let mut crs = SpatialRef::from_wkt(&mosaic.first.wkt).map_err(failed)?;
        let mut wgs84 = SpatialRef::from_epsg(4326).map_err(failed)?;
        // Without this EPSG:4326 is latitude first, and everything lies mirrored.
        crs.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
        wgs84.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
        let to_crs = CoordTransform::new(&wgs84, &crs).map_err(failed)?;
        let geographic = crs.is_geographic();
        Ok(Self { mosaic: Arc::clone(mosaic), dataset: mosaic.dataset()?, to_crs, geographic, kind })
    }

    fn failed(&self, e: &gdal::errors::GdalError) -> Error {
        Error::file(
            self.mosaic.disk(),
            format!("cannot be read: {}", gdal_fact(e)),
            "`gdalinfo -checksum` shows whether the file is damaged; download it again",
        )
    }

    /// Turns to look by. A square may lie at both ends of the longitudes that a raster holds, half of it at each: whether that
    /// seam is the antimeridian or another one.
    fn turns(&self) -> impl Iterator<Item = (&Self, f64)> {
        let all: &[f64] = if self.geographic { &[0.0, -1.0, 1.0] } else { &[0.0] };
        all.iter().map(move |turn| (self, *turn))
    }

    /// Pixel coordinates, centres at whole numbers; `None` where the CRS does not reach.
    fn to_pixels(&self, lon_lat: &[(f64, f64)], turn: f64) -> Option<Vec<(f64, f64)>> {
        let (mut x, mut y): (Vec<f64>, Vec<f64>) = lon_lat.iter().copied().unzip();
        self.to_crs.transform_coords(&mut x, &mut y, &mut []).ok()?;
        if self.geographic {
            // Rasters may count longitudes from 0 or from -180: take the turn nearest the raster's middle.
            let t = &self.mosaic.first.transform;
            let middle_deg = t[0] + t[1] * self.mosaic.first.columns as f64 / 2.0;
            let turns = ((middle_deg - x[0]) / 360.0).round() + turn;
            x.iter_mut().for_each(|x| *x += 360.0 * turns);
        }
        let pixel = |(x, y): (f64, f64)| {
            let (c, r) = self.mosaic.to_pixel.apply(x, y);
            (c - 0.5, r - 0.5)
        };
        let pixels: Vec<_> = x.into_iter().zip(y).map(pixel).collect();
        pixels.iter().all(|p| p.0.is_finite() && p.1.is_finite()).then_some(pixels)
    }

    fn square_pixels(&self, plane: &LocalPlane, square: Square) -> Option<Vec<(f64, f64)>> {
        self.to_pixels(&square.lattice().iter().map(|p| plane.to_lon_lat(*p)).collect::<Vec<_>>(), square.turn)
    }

    /// The raster's pixels over a square of the plane; `None` where they do not meet.
    fn pixels_in(&self, plane: &LocalPlane, square: Square) -> Option<Pixels> {
        let at = self.square_pixels(plane, square)?;
        let span = |values: &mut dyn Iterator<Item = f64>, size: usize| {
            let (low, high) = values.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
            // Two pixels more: edges of the square bow outward between the points looked at.
            let first = (low.floor() - 2.0).max(0.0);
            let last = (high.ceil() + 2.0).min((size - 1) as f64);
            (last > first).then(|| (first as usize, (last - first) as usize + 1))
        };
        let (column, columns) = span(&mut at.iter().map(|p| p.0), self.mosaic.columns)?;
        let (row, rows) = span(&mut at.iter().map(|p| p.1), self.mosaic.rows)?;
        Some(Pixels { column, row, columns, rows })
    }

    /// Reads a square at `1 / factor` of the native resolution and appends it, in pieces where the map to
    /// its pixels bends too much for one quadratic.
    fn read(
        &self,
        plane: &LocalPlane,
        square: Square,
        factor: f64,
        splits: u32,
        grids: &mut Vec<ElevationGrid>,
    ) -> Result<()> {
        let Some(pixels) = self.pixels_in(plane, square) else { return Ok(()) };
        let (size, read) = (pixels.read_size(factor), pixels);
        let scale = (read.columns as f64 / size.0 as f64, read.rows as f64 / size.1 as f64);
        let lattice = square.lattice();
        let Some(native) = self.square_pixels(plane, square) else { return Ok(()) };
        let shrink = |v: f64, first: usize, scale: f64| (v + 0.5 - first as f64) / scale - 0.5;
        let at: Vec<_> =
            native.iter().map(|p| (shrink(p.0, read.column, scale.0), shrink(p.1, read.row, scale.1))).collect();
        match Fit::new(&lattice, &at) {
            Some(fit) if fit.residual_px <= MAX_RESIDUAL_PX => self.append(pixels, factor, &fit, grids),
            _ if splits > 0 => {
                square.quarters().into_iter().try_for_each(|q| self.read(plane, q, factor, splits - 1, grids))
            }
            _ => Err(Error::file(
                self.mosaic.disk(),
                format!("its projection bends too much around {:.3} E {:.3} N", plane.lon_deg(), plane.lat_deg()),
                "reproject it with `gdalwarp -t_srs EPSG:4326`",
            )),
        }
    }

    fn append(&self, pixels: Pixels, factor: f64, fit: &Fit, grids: &mut Vec<ElevationGrid>) -> Result<()> {
        let ((columns, rows), values_m) = self.values_m(pixels, factor)?;
        let sides_m = fit.pixel_sides_m();
        let mut grid = ElevationGrid { columns, rows, values_m, map: fit.map, pixel_m: sides_m.0.max(sides_m.1) };
        leave_to_better(&mut grid, fit, grids);
        if grid.values_m.iter().any(|z| !z.is_nan()) {
            grids.push(grid);
        }
        Ok(())
    }

    /// Heights of a rectangle of pixels, averaged down by `factor`, metres; NaN where void.
    fn values_m(&self, pixels: Pixels, factor: f64) -> Result<((usize, usize), Vec<f32>)> {
        let size = pixels.read_size(factor);
        let (at, of) = ((pixels.column as isize, pixels.row as isize), (pixels.columns, pixels.rows));
        let how = if size == of { ResampleAlg::NearestNeighbour } else { ResampleAlg::Average };
        let band = self.dataset.rasterband(1).map_err(|e| self.failed(&e))?;
        let raw = band.read_as::<f32>(at, of, size, Some(how)).map_err(|e| self.failed(&e))?;
        let (_, mut values) = raw.into_shape_and_vec();
        let facts = &self.mosaic.first;
        let nodata = facts.nodata.map(|v| v as f32);
        let plausible_m = self.kind.plausible_m();
        for value in &mut values {
            let z_m = (f64::from(*value) * facts.metres_per_value + facts.offset_m) as f32;
            *value = if Some(*value) == nodata || !plausible_m.contains(&z_m) { f32::NAN } else { z_m };
        }
        if facts.has_mask {
            let mask = band.open_mask_band().map_err(|e| self.failed(&e))?;
            let mask = mask.read_as::<u8>(at, of, size, None).map_err(|e| self.failed(&e))?;
            for (value, valid) in values.iter_mut().zip(mask.data()) {
                *value = if *valid == 0 { f32::NAN } else { *value };
            }
        }
        Ok((size, values))
    }

    fn height_m(&self, position: Position, turn: f64) -> Result<Option<f32>> {
        let Some(at) = self.to_pixels(&[(position.lon_deg(), position.lat_deg())], turn) else { return Ok(None) };
        let (column, row) = at[0];
        let (columns, rows) = (self.mosaic.columns, self.mosaic.rows);
        if !(column >= -0.5 && row >= -0.5 && column <= columns as f64 - 0.5 && row <= rows as f64 - 0.5) {
            return Ok(None);
        }
        let (c, r) = ((column.max(0.0) as usize).min(columns - 2), (row.max(0.0) as usize).min(rows - 2));
        let (_, values_m) = self.values_m(Pixels { column: c, row: r, columns: 2, rows: 2 }, 1.0)?;
        let map = crate::base::window::PlaneToPixel { column: [0.0; 6], row: [0.0; 6] };
        let grid = ElevationGrid { columns: 2, rows: 2, values_m, map, pixel_m: 1.0 };
        Ok(grid.height_at_pixel_m(column - c as f64, row - r as f64))
    }
}

impl Pixels {
    fn read_size(&self, factor: f64) -> (usize, usize) {
        let shrink = |n: usize| ((n as f64 / factor).ceil() as usize).clamp(2, n.max(2));
        (shrink(self.columns), shrink(self.rows))
    }
}
