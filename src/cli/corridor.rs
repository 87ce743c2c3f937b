//! `corridor`: reads the layer near a track and the track, writes the answer.
use std::collections::HashMap;
use std::path::Path;

use super::args::Corridor;
use super::show::CAUTION;
use super::whole;
use crate::error::{Error, Result};
use crate::geodesy::{LocalPlane, Point, Position, distance_m};
use crate::layer::model::SegmentRow;
use crate::layer::{Bounds, Layer};
use crate::report::{self, Format};
use crate::trip::corridor::{self, Question};
use crate::trip::matching::{Matched, Options, Roads, Unmatched, matched};
use crate::trip::track::{self, Track};

/// Roads this far around the track may be part of a way between two points, metres.
const MARGIN_M: f64 = 300.0;
/// Boxes of the track are closed when they are this large, metres.
const BOX_M: f64 = 1_000.0;

/// The text for standard output; a file asked for is written.
pub fn answer(args: &Corridor) -> Result<String> {
    let format = match &args.output {
        Some(path) => Some((path, format_of(path)?)),
        None => None,
    };
    let layer = Layer::open(&args.layer)?;
    let track = read_track(&args.track)?;
    let options = Options { sigma_m: args.noise, beta_m: args.noise, ..Options::default() };
    let found = asked(&layer, &track, &options, args.worst, args.buffer)?;
    if let Some((path, format)) = format {
        whole::write(path, report::written(&found, format, CAUTION)?.as_bytes(), true)?;
        return Ok(format!("written\n  {}\n{CAUTION}\n", path.display()));
    }
    if args.json { report::written(&found, Format::Json, CAUTION) } else { Ok(report::table(&found, CAUTION)) }
}

pub(super) fn format_of(path: &Path) -> Result<Format> {
    let ending = path.extension().and_then(|e| e.to_str()).unwrap_or_default();
    Format::of_ending(ending).ok_or_else(|| {
        Error::usage("--output", format!("`.{ending}` is no known ending"), "use .geojson, .gpx, .csv or .json")
    })
}

/// Reads a track from a file, or from the text itself.
pub fn read_track(track: &str) -> Result<Track> {
    let path = Path::new(track);
    if path.is_file() {
        let next = "give a GPX, GeoJSON or encoded polyline";
        let bytes = std::fs::read(path).map_err(|e| Error::file(path, e.to_string(), next))?;
        let text = String::from_utf8(bytes).map_err(|e| Error::file(path, format!("is not UTF-8: {e}"), next))?;
        return track::read(&text).map_err(|fact| Error::file(path, fact, next));
    }
    let next = "give a file, or waypoints such as \"42.5,1.5 42.6,1.6\"";
    if !track.contains(',') && track.contains(['/', '.']) {
        return Err(Error::file(path, "is not there", next));
    }
    track::read(track).map_err(|fact| Error::usage("track", fact, next))
}

/// Asks a layer about a track.
pub fn asked(
    layer: &Layer,
    track: &Track,
    options: &Options,
    worst: usize,
    buffer_m: f64,
) -> Result<corridor::Corridor> {
    let (rows, edges) = layer.ways_in(&boxes(track, MARGIN_M))?;
    let roads = Roads::new(&rows, &edges);
    let found = match_all(&roads, track, options);
    let (mut segments, mut overheads) = (HashMap::<i64, SegmentRow>::new(), Vec::new());
    for step in &found.steps {
        if !segments.contains_key(&step.segment_id)
            && let Some(row) = layer.segment(step.segment_id)?
        {
            segments.insert(step.segment_id, row);
            overheads.extend(layer.overheads(step.segment_id)?);
        }
    }
    let mut nearby = HashMap::new();
    if buffer_m > 0.0 {
        for bounds in boxes(track, buffer_m) {
            nearby.extend(layer.segments_in(bounds)?.into_iter().map(|s| (s.segment_id, s)));
        }
    }
    let mut nearby: Vec<SegmentRow> = nearby.into_values().collect();
    nearby.sort_by_key(|s| s.segment_id);
    let steady_break_s = layer.record().profile.rating.steady_break_s;
    Ok(corridor::corridor(&Question {
        matched: &found,
        segments: &segments,
        overheads: &overheads,
        nearby: &nearby,
        worst,
        buffer_m,
        steady_break_s,
    }))
}

/// All pieces of a track, one after the other; what lies between two pieces is no part of the track.
fn match_all(roads: &Roads, track: &Track, options: &Options) -> Matched {
    let mut all = Matched::default();
    for piece in &track.pieces {
        let one = matched(roads, piece, options);
        let first = all.steps.last().map_or(0, |s| s.drive + 1);
        let start_m = all.track_m;
        all.steps.extend(one.steps.iter().map(|s| crate::trip::matching::Step { drive: s.drive + first, ..*s }));
        all.unmatched.extend(one.unmatched.iter().map(|u| Unmatched { start_m: u.start_m + start_m, ..*u }));
        all.track_m += one.track_m;
        all.points += one.points;
        all.used += one.used;
    }
    all
}

/// Boxes that cover a track and a margin around it.
pub fn boxes(track: &Track, margin_m: f64) -> Vec<Bounds> {
    let mut out = Vec::new();
    for piece in &track.pieces {
        let mut open: Option<(Position, Bounds)> = None;
        for point in piece {
            let own = Bounds { min: point.at, max: point.at };
            open = match open {
                Some((start, bounds)) if distance_m(start, point.at) < BOX_M => Some((start, bounds.joined(own))),
                Some((_, bounds)) => {
                    out.push(widened(bounds, margin_m));
                    Some((point.at, own))
                }
                None => Some((point.at, own)),
            };
        }
        out.extend(open.map(|(_, bounds)| widened(bounds, margin_m)));
    }
    out
}

pub(super) fn widened(bounds: Bounds, margin_m: f64) -> Bounds {
    let moved = |at: Position, by_m: f64| LocalPlane::at_position(at).to_lon_lat(Point::new(by_m, by_m));
    let ((west, south), (east, north)) = (moved(bounds.min, -margin_m), moved(bounds.max, margin_m));
    Bounds::from_deg(west, south, east, north)
}
