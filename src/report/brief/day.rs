//! A day on its own page: answer, strip, parts, map, tables.
use std::fmt::Write;

use super::drive::DayDriven;
use super::model::DayOf;
use super::{answer, map, strip, tables};
use crate::ask::trip::TripDay;
use crate::base::markup::escape;

/// The section of a day.
pub(super) fn section(out: &mut String, of: &DayOf) {
    let profile = &of.trip.source.profile;
    let driven = DayDriven::new(of.day, &of.trip.settings.driving);
    let chosen = &of.day.plan.chosen;
    let date = chosen.depart.0.strftime("%A, %-d %B %Y").to_string();
    let n = of.number;
    let _ =
        writeln!(out, "<section class=\"day\" aria-labelledby=\"day-{n}\">\n<h2 id=\"day-{n}\">{}</h2>", escape(&date));
    // On a narrow screen these follow each other; on a wide one and on paper the strip stands beside the words.
    *out += "<div class=\"pair\">\n<div class=\"words-of-day\">\n";
    answer::write(out, of.day);
    *out += "</div>\n";
    strip::figure(out, of, &driven);
    *out += "<div class=\"tables-of-day\">\n";
    tables::parts::table(chosen).write(out);
    tables::meetings::table(chosen).write(out);
    *out += "</div>\n</div>\n";
    tables::ways::write(out, &of.day.plan);
    notes(out, of.day);
    map::figure(out, of, &driven);
    tables::worst::table(&driven).write(out);
    tables::stops::write(out, of.day, chosen);
    tables::low::write(out, &driven, &of.day.corridor.overheads, profile.vehicle.vehicle_height_m);
    *out += "</section>\n";
}

fn notes(out: &mut String, day: &TripDay) {
    let gaps = day.corridor.unmatched.iter().map(|u| {
        let how = if u.bridged { "joined along roads between its ends" } else { "not included in the road figures" };
        format!(
            "after {:.1} km of track, at {:.5}, {:.5}: {:.0} m off the layer's roads, {how}; unknown is not clear",
            u.track_km, u.lat_deg, u.lon_deg, u.length_m
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
