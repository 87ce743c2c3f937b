//! The map of a day: the trip over the roads near it.
mod legend;
mod roads;
mod trip;

use std::fmt::Write;

use super::drive::DayDriven;
use super::model::DayOf;
use super::{answer, marks};
use crate::ask::corridor::Gap;
use crate::ask::plan::{Itinerary, Part};
use crate::base::geodesy::{Position, along, distance_m, length_m};
use crate::layer::model::PlaceRow;
use crate::report::drawing::frame::{Frame, WIDTH, Xy};
use crate::report::drawing::furniture;
use crate::report::drawing::labels::{Labels, Shape};
use crate::report::words::roof_words;

/// The map with its legend; nothing where nothing is driven.
pub(super) fn figure(out: &mut String, of: &DayOf, driven: &DayDriven) {
    let trip = driven.pieces.iter().flat_map(|p| p.line.iter().copied());
    let stops = answer::stops(&of.day.plan.chosen);
    let halts = stops.iter().filter_map(|(_, part)| place(part));
    let gaps: Vec<[Position; 2]> = of.day.corridor.unmatched.iter().filter(|g| !g.bridged).map(ends).collect();
    let all: Vec<Position> = trip.chain(halts).chain(gaps.iter().flatten().copied()).collect();
    let Some(frame) = Frame::around(all.iter().copied()) else { return };
    let n = of.number;
    let _ = writeln!(
        out,
        "<figure class=\"map\" id=\"map-{n}-f\">\n<svg viewBox=\"0 0 {WIDTH} {:.0}\" role=\"img\" aria-labelledby=\"map-{n} map-{n}-d\">\n\
         <title id=\"map-{n}\">Map of the day</title>\n<desc id=\"map-{n}-d\">The trip and the roads near it, north \
         up, coloured and widened by rating. Everything it shows is in the tables too.</desc>\n<rect class=\"paper\" \
         width=\"{WIDTH}\" height=\"{:.0}\"/>",
        frame.height, frame.height
    );
    let left_out = roads::write(out, &frame, of.nearby);
    let bands = bands(out, &frame, driven, &of.day.plan.chosen);
    trip::write(out, &frame, driven);
    trip::gaps(out, &frame, &gaps);
    let mut labels = Labels::new(&frame);
    trip::arrows(out, &frame, driven, &mut labels);
    furniture::write(out, &frame, driven.shown.units);
    furniture::boxes(&frame, driven.shown.units).into_iter().for_each(|b| labels.keep_free(b));
    signs(out, &frame, driven, &of.day.plan.chosen, &bands, &gaps, &mut labels);
    towns(out, &frame, of.places, &mut labels);
    words(out, &frame, driven, &mut labels);
    let small = if left_out { " Small roads are left out." } else { "" };
    let _ = writeln!(
        out,
        "</svg>\n<figcaption>The trip and the roads near it; colour and width show the rating in the direction \
         driven.{small}</figcaption>"
    );
    legend::legend(out, !gaps.is_empty());
    *out += "</figure>\n";
}

/// Where a stretch of track without a road begins and ends.
fn ends(gap: &Gap) -> [Position; 2] {
    [Position::from_deg(gap.lon_deg, gap.lat_deg), Position::from_deg(gap.to_lon_deg, gap.to_lat_deg)]
}

fn place(part: &Part) -> Option<Position> {
    match part {
        Part::Stop { place, .. } => Some(Position::from_deg(place.lon_deg, place.lat_deg)),
        Part::Drive { .. } => None,
    }
}

/// Bands of the meetings held in motion; where the sign of each meeting belongs.
fn bands(out: &mut String, frame: &Frame, driven: &DayDriven, day: &Itinerary) -> Vec<Option<Xy>> {
    day.meetings.iter().map(|m| m.road_km().and_then(|km| trip::band(out, frame, driven, km))).collect()
}

/// Start, end, stops, meetings and the worst stretches.
fn signs(
    out: &mut String,
    frame: &Frame,
    driven: &DayDriven,
    day: &Itinerary,
    bands: &[Option<Xy>],
    gaps: &[[Position; 2]],
    labels: &mut Labels,
) {
    let first = driven.pieces.first().and_then(|p| p.line.first()).copied();
    let last = driven.pieces.last().and_then(|p| p.line.last()).copied();
    let (Some(mut first), Some(mut last)) = (first, last) else { return };
    // Where the road of the layer ends one has not arrived.
    if let (true, Some([_, end])) = (driven.drive.ends_unknown(), gaps.last()) {
        last = *end;
    }
    if let (true, Some([begin, _])) = (driven.drive.begins_unknown(), gaps.first()) {
        first = *begin;
    }
    // The places themselves stay visible.
    let dot = |out: &mut String, (x, y): Xy| {
        let _ = writeln!(out, "<circle class=\"dot\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3.4\"/>");
    };
    let together = distance_m(first, last) * frame.scale < 12.0;
    let ends = if together { vec![("start, end", first)] } else { vec![("start", first), ("end", last)] };
    for (text, at) in ends {
        let at = frame.place(at);
        dot(out, at);
        labels.put(out, at, text, Shape::Flag, "");
    }
    for (sign, part) in answer::stops(day) {
        let (Some(at), Part::Stop { place, from, to, .. }) = (place(part), part) else { continue };
        let at = frame.place(at);
        dot(out, at);
        let title = format!("{}{} {}–{}", place.name, roof_words(place.roof), from.clock(), to.clock());
        labels.put(out, at, &sign, Shape::Flag, &title);
    }
    for (n, (m, at)) in day.meetings.iter().zip(bands).enumerate() {
        if let Some(at) = at {
            labels.put(out, *at, &marks::meeting(n), Shape::Square, &m.name);
        }
    }
    for (n, s) in driven.worst() {
        let middle = &driven.pieces[(s.first + s.end) / 2];
        let Some(at) = along(&middle.line, if s.end - s.first == 1 { 0.5 * length_m(&middle.line) } else { 0.0 })
        else {
            continue;
        };
        let title = format!("{} {}, {}", middle.road, s.rating, marks::cause(s.cause).1);
        labels.put(out, frame.place(at), &n.to_string(), Shape::Circle, &title);
    }
}

/// Most names of towns on the map.
const TOWNS: usize = 12;

/// Names of towns and villages, the greatest first.
fn towns(out: &mut String, frame: &Frame, places: &[PlaceRow], labels: &mut Labels) {
    let mut order: Vec<&PlaceRow> = places.iter().collect();
    order.sort_by(|a, b| a.rank.cmp(&b.rank).then(b.population.cmp(&a.population)).then(a.place_id.cmp(&b.place_id)));
    let inside = |(x, y): Xy| (0.0..=WIDTH).contains(&x) && (0.0..=frame.height).contains(&y);
    let shown = order.into_iter().map(|p| (frame.place(p.at), p)).filter(|(at, _)| inside(*at));
    for (at, place) in shown.take(TOWNS) {
        labels.put(out, at, &short(&place.name), Shape::Town, "");
    }
}

/// Distances along the trip, and the names of the roads it drives longest.
fn words(out: &mut String, frame: &Frame, driven: &DayDriven, labels: &mut Labels) {
    let units = driven.shown.units;
    let long = units.of_road(driven.drive.length_km() * 1e3);
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0];
    let step = steps.into_iter().find(|s| long / s <= 10.0).unwrap_or(1_000.0);
    let mut at = step;
    while at < long - 0.3 * step {
        if let Some((x, y)) = driven.place(at / units.of_road(1e3)).map(|p| frame.place(p)) {
            let _ = writeln!(out, "<circle class=\"tick\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"2.2\"/>");
            labels.put(out, (x, y), &format!("{} {at:.0}", units.post()), Shape::Words, "");
        }
        at += step;
    }
    let mut runs: Vec<_> = driven.pieces.chunk_by(|a, b| a.road == b.road && a.drive == b.drive).collect();
    let length = |run: &[crate::ask::corridor::Piece]| run.iter().map(|p| p.length_m).sum::<f64>();
    runs.sort_by(|a, b| length(b).total_cmp(&length(a)));
    let mut named = std::collections::BTreeSet::new();
    for run in runs {
        let middle = &run[run.len() / 2];
        if named.len() < NAMES && !plain_class(&middle.road) && named.insert(middle.road.as_str()) {
            let short = short(&middle.road);
            if let Some(at) = middle.line.first() {
                labels.put(out, frame.place(*at), &short, Shape::Words, "");
            }
        }
    }
}

/// Most names of roads on the map.
const NAMES: usize = 6;
/// Longest name of a road there, characters.
const LONGEST_NAME: usize = 22;

/// A name for the map: without its reference where that makes it too long, then cut.
fn short(road: &str) -> String {
    let count = |s: &str| s.chars().count();
    let name = if count(road) > LONGEST_NAME { road.split(" (").next().unwrap_or(road) } else { road };
    if count(name) <= LONGEST_NAME {
        return name.to_owned();
    }
    name.chars().take(LONGEST_NAME - 1).chain(['…']).collect()
}

/// A road without a name goes by its class, which nobody looks for on a map.
fn plain_class(road: &str) -> bool {
    !road.chars().any(|c| c.is_uppercase() || c.is_ascii_digit())
}
