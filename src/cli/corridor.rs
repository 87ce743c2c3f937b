//! `corridor`: reads the layer near a track and the track, writes the answer.
use std::collections::HashMap;
use std::path::Path;

use super::args::Corridor;
use super::show::CAUTION;
use super::whole;
use crate::ask::corridor::{self, Question};
use crate::ask::matching::{Matched, Options, Roads, TrackPoint, Unmatched, matched};
use crate::ask::track::{self, Track};
use crate::base::error::{Error, Result};
use crate::base::geodesy::{LocalPlane, Point, Position, distance_m};
use crate::layer::model::{SegmentRow, StopRow};
use crate::layer::{Bounds, Layer};
use crate::report::{self, Format};

/// Roads this far around the track may be part of a way between two points, metres.
const MARGIN_M: f64 = 300.0;
/// Boxes of the track are closed when they are this large, metres.
const BOX_M: f64 = 1_000.0;

/// The text for standard output; a file asked for is written.
pub fn answer(args: &Corridor) -> Result<String> {
    let format = match &args.output {
        Some(path) => Some((path, Format::of_file(path)?)),
        None => None,
    };
    let layer = Layer::open(&args.layer)?;
    let track = read_track_with(&args.track, args.polyline_precision)?;
    let options = Options { sigma_m: args.noise, beta_m: args.noise, ..Options::default() };
    let found = asked(&layer, &track, &options, args.worst, args.buffer)?;
    if let Some((path, format)) = format {
        whole::write(path, report::written(&found, format, CAUTION)?.as_bytes(), args.overwrite)?;
        return Ok(format!("written\n  {}\n{CAUTION}\n", path.display()));
    }
    if args.json { report::written(&found, Format::Json, CAUTION) } else { Ok(report::table(&found, CAUTION)) }
}

pub(super) fn format_of(path: &Path) -> Result<Format> {
    let ending = path.extension().and_then(|e| e.to_str()).unwrap_or_default();
    Format::of_ending(ending).ok_or_else(|| {
        Error::usage("--output", format!("`.{ending}` is not a known ending"), "use .geojson, .gpx, .csv or .json")
    })
}

/// A track from a file, or typed.
pub fn read_track(track: &str) -> Result<Track> {
    read_track_with(track, None)
}

/// A track from a file, or typed; `polyline_decimals` is the precision of an encoded polyline where it is told.
fn read_track_with(track: &str, polyline_decimals: Option<u8>) -> Result<Track> {
    let path = Path::new(track);
    if path.is_file() {
        let next = "give a GPX, GeoJSON or encoded polyline";
        let bytes = std::fs::read(path).map_err(|e| Error::file(path, e.to_string(), next))?;
        let text = String::from_utf8(bytes).map_err(|e| Error::file(path, format!("is not UTF-8: {e}"), next))?;
        return track::read_with(&text, polyline_decimals).map_err(|fact| Error::file(path, fact, next));
    }
    let next = "give a file, or waypoints such as \"42.5,1.5 42.6,1.6\"";
    if !track.contains(',') && track.contains(['/', '.']) {
        return Err(Error::file(path, "is not there", next));
    }
    track::read_with(track, polyline_decimals).map_err(|fact| Error::usage("track", fact, next))
}

/// Asks a layer about a track.
pub fn asked(
    layer: &Layer,
    track: &Track,
    options: &Options,
    worst: usize,
    buffer_m: f64,
) -> Result<corridor::Corridor> {
    let (rows, edges) = layer.ways_in(&boxes(track, MARGIN_M, options.gap_m))?;
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
        for bounds in boxes(track, buffer_m, options.gap_m) {
            nearby.extend(layer.segments_in(bounds)?.into_iter().map(|s| (s.segment_id, s)));
        }
    }
    let mut nearby: Vec<SegmentRow> = nearby.into_values().collect();
    nearby.sort_by_key(|s| s.segment_id);
    let steady_outage_s = layer.record().profile.rating.steady_outage_s;
    Ok(corridor::corridor(&Question {
        matched: &found,
        segments: &segments,
        overheads: &overheads,
        nearby: &nearby,
        worst,
        buffer_m,
        steady_outage_s,
    }))
}

/// All pieces of a track, one after the other; what lies between two pieces is no part of the track.
fn match_all(roads: &Roads, track: &Track, options: &Options) -> Matched {
    let mut all = Matched::default();
    for piece in &track.pieces {
        let one = matched(roads, piece, options);
        let first = all.steps.last().map_or(0, |s| s.drive + 1);
        let start_m = all.track_m;
        all.steps.extend(one.steps.iter().map(|s| crate::ask::matching::Step { drive: s.drive + first, ..*s }));
        all.unmatched.extend(one.unmatched.iter().map(|u| Unmatched { start_m: u.start_m + start_m, ..*u }));
        all.track_m += one.track_m;
        all.points += one.points;
        all.used += one.used;
    }
    all
}

/// Places to stop in the boxes around a drive, each once, by id.
pub fn stops_beside(layer: &Layer, drive: &corridor::Corridor, within_m: f64) -> Result<Vec<StopRow>> {
    let line = drive.pieces.iter().flat_map(|p| &p.line).map(|at| TrackPoint { at: *at, time_s: None }).collect();
    let track = Track { pieces: vec![line], repeated: 0 };
    let mut rows = Vec::new();
    for bounds in boxes(&track, within_m, BOX_M) {
        rows.extend(layer.stops_in(bounds)?);
    }
    rows.sort_by_key(|s| s.stop_id);
    rows.dedup_by_key(|s| s.stop_id);
    Ok(rows)
}

/// A box of the track as it grows.
struct Growing {
    start: Position,
    last: Position,
    bounds: Bounds,
    /// Longest step to a neighbour that is joined, metres.
    step_m: f64,
}

impl Growing {
    fn at(point: Position, step_m: f64) -> Self {
        Self { start: point, last: point, bounds: Bounds { min: point, max: point }, step_m }
    }
}

/// Boxes that cover a track, the lines between points up to `gap_m` apart, and a margin around both.
pub fn boxes(track: &Track, margin_m: f64, gap_m: f64) -> Vec<Bounds> {
    let mut out = Vec::new();
    let mut close = |b: Growing| out.extend(widened(b.bounds, margin_m + 0.5 * b.step_m));
    for piece in &track.pieces {
        let mut open: Option<Growing> = None;
        for at in piece.iter().map(|p| p.at) {
            let Some(mut now) = open.take() else {
                open = Some(Growing::at(at, 0.0));
                continue;
            };
            let step_m = Some(distance_m(now.last, at)).filter(|m| *m <= gap_m).unwrap_or(0.0);
            now.step_m = now.step_m.max(step_m);
            let over = (now.last.lon_deg() - at.lon_deg()).abs() > 180.0;
            open = if over || distance_m(now.start, at) >= BOX_M {
                close(now);
                Some(Growing::at(at, step_m))
            } else {
                Some(Growing { bounds: now.bounds.joined(Bounds { min: at, max: at }), last: at, ..now })
            };
        }
        open.into_iter().for_each(&mut close);
    }
    out
}

/// A box with a margin around it; two boxes where that reaches over the antimeridian.
pub(super) fn widened(bounds: Bounds, margin_m: f64) -> Vec<Bounds> {
    let moved = |at: Position, by_m: f64| LocalPlane::at_position(at).to_lon_lat(Point::new(by_m, by_m));
    let ((west, south), (east, north)) = (moved(bounds.min, -margin_m), moved(bounds.max, margin_m));
    if east - west >= 360.0 {
        return vec![Bounds::from_deg(-180.0, south, 180.0, north)];
    }
    let mut out = vec![Bounds::from_deg(west.max(-180.0), south, east.min(180.0), north)];
    if east > 180.0 {
        out.push(Bounds::from_deg(-180.0, south, east - 360.0, north));
    }
    if west < -180.0 {
        out.push(Bounds::from_deg(west + 360.0, south, 180.0, north));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn boxes_hold_the_line_between_points_and_stop_at_the_antimeridian() {
        let within = |boxes: &[Bounds], lon: f64, lat: f64| {
            let at = Position::from_deg(lon, lat);
            boxes.iter().any(|b| b.meets(Bounds { min: at, max: at }))
        };
        let of = |text: &str| boxes(&track::read(text).unwrap(), 300.0, 1_500.0);
        // 1.2 km apart: the middle is in, and 300 m beside it.
        let across = of("42.5,1.5 42.5,1.5146");
        assert!(within(&across, 1.5073, 42.5) && within(&across, 1.5073, 42.5026));
        // 5 km apart: not joined, so nothing is read between them.
        assert!(!within(&of("42.5,1.5 42.5,1.56"), 1.53, 42.5));
        let fiji = of("-16.8,179.995 -16.8,-179.995");
        assert!(within(&fiji, 179.999, -16.8) && within(&fiji, -179.999, -16.8) && within(&fiji, 180.0, -16.8));
        assert!(!within(&fiji, 0.0, -16.8), "the rest of the parallel is not read");
        assert!(within(&of("89.99999,0 89.99999,90"), 10.0, 89.9999));
    }
}
