//! The trip itself: casing, colour and width by rating, patterns for the worst, stretches of meetings, arrows.
use std::fmt::Write;

use super::super::drive::DayDriven;
use crate::base::geodesy::Position;
use crate::base::ramp::{hex, look};
use crate::base::words::{PerRating, Rating};
use crate::report::drawing::frame::{Frame, Xy};
use crate::report::drawing::labels::Labels;
use crate::report::drawing::lines::{path, simplified};

/// Dark rim on each side, pixels: tells the trip from the roads beside it.
const RIM_PX: f64 = 1.2;
/// Deviation of the drawn line, user units.
const TOLERANCE: f64 = 0.3;
/// Arrows along the trip, user units apart.
const ARROWS_APART: f64 = 85.0;

/// White dashes inside the line: a third sign, for black and white.
pub(super) fn dashes(rating: Rating) -> Option<&'static str> {
    match rating {
        Rating::Drops => Some("9 5"),
        Rating::Dark => Some("2 4"),
        Rating::Steady | Rating::Blips | Rating::Gaps => None,
    }
}

/// A path with a stroke of its own.
fn stroke(out: &mut String, data: &str, colour: &str, width_px: f64, more: &str) {
    if !data.is_empty() {
        let _ = writeln!(out, "<path stroke=\"{colour}\" stroke-width=\"{width_px:.1}\"{more} d=\"{data}\"/>");
    }
}

/// Strokes of one rating over a line drawn in tenths: rim, colour, dashes.
pub(super) fn strokes(out: &mut String, data: &PerRating<String>) {
    for (rating, line) in data.iter() {
        stroke(out, line, "#1a1a1a", look(rating).width_px + 2.0 * RIM_PX, "");
    }
    for (rating, line) in data.iter() {
        let look = look(rating);
        stroke(out, line, &hex(look.colour), look.width_px, "");
        if let Some(dashes) = dashes(rating) {
            let more = format!(" stroke-dasharray=\"{dashes}\" stroke-linecap=\"butt\"");
            stroke(out, line, "#fff", look.width_px * 0.32, &more);
        }
    }
}

/// The line of pieces in a row, without doubled corners.
pub(super) fn joined<'a>(pieces: impl Iterator<Item = &'a crate::ask::corridor::Piece>) -> Vec<Position> {
    let mut line: Vec<Position> = pieces.flat_map(|p| p.line.iter().copied()).collect();
    line.dedup();
    line
}

/// Draws the trip.
pub(super) fn write(out: &mut String, frame: &Frame, driven: &DayDriven) {
    let mut data: PerRating<String> = PerRating::default();
    for run in driven.pieces.chunk_by(|a, b| a.rating == b.rating && a.drive == b.drive) {
        let line = simplified(&frame.line(&joined(run.iter())), TOLERANCE);
        path(&mut data[run[0].rating], &line);
    }
    *out += "<g class=\"trip\" transform=\"scale(.1)\">\n";
    strokes(out, &data);
    *out += "</g>\n";
}

/// Track off the layer's roads, hatched and straight from end to end.
pub(super) fn gaps(out: &mut String, frame: &Frame, gaps: &[[Position; 2]]) {
    for [(x0, y0), (x1, y1)] in gaps.iter().map(|gap| gap.map(|at| frame.place(at))) {
        let _ = writeln!(
            out,
            "<path class=\"off\" d=\"M{x0:.1} {y0:.1}L{x1:.1} {y1:.1}\"><title>not known: off the layer's \
             roads</title></path>"
        );
    }
}

/// The road driven during a meeting, as an outlined band under the trip; returns where its sign belongs.
pub(super) fn band(out: &mut String, frame: &Frame, driven: &DayDriven, (from_km, to_km): (f64, f64)) -> Option<Xy> {
    let mut data = String::new();
    let pieces: Vec<_> = driven.between(from_km, to_km).collect();
    for run in pieces.chunk_by(|a, b| a.drive == b.drive) {
        path(&mut data, &simplified(&frame.line(&joined(run.iter().copied())), TOLERANCE));
    }
    *out += "<g class=\"band\" transform=\"scale(.1)\">\n";
    stroke(out, &data, "#1a1a1a", 17.0, "");
    stroke(out, &data, "#f6e3b0", 14.6, "");
    *out += "</g>\n";
    driven.place((from_km + to_km) / 2.0).map(|p| frame.place(p))
}

/// Arrows that show which way the trip goes.
pub(super) fn arrows(out: &mut String, frame: &Frame, driven: &DayDriven, labels: &mut Labels) {
    for run in driven.pieces.chunk_by(|a, b| a.drive == b.drive) {
        let line = simplified(&frame.line(&joined(run.iter())), 2.0);
        labels.keep_line_free(&line);
        let mut next = ARROWS_APART * 0.5;
        for pair in line.windows(2) {
            let (dx, dy) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
            let length = dx.hypot(dy);
            while next <= length {
                let (x, y) = (pair[0].0 + dx * next / length, pair[0].1 + dy * next / length);
                let turn = dy.atan2(dx).to_degrees();
                // To the right of the line.
                let (ax, ay) = (x - 10.0 * dy / length, y + 10.0 * dx / length);
                labels.keep_free([ax - 5.0, ay - 5.0, ax + 5.0, ay + 5.0]);
                let _ = writeln!(
                    out,
                    "<g transform=\"translate({x:.1} {y:.1}) rotate({turn:.0})\"><path class=\"arrow\" d=\"M-4 4.5L6 10L-4 15.5L-1.5 10Z\"/></g>"
                );
                next += ARROWS_APART;
            }
            next -= length;
        }
    }
}
