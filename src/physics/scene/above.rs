//! Heights above the ground that rasters show around one cell.
//!
//! In: windows of a canopy-height raster, or of a surface model and bare earth. Out: the height of what stands at
//! a place, metres above the ground, and the pixel it comes from. A surface less bare earth holds trees, buildings, decks and
//! whatever else stood there on the day: telling them apart is done where the map is known
//! ([`super::trees::canopy`], [`crate::physics::scene::solids`]).
use crate::base::geodesy::Point;
use crate::base::index::SegmentIndex;
use crate::base::window::Elevation;

/// A height shown by a raster.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShownHeight {
    /// AboveGround the ground, metres; slightly negative where two rasters disagree.
    pub height_m: f64,
    /// Side of the pixel it comes from, metres.
    pub pixel_m: f64,
}

/// Rasters around one cell.
#[derive(Debug, Clone, Copy)]
pub struct AboveGround<'a> {
    /// Canopy heights; they come first.
    pub canopy: &'a Elevation,
    /// The top of whatever stands there, above the vertical datum.
    pub surface: &'a Elevation,
    /// Bare earth under `surface`, same datum.
    pub ground: &'a Elevation,
    /// Segments of the cell itself, indices into [`crate::map::network::model::Network::segments`].
    pub segments: &'a [SegmentIndex],
}

impl AboveGround<'_> {
    /// What stands at a place; `None` where no raster says.
    ///
    /// Canopy heights are the value of the pixel: between a tree and a meadow there is nothing half as high. A
    /// surface is taken between its pixels as bare earth is, or slopes would grow trees.
    pub fn at(&self, p: Point) -> Option<ShownHeight> {
        self.canopy_at(p).or_else(|| self.surface_at(p))
    }
    fn canopy_at(&self, p: Point) -> Option<ShownHeight> {
        let shown = |(height_m, pixel_m): (f32, f64)| ShownHeight { height_m: f64::from(height_m), pixel_m };
        self.canopy.grids.iter().find_map(|g| Some((g.pixel_value_m(p)?, g.pixel_m))).map(shown)
    }
    /// The surface over bare earth at a place, whatever stands there; `None` without both.
    pub(crate) fn surface_at(&self, p: Point) -> Option<ShownHeight> {
        let (top_m, pixel_m) = self.surface.grids.iter().find_map(|g| Some((g.height_m(p)?, g.pixel_m)))?;
        let ground_m = self.ground.height_m(p)?;
        Some(ShownHeight { height_m: f64::from(top_m) - f64::from(ground_m), pixel_m })
    }
}
