//! The terrain around one cell, what it hides from a panel, and how much of it is not known.
use super::cells::Cell;
use super::readers::Rasters;
use super::run::Run;
use crate::base::error::Result;
use crate::base::geodesy::Point;
use crate::base::window::Elevation;
use crate::physics::sky::coarse::rise_beside_m;
use crate::physics::sky::ground::{Eye, Ground};
use crate::physics::sky::horizon::{CeilingBlocks, Hint, HorizonEye, HorizonQuery, TerrainPyramid, ceiling};
use crate::physics::sky::mask::AZIMUTH_BINS;
use crate::profile::Relief;
use crate::relief::Lookout;

/// Horizons higher by less than this add nothing, degrees.
const SAME_DEG: f32 = 0.05;
/// A pixel of 10 m may measure a little more on the ground: rasters in degrees, and a sphere for an ellipsoid.
const NOMINAL: f64 = 1.05;

/// Elevation around a cell.
pub(super) struct Terrain {
    pub pyramid: TerrainPyramid,
    /// Where trees and buildings are in it; `None` where it is bare earth throughout.
    pub surface: bool,
    /// What ground in voids could rise to; `None` where there are none.
    ceiling: Option<(CeilingBlocks, TerrainPyramid)>,
    halo_m: f64,
    floor_deg: f64,
    refraction_k: f64,
    relief: Relief,
}

impl Terrain {
    pub fn elevation(&self) -> &Elevation {
        self.pyramid.elevation()
    }
    /// Elevation where it shows trees and buildings in places.
    pub fn shown(&self) -> Option<&Elevation> {
        self.surface.then(|| self.elevation())
    }
    /// Up to here terrain is not looked at and what the map says counts; endless over bare earth, metres.
    pub fn within_m(&self, at: Point) -> f64 {
        let pixel_m = self.surface.then(|| self.pyramid.pixel_m(at)).flatten();
        pixel_m.unwrap_or(f64::INFINITY)
    }

    /// Reads the terrain that can rise above the lowest elevation around a cell.
    pub fn read(run: &Run, rasters: &Rasters, floor_deg: f64, cell: &Cell) -> Result<Self> {
        let (relief, refraction_k) = (run.profile.relief.clone(), run.profile.sampling.refraction);
        let reach = reach_m(run, rasters, floor_deg, cell)?;
        let halo_m = reach.map_or(0.0, |(reach_m, _)| reach_m);
        let elevation = rasters.elevation.window(&cell.plane, cell.half_size_m, halo_m)?;
        let slope = relief.void_slope_deg.to_radians().tan();
        let ceiling = reach.and_then(|(_, highest_m)| {
            ceiling(&elevation, cell.half_size_m + halo_m, slope, highest_m + relief.void_rise_m)
        });
        let ceiling = ceiling.map(|c| (CeilingBlocks::of(&c.grids[0]), TerrainPyramid::new(c)));
        let surface = elevation.grids.iter().any(|g| g.surface);
        let pyramid = TerrainPyramid::new(elevation);
        Ok(Self { pyramid, surface, ceiling, halo_m, floor_deg, refraction_k, relief })
    }

    /// What is asked of a ray; `None` where the ground at the place is not known.
    fn query(&self, at: Point) -> Option<HorizonQuery> {
        let pixel_m = self.pyramid.pixel_m(at)?;
        Some(HorizonQuery {
            // The road's own pixel says nothing about what stands beside it.
            start_m: pixel_m,
            max_m: self.halo_m.max(pixel_m),
            floor_deg: self.floor_deg,
            refraction_k: self.refraction_k,
        })
    }

    /// Horizons seen from a panel at a height; `None` where the ground at the place is not known.
    pub fn horizons(&self, eye: &HorizonEye, hint: &mut Hint) -> Option<[f32; AZIMUTH_BINS]> {
        Some(self.pyramid.horizons_deg(eye, &self.query(eye.at)?, hint))
    }

    /// The same if ground rose in voids as high as it could; `None` where that hides nothing more.
    pub fn raised(&self, eye: &HorizonEye, known_deg: &[f32; AZIMUTH_BINS]) -> Option<Box<[f32; AZIMUTH_BINS]>> {
        let (blocks, ceiling) = self.ceiling.as_ref()?;
        if !blocks.rise_above(eye.at, eye.z_m, self.floor_deg.to_radians().tan()) {
            return None;
        }
        let raised = ceiling.horizons_deg(eye, &self.query(eye.at)?, &mut Hint::default());
        let floor_deg = self.floor_deg as f32;
        let higher = raised.iter().zip(known_deg).any(|(r, k)| *r > k.max(floor_deg) + SAME_DEG);
        higher.then(|| Box::new(raised))
    }

    /// A panel `edge_m` from where land begins, over ground of known height: beyond its own pixel a surface shows what
    /// stands there.
    pub fn eye_over<'s>(&'s self, level: Eye<'s>, z_m: f64, edge_m: f64) -> Eye<'s> {
        let (elevation, at) = (self.elevation(), level.at);
        // How far the ground rises under what stands on it is not known from the tops.
        let ground = if elevation.is_surface(at) { None } else { Ground::around(elevation, at, z_m, edge_m) };
        Eye { ground, within_m: self.within_m(at), shown: self.shown(), ..level }
    }

    /// Whether pixels beside a place may hide a rock face.
    pub fn is_coarse(&self, at: Point) -> bool {
        let large = self.pyramid.pixel_m(at).is_some_and(|pixel_m| pixel_m > NOMINAL * self.relief.coarse_pixel_m);
        large && rise_beside_m(self.elevation(), at).is_some_and(|rise_m| rise_m >= self.relief.coarse_rise_m)
    }
}

/// How far around a cell ground may rise into the usable sky, and how high the highest of it is, metres.
fn reach_m(run: &Run, rasters: &Rasters, floor_deg: f64, cell: &Cell) -> Result<Option<(f64, f64)>> {
    let readers = &rasters.elevation;
    if readers.is_empty() {
        return Ok(None);
    }
    let roads = cell.segments.iter().flat_map(|id| &run.heights[id.at()]);
    let mut lowest_m = roads.copied().filter(|z| !z.is_nan()).fold(f32::INFINITY, f32::min);
    for stop in &cell.stops {
        let ground_m = readers.mine()?.height_m(run.extract.stops[*stop as usize].at)?;
        lowest_m = lowest_m.min(ground_m.unwrap_or(f32::INFINITY));
    }
    if !lowest_m.is_finite() {
        return Ok(None);
    }
    let (lowest_m, refraction_k) = (f64::from(lowest_m), run.profile.sampling.refraction);
    let from = Lookout { half_m: cell.half_size_m, lowest_m, floor_deg, refraction_k };
    readers.mine()?.reach_m(&cell.plane, &from)
}
