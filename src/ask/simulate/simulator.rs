//! From the parts of a meeting to its figures.
use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use super::lanes::StoredLanes;
use super::overlap::{Joints, PartOutages, figures};
use super::road::DrivenRoad;
use super::skies::{SkyShelf, Timelines, Use};
use super::standing::Standing;
use crate::ask::corridor::Piece;
use crate::ask::place::unpacked_masks;
use crate::ask::plan::{Depth, Figures, Halt, MeetingPart, Panel, Simulator, Whereabout};
use crate::base::error::Result;
use crate::base::words::Case;
use crate::layer::model::StopRow;
use crate::layer::schema::Row;
use crate::layer::{Layer, damaged_value};
use crate::physics::link::hold::reacquire_s;
use crate::physics::link::stats::Outage;
use crate::physics::orbit::latitude_key;
use crate::physics::sky::mask::{Mask, SkyGrid};

/// Drives that rank days.
const RANK_DRIVES: u32 = 64;
/// Drives that a risk is estimated from: none of 256 means below 1.2 % (with 95 % confidence).
const TELL_DRIVES: u32 = 256;
/// Road driven before a meeting, metres: an outage that runs at its start began there.
const RUN_IN_M: f64 = 3_000.0;
/// Stretches of road of their own that risks of a day are estimated from; of more, all of the road is driven once for all of them.
const MOST_STRETCHES: usize = 12;
/// Times at rest are simulated in whole multiples of this, seconds, and cut: a day of many meetings takes few of them.
const REST_S: f64 = 900.0;
/// Distances of places for the panel are stored to a tenth of a metre.
const SAME_PLACE_M: f64 = 0.06;

/// All drives over some road.
type Drives = Rc<Vec<Vec<Outage>>>;
/// First and last piece, under which case, and how many drives.
type RoadKey = (usize, usize, Case, u32);
/// Name of a place at rest, multiple of the time there, and how many drives.
type RestKey = (u64, u32, u32);

/// Simulates meetings of a day.
pub struct MeetingSimulator<'a> {
    road: DrivenRoad<'a>,
    is_able: bool,
    rank: SkyShelf,
    tell: SkyShelf,
    driven: RefCell<HashMap<RoadKey, Option<Drives>>>,
    rested: RefCell<HashMap<RestKey, Drives>>,
}

impl<'a> MeetingSimulator<'a> {
    /// For a drive over pieces of a layer that begin at these seconds at the wheel.
    ///
    /// # Errors
    /// The layer cannot be read.
    pub fn new(layer: &'a Layer, pieces: &'a [Piece], begins_s: &'a [f64]) -> Result<Self> {
        let record = layer.record();
        let grid = SkyGrid { floor_deg: record.mask_floor_deg };
        // Under real satellites the layer's drives had another timeline, which it does not hold.
        let is_able = record.timeline_start.is_none() && layer.has_masks()?;
        let timelines = Rc::new(Timelines::new(&record.profile, grid));
        let shelf = |drives| SkyShelf::new(&timelines, drives);
        Ok(Self {
            road: DrivenRoad { lanes: StoredLanes { layer, grid }, pieces, begins_s },
            is_able,
            rank: shelf(RANK_DRIVES),
            tell: shelf(TELL_DRIVES),
            driven: RefCell::default(),
            rested: RefCell::default(),
        })
    }
    fn shelf(&self, depth: Depth) -> &SkyShelf {
        match depth {
            Depth::Rank => &self.rank,
            Depth::Tell => &self.tell,
        }
    }
    fn part(&self, part: &MeetingPart, case: Case, depth: Depth) -> Result<Option<PartOutages>> {
        let (seconds, before_s) = (part.seconds, part.before_s);
        let standing = match part.whereabout {
            Whereabout::Unknown => None,
            Whereabout::Road { from_s, to_s, since_s } => {
                let Some(drives) = self.on_road((from_s, to_s), since_s, case, depth)? else { return Ok(None) };
                let drives = drives.iter().map(|drive| between(drive, from_s, to_s)).collect();
                return Ok(Some(PartOutages { seconds, before_s, drives }));
            }
            // What is assumed about the roadside has no range there.
            Whereabout::Place(halt, panel) => self.at_place(halt, panel)?,
            Whereabout::RoadEnd { last } => self.at_road_end(last)?,
        };
        Ok(standing.map(|standing| {
            let drives = self.at_rest(&standing, seconds, depth);
            PartOutages { seconds, before_s, drives: drives.iter().map(|drive| between(drive, 0.0, seconds)).collect() }
        }))
    }
    fn at_rest(&self, standing: &Standing, seconds: f64, depth: Depth) -> Drives {
        let (shelf, multiple) = (self.shelf(depth), (seconds / REST_S).ceil().max(1.0));
        let made = || Rc::new(standing.outages(multiple * REST_S, shelf));
        let mut rested = self.rested.borrow_mut();
        Rc::clone(rested.entry((standing.name, multiple as u32, shelf.drives())).or_insert_with(made))
    }
    /// Drives from some kilometres before a part of the road, but not before the drive began, to its end.
    fn on_road(&self, (from_s, to_s): (f64, f64), since_s: f64, case: Case, depth: Depth) -> Result<Option<Drives>> {
        let (pieces, begins_s) = (self.road.pieces, self.road.begins_s);
        let at = |s: f64| begins_s.partition_point(|b| *b <= s + 1e-6).saturating_sub(1);
        let (mut first, last) = (at(from_s), begins_s.partition_point(|b| *b < to_s).saturating_sub(1));
        let (earliest, mut run_in_m) = (at(since_s), 0.0);
        while first > earliest && run_in_m < RUN_IN_M && pieces[first - 1].drive == pieces[first].drive {
            first -= 1;
            run_in_m += pieces[first].length_m;
        }
        // Days are ranked by drives over all of the road, made once.
        let (all, own) = ((0, pieces.len() - 1), (first, last.max(first)));
        let many = self.driven.borrow().len() > MOST_STRETCHES;
        self.drives(if depth == Depth::Rank || many { all } else { own }, case, depth)
    }
    fn drives(&self, (first, last): (usize, usize), case: Case, depth: Depth) -> Result<Option<Drives>> {
        let road = &self.road;
        if case == Case::Worst && road.pieces[first..=last].iter().any(|p| p.rating_worst.is_none()) {
            return Ok(None);
        }
        let mut case = case;
        if case != Case::Likely {
            let mut apart = road.pieces[first..=last].iter().map(|p| road.lanes.is_apart(p));
            // The first that is apart, or cannot be read, decides.
            if !apart.find(|a| !matches!(a, Ok(false))).transpose()?.unwrap_or(false) {
                case = Case::Likely;
            }
        }
        let shelf = self.shelf(depth);
        let key = (first, last, case, shelf.drives());
        if let Some(known) = self.driven.borrow().get(&key) {
            return Ok(known.clone());
        }
        let drives = road.outages(first..=last, case, shelf)?.map(Rc::new);
        self.driven.borrow_mut().insert(key, drives.clone());
        Ok(drives)
    }
    fn at_place(&self, halt: &Halt, panel: Panel) -> Result<Option<Standing>> {
        let layer = self.road.lanes.layer;
        let Some(row) = layer.stop(halt.stop_id)? else { return Ok(None) };
        let damaged = |fact: String| damaged_value(layer.path(), &StopRow::TABLE, row.stop_id, "masks", &fact);
        let mut masks = unpacked_masks(self.road.lanes.grid, &row.masks, row.places.len() as u32).map_err(damaged)?;
        let best_m = if panel == Panel::Best { halt.best_m } else { 0.0 };
        let Some(place) = row.places.iter().position(|p| (p.distance_m - best_m).abs() < SAME_PLACE_M) else {
            return Ok(None);
        };
        Ok(Some(Standing {
            mask: masks.swap_remove(place),
            heading_deg: 0.0,
            latitude: latitude_key(row.at.lat_deg()),
            // A place of the map does not say which way a vehicle stands there: the panel is level, as the layer reckons it.
            use_: Use::Level,
            name: (row.osm_id as u64).rotate_left(24) ^ ((row.osm_type as u64) << 16) ^ place as u64,
        }))
    }
    fn at_road_end(&self, last: bool) -> Result<Option<Standing>> {
        let piece = if last { self.road.pieces.last() } else { self.road.pieces.first() };
        let Some(piece) = piece else { return Ok(None) };
        let Some(lane) = self.road.lanes.of(piece, Case::Likely)? else { return Ok(None) };
        let along_m = piece.from_m + if last { piece.length_m } else { 0.0 };
        let masks = lane.stretch.masks;
        let stations = masks.len().saturating_sub(1);
        let station = ((along_m / lane.row.length_m.max(1e-6) * stations as f64).round() as usize).min(stations);
        let covered =
            lane.stretch.overheads.iter().any(|o| o.kind.is_cover() && (o.start_m..=o.end_m).contains(&along_m));
        let heading_deg = lane.stretch.headings_deg.get(station).copied().unwrap_or(0.0);
        Ok(masks.into_iter().nth(station).map(|mask| Standing {
            mask: if covered { Mask::closed(self.road.lanes.grid) } else { mask },
            heading_deg,
            latitude: latitude_key(piece.lat_deg),
            use_: Use::Parked,
            name: (piece.way_id as u64).rotate_left(24) ^ u64::from(last),
        }))
    }
}

/// The outages of a drive that touch a time, seconds, counted from its start.
fn between(drive: &[Outage], from_s: f64, to_s: f64) -> Vec<Outage> {
    let first = drive.partition_point(|o| o.end_s <= from_s);
    let touching = drive[first..].iter().take_while(|o| o.start_s < to_s);
    touching.map(|o| Outage { start_s: o.start_s - from_s, end_s: o.end_s - from_s }).collect()
}

impl Simulator for MeetingSimulator<'_> {
    fn figures(&self, stands_s: f64, parts: &[MeetingPart], case: Case, depth: Depth) -> Result<Option<Figures>> {
        if !self.is_able {
            return Ok(None);
        }
        let mut all = Vec::with_capacity(parts.len());
        for part in parts {
            let Some(part) = self.part(part, case, depth)? else { return Ok(None) };
            all.push(part);
        }
        let link = &self.road.lanes.layer.record().profile.link;
        let joints = Joints {
            hold_s: link.hold_s,
            reacquire_s: &|outage_s| reacquire_s(link.reacquire_s, link.reacquire_from_s, outage_s),
        };
        Ok(Some(figures(&all, stands_s, &joints)))
    }
    fn is_able(&self) -> bool {
        self.is_able
    }
}
