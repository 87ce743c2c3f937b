//! A track asked about: matched to the roads of a layer, answered from its rows.
use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap};

use super::figures::{DriveRows, of_rows};
use super::model::Corridor;
use super::outages::LaneId;
use crate::ask::boxes::{across, along};
use crate::ask::elsewhere::nothing_driven;
use crate::ask::matching::{MatchOptions, Matched, RoadGraph, matched_pieces};
use crate::ask::search::Towns;
use crate::ask::track::Track;
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::base::words::Units;
use crate::layer::model::{OutageRow, OverheadRow, SegmentRow};
use crate::layer::schema::Row;
use crate::layer::{Layer, damaged_value};

/// Roads this far around the track may be part of a way between two points, metres.
pub(in crate::ask) const MARGIN_M: f64 = 300.0;

/// Points scattered this much more than the noise they are matched with are told: within it the median of some twenty
/// distances is off by chance.
const TOO_SCATTERED: f64 = 1.5;
/// The largest noise that a track can be matched with, metres.
const MOST_NOISE_M: f64 = 50.0;

/// What is asked about a track.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CorridorQuestion {
    /// The track.
    pub track: Track,
    /// How it is matched to roads.
    pub matching: MatchOptions,
    /// How many of the worst stretches are wanted.
    pub worst: usize,
    /// Other roads this near to the drive are rated, metres; none where it is 0.
    pub buffer_m: f64,
    /// Units of what is said besides.
    pub units: Units,
}

/// What a layer says about a track.
///
/// # Errors
/// The layer cannot be read, or nothing of the track lies on its roads: the error says why, and what to do.
pub fn corridor(layer: &Layer, question: &CorridorQuestion) -> Result<Corridor> {
    let gap_m = question.matching.gap_m;
    let mut boxes = along(&question.track, MARGIN_M, gap_m);
    boxes.extend(across(&question.track, MARGIN_M, gap_m));
    let (rows, edges) = layer.ways_in(&boxes)?;
    layer.check_lengths(&rows, &edges)?;
    let found = matched_pieces(&RoadGraph::new(&rows, &edges), &question.track.pieces, &question.matching);
    let mut segments = HashMap::<i64, SegmentRow>::new();
    for step in &found.steps {
        if let Entry::Vacant(free) = segments.entry(step.segment_id) {
            free.insert(layer.segment(step.segment_id)?.ok_or_else(|| gone(layer, step.segment_id))?);
        }
    }
    let mut nearby = BTreeMap::new();
    if question.buffer_m > 0.0 {
        for bounds in along(&question.track, question.buffer_m, gap_m) {
            nearby.extend(layer.segments_in(bounds)?.into_iter().map(|s| (s.segment_id, s)));
        }
        nearby.retain(|id, _| !segments.contains_key(id));
    }
    let nearby: Vec<SegmentRow> = nearby.into_values().collect();
    let mut drive = of_rows(&DriveRows {
        matched: &found,
        segments: &segments,
        overheads: &overheads_of(layer, &segments)?,
        nearby: &nearby,
        worst: question.worst,
        buffer_m: question.buffer_m,
        edges: &layer.record().profile.rating,
        outages: &outages_of(layer, &found)?,
    });
    // What is not known must not read as a drive without outages.
    if drive.pieces.is_empty() {
        return Err(nothing_driven(layer, &question.track, gap_m, question.matching.radius_m));
    }
    tell_towns(layer, &mut drive)?;
    drive.notes = question.track.notes.clone();
    drive.notes.extend(too_scattered(drive.scatter_m, question.matching.sigma_m, question.units));
    Ok(drive)
}

/// Fills in by which places people know the worst stretches.
fn tell_towns(layer: &Layer, drive: &mut Corridor) -> Result<()> {
    let at = |lon_deg, lat_deg| Position::from_deg(lon_deg, lat_deg);
    let towns = Towns::around(layer, drive.worst.iter().map(|s| at(s.lon_deg, s.lat_deg)))?;
    drive.worst.iter_mut().for_each(|s| s.town = towns.near(at(s.lon_deg, s.lat_deg)));
    Ok(())
}

/// What is said where points lie farther from their roads than the noise they were matched with.
fn too_scattered(scatter_m: Option<f64>, sigma_m: f64, units: Units) -> Option<String> {
    let scatter_m = scatter_m.filter(|m| *m > TOO_SCATTERED * sigma_m)?;
    let most_m = scatter_m.ceil().min(MOST_NOISE_M);
    Some(format!(
        "the points scatter by about {} around their roads, more than the {} of noise they were matched with: some of \
         these roads may be wrong; try --noise {most_m:.0}m",
        units.near(scatter_m),
        units.near(sigma_m)
    ))
}

/// A segment that a way names and that is not found by its id: without it, its outages would be missing.
fn gone(layer: &Layer, segment_id: i64) -> Error {
    let fact = "its way names it, but it is not found by its id";
    damaged_value(layer.path(), &SegmentRow::TABLE, segment_id, "segment_id", fact)
}

/// What a layer says about a drive whose segments are known; nothing about roads nearby.
pub(in crate::ask) fn of_matched(
    layer: &Layer,
    matched: &Matched,
    segments: &HashMap<i64, SegmentRow>,
    worst: usize,
) -> Result<Corridor> {
    let mut drive = of_rows(&DriveRows {
        matched,
        segments,
        overheads: &overheads_of(layer, segments)?,
        nearby: &[],
        worst,
        buffer_m: 0.0,
        edges: &layer.record().profile.rating,
        outages: &outages_of(layer, matched)?,
    });
    tell_towns(layer, &mut drive)?;
    Ok(drive)
}

/// The layer's outages by the lanes driven.
fn outages_of(layer: &Layer, matched: &Matched) -> Result<HashMap<LaneId, OutageRow>> {
    let mut found: HashMap<LaneId, OutageRow> = HashMap::new();
    for lane in matched.steps.iter().map(|s| (s.segment_id, s.forward)) {
        if !found.contains_key(&lane)
            && let Some(row) = layer.outage_over(lane.0, lane.1)?
        {
            found.insert(lane, row);
        }
    }
    Ok(found)
}

/// What stands over segments, by id.
fn overheads_of(layer: &Layer, segments: &HashMap<i64, SegmentRow>) -> Result<Vec<OverheadRow>> {
    let mut ids: Vec<i64> = segments.keys().copied().collect();
    ids.sort_unstable();
    let mut overheads = Vec::new();
    for id in ids {
        overheads.extend(layer.overheads(id)?);
    }
    Ok(overheads)
}
