//! Places to stop: what a panel on the vehicle sees there, and where beside it one sees more.
//!
//! Part of the work on one cell: the scene made for its roads is asked at free places too. Candidates stand on rings around the
//! vehicle; those nothing can be set down on, or no cable can be laid to straight, are left out before any ray is cast.
use std::f64::consts::TAU;

use super::around::Around;
use super::caster::{Caster, StopFound};
use crate::base::error::Result;
use crate::base::geodesy::Point;
use crate::base::index::SegmentIndex;
use crate::base::words::{Case, RoadClass, Roofed, RoofedBy, StandsOn};
use crate::layer::model::{PanelPlace, StopRow};
use crate::map::extract::model::{Shelter, StopPlace};
use crate::physics::scene::index::HALO_M;
use crate::physics::scene::rings::{contains, line_on_plane, rings_on_plane};
use crate::physics::scene::solids::slabs::Slab;
use crate::physics::scene::stops::footing::Footing;
use crate::physics::scene::stops::plates::{Plate, decks};
use crate::physics::scene::stops::site::{Sites, Stand};
use crate::physics::scene::trees::stack::CrownStack;
use crate::physics::sky::canopy::CanopyScratch;
use crate::physics::sky::ground;
use crate::physics::sky::horizon::{Hint, HorizonEye};
use crate::physics::sky::mask::Mask;
use crate::physics::sky::pack::{pack, quantised};
use crate::physics::sky::plates::plated;
use crate::physics::sky::shares::{Shares, shares_at};
use crate::rating::verdict::main_cause;

/// Distances from the vehicle at which places for the panel are looked for, metres.
const RINGS_M: [f64; 10] = [3.0, 6.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0];
/// Places on a ring are at most this far apart, metres, but never fewer than [`LEAST_ON_RING`] nor more than [`MOST_ON_RING`].
const APART_M: f64 = 7.0;
const LEAST_ON_RING: usize = 8;
const MOST_ON_RING: usize = 24;
/// A place farther away must be clearer by this much to be worth the cable; assumed.
const WORTH: f64 = 0.01;
/// Where a panel sees this much of the usable sky nothing better is looked for farther away; assumed.
const ENOUGH: f64 = 0.98;
/// A place of the map farther than this from every road a vehicle may drive is not for vehicles, metres; assumed.
pub(crate) const ROAD_WITHIN_M: f64 = HALO_M;
/// Half the size of a roof given by the tags of a place drawn as a point, metres; assumed.
const TOLD_ROOF_M: f64 = 6.0;
/// Level ground around the panel, metres, before the rise of the land counts; assumed.
const PAD_M: f64 = 3.0;
/// In a surface model the ground is the lowest height this far around, metres; assumed: crowns are narrower.
const GROUND_WITHIN_M: f64 = 10.0;

/// What is near a cell, as places to stop need it.
struct Local {
    footing: Footing,
    sites: Sites,
    decks: Vec<Plate>,
    /// Trees as they stand where vehicles do.
    crowns: CrownStack<1>,
}

/// The place on a road nearest to a vehicle.
struct Nearest {
    segment: SegmentIndex,
    along_m: f64,
    distance_m: f64,
}

/// A panel at a free place.
#[derive(Clone, Copy)]
struct Spot {
    at: Point,
    panel_m: f64,
}

impl Caster<'_> {
    /// All places to stop of a cell.
    pub(super) fn stops(
        &self,
        stops: &[u32],
        around: &Around,
        scratch: &mut CanopyScratch<1>,
    ) -> Result<Vec<StopFound>> {
        if stops.is_empty() {
            return Ok(Vec::new());
        }
        let map = self.run.vicinity(&around.window, &around.near, Case::Likely);
        let crowns = CrownStack::of([&around.canopy]);
        let local = Local { footing: Footing::build(&map), sites: Sites::build(&map), decks: decks(&map), crowns };
        stops.iter().map(|id| Ok((*id, self.stop(*id, around, &local, scratch)?))).collect()
    }

    fn stop(&self, id: u32, around: &Around, local: &Local, scratch: &mut CanopyScratch<1>) -> Result<Option<StopRow>> {
        let place = &self.run.extract.stops[id as usize];
        let stand = local.sites.stand(&around.window, &local.footing, place);
        let Some(road) = self.nearest_road(around, stand.at) else { return Ok(None) };
        let weights = self.skies.level(&self.run.pieces[road.segment.at()]);
        let mut look = Look { caster: self, around, local, weights, hint: Hint::default(), scratch };
        let vehicle = look.vehicle(place, &stand);
        let (places, masks): (Vec<PanelPlace>, Vec<Mask>) = look.places(place, &stand, &vehicle).into_iter().unzip();
        let packed = pack(&masks, self.grid)?;
        Ok(Some(StopRow { masks: packed, ..self.row(place, &stand, &road, vehicle.shares, places, around) }))
    }

    fn row(
        &self,
        place: &StopPlace,
        stand: &Stand,
        road: &Nearest,
        shares: Shares,
        places: Vec<PanelPlace>,
        around: &Around,
    ) -> StopRow {
        let segment = &self.run.network.segments[road.segment.at()];
        let way = &self.run.extract.roads[segment.road.at()];
        let called = way.name.as_ref().or(way.reference.as_ref()).map(ToString::to_string);
        let mut row = StopRow {
            stop_id: 0,
            osm_type: place.object,
            osm_id: place.id,
            kind: place.kind,
            name: place.name.as_ref().map(ToString::to_string),
            access: place.access,
            roofed: stand.roofed,
            roofed_from: stand.roofed_from,
            stands_on: stand.on,
            open_share: shares.open,
            main_cause: main_cause(&shares, true),
            segment_id: road.segment.row_id(),
            road: called.unwrap_or_else(|| way.class.name().to_owned()),
            along_m: road.along_m,
            road_distance_m: road.distance_m,
            places,
            at: around.window.plane.to_position(stand.at),
            ..StopRow::default()
        };
        let best = row.best_within(self.run.profile.stop.reach_m);
        (row.best_distance_m, row.best_bearing_deg) = (best.distance_m, best.bearing_deg);
        row.best_open_share = best.open_share;
        row.gain = best.open_share - row.open_share;
        row
    }

    /// A panel at a free place over ground of known height.
    fn free_eye<'s>(&self, around: &'s Around, spot: Spot, z_m: Option<f64>) -> ground::Eye<'s> {
        let level = ground::Eye::level(spot.at, spot.panel_m);
        let Some(z_m) = z_m else { return level };
        around.terrain.eye_over(level, z_m, PAD_M)
    }
    /// The nearest road that is more than a service road, else the nearest; nothing where none is near.
    fn nearest_road(&self, around: &Around, at: Point) -> Option<Nearest> {
        let mut best: [Option<Nearest>; 2] = [None, None];
        for id in &around.near.segments {
            let segment = &self.run.network.segments[id.at()];
            let class = self.run.extract.roads[segment.road.at()].class;
            if class.is_boarded() || segment.tunnel.is_some() {
                continue;
            }
            let (along_m, distance_m) = nearest_on(&line_on_plane(&around.window.plane, &segment.line), at);
            let best = &mut best[usize::from(class == RoadClass::Service)];
            if distance_m <= ROAD_WITHIN_M && best.as_ref().is_none_or(|b| distance_m < b.distance_m) {
                *best = Some(Nearest { segment: *id, along_m, distance_m });
            }
        }
        let [road, service] = best;
        road.or(service)
    }
}

/// Metres along a line to its point nearest to a place, and from there to the place.
fn nearest_on(line: &[Point], p: Point) -> (f64, f64) {
    let (mut best, mut done_m) = ((0.0, f64::INFINITY), 0.0);
    for pair in line.windows(2) {
        let (ex, ey) = (pair[1].x_m - pair[0].x_m, pair[1].y_m - pair[0].y_m);
        let length_m = ex.hypot(ey);
        let squared = (length_m * length_m).max(f64::MIN_POSITIVE);
        let share = (((p.x_m - pair[0].x_m) * ex + (p.y_m - pair[0].y_m) * ey) / squared).clamp(0.0, 1.0);
        let distance_m = p.distance_m(pair[0].towards(pair[1], share));
        if distance_m < best.1 {
            best = (done_m + share * length_m, distance_m);
        }
        done_m += length_m;
    }
    best
}

/// The sky around one stop.
struct Look<'a, 'r> {
    caster: &'a Caster<'r>,
    around: &'a Around,
    local: &'a Local,
    weights: Vec<f32>,
    hint: Hint,
    scratch: &'a mut CanopyScratch<1>,
}

/// A sky: its shares, and the mask they are of.
struct SkySeen {
    shares: Shares,
    mask: Mask,
}

/// A roof that tags give and nobody has drawn hides everything.
const UNDER_COVER: Shares =
    Shares { open: 0.0, open_min: 0.0, cover: 1.0, deck: 0.0, solid: 0.0, terrain: 0.0, canopy: 0.0 };
/// Inside of a building.
const INDOORS: Shares = Shares { cover: 0.0, solid: 1.0, ..UNDER_COVER };

impl Look<'_, '_> {
    /// What a panel on the vehicle sees.
    fn vehicle(&mut self, place: &StopPlace, stand: &Stand) -> SkySeen {
        let closed = |shares: Shares| SkySeen { shares, mask: Mask::closed(self.caster.grid) };
        match stand.roofed_from {
            RoofedBy::Tag | RoofedBy::Parking if stand.roofed == Roofed::Yes => closed(UNDER_COVER),
            // A roof drawn below the ground level of the map is in no sky, yet the vehicle stands under it.
            _ if stand.on == StandsOn::Roof && !self.under_slab(stand.at) => closed(UNDER_COVER),
            _ if stand.on == StandsOn::Building && place.shelter != Shelter::Rooftop => closed(INDOORS),
            _ => self.sky(Spot { at: stand.at, panel_m: self.caster.run.profile.vehicle.antenna_height_m }),
        }
    }

    fn under_slab(&self, at: Point) -> bool {
        self.around.solids.slabs_around(at).any(|slab| contains(&slab.rings, at))
    }

    /// Places worth a longer cable, nearest first, the vehicle before all.
    fn places(&mut self, place: &StopPlace, stand: &Stand, on_vehicle: &SkySeen) -> Vec<(PanelPlace, Mask)> {
        let open_share = on_vehicle.shares.open;
        let mut out = vec![(PanelPlace { open_share, ..PanelPlace::default() }, on_vehicle.mask.clone())];
        if stand.on == StandsOn::Building {
            return out;
        }
        let panel_m = self.caster.run.profile.stop.panel_height_m;
        let mut best = open_share;
        for ring_m in RINGS_M {
            if best >= ENOUGH {
                break;
            }
            let count = ((TAU * ring_m / APART_M).ceil() as usize).clamp(LEAST_ON_RING, MOST_ON_RING);
            let mut of_ring: Option<(PanelPlace, Mask)> = None;
            for bearing_deg in (0..count).map(|i| (360.0 * i as f64 / count as f64).round()) {
                let at = stand.at.moved(bearing_deg, ring_m);
                if !self.may_stand(place, stand, at) {
                    continue;
                }
                let seen = self.sky(Spot { at, panel_m });
                let open_share = seen.shares.open;
                if of_ring.as_ref().is_none_or(|(p, _)| open_share > p.open_share) {
                    of_ring = Some((PanelPlace { distance_m: ring_m, bearing_deg, open_share }, seen.mask));
                }
            }
            if let Some(clearer) = of_ring.filter(|(p, _)| p.open_share >= best + WORTH) {
                best = clearer.0.open_share;
                out.push(clearer);
            }
        }
        out
    }

    /// Whether a panel can be set down and a cable laid to it from the vehicle.
    fn may_stand(&self, place: &StopPlace, stand: &Stand, at: Point) -> bool {
        let told = stand.roofed == Roofed::Yes && matches!(stand.roofed_from, RoofedBy::Tag | RoofedBy::Parking);
        let under_told_roof = || match &place.outline {
            Some(area) => contains(&rings_on_plane(&self.around.window.plane, area), at),
            None => at.distance_m(stand.at) < TOLD_ROOF_M,
        };
        self.local.footing.free(at) && self.local.footing.cable_lies(stand.at, at) && !(told && under_told_roof())
    }

    /// What a level panel sees at a place.
    fn sky(&mut self, spot: Spot) -> SkySeen {
        let (caster, around) = (self.caster, self.around);
        let mut mask = Mask::open(caster.grid);
        let z_m = self.ground_m(spot.at);
        if let Some(z_m) = z_m
            && let eye = (HorizonEye { at: spot.at, z_m: z_m + spot.panel_m })
            && let Some(horizons_deg) = around.terrain.horizons(&eye, &mut self.hint)
        {
            mask.terrain_deg = horizons_deg;
        }
        let eye = self.caster.free_eye(around, spot, z_m);
        let beside = |slab: &Slab| !contains(&slab.rings, spot.at);
        caster.solid.paint_beside(&around.solids, &eye, &beside, &mut mask.solid_deg);
        if let (Some(tops), Some(z_m)) = (&around.measured, z_m) {
            let eye = HorizonEye { at: spot.at, z_m: z_m + spot.panel_m };
            tops.paint(&eye, caster.grid.floor_deg, &mut mask.solid_deg);
        }
        caster.canopy.cast(&self.local.crowns, &eye, self.scratch, [&mut mask.canopy]);
        let mut plates: Vec<Plate> =
            around.solids.slabs_around(spot.at).filter(|slab| !beside(slab)).map(Plate::of).collect();
        plates.extend(self.local.decks.iter().cloned());
        let above = plated(caster.grid, &plates, spot.at, spot.panel_m);
        let seen = caster.skies.seen_through(&self.weights);
        let shares = shares_at(&seen, &quantised(&mask, caster.grid), &above).unwrap_or_default();
        above.shut(&mut mask.canopy);
        SkySeen { shares, mask }
    }

    /// Height of the ground, metres; nothing without elevation.
    fn ground_m(&self, at: Point) -> Option<f64> {
        let elevation = self.around.terrain.elevation();
        if !elevation.is_surface(at) {
            return elevation.height_m(at).map(f64::from);
        }
        let around = (0..8).map(|i| at.moved(45.0 * f64::from(i), GROUND_WITHIN_M)).chain([at]);
        around.filter_map(|p| elevation.height_m(p)).map(f64::from).reduce(f64::min)
    }
}
