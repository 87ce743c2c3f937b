//! One open raster or mosaic: where its pixels lie, and their heights.
use std::sync::Arc;

use gdal::raster::ResampleAlg;
use gdal::spatial_ref::{AxisMappingStrategy, CoordTransform, SpatialRef};
use gdal::{Dataset, GeoTransformEx};

use super::calls::gdal_fact;
use super::kind::ElevationKind;
use super::mosaic::Mosaic;
use crate::base::error::{Error, Result};
use crate::base::geodesy::{LocalPlane, Point, Position};
use crate::base::window::{ElevationGrid, PlaneToPixel};

/// Points per side to which a map from the plane to pixels is fitted.
const FIT_SIDE: usize = 9;
/// Most pixels per side of those spread over a piece of land.
const SPREAD: usize = 8;

/// One source, opened by one thread.
pub(super) struct OpenSource {
    pub mosaic: Arc<Mosaic>,
    dataset: Dataset,
    to_crs: CoordTransform,
    from_crs: CoordTransform,
    geographic: bool,
    pub kind: ElevationKind,
}

/// A rectangle of pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Pixels {
    pub column: usize,
    pub row: usize,
    pub columns: usize,
    pub rows: usize,
}

/// A square of the plane.
#[derive(Debug, Clone, Copy)]
pub(super) struct Square {
    pub centre: Point,
    pub half_m: f64,
    /// Turns around the earth by which its longitudes are counted otherwise, see [`OpenSource::turns`].
    pub turn: f64,
}

impl Square {
    /// A square around the origin.
    pub fn around_origin(half_m: f64) -> Self {
        Self { centre: Point::default(), half_m, turn: 0.0 }
    }
    pub fn lattice(&self) -> Vec<Point> {
        let at = |i: usize| self.half_m * (2.0 * i as f64 / (FIT_SIDE - 1) as f64 - 1.0);
        let point = |i| Point::new(self.centre.x_m + at(i % FIT_SIDE), self.centre.y_m + at(i / FIT_SIDE));
        (0..FIT_SIDE * FIT_SIDE).map(point).collect()
    }
    pub fn quarters(&self) -> [Square; 4] {
        let h = self.half_m / 2.0;
        [(-h, -h), (h, -h), (-h, h), (h, h)].map(|(x, y)| Square {
            centre: Point::new(self.centre.x_m + x, self.centre.y_m + y),
            half_m: h,
            ..*self
        })
    }
}

impl OpenSource {
    pub fn new(mosaic: &Arc<Mosaic>) -> Result<Self> {
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
        let from_crs = CoordTransform::new(&crs, &wgs84).map_err(failed)?;
        let (geographic, kind) = (crs.is_geographic(), mosaic.first.kind);
        Ok(Self { mosaic: Arc::clone(mosaic), dataset: mosaic.dataset()?, to_crs, from_crs, geographic, kind })
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
    pub fn turns(&self) -> &'static [f64] {
        if self.geographic { &[0.0, -1.0, 1.0] } else { &[0.0] }
    }

    /// Pixel coordinates, centres at whole numbers; `None` where the CRS does not reach.
    pub fn to_pixels(&self, lon_lat: &[(f64, f64)], turn: f64) -> Option<Vec<(f64, f64)>> {
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

    /// Longitude and latitude of pixel coordinates; `None` where the CRS does not reach.
    pub fn to_lon_lat(&self, pixels: &[(f64, f64)]) -> Option<Vec<(f64, f64)>> {
        let to_crs = |(c, r): &(f64, f64)| self.mosaic.to_crs.apply(c + 0.5, r + 0.5);
        let (mut x, mut y): (Vec<f64>, Vec<f64>) = pixels.iter().map(to_crs).unzip();
        self.from_crs.transform_coords(&mut x, &mut y, &mut []).ok()?;
        let out: Vec<_> = x.into_iter().zip(y).collect();
        out.iter().all(|p| p.0.is_finite() && p.1.is_finite()).then_some(out)
    }

    pub fn square_pixels(&self, plane: &LocalPlane, square: Square) -> Option<Vec<(f64, f64)>> {
        self.to_pixels(&square.lattice().iter().map(|p| plane.to_lon_lat(*p)).collect::<Vec<_>>(), square.turn)
    }

    /// The raster's pixels over a square of the plane; `None` where they do not meet.
    pub fn pixels_in(&self, plane: &LocalPlane, square: Square) -> Option<Pixels> {
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

    /// Heights of a rectangle of pixels, averaged down by `factor`, metres; NaN where void.
    pub fn values_m(&self, pixels: Pixels, factor: f64) -> Result<((usize, usize), Vec<f32>)> {
        let size = pixels.read_size(factor);
        let whole = size == (pixels.columns, pixels.rows);
        let how = if whole { ResampleAlg::NearestNeighbour } else { ResampleAlg::Average };
        let mut values_m = self.claimed_m(pixels, size, how)?;
        let plausible_m = self.kind.plausible_m();
        for z in values_m.iter_mut().filter(|z| !plausible_m.contains(*z)) {
            *z = f32::NAN;
        }
        Ok((size, values_m))
    }

    /// Heights as the raster claims them, likely or not, at pixels spread over the land within `half_m` of a position, row by
    /// row (NaN where it says that there is none), and the length of a row.
    pub fn spread_m(&self, position: Position, half_m: f64) -> Result<(usize, Vec<f32>)> {
        let square = Square::around_origin(half_m);
        let Some(pixels) = self.pixels_in(&LocalPlane::at_position(position), square) else {
            return Ok((0, Vec::new()));
        };
        let size = (pixels.columns.min(SPREAD), pixels.rows.min(SPREAD));
        Ok((size.0, self.claimed_m(pixels, size, ResampleAlg::NearestNeighbour)?))
    }

    /// Heights of a rectangle of pixels read at a size, metres; NaN where the raster says that there is none.
    fn claimed_m(&self, pixels: Pixels, size: (usize, usize), how: ResampleAlg) -> Result<Vec<f32>> {
        let (at, of) = ((pixels.column as isize, pixels.row as isize), (pixels.columns, pixels.rows));
        let band = self.dataset.rasterband(1).map_err(|e| self.failed(&e))?;
        let raw = band.read_as::<f32>(at, of, size, Some(how)).map_err(|e| self.failed(&e))?;
        let (_, mut values) = raw.into_shape_and_vec();
        let facts = &self.mosaic.first;
        let nodata = facts.nodata.map(|v| v as f32);
        for value in &mut values {
            let z_m = (f64::from(*value) * facts.metres_per_value + facts.offset_m) as f32;
            *value = if Some(*value) == nodata { f32::NAN } else { z_m };
        }
        if facts.has_mask {
            let mask = band.open_mask_band().map_err(|e| self.failed(&e))?;
            let mask = mask.read_as::<u8>(at, of, size, None).map_err(|e| self.failed(&e))?;
            for (value, valid) in values.iter_mut().zip(mask.data()) {
                *value = if *valid == 0 { f32::NAN } else { *value };
            }
        }
        Ok(values)
    }

    pub fn height_m(&self, position: Position, turn: f64) -> Result<Option<f32>> {
        let Some(at) = self.to_pixels(&[(position.lon_deg(), position.lat_deg())], turn) else { return Ok(None) };
        let (column, row) = at[0];
        let (columns, rows) = (self.mosaic.columns, self.mosaic.rows);
        if !(column >= -0.5 && row >= -0.5 && column <= columns as f64 - 0.5 && row <= rows as f64 - 0.5) {
            return Ok(None);
        }
        let (c, r) = ((column.max(0.0) as usize).min(columns - 2), (row.max(0.0) as usize).min(rows - 2));
        let (_, values_m) = self.values_m(Pixels { column: c, row: r, columns: 2, rows: 2 }, 1.0)?;
        let map = PlaneToPixel { column: [0.0; 6], row: [0.0; 6] };
        let grid = ElevationGrid { columns: 2, rows: 2, values_m, map, pixel_m: 1.0, surface: false };
        Ok(grid.height_at_pixel_m(column - c as f64, row - r as f64))
    }
}

impl Pixels {
    pub fn read_size(&self, factor: f64) -> (usize, usize) {
        let shrink = |n: usize| ((n as f64 / factor).ceil() as usize).clamp(2, n.max(2));
        (shrink(self.columns), shrink(self.rows))
    }
}
