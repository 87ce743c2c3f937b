//! The region as a drawing: what a browser shows that runs no scripts or cannot draw the map.
use std::fmt::Write;

use super::lists;
use crate::ask::portion::Portion;
use crate::base::geodesy::Position;
use crate::base::markup::escape;
use crate::base::ramp::{hex, look};
use crate::base::words::{Evidence, PerRating, Rating, Units};
use crate::layer::RoadGroup;
use crate::layer::model::SegmentRow;
use crate::report::drawing::frame::{Frame, WIDTH, Xy};
use crate::report::drawing::furniture;
use crate::report::drawing::labels::{Labels, Shape};
use crate::report::drawing::lines::{clipped, path, simplified};

/// Points of all roads of the drawing; the least roads are left out first.
const MOST_POINTS: usize = 30_000;
/// Deviation that nobody sees, user units.
const TOLERANCE: f64 = 0.5;
/// Names of places that are written at most.
const NAMES: usize = 14;

/// The drawing.
pub(super) fn figure(portion: &Portion, units: Units) -> String {
    let of_trip = portion.trip.iter().flat_map(|trip| trip.pieces.iter().flat_map(|p| p.line.iter().copied()));
    let of_trip: Vec<Position> = of_trip.collect();
    let of_roads = || portion.segments.iter().flat_map(|s| s.line.iter().copied());
    let frame = if of_trip.is_empty() { Frame::around(of_roads()) } else { Frame::around(of_trip.iter().copied()) };
    let Some(frame) = frame else { return String::new() };
    let mut out = format!(
        "<figure class=\"drawn\" id=\"drawn\">\n<svg viewBox=\"0 0 {WIDTH} {:.0}\" role=\"img\" aria-labelledby=\"drawn-title\">\n\
         <title id=\"drawn-title\">Overview of the roads, north up. Everything it says is in the list, too.</title>\n<rect class=\"paper\" \
         width=\"{WIDTH}\" height=\"{:.0}\"/>\n",
        frame.height, frame.height
    );
    water(&mut out, &frame, portion);
    if let Some(trip) = &portion.trip {
        let line = simplified(&frame.line(&of_trip), TOLERANCE);
        let mut data = String::new();
        path(&mut data, &line);
        let _ = writeln!(
            out,
            "<g class=\"drive\" transform=\"scale(.1)\"><path d=\"{data}\"><title>The drive, {}</title></path></g>",
            units.road(trip.length_m)
        );
    }
    let left_out = roads(&mut out, &frame, &portion.segments);
    furniture::write(&mut out, &frame, units);
    let mut labels = Labels::new(&frame);
    furniture::boxes(&frame, units).into_iter().for_each(|taken| labels.keep_free(taken));
    signs(&mut out, &frame, portion, units, &mut labels);
    names(&mut out, &frame, portion, &mut labels);
    let drive = if portion.trip.is_some() { " The pale band is the drive." } else { "" };
    let small = if left_out { " Smaller roads are left out of the drawing." } else { "" };
    let _ = writeln!(
        out,
        "</svg>\n<figcaption>Roads by rating: the worse, the wider and darker; dotted: may be worse, a cause is not known.{drive} Numbers are those of the list.{small}</figcaption>\n</figure>"
    );
    out
}

/// Lakes, rivers and coasts.
fn water(out: &mut String, frame: &Frame, portion: &Portion) {
    let mut areas = String::new();
    for ring in portion.ground.iter().flat_map(|area| &area.rings) {
        let line = simplified(&frame.line(ring), TOLERANCE);
        if line.len() > 3 {
            path(&mut areas, &line);
            areas.push('z');
        }
    }
    let mut lines = String::new();
    for shore in &portion.ground_lines {
        let line = simplified(&frame.line(&shore.line), TOLERANCE);
        clipped(&line, WIDTH, frame.height).iter().for_each(|part| path(&mut lines, part));
    }
    let _ = writeln!(
        out,
        "<g transform=\"scale(.1)\"><path class=\"water\" fill-rule=\"evenodd\" d=\"{areas}\"/><path class=\"shore\" d=\"{lines}\"/></g>"
    );
}

/// The least group of roads that is drawn, by its place in this list.
const GROUPS: [RoadGroup; 4] = RoadGroup::ROADS;

fn rank(group: RoadGroup) -> usize {
    GROUPS.iter().position(|g| *g == group).unwrap_or(0)
}

/// Roads as one path for each rating and group; whether some were left out.
fn roads(out: &mut String, frame: &Frame, segments: &[SegmentRow]) -> bool {
    let mut shapes: Vec<(usize, Rating, Vec<Xy>)> = Vec::new();
    let (mut boarded, mut unknown) = (String::new(), String::new());
    for segment in segments {
        let line = simplified(&frame.line(&segment.line), TOLERANCE);
        let rank = rank(RoadGroup::of(segment.highway));
        let parts = clipped(&line, WIDTH, frame.height);
        if segment.evidence == Evidence::Unknown {
            parts.iter().for_each(|part| path(&mut unknown, part));
        }
        if segment.highway.is_boarded() {
            parts.iter().for_each(|part| path(&mut boarded, part));
        } else {
            shapes.extend(parts.into_iter().map(|part| (rank, segment.rating, part)));
        }
    }
    let points = |least: usize| shapes.iter().filter(|s| s.0 <= least).map(|s| s.2.len()).sum::<usize>();
    let least = (0..GROUPS.len()).rev().find(|least| points(*least) <= MOST_POINTS).unwrap_or(0);
    *out += "<g class=\"roads\" transform=\"scale(.1)\">\n";
    for group in (0..=least).rev() {
        let mut data: PerRating<String> = PerRating::default();
        shapes.iter().filter(|s| s.0 == group).for_each(|s| path(&mut data[s.1], &s.2));
        for (rating, line) in data.iter().filter(|(_, line)| !line.is_empty()) {
            let look = look(rating);
            let width_px = look.width_px * GROUPS[group].look().width * 0.6;
            let _ =
                writeln!(out, "<path stroke=\"{}\" stroke-width=\"{width_px:.1}\" d=\"{line}\"/>", hex(look.colour));
        }
    }
    if !boarded.is_empty() {
        let colour = hex(look(Rating::Dark).colour);
        let _ = writeln!(out, "<path class=\"boarded\" stroke=\"{colour}\" d=\"{boarded}\"/>");
    }
    let _ = writeln!(out, "<path class=\"unknown\" d=\"{unknown}\"/>");
    *out += "</g>\n";
    shapes.iter().any(|s| s.0 > least)
}

/// The numbers of outages.
fn signs(out: &mut String, frame: &Frame, portion: &Portion, units: Units, labels: &mut Labels) {
    let middle = |line: &[Position]| line.get(line.len() / 2).map(|at| frame.place(*at));
    let inside = |(x, y): &Xy| (0.0..=WIDTH).contains(x) && (0.0..=frame.height).contains(y);
    if let Some(trip) = &portion.trip {
        for (number, o) in (1..).zip(lists::of_drive(trip)) {
            if let Some(at) = middle(&trip.pieces[(o.first + o.end) / 2].line) {
                labels.put(out, at, &format!("{number}"), Shape::Circle, &lists::driven_title(o, units));
            }
        }
        return;
    }
    for (number, o) in (1..).zip(&portion.outages) {
        if let Some(at) = middle(&o.line).filter(inside) {
            labels.put(out, at, &format!("{number}"), Shape::Circle, &lists::title(o, units));
        }
    }
}

/// Names of the greatest places.
fn names(out: &mut String, frame: &Frame, portion: &Portion, labels: &mut Labels) {
    let mut all: Vec<_> = portion.places.iter().collect();
    all.sort_by(|a, b| a.rank.cmp(&b.rank).then(a.name.cmp(&b.name)));
    let placed = all.into_iter().map(|named| (named, frame.place(named.at)));
    let inside = placed.filter(|(_, (x, y))| (0.0..=WIDTH).contains(x) && (0.0..=frame.height).contains(y));
    for (named, (x, y)) in inside.take(NAMES) {
        let _ = write!(
            out,
            "<circle class=\"town\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"2\"><title>{}</title></circle>",
            escape(&super::strings::cut(&named.name))
        );
        labels.put(out, (x, y), &named.name.chars().take(24).collect::<String>(), Shape::Words, "");
    }
}
