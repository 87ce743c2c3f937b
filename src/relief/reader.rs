//! One thread's handles on the sources, and the windows it reads.
use std::sync::Arc;

use super::fit::{Fit, join_better};
use super::kind::ElevationKind;
use super::mosaic::Mosaic;
use super::overview::Overview;
use super::reach::{Lookout, reach_m};
use super::seam::{Seam, Seams};
use super::source::{OpenSource, Pixels, Square};
use crate::base::error::{Error, Result};
use crate::base::geodesy::{LocalPlane, Position};
use crate::base::window::{Elevation, ElevationGrid};

/// How far around the cell the fine near part reaches, metres. A 10 m pixel beyond it is off by at
/// most 0.3 degrees: half a pixel over twice the distance (derived here).
const NEAR_HALO_M: f64 = 500.0;
/// Farther away than this mountains come from an overview by maxima, metres: its pixels of 250 m are off by at most 0.3
/// degrees there, half a pixel over twice the distance (derived here).
pub(super) const FAR_M: f64 = 12_000.0;
/// Pixels per side at which a plane-to-pixel map may be off its exact transform.
const MAX_RESIDUAL_PX: f64 = 0.05;
/// How often a window is cut in four to keep to that.
const MAX_SPLITS: u32 = 3;

/// Open handles of one thread.
pub struct Reader {
    sources: Vec<OpenSource>,
    overviews: Vec<Overview>,
    seams: Vec<Seam>,
    seam_slope: f64,
    budget: f64,
}

/// How a window is read.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Detail {
    /// Averaged down by a factor.
    Averaged(f64),
    /// The highest of the pixels an overview joins.
    Highest,
}

/// What a window is read from and for.
struct SourceWindow<'a> {
    reader: &'a Reader,
    plane: &'a LocalPlane,
    source: usize,
    detail: Detail,
    /// Better sources reach near enough to move heights.
    seam: bool,
}

impl Reader {
    pub(super) fn new(mosaics: &[Arc<Mosaic>], kind: ElevationKind, seam_slope: f64) -> Result<Self> {
        let sources: Vec<_> = mosaics.iter().map(OpenSource::new).collect::<Result<_>>()?;
        let overviews = sources.iter().map(|_| Overview::default()).collect();
        let seams = sources.iter().map(|_| Seam::default()).collect();
        Ok(Self { sources, overviews, seams, seam_slope, budget: kind.window_pixels() })
    }

    /// Elevation of a cell: a square of `half_m` around the plane's origin, and `halo_m` around it.
    ///
    /// Fine rasters come in two windows, native near the cell and averaged farther out, so that memory
    /// stays at about 40 MB (80 MB for surfaces and canopy) however fine the raster; what is farther than 12 km comes from
    /// an overview of highest heights. Where a source follows a better one its heights are moved to meet it.
    pub fn window(&self, plane: &LocalPlane, half_m: f64, halo_m: f64) -> Result<Elevation> {
        let mut grids = Vec::new();
        let near_m = halo_m.min(FAR_M);
        for (k, source, turn) in self.turned() {
            let whole = Square { turn, ..Square::around_origin(half_m + near_m) };
            let Some(native) = source.pixels_in(plane, whole) else { continue };
            let reading = self.reading(plane, k, whole);
            let total = native.columns as f64 * native.rows as f64;
            if total <= self.budget {
                reading(Detail::Averaged(1.0)).read(whole, MAX_SPLITS, &mut grids)?;
                continue;
            }
            let near = Square { half_m: half_m + NEAR_HALO_M.min(near_m), ..whole };
            let far_factor = (total / self.budget).sqrt().ceil();
            if let Some(p) = source.pixels_in(plane, near) {
                let near_factor = (p.columns as f64 * p.rows as f64 / self.budget).sqrt().ceil();
                if near_factor < far_factor {
                    reading(Detail::Averaged(near_factor)).read(near, MAX_SPLITS, &mut grids)?;
                }
            }
            reading(Detail::Averaged(far_factor)).read(whole, MAX_SPLITS, &mut grids)?;
        }
        if halo_m > FAR_M {
            for (k, _, turn) in self.turned() {
                let far = Square { turn, ..Square::around_origin(half_m + halo_m) };
                self.reading(plane, k, far)(Detail::Highest).read(far, MAX_SPLITS, &mut grids)?;
            }
        }
        Ok(Elevation { grids })
    }

    fn reading<'a>(
        &'a self,
        plane: &'a LocalPlane,
        source: usize,
        square: Square,
    ) -> impl Fn(Detail) -> SourceWindow<'a> {
        let wide = Square { half_m: square.half_m + self.joins().reach_m(), ..square };
        let seam = self.sources[..source].iter().any(|better| better.pixels_in(plane, wide).is_some());
        move |detail| SourceWindow { reader: self, plane, source, detail, seam }
    }

    /// Sources by number, best first, each with the turns to look by.
    fn turned(&self) -> impl Iterator<Item = (usize, &OpenSource, f64)> {
        let with_turns = |(k, source): (usize, &'_ OpenSource)| source.turns().iter().map(move |turn| (k, *turn));
        let turns: Vec<(usize, f64)> = self.sources.iter().enumerate().flat_map(with_turns).collect();
        turns.into_iter().map(|(k, turn)| (k, &self.sources[k], turn))
    }

    pub(super) fn sources(&self) -> &[OpenSource] {
        &self.sources
    }

    fn joins(&self) -> Seams<'_> {
        Seams { sources: &self.sources, seams: &self.seams, slope: self.seam_slope }
    }

    /// Bilinear height of the best source that has one at a position, metres.
    pub fn height_m(&self, position: Position) -> Result<Option<f32>> {
        for (_, source, turn) in self.turned() {
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

    /// How far from a cell ground rises above the lowest elevation that counts, metres, and how high the highest ground
    /// looked at is; `None` without elevation there.
    ///
    /// # Errors
    /// A raster cannot be read.
    pub fn reach_m(&self, plane: &LocalPlane, from: &Lookout) -> Result<Option<(f64, f64)>> {
        let mut found: Option<(f64, f64)> = None;
        for (source, overview) in self.sources.iter().zip(&self.overviews) {
            if let Some((reach_m, highest_m)) = reach_m(source, overview, plane, from)? {
                let (reach, highest) = found.unwrap_or((reach_m, highest_m));
                found = Some((reach.max(reach_m), highest.max(highest_m)));
            }
        }
        Ok(found)
    }
}

impl SourceWindow<'_> {
    fn source(&self) -> &OpenSource {
        &self.reader.sources[self.source]
    }

    /// Reads a square and appends it, in pieces where the map to its pixels bends too much for one quadratic.
    fn read(&self, square: Square, splits: u32, grids: &mut Vec<ElevationGrid>) -> Result<()> {
        let source = self.source();
        let Some(pixels) = source.pixels_in(self.plane, square) else { return Ok(()) };
        let lattice = square.lattice();
        let Some(native) = source.square_pixels(self.plane, square) else { return Ok(()) };
        let read = self.scaled(pixels);
        let at: Vec<_> = native.iter().map(|p| read.shrunk(*p)).collect();
        match Fit::new(&lattice, &at) {
            Some(fit) if fit.residual_px <= MAX_RESIDUAL_PX => self.append(pixels, &read, &fit, grids),
            _ if splits > 0 => square.quarters().into_iter().try_for_each(|q| self.read(q, splits - 1, grids)),
            _ => Err(Error::file(
                source.mosaic.disk(),
                format!(
                    "its projection bends too much around {:.3} E {:.3} N",
                    self.plane.lon_deg(),
                    self.plane.lat_deg()
                ),
                "reproject it with `gdalwarp -t_srs EPSG:4326`",
            )),
        }
    }

    /// Where the pixels read begin among the source's, and how many of those one of them is.
    fn scaled(&self, pixels: Pixels) -> Scaled {
        match self.detail {
            Detail::Averaged(factor) => {
                let size = pixels.read_size(factor);
                let scale = (pixels.columns as f64 / size.0 as f64, pixels.rows as f64 / size.1 as f64);
                Scaled { first: (pixels.column as f64, pixels.row as f64), scale }
            }
            Detail::Highest => {
                let factor = Overview::factor(self.source());
                let down = |n: usize| (n / factor * factor) as f64;
                Scaled { first: (down(pixels.column), down(pixels.row)), scale: (factor as f64, factor as f64) }
            }
        }
    }

    fn append(&self, pixels: Pixels, read: &Scaled, fit: &Fit, grids: &mut Vec<ElevationGrid>) -> Result<()> {
        let source = self.source();
        let ((columns, rows), values_m) = match self.detail {
            Detail::Averaged(factor) => source.values_m(pixels, factor)?,
            Detail::Highest => {
                let (p, values_m) = self.reader.overviews[self.source].values_m(source, pixels)?;
                ((p.columns, p.rows), values_m)
            }
        };
        let sides_m = fit.pixel_sides_m();
        let (map, pixel_m) = (fit.map, sides_m.0.max(sides_m.1));
        let surface = source.kind == ElevationKind::Surface;
        let mut grid = ElevationGrid { columns, rows, values_m, map, pixel_m, surface };
        let joins = self.reader.joins();
        let shift_m = |column: usize, row: usize| match self.seam {
            true => joins.shift_m(self.source, read.native(column, row)),
            false => Ok(0.0),
        };
        join_better(&mut grid, fit, grids, &shift_m)?;
        if grid.values_m.iter().any(|z| !z.is_nan()) {
            grids.push(grid);
        }
        Ok(())
    }
}

/// Pixels read, in pixels of the source.
struct Scaled {
    first: (f64, f64),
    scale: (f64, f64),
}

impl Scaled {
    fn shrunk(&self, (column, row): (f64, f64)) -> (f64, f64) {
        let shrink = |v: f64, first: f64, scale: f64| (v + 0.5 - first) / scale - 0.5;
        (shrink(column, self.first.0, self.scale.0), shrink(row, self.first.1, self.scale.1))
    }
    fn native(&self, column: usize, row: usize) -> (f64, f64) {
        let grow = |n: usize, first: f64, scale: f64| first + (n as f64 + 0.5) * scale - 0.5;
        (grow(column, self.first.0, self.scale.0), grow(row, self.first.1, self.scale.1))
    }
}
