//! Masks and shares of the lanes of one cell, from the scene around it.
use super::around::Around;
use super::cells::Cell;
use super::lane_masks::{CastScratch, LaneMasks};
use super::lanes::Lanes;
use super::overheads::Overheads;
use super::readers::Rasters;
use super::run::Run;
use crate::base::error::Result;
use crate::base::index::{LaneIndex, SegmentIndex};
use crate::base::words::{Case, Direction, PerCase};
use crate::layer::model::StopRow;
use crate::map::network::model::{Segment, Station};
use crate::map::network::station::stations;
use crate::physics::scene::index::{FeatureIndex, Window};
use crate::physics::scene::overheads::overhead::Overhead;
use crate::physics::scene::trees::canopy::Planting;
use crate::physics::scene::trees::crown::HeightFrom;
use crate::physics::scene::trees::grid::Disagreement;
use crate::physics::scene::trees::overhang::Across;
use crate::physics::sky::canopy::CanopyCaster;
use crate::physics::sky::mask::SkyGrid;
use crate::physics::sky::pack;
use crate::physics::sky::shares::{Shares, raised_share, shares};
use crate::physics::sky::solid::SolidPainter;
use crate::rating::drives::Skies;
use crate::rating::lanes::directions;
use crate::rating::overheads::shadowing;
use crate::rating::spool::Slot;

/// Sky of one lane.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LaneSky {
    /// Its packed masks; the same three times where nothing that is assumed about the roadside moves them.
    pub slots: PerCase<Slot>,
    /// Number of masks.
    pub stations: u32,
    /// Stations with elevation.
    pub elevated: u32,
    /// What it sees and what blocks the rest.
    pub shares: Shares,
    /// Weakest source of a tree's height that blocks anything; `None` where no tree does.
    pub canopy_from: Option<HeightFrom>,
    /// The same at worst.
    pub canopy_may_from: Option<HeightFrom>,
    /// Stations at which a raster shows the trees.
    pub canopy_shown: u32,
    /// Stations with crowns over the lane, or over the road from both sides.
    pub crowns_over: u32,
    /// Stations in a surface model that shows the buildings.
    pub solids_shown: u32,
    /// Whether a building or wall of default height hides sky from any of its stations.
    pub solids_assumed: bool,
    /// Share of the sky that assumed heights of buildings and walls hide as well where they are as high as they may be, mean
    /// over the stations.
    pub solids_may_hide: f64,
    /// Stations whose height is that of a surface, which shows trees and buildings.
    pub on_surface: u32,
    /// Stations beside which pixels may hide a rock face.
    pub coarse: u32,
    /// Share of the usable sky that ground in voids could hide.
    pub void_share: f64,
    /// Whether a measured building does.
    pub solids_measured: bool,
}

impl LaneSky {
    /// Whether its masks at either end of what is assumed are others than those as stated.
    pub fn apart(&self) -> bool {
        self.slots.best != self.slots.likely
    }
}

/// One lane before its masks are on disk.
pub(super) struct Cast {
    pub lane: LaneIndex,
    pub packed: Vec<u8>,
    /// At best and at worst, where these are others.
    pub packed_ends: Option<[Vec<u8>; 2]>,
    pub sky: LaneSky,
    pub through_buildings: Vec<u32>,
}

/// Sky of one cell before it is on disk.
pub(super) struct CellSky {
    pub casts: Vec<Cast>,
    pub found: Vec<StopFound>,
    pub disagreement: Disagreement,
}

/// A place of the extract by its index, with its row where a vehicle gets there.
pub(crate) type StopFound = (u32, Option<StopRow>);

/// Tools for one build.
pub(super) struct Caster<'a> {
    pub(super) run: &'a Run<'a>,
    lanes: &'a Lanes,
    overheads: &'a Overheads,
    pub(super) skies: &'a Skies,
    rasters: &'a Rasters<'a>,
    index: FeatureIndex,
    pub(super) grid: SkyGrid,
    pub(super) canopy: CanopyCaster,
    pub(super) solid: SolidPainter,
}

impl<'a> Caster<'a> {
    /// The tools, ready.
    pub(super) fn new(
        run: &'a Run<'a>,
        lanes: &'a Lanes,
        overheads: &'a Overheads,
        skies: &'a Skies,
        rasters: &'a Rasters<'a>,
    ) -> Self {
        let grid = skies.grid;
        Self {
            run,
            lanes,
            overheads,
            skies,
            rasters,
            index: FeatureIndex::new(run.extract, run.network, &run.beside.heights),
            grid,
            canopy: CanopyCaster::new(grid, run.profile),
            solid: SolidPainter::new(grid),
        }
    }
}

impl Caster<'_> {
    /// Everything asked of one cell.
    pub(super) fn cell(&self, cell: &Cell) -> Result<CellSky> {
        if cell.segments.is_empty() && !self.near_roads(cell) {
            let found = cell.stops.iter().map(|id| (*id, None)).collect();
            return Ok(CellSky { casts: Vec::new(), found, disagreement: Disagreement::default() });
        }
        let mut around = Around::read(self.run, self.rasters, &self.index, cell, self.grid.floor_deg)?;
        let mut out = Vec::new();
        let mut scratch = CastScratch::default();
        for id in &cell.segments {
            let segment = &self.run.network.segments[id.at()];
            if self.run.is_boarded(segment) {
                continue;
            }
            // Where both directions drive in the middle the second is the first turned round.
            let shared = segment.section.lane_forward_m == segment.section.lane_backward_m;
            let mut first: Option<LaneMasks> = None;
            for direction in directions(segment) {
                let stations = stations(segment, direction, &cell.plane, &self.run.heights[id.at()]);
                let mut lane = match first.take() {
                    Some(first) if shared => first.turned_round(),
                    _ => self.masks(&around, *id, &stations, &mut scratch),
                };
                out.push(self.finish(*id, direction, &around, &stations, &mut lane)?);
                first = Some(lane);
            }
        }
        if !cell.stops.is_empty() {
            let above = around.shown.above(around.terrain.elevation(), &[]);
            let map = self.run.vicinity(&around.window, &around.near, Case::Likely);
            let profile = &self.run.profile.canopy;
            let from = Planting {
                around: map,
                profile,
                above: above.as_ref(),
                measured: None,
                stated_crown_m: profile.crown_diameter_m,
                views: None,
            };
            around.canopy.clear_places(&from);
        }
        let found = self.stops(&cell.stops, &around, &mut scratch.one)?;
        Ok(CellSky { casts: out, found, disagreement: around.canopy.disagreement() })
    }

    /// Whether any road is near a cell that has none of its own.
    fn near_roads(&self, cell: &Cell) -> bool {
        !self.index.near(&Window::new(cell.plane, cell.half_size_m)).segments.is_empty()
    }

    fn finish(
        &self,
        id: SegmentIndex,
        direction: Direction,
        around: &Around,
        stations: &[Station],
        cast: &mut LaneMasks,
    ) -> Result<Cast> {
        let (run, lane) = (self.run, id.lane(direction));
        let masks = &cast.masks.likely;
        let segment = &run.network.segments[id.at()];
        let piece = &run.pieces[id.at()];
        let overheads = shadowing(&self.lanes.links, &self.overheads.own, lane);
        let weights = self.skies.weights(piece, piece.middle_heading_deg(direction));
        let above = around.shown.above(around.terrain.elevation(), &[]);
        let surface = |s: &&Station| above.as_ref().is_some_and(|a| a.surface_at(s.at).is_some());
        let shown = |s: &&Station| above.as_ref().is_some_and(|a| a.at(s.at).is_some());
        let sky = LaneSky {
            slots: PerCase::default(),
            stations: masks.len() as u32,
            elevated: stations.iter().filter(|s| s.road_z_m.is_some()).count() as u32,
            shares: shares(&self.skies.seen_through(&weights), masks, segment.length_m, &overheads).unwrap_or_default(),
            canopy_from: cast.canopy_from,
            canopy_may_from: cast.canopy_may_from,
            canopy_shown: stations.iter().filter(shown).count() as u32,
            crowns_over: self.crowns_over(around, (segment, direction), stations, &overheads),
            solids_shown: around.measured.as_ref().map_or(0, |_| stations.iter().filter(surface).count() as u32),
            solids_assumed: cast.solids_assumed,
            solids_may_hide: cast.solids_may_hide / masks.len().max(1) as f64,
            on_surface: match around.terrain.shown() {
                Some(elevation) => stations.iter().filter(|s| elevation.is_surface(s.at)).count() as u32,
                None => 0,
            },
            coarse: cast.coarse,
            void_share: raised_share(self.grid, masks, &cast.raised_deg, &weights),
            solids_measured: cast.solids_measured,
        };
        let packed = pack::pack(masks, self.grid)?;
        let packed_ends = if cast.alike() {
            None
        } else {
            let [best, worst] = [&cast.masks.best, &cast.masks.worst].map(|masks| pack::pack(masks, self.grid));
            Some([best?, worst?])
        };
        // Told once, not for the other direction as well.
        Ok(Cast { lane, packed, packed_ends, sky, through_buildings: std::mem::take(&mut cast.through_buildings) })
    }
}

impl Caster<'_> {
    /// Stations that crowns hang over: none in a tunnel or under a roof, whatever grows on top of it.
    fn crowns_over(
        &self,
        around: &Around,
        (segment, direction): (&Segment, Direction),
        stations: &[Station],
        overheads: &[Overhead],
    ) -> u32 {
        if segment.tunnel.is_some() {
            return 0;
        }
        let covered =
            |s: &Station| overheads.iter().any(|o| o.kind.is_cover() && (o.start_m..=o.end_m).contains(&s.along_m));
        let section = &segment.section;
        let lane_m = f64::from(match direction {
            Direction::Forward => section.lane_forward_m,
            Direction::Backward => -section.lane_backward_m,
        });
        let hung_over = |s: &&Station| {
            let across = Across {
                middle: s.at.moved(s.heading_deg + 90.0, -lane_m),
                heading_deg: s.heading_deg,
                half_width_m: f64::from(section.width_m.value) / 2.0,
                lane_m,
                below_m: self.eye(around, segment, s).ground.map_or(0.0, |g| g.below_m()),
            };
            across.is_hung_over(&around.canopy) && !covered(s)
        };
        stations.iter().filter(hung_over).count() as u32
    }
}
