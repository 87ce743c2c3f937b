//! What is asked, and how it is answered.
use std::collections::HashSet;

use geo::MultiPolygon;

use super::inside::Inside;
use super::model::Portion;
use super::numbered::numbered;
use super::thin::thinned;
use crate::ask::corridor::{CorridorQuestion, corridor};
use crate::ask::matching::MatchOptions;
use crate::ask::source::Source;
use crate::ask::track::Track;
use crate::base::error::{Error, Result};
use crate::layer::model::{SegmentRow, StopRow};
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
    let inside = Inside::of(&question.part);
    let boxes = inside.boxes();
    if boxes.is_none() {
        check_size(layer, question.most_read)?;
    }
    let (mut segments, stops) = match &boxes {
        None => (layer.segments()?, layer.stops()?),
        Some(boxes) => within(layer, boxes, &inside)?,
    };
    if segments.is_empty() {
        return Err(empty(layer, boxes.is_none()));
    }
    if segments.len() as u64 > question.most_read {
        return Err(too_many(layer, segments.len() as u64, question.most_read));
    }
    let own: HashSet<i64> = segments.iter().map(|s| s.segment_id).collect();
    let outages: Vec<_> = layer.outages()?.into_iter().filter(|o| own.contains(&o.segment_from)).collect();
    let outages = numbered(&outages, &segments);
    let left_out = thinned(&mut segments, question.most_segments);
    let trip = match &question.part {
        PortionOf::Along { track, matching, .. } => {
            let asked = CorridorQuestion { track: track.clone(), matching: *matching, ..CorridorQuestion::default() };
            Some(corridor(layer, &asked)?)
        }
        _ => None,
    };
    let seen = Bounds::around(&segments.iter().flat_map(|s| s.line.iter().copied()).collect::<Vec<_>>());
    let (places, ground, ground_lines) = match seen {
        None => Default::default(),
        Some(seen) => (layer.named_places_in(seen)?, layer.ground_in(seen)?, layer.ground_lines_in(seen)?),
    };
    Ok(Portion { source: Source::of(layer), segments, left_out, stops, outages, places, ground, ground_lines, trip })
}

/// Segments and places to stop of some boxes that lie in the part.
fn within(layer: &Layer, boxes: &[Bounds], inside: &Inside<'_>) -> Result<(Vec<SegmentRow>, Vec<StopRow>)> {
    let (mut segments, mut stops) = (Vec::<SegmentRow>::new(), Vec::<StopRow>::new());
    for bounds in boxes {
        segments.extend(layer.segments_in(*bounds)?.into_iter().filter(|s| inside.touches(&s.line)));
        stops.extend(layer.stops_in(*bounds)?.into_iter().filter(|s| inside.holds(s.at)));
    }
    // Boxes lie over each other.
    segments.sort_by_key(|s| s.segment_id);
    segments.dedup_by_key(|s| s.segment_id);
    stops.sort_by_key(|s| s.stop_id);
    stops.dedup_by_key(|s| s.stop_id);
    Ok((segments, stops))
}

fn check_size(layer: &Layer, most: u64) -> Result<()> {
    let counts = layer.counts()?;
    let there = counts.iter().find(|(table, _)| *table == "segments").map_or(0, |(_, rows)| *rows);
    if there > most { Err(too_many(layer, there, most)) } else { Ok(()) }
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
