//! A day on its own page: the meetings first, then what one does, strip and map; the rest folded away.
use std::fmt::Write;

use super::drive::DayDriven;
use super::model::DayOf;
use super::{answer, cards, fallbacks, late, map, strip, tables};
use crate::ask::trip::TripDay;
use crate::base::markup::escape;
use crate::base::words::Units;

/// The section of a day.
pub(super) fn section(out: &mut String, of: &DayOf) {
    let profile = &of.trip.source.profile;
    let units = of.trip.shown.units;
    let driven = DayDriven::new(of.day, &of.trip.settings.driving, of.trip.shown);
    let chosen = &of.day.plan.chosen;
    let date = chosen.depart.0.strftime("%A, %-d %B %Y").to_string();
    let n = of.number;
    let _ =
        writeln!(out, "<section class=\"day\" aria-labelledby=\"day-{n}\">\n<h2 id=\"day-{n}\">{}</h2>", escape(&date));
    jumps(out, n);
    answer::broken(out, of.day);
    // On a narrow screen these follow each other; on a wide one and on paper the strip stands beside the words.
    *out += "<div class=\"pair\">\n<div class=\"words-of-day\">\n";
    cards::write(out, chosen, n, of.trip);
    answer::left_out(out, of.day, of.trip.shown.dial);
    answer::write(out, of.day, n == of.trip.days.len(), units);
    *out += "</div>\n";
    strip::figure(out, of, &driven);
    *out += "<div class=\"late-of-day\">\n";
    late::write(out, &of.day.plan);
    *out += "</div>\n</div>\n";
    notes(out, of.day, units);
    map::figure(out, of, &driven);
    fallbacks::write(out, of.day, of.trip.settings.stopping.least_open, units);
    tables::low::write(out, &driven, &of.day.corridor.overheads, profile.vehicle.vehicle_height_m);
    folded(out, &fallbacks::all_words(of.day), |out| tables::stops::write(out, of.day, chosen, units));
    folded(out, "The outages of strip and map, with their places", |out| tables::worst::table(&driven).write(out));
    folded(out, "Other ways to spend this day", |out| tables::ways::write(out, &of.day.plan));
    *out += "</section>\n";
}

/// Links to the parts of a day.
fn jumps(out: &mut String, n: usize) {
    let _ = writeln!(
        out,
        "<nav class=\"jumps\" aria-label=\"Parts of day {n}\"><a href=\"#strip-{n}-f\">Strip</a> \
         <a href=\"#map-{n}-f\">Map</a> <a href=\"#cautions\">Cautions</a></nav>"
    );
}

/// What is there for those who ask for it, and not on paper.
fn folded(out: &mut String, summary: &str, write: impl FnOnce(&mut String)) {
    let mut inner = String::new();
    write(&mut inner);
    if !inner.is_empty() {
        let _ = writeln!(out, "<details>\n<summary>{}</summary>\n{inner}</details>", escape(summary));
    }
}

fn notes(out: &mut String, day: &TripDay, units: Units) {
    let gaps = day.corridor.unmatched.iter().map(|u| {
        let how = if u.bridged { "joined along roads between its ends" } else { "not included in the road figures" };
        format!(
            "after {} of track, at {:.5}, {:.5}: {} off the layer's roads, {how}; unknown is not clear",
            units.road(u.track_km * 1e3),
            u.lat_deg,
            u.lon_deg,
            units.length(u.length_m)
        )
    });
    let notes: Vec<String> = day.plan.notes.iter().cloned().chain(gaps).collect();
    if notes.is_empty() {
        return;
    }
    *out += "<h3>Notes on this day</h3>\n<ul>\n";
    for note in notes {
        let _ = writeln!(out, "<li>{}</li>", escape(&note));
    }
    *out += "</ul>\n";
}
