//! What stands around one cell: terrain, solid things and trees, from the map and from rasters.
use super::cells::Cell;
use super::readers::Rasters;
use super::run::Run;
use super::terrain::Terrain;
use crate::base::error::Result;
use crate::base::index::SegmentIndex;
use crate::base::window::Elevation;
use crate::base::words::Case;
use crate::physics::scene::above::AboveGround;
use crate::physics::scene::index::{FeatureIndex, HALO_M, Nearby, Window};
use crate::physics::scene::solids::index::Solids;
use crate::physics::scene::solids::measured::Measured;
use crate::physics::scene::trees::canopy::Planting;
use crate::physics::scene::trees::grid::{CanopyGrid, PIXEL_M};
use crate::physics::scene::trees::stack::CrownStack;
use crate::physics::sky::canopy::trees_reach_m;
use crate::physics::sky::measured::MeasuredTops;

/// What is near one cell.
pub(super) struct Around {
    pub(super) window: Window,
    pub(super) near: Nearby,
    pub(super) terrain: Terrain,
    pub(super) solids: Solids,
    /// Tops of buildings that a surface shows.
    pub(super) measured: Option<MeasuredTops>,
    /// Trees as stated.
    pub(super) canopy: CanopyGrid,
    /// The same, and at either end of what is assumed about them, to be looked through.
    pub(super) crowns: Crowns,
    pub(super) shown: Shown,
}

/// Trees to be looked through.
pub(super) enum Crowns {
    /// Nothing is assumed about them that could be otherwise.
    Alike(CrownStack<1>),
    /// At best, as stated, at worst.
    Apart(CrownStack<3>),
}

/// Canopy heights and surface around a cell, for asking what they show at a station.
pub(super) struct Shown {
    canopy: Elevation,
    surface: Elevation,
    /// Bare earth under the surface, where elevation is that of tops in places; else elevation is it.
    ground: Option<Elevation>,
}

impl Around {
    /// Everything around a cell, for skies from a lowest elevation up.
    pub(super) fn read(
        run: &Run,
        rasters: &Rasters,
        index: &FeatureIndex,
        cell: &Cell,
        floor_deg: f64,
    ) -> Result<Self> {
        let terrain = Terrain::read(run, rasters, floor_deg, cell)?;
        let elevation = terrain.elevation();
        let shown = Shown {
            ground: terrain.surface.then(|| elevation.bare_earth()),
            canopy: rasters.canopy.window(&cell.plane, cell.half_size_m, HALO_M)?,
            surface: rasters.surface.window(&cell.plane, cell.half_size_m, HALO_M)?,
        };
        let window = Window::new(cell.plane, cell.half_size_m);
        let near = index.near(&window);
        let map = run.vicinity(&window, &near, Case::Likely);
        // The ground under trees and buildings is not known where elevation is that of their tops.
        let known = shown.ground.as_ref().unwrap_or(elevation);
        let known = (!known.grids.is_empty()).then_some(known);
        let above = shown.above(elevation, &cell.segments);
        let measured = above.as_ref().and_then(|above| Measured::of(&map, above));
        let solids = Solids::build(&map, known, measured.as_ref(), &run.beside.cases, floor_deg);
        let views = cell.tree_views(run.network, &run.extract.stops, trees_reach_m(floor_deg));
        let planted = |case: Case| {
            let from = Planting {
                around: run.vicinity(&window, &near, case),
                profile: &run.beside.cases.profile(case).canopy,
                above: above.as_ref(),
                measured: measured.as_ref(),
                stated_crown_m: run.profile.canopy.crown_diameter_m,
                views: Some(&views),
            };
            CanopyGrid::build(&from, PIXEL_M)
        };
        let canopy = planted(Case::Likely);
        let crowns = Crowns::of(&canopy, &planted);
        let measured = measured.as_ref().map(MeasuredTops::new);
        Ok(Self { window, near, shown, terrain, solids, measured, canopy, crowns })
    }
}

impl Crowns {
    fn of(likely: &CanopyGrid, planted: &dyn Fn(Case) -> CanopyGrid) -> Self {
        if likely.is_bare() {
            return Self::Alike(CrownStack::of([likely]));
        }
        // One grid more at a time: of the ends only what differs from pixel to pixel is kept.
        let end = |case: Case| {
            let grid = planted(case);
            (grid == *likely, CrownStack::of([&grid]))
        };
        let ((best_same, best), (worst_same, worst)) = (end(Case::Best), end(Case::Worst));
        let likely = CrownStack::of([likely]);
        if best_same && worst_same {
            Self::Alike(likely)
        } else {
            Self::Apart(CrownStack::joined([&best, &likely, &worst]))
        }
    }
}

impl Shown {
    /// As the scene asks it; `None` without rasters here.
    pub(super) fn above<'a>(&'a self, ground: &'a Elevation, segments: &'a [SegmentIndex]) -> Option<AboveGround<'a>> {
        let any = !self.canopy.grids.is_empty() || !self.surface.grids.is_empty();
        let ground = self.ground.as_ref().unwrap_or(ground);
        any.then_some(AboveGround { canopy: &self.canopy, surface: &self.surface, ground, segments })
    }
}
