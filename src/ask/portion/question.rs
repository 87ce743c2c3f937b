//! What is asked, and how it is answered.
use std::collections::HashMap;

use geo::MultiPolygon;

use super::inside::PartShape;
use super::model::{NumberedOutage, Portion};
use super::near::NearLines;
use super::numbered::numbered;
use super::rings::RingEdges;
use super::thin::thinned;
use crate::ask::boxes::widened;
use crate::ask::corridor::{Corridor, CorridorQuestion, corridor};
use crate::ask::matching::MatchOptions;
use crate::ask::source::Source;
use crate::ask::track::Track;
use crate::base::error::{Error, Result};
use crate::base::geodesy::{Position, distance_m};
use crate::layer::model::{OutageRow, SegmentRow, StopRow};
use crate::layer::schema::Row;
use crate::layer::{Bounds, Layer};

/// Which part of a layer.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum PortionOf {
    /// All of it.
    #[default]
    Whole,
    /// What lies in a box.
    Box(Bounds),
    /// What lies in polygons, longitude and latitude in degrees.
    Polygons(MultiPolygon<f64>),
    /// What lies near a track, and the drive along it.
    Along {
        /// The track.
        track: Track,
        /// How it is matched to roads.
        matching: MatchOptions,
        /// How near, metres.
        buffer_m: f64,
    },
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PortionQuestion {
    /// Which part.
    pub part: PortionOf,
    /// Most segments wanted: groups of roads are left out above it, the least ones first.
    pub most_segments: usize,
    /// Segments above which nothing is made at all.
    pub most_read: u64,
}

/// A part of a layer.
///
/// # Errors
/// The layer cannot be read; it holds more than is wanted; nothing lies in the part; the track does not lie on roads.
pub fn portion(layer: &Layer, question: &PortionQuestion) -> Result<Portion> {
    let trip = match &question.part {
        PortionOf::Along { track, matching, .. } => {
            let asked = CorridorQuestion { track: track.clone(), matching: *matching, ..CorridorQuestion::default() };
            Some(corridor(layer, &asked)?)
        }
        _ => None,
    };
    let inside = inside(&question.part, trip.as_ref());
    let boxes = inside.boxes();
    // Counted before anything is read: a box may hold a continent.
    let keys = layer.keys_in_any(&SegmentRow::TABLE, boxes)?;
    let there = keys.len() as u64;
    if there > question.most_read {
        return Err(too_many(layer, there, question.most_read));
    }
    let mut segments: Vec<SegmentRow> = layer.rows_of(keys)?;
    segments.retain(|s| inside.touches(&s.line));
    if segments.is_empty() {
        return Err(empty(layer, question.part == PortionOf::Whole));
    }
    let mut stops: Vec<StopRow> = layer.rows_in(boxes)?;
    stops.retain(|s| inside.holds(s.at));
    let outages = outages(layer, boxes, &inside, &segments)?;
    // With those that are left out below.
    let seen = seen(&segments);
    let left_out = thinned(&mut segments, question.most_segments);
    let (places, ground, ground_lines) = (layer.rows_in(&seen)?, layer.rows_in(&seen)?, layer.rows_in(&seen)?);
    Ok(Portion { source: Source::of(layer), segments, left_out, stops, outages, places, ground, ground_lines, trip })
}

fn inside(part: &PortionOf, trip: Option<&Corridor>) -> PartShape {
    match part {
        PortionOf::Whole => PartShape::Whole,
        PortionOf::Box(bounds) => PartShape::InBox(*bounds),
        PortionOf::Polygons(polygons) => PartShape::Polygons(RingEdges::of(polygons)),
        PortionOf::Along { track, buffer_m, .. } => {
            // The road driven is part of it where the track has a gap, and the track where it is off the roads.
            let track_lines: Vec<Vec<Position>> =
                track.pieces.iter().map(|piece| piece.iter().map(|p| p.at).collect()).collect();
            let driven: Vec<&[Position]> = trip.iter().flat_map(|t| &t.pieces).map(|p| p.line.as_slice()).collect();
            let lines: Vec<&[Position]> = track_lines.iter().map(Vec::as_slice).chain(driven).collect();
            let boxes = around(&lines, *buffer_m);
            PartShape::Near(NearLines::of(lines), *buffer_m, boxes)
        }
    }
}

/// Boxes around lines and a distance on all sides, few of them: each holds as much of the lines as fits into that distance.
fn around(lines: &[&[Position]], buffer_m: f64) -> Vec<Bounds> {
    let most_m = buffer_m.max(1_000.0);
    let fits = |b: &Bounds| distance_m(b.min, b.max) <= most_m;
    let (mut out, mut open) = (Vec::new(), None::<Bounds>);
    let steps = lines.iter().flat_map(|line| line.windows(2.min(line.len().max(1))));
    for step in steps {
        let ends = step.iter().map(|at| Bounds { min: *at, max: *at });
        // A step over 180 degrees would be a box around the earth: its ends count alone, the lines do between them.
        let turns = step.iter().any(|at| (i64::from(at.lon_e7) - i64::from(step[0].lon_e7)).abs() > 1_800_000_000);
        let parts: Vec<Bounds> = if turns { ends.collect() } else { ends.reduce(Bounds::joined).into_iter().collect() };
        for part in parts {
            match open.map(|b| b.joined(part)).filter(fits) {
                Some(larger) => open = Some(larger),
                None => {
                    out.extend(open);
                    open = Some(part);
                }
            }
        }
    }
    out.extend(open);
    out.into_iter().flat_map(|b| widened(b, buffer_m)).collect()
}

/// The worst outages whose road lies in the part, wherever they begin.
fn outages(
    layer: &Layer,
    boxes: &[Bounds],
    inside: &PartShape,
    segments: &[SegmentRow],
) -> Result<Vec<NumberedOutage>> {
    let mut rows: Vec<OutageRow> = layer.rows_in(boxes)?;
    rows.retain(|o| inside.touches(&o.line));
    let mut known: HashMap<i64, SegmentRow> = HashMap::new();
    let here: HashMap<i64, &SegmentRow> = segments.iter().map(|s| (s.segment_id, s)).collect();
    for row in &rows {
        if !here.contains_key(&row.segment_from)
            && !known.contains_key(&row.segment_from)
            && let Some(segment) = layer.segment(row.segment_from)?
        {
            known.insert(row.segment_from, segment);
        }
    }
    let first = |row: &OutageRow| here.get(&row.segment_from).copied().or_else(|| known.get(&row.segment_from));
    Ok(numbered(&rows, &first, &layer.record().profile.rating))
}

/// Boxes around roads; two where they lie on both sides of 180 degrees.
fn seen(segments: &[SegmentRow]) -> Vec<Bounds> {
    let halves = [true, false].map(|east| {
        let own = |s: &&SegmentRow| s.line.first().is_some_and(|p| (p.lon_e7 > 0) == east);
        let boxes = segments.iter().filter(own).filter_map(|s| Bounds::around(&s.line));
        boxes.reduce(Bounds::joined)
    });
    match halves {
        [Some(east), Some(west)] if i64::from(east.max.lon_e7) - i64::from(west.min.lon_e7) > 1_800_000_000 => {
            vec![east, west]
        }
        [east, west] => east.into_iter().chain(west).reduce(Bounds::joined).into_iter().collect(),
    }
}

fn too_many(layer: &Layer, there: u64, most: u64) -> Error {
    Error::file(
        layer.path(),
        format!("has {there} segments there, more than the {most} that fit on a page"),
        "ask for a part with --area FILE, --bounds S,W,N,E or --along TRACK",
    )
}

fn empty(layer: &Layer, whole: bool) -> Error {
    match whole {
        true => Error::file(layer.path(), "holds no roads", "build it from an extract with roads"),
        false => Error::file(
            layer.path(),
            "has no roads in the part asked for",
            "`waymask info LAYER` prints where its roads lie; ask for a part of that",
        ),
    }
}
