//! The strip of a day: time runs downwards, as on a road book, so that words stay level and a telephone can scroll along it.
mod axis;
mod columns;
mod meetings;

use std::fmt::Write;

use super::drive::DayDriven;
use super::marks;
use super::model::DayOf;
use crate::base::count::counted;
use crate::base::measure::at_most;
use crate::base::words::Dial;
use crate::report::words::unbroken;
use axis::Axis;
use columns::{FreeRows, MEETINGS, OUTAGES, ROAD, SKY};

/// Width, user units.
const WIDTH: f64 = 360.0;

/// The strip with its legend.
pub(super) fn figure(out: &mut String, of: &DayOf, driven: &DayDriven) {
    let chosen = &of.day.plan.chosen;
    let axis = Axis::new(chosen);
    let mut body = String::new();
    heads(&mut body, driven.shown.units.sign());
    let mut taken = FreeRows::default();
    columns::clock(&mut body, &axis, chosen, driven.shown.dial);
    columns::jumps(&mut body, &axis);
    columns::sky(&mut body, &axis, driven);
    columns::road(&mut body, &axis, driven);
    columns::outages(&mut body, &axis, driven);
    // Over road and bars: a piece driven before and after a stop is drawn in one.
    columns::stops(&mut body, &axis, chosen, &mut taken);
    columns::outage_words(&mut body, &axis, driven, &mut taken);
    let lowest = meetings::write(&mut body, &axis, chosen);
    let (n, height) = (of.number, lowest + 12.0);
    // The hours of the shorter dial need more room, at the left.
    let left = if driven.shown.dial == Dial::Hours12 { -24.0 } else { 0.0 };
    let wide = WIDTH - left;
    let _ = writeln!(
        out,
        "<figure class=\"strip\" id=\"strip-{n}-f\">\n<svg viewBox=\"{left} 0 {wide} {height:.0}\" role=\"img\" aria-labelledby=\"strip-{n} strip-{n}-d\">\n\
         <title id=\"strip-{n}\">The day from departure to arrival</title>\n<desc id=\"strip-{n}-d\">Time runs downwards. Road by rating, \
         distance, share of open sky, outages with cause and length, stops, meetings with their risk. All of it is \
         in the tables too.</desc>\n<defs><pattern id=\"hatch-{n}\" width=\"6\" height=\"6\" \
         patternUnits=\"userSpaceOnUse\" \
         patternTransform=\"rotate(45)\"><rect width=\"6\" height=\"6\" fill=\"#fff\"/><path d=\"M0 0V6\" stroke=\"#8a8a8a\" \
         stroke-width=\"1.6\"/></pattern></defs>\n<rect class=\"paper\" x=\"{left}\" width=\"{wide}\" height=\"{height:.0}\"/>\n<g style=\"--hatch:url(#hatch-{n})\">\n{body}</g>\n</svg>"
    );
    let causes: Vec<String> = marks::causes().map(|(letters, name)| format!("{letters} {name}")).collect();
    let _ = writeln!(
        out,
        "<figcaption>Time runs downwards{}. Next to an outage: its number on the map, the letters of its cause ({}), and the \
         outage that 95 of 100 drives do not exceed there{}. Hatched: stops. Meetings: black for must-not-drop, grey \
         for casual, white for messages.</figcaption>\n</figure>",
        if axis.jumps().is_empty() { "" } else { "; where it jumps, a zigzag says by how much" },
        causes.join(", "),
        short_words(driven)
    );
}

fn heads(out: &mut String, road_unit: &str) {
    for (x, class, text) in [
        (38.0, "r h", "time"),
        (ROAD, "m h", "road"),
        (74.0, "h", road_unit),
        (SKY.0, "h", "sky"),
        (OUTAGES.0, "h", "outages"),
        (MEETINGS, "h", "meetings"),
    ] {
        let _ = writeln!(out, "<text class=\"{class}\" x=\"{x}\" y=\"14\">{text}</text>");
    }
    let _ = writeln!(
        out,
        "<text class=\"s m\" x=\"{:.1}\" y=\"29\">0</text><text class=\"s m\" x=\"{:.1}\" y=\"29\">50</text><text class=\"s m\" x=\"{:.1}\" y=\"29\">100 %</text>",
        SKY.0,
        SKY.0 + SKY.1 / 2.0,
        SKY.0 + SKY.1
    );
}

/// What is said of outages too short for the strip.
fn short_words(driven: &DayDriven) -> String {
    match driven.short {
        0 => String::new(),
        n => format!(
            "; {}, none longer than {} in 95 of 100 drives, {} left out",
            counted(n, "outage"),
            unbroken(&at_most(driven.tolerated_s)),
            if n == 1 { "is" } else { "are" }
        ),
    }
}
