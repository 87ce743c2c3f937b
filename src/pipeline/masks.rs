//! Masks and shares of every lane, cell by cell; packed masks go to the spool in cell order.
use rayon::prelude::*;

use super::Run;
use super::cells::Cell;
use super::drives::Skies;
use super::lanes::{Lanes, directions, lane};
use super::overheads::{Overheads, shadowing};
use super::readers::Readers;
use super::spool::{Slot, Spool};
use super::stages::Stages;
use crate::defect::{Defect, Defects};
use crate::error::Result;
use crate::network::model::{Direction, Segment, Station};
use crate::network::station::stations;
use crate::scene::canopy::CanopyGrid;
use crate::scene::index::{FeatureIndex, Nearby, Window};
use crate::scene::solids::Solids;
use crate::sky::canopy::{CanopyCaster, CanopyScratch};
use crate::sky::horizon::{self, Hint, HorizonQuery, TerrainPyramid};
use crate::sky::mask::{Mask, SkyGrid};
use crate::sky::pack;
use crate::sky::shares::{Shares, shares};
use crate::sky::solid::SolidPainter;
use crate::sky::{ground, pack::quantised};
use crate::terrain::halo_m;

/// Pixel of the canopy grid, metres.
const CANOPY_PIXEL_M: f64 = 1.0;
/// Relief is looked for this far around a cell, metres (the farthest a horizon is ever searched).
const RELIEF_WITHIN_M: f64 = 11_000.0;
/// Cells computed between two writes to the spool, per worker.
const BATCH: usize = 8;

/// Sky of one lane.
#[derive(Debug, Clone, Copy)]
pub struct LaneSky {
    /// Its packed masks.
    pub slot: Slot,
    /// Number of masks.
    pub stations: u32,
    /// Stations with elevation.
    pub elevated: u32,
    /// What it sees and what blocks the rest.
    pub shares: Shares,
    /// Whether trees near its cell rest on default heights.
    pub canopy_assumed: bool,
    /// Whether a building or wall of default height hides sky from any of its stations.
    pub solids_assumed: bool,
}

/// Sky of all lanes.
pub struct SkyOfAll {
    /// Grid of all masks.
    pub grid: SkyGrid,
    /// Per lane; `None` where it is not driven.
    pub lanes: Vec<Option<LaneSky>>,
    /// Packed masks.
    pub spool: Spool,
    /// Defects met.
    pub defects: Defects,
    /// Number of masks cast.
    pub masks: u64,
}

/// One lane before its masks are on disk.
struct Cast {
    lane: usize,
    packed: Vec<u8>,
    sky: LaneSky,
    through_buildings: Vec<u32>,
}

/// Tools for one build.
struct Caster<'a> {
    run: &'a Run<'a>,
    lanes: &'a Lanes,
    overheads: &'a Overheads,
    skies: &'a Skies,
    readers: &'a Readers<'a>,
    index: FeatureIndex,
    grid: SkyGrid,
    canopy: CanopyCaster,
    solid: SolidPainter,
}

/// What is near one cell.
struct Around {
    terrain: TerrainPyramid,
    solids: Solids,
    canopy: Option<CanopyGrid>,
    halo_m: f64,
    canopy_assumed: bool,
}

/// Masks of the stations of one lane, in the order driven.
#[derive(Default)]
struct LaneMasks {
    masks: Vec<Mask>,
    /// Buildings the lane runs through.
    through_buildings: Vec<u32>,
    /// A default height of a building or wall hides sky from one of them.
    solids_assumed: bool,
}

/// Casts all masks.
pub fn cast<'a>(
    run: &'a Run<'a>,
    lanes: &'a Lanes,
    overheads: &'a Overheads,
    skies: &'a Skies,
    readers: &'a Readers<'a>,
    stages: &mut Stages,
) -> Result<SkyOfAll> {
    let grid = skies.grid;
    let caster = Caster {
        run,
        lanes,
        overheads,
        skies,
        readers,
        index: FeatureIndex::new(run.extract, run.network),
        grid,
        canopy: CanopyCaster::new(grid, run.profile),
        solid: SolidPainter::new(grid),
    };
    let mut all = SkyOfAll {
        grid,
        lanes: vec![None; 2 * run.network.segments.len()],
        spool: Spool::new()?,
        defects: Defects::default(),
        masks: 0,
    };
    stages.counted("sky", "cells", run.cells.len(), |progress| {
        for batch in run.cells.chunks(BATCH * rayon::current_num_threads()) {
            let casts: Vec<Result<Vec<Cast>>> = batch
                .par_iter()
                .map(|cell| {
                    let out = caster.cell(cell);
                    progress.advance(1);
                    out
                })
                .collect();
            for cast in casts {
                for cast in cast? {
                    all.take(run, cast, !readers.is_empty())?;
                }
            }
        }
        Ok(())
    })?;
    stages.made(all.masks, "masks");
    Ok(all)
}

impl SkyOfAll {
    /// Stations without elevation are a defect of the rasters; where none were given, nothing is defective.
    fn take(&mut self, run: &Run, cast: Cast, has_rasters: bool) -> Result<()> {
        let slot = self.spool.push(&cast.packed)?;
        let segment = &run.network.segments[cast.lane / 2];
        let way = || format!("way {}", run.extract.roads[segment.road as usize].id);
        if has_rasters {
            for _ in cast.sky.elevated..cast.sky.stations {
                self.defects.add(Defect::NoElevation, way);
            }
        }
        for building in cast.through_buildings {
            let id = run.extract.buildings[building as usize].id;
            self.defects.add(Defect::RoadThroughBuilding, || format!("{} in building {id}", way()));
        }
        self.masks += u64::from(cast.sky.stations);
        self.lanes[cast.lane] = Some(LaneSky { slot, ..cast.sky });
        Ok(())
    }
}

impl Caster<'_> {
    fn cell(&self, cell: &Cell) -> Result<Vec<Cast>> {
        let around = self.around(cell)?;
        let mut out = Vec::new();
        let mut scratch = CanopyScratch::default();
        for id in &cell.segments {
            let segment = &self.run.network.segments[*id as usize];
            if self.run.is_boarded(segment) {
                continue;
            }
            // Where both directions drive in the middle the second is the first turned round.
            let shared = segment.section.lane_forward_m == segment.section.lane_backward_m;
            let mut first: Option<LaneMasks> = None;
            for direction in directions(segment) {
                let stations = stations(segment, direction, &cell.plane, &self.run.heights[*id as usize]);
                let mut lane = match first.take() {
                    Some(first) if shared => LaneMasks { masks: first.masks.into_iter().rev().collect(), ..first },
                    _ => self.masks(&around, *id, &stations, &mut scratch),
                };
                out.push(self.finish(*id, direction, &around, &stations, &mut lane)?);
                first = Some(lane);
            }
        }
        Ok(out)
    }

    fn around(&self, cell: &Cell) -> Result<Around> {
        let (run, floor_deg) = (self.run, self.grid.floor_deg);
        let halo_m = match self.relief_m(cell)? {
            Some(relief_m) => halo_m(relief_m, floor_deg),
            None => 0.0,
        };
        let elevation = self.readers.window(&cell.plane, cell.half_size_m, halo_m)?;
        let window = Window::new(cell.plane, cell.half_size_m);
        let near = self.index.within(&window);
        let known = (!elevation.grids.is_empty()).then_some(&elevation);
        let solids = Solids::build(&window, run.extract, run.network, &near, known, &run.profile.roadside, floor_deg);
        let canopy = CanopyGrid::build(&window, run.extract, run.network, &near, &run.profile.canopy, CANOPY_PIXEL_M);
        Ok(Around {
            canopy_assumed: canopy_assumed(run, &near),
            terrain: TerrainPyramid::new(elevation),
            solids,
            canopy,
            halo_m,
        })
    }

    /// Height of the highest ground around above the lowest road of the cell, metres.
    fn relief_m(&self, cell: &Cell) -> Result<Option<f64>> {
        let roads = cell.segments.iter().flat_map(|id| &self.run.heights[*id as usize]);
        let lowest_m = roads.copied().filter(|z| !z.is_nan()).fold(f32::INFINITY, f32::min);
        if self.readers.is_empty() || !lowest_m.is_finite() {
            return Ok(None);
        }
        let range = self.readers.mine()?.elevation_range_m(&cell.plane, cell.half_size_m + RELIEF_WITHIN_M)?;
        Ok(range.map(|(_, highest_m)| (highest_m - f64::from(lowest_m)).max(0.0)))
    }

    /// Masks of stations in the order driven.
    fn masks(&self, around: &Around, id: u32, stations: &[Station], scratch: &mut CanopyScratch) -> LaneMasks {
        let segment = &self.run.network.segments[id as usize];
        let mut hint = Hint::default();
        let mut lane = LaneMasks::default();
        for station in stations {
            let mut mask = Mask::open(self.grid);
            self.terrain(around, station, &mut hint, &mut mask);
            let eye = self.eye(around, segment, station);
            let painted = self.solid.paint(&around.solids, &eye, Some(id), &mut mask.solid_deg);
            lane.solids_assumed |= painted.assumed;
            for building in painted.inside {
                if !lane.through_buildings.contains(&building) {
                    lane.through_buildings.push(building);
                }
            }
            if let Some(canopy) = &around.canopy {
                self.canopy.cast(canopy, &eye, scratch, &mut mask.canopy);
            }
            lane.masks.push(quantised(&mask, self.grid));
        }
        // A passage is meant to run through a building.
        if segment.tunnel.is_some() {
            lane.through_buildings.clear();
        }
        lane
    }

    fn terrain(&self, around: &Around, station: &Station, hint: &mut Hint, mask: &mut Mask) {
        let (Some(road_z_m), Some(pixel_m)) = (station.road_z_m, around.terrain.pixel_m(station.at)) else { return };
        let eye = horizon::Eye { at: station.at, z_m: f64::from(road_z_m) + self.run.profile.vehicle.antenna_height_m };
        let query = HorizonQuery {
            // The road's own pixel says nothing about what stands beside it.
            start_m: pixel_m,
            max_m: around.halo_m.max(pixel_m),
            floor_deg: self.grid.floor_deg,
            refraction_k: self.run.profile.sampling.refraction,
        };
        mask.terrain_deg = around.terrain.horizons_deg(&eye, &query, hint);
    }

    fn eye<'s>(&self, around: &'s Around, segment: &Segment, station: &Station) -> ground::Eye<'s> {
        let edge_m = f64::from(segment.section.width_m.value / 2.0 + segment.section.clear_m);
        let ground = station
            .road_z_m
            .and_then(|z| ground::Ground::around(around.terrain.elevation(), station.at, f64::from(z), edge_m));
        ground::Eye { at: station.at, antenna_height_m: self.run.profile.vehicle.antenna_height_m, ground }
    }

    fn finish(
        &self,
        id: u32,
        direction: Direction,
        around: &Around,
        stations: &[Station],
        cast: &mut LaneMasks,
    ) -> Result<Cast> {
        let (run, lane) = (self.run, lane(id, direction));
        let masks = &cast.masks;
        let segment = &run.network.segments[id as usize];
        let overheads = shadowing(run, self.lanes, self.overheads, lane);
        let heading_deg = stations[stations.len() / 2].heading_deg;
        let weights = self.skies.weights(run, segment, heading_deg);
        let sky = LaneSky {
            slot: Slot::default(),
            stations: masks.len() as u32,
            elevated: stations.iter().filter(|s| s.road_z_m.is_some()).count() as u32,
            shares: shares(self.grid, masks, &weights, segment.length_m, &overheads).unwrap_or_default(),
            canopy_assumed: around.canopy_assumed,
            solids_assumed: cast.solids_assumed,
        };
        let packed = pack::pack(masks, self.grid)?;
        // Told once, not for the other direction as well.
        Ok(Cast { lane, packed, sky, through_buildings: std::mem::take(&mut cast.through_buildings) })
    }
}

/// Whether any tree near a cell has no height of its own.
fn canopy_assumed(run: &Run, near: &Nearby) -> bool {
    near.canopy.iter().any(|i| run.extract.canopy[*i as usize].height_m.is_none())
}
