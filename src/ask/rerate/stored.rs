//! A layer in the form the link stage works on.
use std::borrow::Cow;
use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

use crate::ask::place::{masks_of, no_masks, overheads_of, unpacked_masks};
use crate::base::error::{Error, Result};
use crate::base::geodesy::length_m;
use crate::base::index::{LaneIndex, SegmentIndex};
use crate::base::words::{Case, Direction, ValueFrom};
use crate::layer::model::{EndMaskRow, LaneRow, MaskRow, RunRow, SegmentRow};
use crate::layer::schema::{Row, Table};
use crate::layer::{Layer, REBUILD, damaged_value};
use crate::map::network::model::Stroke;
use crate::physics::scene::overheads::overhead::Overhead;
use crate::physics::sky::mask::{Mask, SkyGrid};
use crate::profile::Profile;
use crate::rating::lanes::Links;
use crate::rating::pieces::RoadPiece;
use crate::rating::spool::{Slot, Spool};
use crate::rating::verdict::Judged;

/// Stations of a lane without masks, which has no sky to look at either.
const NO_STATIONS: u32 = 2;

/// Everything a layer holds that its ratings are based on. Packed masks stay on disk.
pub struct Stored {
    /// The profile it was built with.
    pub profile: Profile,
    /// Its segments, by id.
    pub rows: Vec<SegmentRow>,
    /// Its lanes, by id.
    pub lane_rows: Vec<LaneRow>,
    /// By segment.
    pub pieces: Vec<RoadPiece<'static>>,
    /// Segments driven one after another.
    pub strokes: Vec<Stroke>,
    /// What is driven before and after every lane.
    pub links: Links,
    /// What stands over every lane.
    pub own: Vec<Vec<Overhead>>,
    /// Masks of every lane.
    pub masks: StoredMasks,
}

/// Packed masks in a temporary file, for any thread.
pub(crate) struct StoredMasks {
    /// Grid of the masks.
    pub grid: SkyGrid,
    /// The layer they are from.
    path: PathBuf,
    spool: Spool,
    /// Masks of every lane and how many they are.
    slots: Vec<Option<(Slot, u32)>>,
    /// Masks at best and at worst, of lanes that have such.
    ends: HashMap<(LaneIndex, Case), (Slot, u32)>,
}

impl StoredMasks {
    /// Whether a lane has masks of its own at best and at worst.
    pub fn apart(&self, lane: LaneIndex) -> bool {
        self.ends.contains_key(&(lane, Case::Worst))
    }
    /// Packed masks of a lane and how many they are.
    pub fn packed(&self, lane: LaneIndex, case: Case) -> Result<Option<(Vec<u8>, u32)>> {
        let found = self.ends.get(&(lane, case)).copied().or(self.slots[lane.at()]);
        found.map(|(slot, stations)| Ok((self.spool.get(slot)?, stations))).transpose()
    }
    /// Masks of a lane in the order driven.
    pub fn of(&self, lane: LaneIndex, case: Case) -> Result<Vec<Mask>> {
        if let Some((slot, stations)) = self.ends.get(&(lane, case)) {
            return self.at_end(lane, case, &self.spool.get(*slot)?, *stations);
        }
        let Some((packed, stations)) = self.packed(lane, case)? else { return Ok(Vec::new()) };
        let (mask_id, segment_id) = (lane.row_id(), lane.segment().row_id());
        let row = MaskRow { mask_id, segment_id, forward: lane.direction().is_forward(), stations, packed };
        masks_of(&self.path, self.grid, &row)
    }
    /// Masks at one end, as many as there are as stated.
    fn at_end(&self, lane: LaneIndex, case: Case, packed: &[u8], stations: u32) -> Result<Vec<Mask>> {
        let end_mask_id = EndMaskRow::id_of(lane.row_id(), case);
        let damaged = |column, fact: &str| damaged_value(&self.path, &EndMaskRow::TABLE, end_mask_id, column, fact);
        if self.slots[lane.at()].is_none_or(|(_, as_stated)| as_stated != stations) {
            return Err(damaged("stations", &format!("{stations} is not the number of masks of this lane in masks")));
        }
        unpacked_masks(self.grid, packed, stations).map_err(|fact| damaged("packed", &fact))
    }
}

/// Tables that do not fit together, though each can be read.
fn unfit(path: &Path, fact: &str) -> Error {
    Error::file(path, format!("cannot be rated again: {fact}"), REBUILD)
}

/// A row of a segment that is not there.
fn dangling(path: &Path, table: &Table, id: i64, segment_id: i64) -> Error {
    damaged_value(path, table, id, "segment_id", &format!("there is no segment {segment_id}"))
}

impl Stored {
    /// Reads a layer.
    ///
    /// # Errors
    /// Its tables do not fit together.
    pub fn read(layer: &Layer) -> Result<Self> {
        let path = layer.path();
        if let Some(start) = &layer.record().timeline_start {
            let fact =
                format!("its drives were simulated under real satellites from {start}, which a layer does not hold");
            return Err(Error::file(path, fact, "build it without --orbit-date to rate it again under its shells"));
        }
        let (rows, lane_rows) = (layer.segments()?, layer.lanes()?);
        if let Some((i, row)) = rows.iter().enumerate().find(|(i, row)| row.segment_id != *i as i64 + 1) {
            let fact = format!("is not {}, its position in the table", i + 1);
            return Err(damaged_value(path, &SegmentRow::TABLE, row.segment_id, "segment_id", &fact));
        }
        let mut spool = Spool::new()?;
        let mut slots = vec![None; 2 * rows.len()];
        layer.each_masks(|row| {
            let slot = lane_of(&rows, row.segment_id, row.forward).and_then(|l| slots.get_mut(l.at()));
            let slot = slot.ok_or_else(|| dangling(path, &MaskRow::TABLE, row.mask_id, row.segment_id))?;
            *slot = Some((spool.push(&row.packed)?, row.stations));
            Ok(())
        })?;
        let mut ends = HashMap::new();
        layer.each_end_masks(|row| {
            let lane = lane_of(&rows, row.segment_id, row.forward).filter(|l| l.at() < slots.len());
            let lane = lane.ok_or_else(|| dangling(path, &EndMaskRow::TABLE, row.end_mask_id, row.segment_id))?;
            ends.insert((lane, row.at), (spool.push(&row.packed)?, row.stations));
            Ok(())
        })?;
        check_masks(layer, &rows, &slots)?;
        check_ends(layer, &ends)?;
        let mut pieces: Vec<RoadPiece> =
            SegmentIndex::numbered(&rows).map(|(id, row)| piece(id, row, &slots)).collect();
        let mut own = vec![Vec::new(); slots.len()];
        for row in &lane_rows {
            let known = lane_of(&rows, row.segment_id, row.forward);
            let lane = known.ok_or_else(|| dangling(path, &LaneRow::TABLE, row.lane_id, row.segment_id))?;
            take_lane(&mut pieces[lane.segment().at()], row);
            own[lane.at()] = overheads_of(path, row)?;
        }
        check_lanes(path, &rows, &lane_rows)?;
        let mut strokes = strokes(&lane_rows).ok_or_else(|| unfit(path, "its strokes have gaps"))?;
        for row in layer.runs()? {
            take_run(&mut strokes, &row, slots.len()).ok_or_else(|| {
                unfit(path, &format!("row {} of runs names a stroke or lane that is not there", row.run_id))
            })?;
        }
        let links = Links::new(&strokes, pieces.iter().map(|p| p.length_m).collect());
        let grid = SkyGrid { floor_deg: layer.record().mask_floor_deg };
        let masks = StoredMasks { grid, path: path.to_owned(), spool, slots, ends };
        Ok(Self { profile: layer.record().profile.clone(), rows, lane_rows, pieces, strokes, links, own, masks })
    }
    /// A segment as the verdicts want it.
    pub fn judged(&self, id: SegmentIndex) -> Judged<'_> {
        let mut judged = Judged {
            id,
            piece: &self.pieces[id.at()],
            edges: self.rows[id.at()].driven.map(|d| d.edge),
            speeds_from: [ValueFrom::Default; 2],
        };
        let first = self.lane_rows.partition_point(|l| l.segment_id < id.row_id());
        for row in self.lane_rows[first..].iter().take_while(|l| l.segment_id == id.row_id()) {
            judged.speeds_from[usize::from(!row.forward)] = row.road_kmh_from;
        }
        judged
    }
}

/// Every direction that is driven has its masks, as many as the other; ferries and shuttle trains have none.
fn check_masks(layer: &Layer, rows: &[SegmentRow], slots: &[Option<(Slot, u32)>]) -> Result<()> {
    for (id, row) in SegmentIndex::numbered(rows).filter(|(_, row)| !row.highway.is_boarded()) {
        let driven = Direction::BOTH.into_iter().filter(|d| row.driven[*d].is_some());
        let mut stations = Vec::new();
        for direction in driven {
            let Some((_, count)) = slots[id.lane(direction).at()] else {
                let fact = format!("cannot be rated again: it has no sky masks for segment {}", row.segment_id);
                return Err(no_masks(layer, &fact));
            };
            stations.push(count);
        }
        if stations.windows(2).any(|w| w[0] != w[1]) {
            let fact = format!(
                "segment {} has different numbers of stations in its two directions, {stations:?}",
                row.segment_id
            );
            return Err(unfit(layer.path(), &fact));
        }
    }
    Ok(())
}

/// Masks at best come with those at worst.
fn check_ends(layer: &Layer, ends: &HashMap<(LaneIndex, Case), (Slot, u32)>) -> Result<()> {
    let other = |case: Case| if case == Case::Best { Case::Worst } else { Case::Best };
    match ends.keys().filter(|(lane, case)| !ends.contains_key(&(*lane, other(*case)))).min_by_key(|(l, _)| l.row_id())
    {
        Some((lane, case)) => {
            let fact = format!("lane {} has masks at {case}, but none at {}", lane.row_id(), other(*case));
            Err(unfit(layer.path(), &fact))
        }
        None => Ok(()),
    }
}

/// Every direction that is driven has its lane.
fn check_lanes(path: &Path, rows: &[SegmentRow], lanes: &[LaneRow]) -> Result<()> {
    let there: HashSet<(i64, bool)> = lanes.iter().map(|l| (l.segment_id, l.forward)).collect();
    for row in rows {
        let gone = |d: &Direction| row.driven[*d].is_some() && !there.contains(&(row.segment_id, d.is_forward()));
        if let Some(direction) = Direction::BOTH.into_iter().find(gone) {
            let forward = u8::from(direction.is_forward());
            return Err(unfit(path, &format!("lane of segment {}, forward {forward}, is missing", row.segment_id)));
        }
    }
    Ok(())
}

/// The lane of a segment in a direction; nothing for a segment that is not there.
fn lane_of(rows: &[SegmentRow], segment_id: i64, forward: bool) -> Option<LaneIndex> {
    let id = SegmentIndex::of_row(segment_id).filter(|id| id.at() < rows.len())?;
    Some(id.lane(Direction::of(forward)))
}

fn piece(id: SegmentIndex, row: &SegmentRow, slots: &[Option<(Slot, u32)>]) -> RoadPiece<'static> {
    let stations = Direction::BOTH.iter().find_map(|d| slots[id.lane(*d).at()]).map_or(NO_STATIONS, |(_, n)| n);
    RoadPiece {
        length_m: length_m(&row.line),
        line: Cow::Owned(row.line.clone()),
        stations,
        speeds_kmh: [0.0; 2],
        climb: f32::NAN,
        boarded: row.highway.is_boarded(),
    }
}

fn take_lane(piece: &mut RoadPiece, row: &LaneRow) {
    piece.speeds_kmh[usize::from(!row.forward)] = row.road_kmh as f32;
    if let Some(climb) = row.climb {
        piece.climb = if row.forward { climb } else { -climb } as f32;
    }
}

/// The strokes in their order; nothing if a number or a step is missing or used twice.
fn strokes(rows: &[LaneRow]) -> Option<Vec<Stroke>> {
    let mut order: Vec<&LaneRow> = rows.iter().collect();
    order.sort_by_key(|l| (l.stroke, l.step));
    let mut out: Vec<Stroke> = Vec::new();
    for row in order {
        if row.stroke as usize == out.len() {
            out.push(Stroke::default());
        }
        let stroke = out.last_mut()?;
        let number = stroke.steps.len();
        let direction = if row.forward { Direction::Forward } else { Direction::Backward };
        stroke.steps.push((SegmentIndex::of_row(row.segment_id)?, direction));
        if row.step as usize != number || row.stroke as usize + 1 != out.len() {
            return None;
        }
    }
    Some(out)
}

/// Adds a lane to what is driven before or after a stroke; rows come by stroke and place.
fn take_run(strokes: &mut [Stroke], row: &RunRow, lanes: usize) -> Option<()> {
    let stroke = strokes.get_mut(row.stroke as usize)?;
    let lane = usize::try_from(row.lane_id.checked_sub(1)?).ok().filter(|at| *at < lanes).map(LaneIndex::new)?;
    let run = if row.nth < 0 { &mut stroke.run_in } else { &mut stroke.run_out };
    run.push((lane.segment(), lane.direction()));
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(segment_id: i64, forward: bool, stroke: u32, step: u32) -> LaneRow {
        LaneRow { segment_id, forward, stroke, step, ..LaneRow::default() }
    }

    #[test]
    fn strokes_come_back_in_order_and_gaps_are_noticed() {
        let rows = [row(1, true, 1, 1), row(1, false, 0, 0), row(2, true, 1, 0)];
        let found = strokes(&rows).unwrap();
        let [first, second] = [0, 1].map(SegmentIndex::new);
        assert_eq!(found[0].steps, [(first, Direction::Backward)]);
        assert_eq!(found[1].steps, [(second, Direction::Forward), (first, Direction::Forward)]);
        assert!(strokes(&[row(1, true, 0, 0), row(2, true, 0, 2)]).is_none());
        assert!(strokes(&[row(1, true, 0, 0), row(2, true, 0, 0)]).is_none());
        assert!(strokes(&[row(1, true, 0, 0), row(2, true, 2, 0)]).is_none());
        assert_eq!(strokes(&[]), Some(vec![]));
    }
}
