//! Masks and shares of the lanes of one cell, from the scene around it.
use super::cells::Cell;
use super::lanes::Lanes;
use super::overheads::Overheads;
use super::readers::Rasters;
use super::run::Run;
use super::terrain::Terrain;
use crate::base::error::Result;
use crate::base::index::{LaneIndex, SegmentIndex};
use crate::base::window::Elevation;
use crate::base::words::{Case, Direction};
use crate::layer::model::StopRow;
use crate::map::network::model::{Segment, Station};
use crate::map::network::station::stations;
use crate::physics::scene::above::AboveGround;
use crate::physics::scene::index::{FeatureIndex, HALO_M, Nearby, Window};
use crate::physics::scene::overheads::overhead::Overhead;
use crate::physics::scene::solids::index::Solids;
use crate::physics::scene::solids::measured::Measured;
use crate::physics::scene::trees::canopy::Planting;
use crate::physics::scene::trees::crown::HeightFrom;
use crate::physics::scene::trees::grid::{CanopyGrid, Disagreement};
use crate::physics::scene::trees::overhang::Across;
use crate::physics::sky::canopy::{CanopyCaster, CanopyScratch, trees_reach_m, weaker};
use crate::physics::sky::horizon::{Hint, HorizonEye};
use crate::physics::sky::mask::{AZIMUTH_BINS, Mask, SkyGrid};
use crate::physics::sky::measured::MeasuredTops;
use crate::physics::sky::pack;
use crate::physics::sky::shares::{Shares, raised_share, shares};
use crate::physics::sky::solid::SolidPainter;
use crate::physics::sky::{ground, pack::quantised};
use crate::rating::drives::Skies;
use crate::rating::lanes::directions;
use crate::rating::overheads::shadowing;
use crate::rating::spool::Slot;

/// Pixel of the canopy grid, metres.
const CANOPY_PIXEL_M: f64 = 1.0;

/// Sky of one lane.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LaneSky {
    /// Its packed masks.
    pub slot: Slot,
    /// Number of masks.
    pub stations: u32,
    /// Stations with elevation.
    pub elevated: u32,
    /// What it sees and what blocks the rest.
    pub shares: Shares,
    /// Weakest source of a tree's height that blocks anything; `None` where no tree does.
    pub canopy_from: Option<HeightFrom>,
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

/// One lane before its masks are on disk.
pub(super) struct Cast {
    pub lane: LaneIndex,
    pub packed: Vec<u8>,
    pub sky: LaneSky,
    pub through_buildings: Vec<u32>,
}

/// Masks of the stations of one lane, in the order driven.
#[derive(Default)]
struct LaneMasks {
    masks: Vec<Mask>,
    /// Weakest source of a tree's height that blocks anything.
    canopy_from: Option<HeightFrom>,
    /// Buildings the lane runs through.
    through_buildings: Vec<u32>,
    /// A default height of a building or wall hides sky from one of them.
    solids_assumed: bool,
    /// Sum over the stations.
    solids_may_hide: f64,
    /// Stations beside which pixels may hide a rock face.
    coarse: u32,
    /// Horizons if ground rose in voids, where they would be higher.
    raised_deg: Vec<Option<Box<[f32; AZIMUTH_BINS]>>>,
    /// A measured building does.
    solids_measured: bool,
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
    pub(super) rasters: &'a Rasters<'a>,
    index: FeatureIndex,
    pub(super) grid: SkyGrid,
    pub(super) canopy: CanopyCaster,
    pub(super) solid: SolidPainter,
}

/// What is near one cell.
pub(super) struct Around {
    pub(super) window: Window,
    pub(super) near: Nearby,
    pub(super) terrain: Terrain,
    pub(super) solids: Solids,
    /// Tops of buildings that a surface shows.
    pub(super) measured: Option<MeasuredTops>,
    pub(super) canopy: CanopyGrid,
    shown: Shown,
}

/// Canopy heights and surface around a cell, for asking what they show at a station.
struct Shown {
    canopy: Elevation,
    surface: Elevation,
    /// Bare earth under the surface, where elevation is that of tops in places; else elevation is it.
    ground: Option<Elevation>,
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
        let mut around = self.around(cell)?;
        let mut out = Vec::new();
        let mut scratch = CanopyScratch::default();
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
                    Some(first) if shared => LaneMasks {
                        masks: first.masks.into_iter().rev().collect(),
                        raised_deg: first.raised_deg.into_iter().rev().collect(),
                        ..first
                    },
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
            let from = Planting { around: map, profile, above: above.as_ref(), measured: None, views: None };
            around.canopy.clear_places(&from);
        }
        let found = self.stops(&cell.stops, &around, &mut scratch);
        Ok(CellSky { casts: out, found, disagreement: around.canopy.disagreement() })
    }

    /// Whether any road is near a cell that has none of its own.
    fn near_roads(&self, cell: &Cell) -> bool {
        !self.index.near(&Window::new(cell.plane, cell.half_size_m)).segments.is_empty()
    }

    fn around(&self, cell: &Cell) -> Result<Around> {
        let (run, floor_deg) = (self.run, self.grid.floor_deg);
        let rasters = self.rasters;
        let terrain = Terrain::read(run, rasters, floor_deg, cell)?;
        let elevation = terrain.elevation();
        let shown = Shown {
            ground: terrain.surface.then(|| elevation.bare_earth()),
            canopy: rasters.canopy.window(&cell.plane, cell.half_size_m, HALO_M)?,
            surface: rasters.surface.window(&cell.plane, cell.half_size_m, HALO_M)?,
        };
        let window = Window::new(cell.plane, cell.half_size_m);
        let near = self.index.near(&window);
        let map = run.vicinity(&window, &near, Case::Likely);
        // The ground under trees and buildings is not known where elevation is that of their tops.
        let known = shown.ground.as_ref().unwrap_or(elevation);
        let known = (!known.grids.is_empty()).then_some(known);
        let above = shown.above(elevation, &cell.segments);
        let measured = above.as_ref().and_then(|above| Measured::of(&map, above));
        let solids = Solids::build(&map, known, measured.as_ref(), &run.beside.cases, floor_deg);
        let views = cell.tree_views(run.network, &run.extract.stops, trees_reach_m(floor_deg));
        let from = Planting {
            around: map,
            profile: &run.profile.canopy,
            above: above.as_ref(),
            measured: measured.as_ref(),
            views: Some(&views),
        };
        let canopy = CanopyGrid::build(&from, CANOPY_PIXEL_M);
        let measured = measured.as_ref().map(MeasuredTops::new);
        Ok(Around { window, near, shown, terrain, solids, measured, canopy })
    }

    /// Masks of stations in the order driven.
    fn masks(&self, around: &Around, id: SegmentIndex, stations: &[Station], scratch: &mut CanopyScratch) -> LaneMasks {
        let segment = &self.run.network.segments[id.at()];
        let mut hint = Hint::default();
        let mut lane = LaneMasks::default();
        for station in stations {
            let mut mask = self.terrain(around, station, &mut hint, &mut lane);
            let eye = self.eye(around, segment, station);
            let painted = self.solid.paint(&around.solids, &eye, Some(id), &mut mask.solid_deg);
            lane.solids_assumed |= painted.assumed;
            lane.solids_may_hide += painted.may_hide;
            if let (Some(tops), Some(road_z_m)) = (&around.measured, station.road_z_m) {
                let z_m = f64::from(road_z_m) + self.run.profile.vehicle.antenna_height_m;
                let eye = HorizonEye { at: station.at, z_m };
                lane.solids_measured |= tops.paint(&eye, self.grid.floor_deg, &mut mask.solid_deg);
            }
            for building in painted.inside {
                if !lane.through_buildings.contains(&building) {
                    lane.through_buildings.push(building);
                }
            }
            let from = self.canopy.cast(&around.canopy, &eye, scratch, &mut mask.canopy);
            lane.canopy_from = weaker(lane.canopy_from, from);
            lane.masks.push(quantised(&mask, self.grid));
        }
        // A passage is meant to run through a building.
        if segment.tunnel.is_some() {
            lane.through_buildings.clear();
        }
        lane
    }

    /// Horizons of the terrain, and what nobody knows about it.
    fn terrain(&self, around: &Around, station: &Station, hint: &mut Hint, lane: &mut LaneMasks) -> Mask {
        let mut mask = Mask::open(self.grid);
        let mut raised = None;
        if let Some(road_z_m) = station.road_z_m {
            let z_m = f64::from(road_z_m) + self.run.profile.vehicle.antenna_height_m;
            let eye = HorizonEye { at: station.at, z_m };
            if let Some(horizons_deg) = around.terrain.horizons(&eye, hint) {
                mask.terrain_deg = horizons_deg;
                raised = around.terrain.raised(&eye, &horizons_deg);
            }
            lane.coarse += u32::from(around.terrain.is_coarse(station.at));
        }
        lane.raised_deg.push(raised);
        mask
    }

    fn eye<'s>(&self, around: &'s Around, segment: &Segment, station: &Station) -> ground::Eye<'s> {
        let level = ground::Eye::level(station.at, self.run.profile.vehicle.antenna_height_m);
        let Some(road_z_m) = station.road_z_m else { return level };
        let edge_m = f64::from(segment.section.width_m.value / 2.0 + segment.section.clear_m);
        let eye = around.terrain.eye_over(level, f64::from(road_z_m), edge_m);
        let ground = eye.ground.map(|g| if segment.bridge { g.under_deck(station.at) } else { g });
        ground::Eye { ground, ..eye }
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
        let masks = &cast.masks;
        let segment = &run.network.segments[id.at()];
        let piece = &run.pieces[id.at()];
        let overheads = shadowing(&self.lanes.links, &self.overheads.own, lane);
        let weights = self.skies.weights(piece, piece.middle_heading_deg(direction));
        let above = around.shown.above(around.terrain.elevation(), &[]);
        let surface = |s: &&Station| above.as_ref().is_some_and(|a| a.surface_at(s.at).is_some());
        let shown = |s: &&Station| above.as_ref().is_some_and(|a| a.at(s.at).is_some());
        let sky = LaneSky {
            slot: Slot::default(),
            stations: masks.len() as u32,
            elevated: stations.iter().filter(|s| s.road_z_m.is_some()).count() as u32,
            shares: shares(self.grid, masks, &weights, segment.length_m, &overheads).unwrap_or_default(),
            canopy_from: cast.canopy_from,
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
        // Told once, not for the other direction as well.
        Ok(Cast { lane, packed, sky, through_buildings: std::mem::take(&mut cast.through_buildings) })
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

impl Shown {
    /// As the scene asks it; `None` without rasters here.
    fn above<'a>(&'a self, ground: &'a Elevation, segments: &'a [SegmentIndex]) -> Option<AboveGround<'a>> {
        let any = !self.canopy.grids.is_empty() || !self.surface.grids.is_empty();
        let ground = self.ground.as_ref().unwrap_or(ground);
        any.then_some(AboveGround { canopy: &self.canopy, surface: &self.surface, ground, segments })
    }
}
