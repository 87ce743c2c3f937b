//! Masks and shares of every lane, cell by cell; packed masks go to the spool in cell order.
use rayon::prelude::*;

use super::caster::{Cast, Caster, CellSky, LaneSky, StopFound};
use super::lanes::Lanes;
use super::overheads::Overheads;
use super::readers::Rasters;
use super::run::Run;
use super::stages::Stages;
use crate::base::defect::{Defect, Defects};
use crate::base::district::District;
use crate::base::error::{Error, Result};
use crate::base::geodesy::Point;
use crate::base::index::LaneIndex;
use crate::base::words::{Case, PerCase};
use crate::layer::model::StopRow;
use crate::physics::scene::trees::grid::Disagreement;
use crate::physics::sky::mask::Mask;
use crate::physics::sky::pack;
use crate::rating::drives::Skies;
use crate::rating::spool::Spool;

/// Cells computed between two writes to the spool, per worker.
const BATCH: usize = 8;

/// Sky of all lanes.
pub(crate) struct SkyOfAll {
    /// Per lane; `None` where it is not driven.
    pub lanes: Vec<Option<LaneSky>>,
    /// Packed masks.
    pub spool: Spool,
    /// Defects met.
    pub defects: Defects,
    /// Number of masks cast.
    pub masks: u64,
    /// Places to stop, in the order of the extract.
    pub stops: Vec<StopRow>,
    /// Places of the map that no vehicle gets to.
    pub stops_far: u64,
    /// Where map and rasters do not agree on trees; `None` without rasters of them.
    pub disagreement: Option<Disagreement>,
}

/// Casts all masks.
pub fn cast<'a>(
    run: &'a Run<'a>,
    lanes: &'a Lanes,
    overheads: &'a Overheads,
    skies: &'a Skies,
    rasters: &'a Rasters<'a>,
    stages: &mut Stages,
) -> Result<SkyOfAll> {
    let caster = Caster::new(run, lanes, overheads, skies, rasters);
    let mut all = SkyOfAll {
        lanes: vec![None; 2 * run.network.segments.len()],
        spool: Spool::new()?,
        defects: Defects::default(),
        masks: 0,
        stops: Vec::new(),
        stops_far: 0,
        disagreement: (!rasters.canopy.is_empty() || !rasters.surface.is_empty()).then(Disagreement::default),
    };
    let mut stops: Vec<StopFound> = Vec::new();
    stages.counted("sky", "cells", run.cells.len(), |progress| {
        for batch in run.cells.chunks(BATCH * rayon::current_num_threads()) {
            let casts: Vec<Result<CellSky>> = batch
                .par_iter()
                .map(|cell| {
                    let out = caster.cell(cell);
                    progress.advance(1);
                    out
                })
                .collect();
            for (cell, cast) in batch.iter().zip(casts) {
                let CellSky { casts, found, disagreement } = cast?;
                stops.extend(found);
                for cast in casts {
                    all.take(run, cast, !rasters.elevation.is_empty())?;
                }
                // Cells across the line are looked at from both sides, and counted where their middle is.
                if let Some(sum) = &mut all.disagreement
                    && District::of(cell.plane.to_position(Point::default())) == run.ids.district()
                {
                    sum.add(&disagreement);
                }
            }
        }
        Ok(())
    })?;
    all.take_stops(stops);
    stages.made(all.masks, "masks");
    Ok(all)
}

impl SkyOfAll {
    /// Masks of a lane in the order driven; none where it has no sky.
    pub fn masks(&self, lane: LaneIndex, case: Case) -> Result<Vec<Mask>> {
        match &self.lanes[lane.at()] {
            Some(sky) => {
                let unpacked = pack::unpack(&self.spool.get(sky.slots[case])?);
                let told = |fact| {
                    Error::failed("sky masks in a temporary file (TMPDIR)", fact, "check the disk, then run again")
                };
                Ok(unpacked.map_err(told)?.1)
            }
            None => Ok(Vec::new()),
        }
    }
    /// Places come cell by cell and are kept in the order of the extract.
    fn take_stops(&mut self, mut found: Vec<StopFound>) {
        found.sort_by_key(|(place, _)| *place);
        for (_, row) in found {
            match row {
                Some(row) => self.stops.push(StopRow { stop_id: self.stops.len() as i64 + 1, ..row }),
                None => self.stops_far += 1,
            }
        }
    }
    /// Stations without elevation are a defect of the rasters; where none were given, nothing is defective.
    fn take(&mut self, run: &Run, cast: Cast, has_rasters: bool) -> Result<()> {
        let likely = self.spool.push(&cast.packed)?;
        let slots = match &cast.packed_ends {
            Some([best, worst]) => PerCase { best: self.spool.push(best)?, likely, worst: self.spool.push(worst)? },
            None => PerCase::of(|_| likely),
        };
        let segment = &run.network.segments[cast.lane.segment().at()];
        let way = || format!("way {}", run.extract.roads[segment.road.at()].id);
        let own = run.ids.is_own(cast.lane.segment());
        if has_rasters && own {
            for _ in cast.sky.elevated..cast.sky.stations {
                self.defects.add(Defect::NoElevation, way);
            }
        }
        for building in cast.through_buildings.into_iter().filter(|_| own) {
            let id = run.extract.buildings[building as usize].id;
            self.defects.add(Defect::RoadThroughBuilding, || format!("{} in building {id}", way()));
        }
        self.masks += u64::from(cast.sky.stations);
        self.lanes[cast.lane.at()] = Some(LaneSky { slots, ..cast.sky });
        Ok(())
    }
}
