//! Looks from every station of a lane: what hides sky, as stated and at either end of what is assumed about the roadside.
use super::around::{Around, Crowns};
use super::caster::Caster;
use super::lane_masks::{CastScratch, LaneMasks};
use crate::base::index::SegmentIndex;
use crate::base::words::PerCase;
use crate::map::network::model::{Segment, Station};
use crate::physics::scene::trees::crown::HeightFrom;
use crate::physics::sky::canopy::weaker;
use crate::physics::sky::ground;
use crate::physics::sky::horizon::{Hint, HorizonEye};
use crate::physics::sky::mask::Mask;
use crate::physics::sky::pack::quantised;

impl Caster<'_> {
    /// Masks of stations in the order driven.
    pub(super) fn masks(
        &self,
        around: &Around,
        id: SegmentIndex,
        stations: &[Station],
        scratch: &mut CastScratch,
    ) -> LaneMasks {
        let segment = &self.run.network.segments[id.at()];
        let mut hint = Hint::default();
        let mut lane = LaneMasks::default();
        for station in stations {
            let mask = self.terrain(around, station, &mut hint, &mut lane);
            let eye = self.eye(around, segment, station);
            let mut solid_deg = PerCase::of(|_| mask.solid_deg);
            let painted = self.solid.paint_cases(&around.solids, &eye, Some(id), &mut solid_deg);
            lane.solids_assumed |= painted.assumed;
            lane.solids_may_hide += painted.may_hide;
            if let (Some(tops), Some(road_z_m)) = (&around.measured, station.road_z_m) {
                let z_m = f64::from(road_z_m) + self.run.profile.vehicle.antenna_height_m;
                let eye = HorizonEye { at: station.at, z_m };
                for horizon_deg in solid_deg.each_mut() {
                    lane.solids_measured |= tops.paint(&eye, self.grid.floor_deg, horizon_deg);
                }
            }
            for building in painted.inside {
                if !lane.through_buildings.contains(&building) {
                    lane.through_buildings.push(building);
                }
            }
            let mut masks = solid_deg.map(|solid_deg| Mask { solid_deg, ..mask.clone() });
            let (from, may_from) = self.trees(&around.crowns, &eye, scratch, &mut masks);
            lane.canopy_from = weaker(lane.canopy_from, from);
            lane.canopy_may_from = weaker(lane.canopy_may_from, may_from);
            for (lane, mask) in lane.masks.each_mut().into_iter().zip(masks.each_ref()) {
                lane.push(quantised(mask, self.grid));
            }
        }
        // A passage is meant to run through a building.
        if segment.tunnel.is_some() {
            lane.through_buildings.clear();
        }
        lane
    }

    /// Fills in what trees hide; returns the weakest source of a height that does, as stated and at worst.
    fn trees(
        &self,
        crowns: &Crowns,
        eye: &ground::Eye,
        scratch: &mut CastScratch,
        masks: &mut PerCase<Mask>,
    ) -> (Option<HeightFrom>, Option<HeightFrom>) {
        let PerCase { best, likely, worst } = masks;
        match crowns {
            Crowns::Alike(stack) => {
                let [from] = self.canopy.cast(stack, eye, &mut scratch.one, [&mut likely.canopy]);
                best.canopy.copy_from_slice(&likely.canopy);
                worst.canopy.copy_from_slice(&likely.canopy);
                (from, from)
            }
            Crowns::Apart(stack) => {
                let cells: [&mut [u8]; 3] = [&mut best.canopy, &mut likely.canopy, &mut worst.canopy];
                let [_, from, may_from] = self.canopy.cast(stack, eye, &mut scratch.three, cells);
                (from, may_from)
            }
        }
    }

    /// Horizons of the terrain, and what is not known about it.
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

    /// The panel over a station, and the ground around it.
    pub(super) fn eye<'s>(&self, around: &'s Around, segment: &Segment, station: &Station) -> ground::Eye<'s> {
        let level = ground::Eye::level(station.at, self.run.profile.vehicle.antenna_height_m);
        let Some(road_z_m) = station.road_z_m else { return level };
        let edge_m = f64::from(segment.section.width_m.value / 2.0 + segment.section.free.likely.clear_m);
        let eye = around.terrain.eye_over(level, f64::from(road_z_m), edge_m);
        let ground = eye.ground.map(|g| if segment.bridge { g.under_deck(station.at) } else { g });
        ground::Eye { ground, ..eye }
    }
}
