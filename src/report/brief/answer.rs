//! What one does: when to leave, where to stop, when one arrives, where one stays.
use std::fmt::Write;

use super::marks;
use crate::ask::plan::{Itinerary, Part};
use crate::ask::trip::TripDay;
use crate::base::markup::escape;
use crate::base::measure::duration;
use crate::base::words::{Dial, StopReason, Units, Words};
use crate::report::late::{night_words, stay_name};
use crate::report::plan::{
    MOST_LEFT_OUT, RULES_BROKEN, arrival_words, clock_on, left_out_words, more_left_out, shift_words, town_words,
};
use crate::report::words::{roof_words, unbroken};

/// The stops of a day with their signs.
pub(super) fn stops(day: &Itinerary) -> Vec<(String, &Part)> {
    let stops = day.parts.iter().filter(|p| matches!(p, Part::Stop { .. }));
    stops.enumerate().map(|(n, p)| (marks::stop(n), p)).collect()
}

/// Why one stops, in words.
fn why_words(why: StopReason, meeting: Option<&String>) -> String {
    match (why, meeting) {
        (_, Some(name)) => format!("for {name}"),
        (StopReason::Change, None) => "to change drivers".into(),
        (StopReason::Break, None) => "for a break".into(),
        (StopReason::Night, None) => "for the night".into(),
        (StopReason::Meeting, None) => "for a meeting".into(),
    }
}

/// Said before everything else of a day that must not be driven so.
pub(super) fn broken(out: &mut String, of: &TripDay) {
    if !of.plan.rules_kept {
        let _ = writeln!(out, "<p><b>{}</b></p>", escape(RULES_BROKEN));
    }
}

/// The day as a list.
pub(super) fn write(out: &mut String, of: &TripDay, last: bool, units: Units) {
    let (plan, day) = (&of.plan, &of.plan.chosen);
    *out += "<h3>The day</h3>\n<ol class=\"answer\">\n";
    let asked = shift_words(day.shift_min);
    let _ = writeln!(out, "<li><b>Leave {}</b> ({}).</li>", day.depart.clock(), escape(&asked));
    for (sign, part) in stops(day) {
        let Part::Stop { from, to, place, why, meeting } = part else { continue };
        let _ = writeln!(
            out,
            "<li><b>Stop {sign} from {} to {}</b> at {} ({}{}){}, {}, {}, {}.</li>",
            clock_on(day, from),
            clock_on(day, to),
            escape(&place.name),
            escape(&place.kind.spoken()),
            roof_words(place.roof),
            escape(&town_words(place, units)),
            marks::geo(place.lat_deg, place.lon_deg),
            units.at(place.at_km),
            escape(&why_words(*why, meeting.as_ref()))
        );
    }
    let _ = writeln!(
        out,
        "<li><b>Arrive {}</b>{}: {}, {} at the wheel, {} of that expected without a link.</li>",
        clock_on(day, &day.arrive),
        escape(&arrival_words(plan)),
        units.road(day.length_km * 1e3),
        duration(day.driving_h * 3_600.0),
        duration(day.outage_s)
    );
    night(out, of, last, units);
    *out += "</ol>\n";
}

/// Where the night is spent, and what is better.
fn night(out: &mut String, of: &TripDay, last: bool, units: Units) {
    let Some(night) = &of.night else { return };
    let words = night_words(night, units);
    let Some((first, better)) = words.split_first() else { return };
    let head = stay_name(last);
    let _ = writeln!(out, "<li><b>{head}</b>: {}.</li>", escape(&unbroken(first)));
    for words in better {
        let _ = writeln!(out, "<li>{}.</li>", escape(&unbroken(&capital(words))));
    }
}

/// What calendars hold and the meetings do not.
pub(super) fn left_out(out: &mut String, of: &TripDay, dial: Dial) {
    if of.meetings_left_out.is_empty() {
        return;
    }
    *out += "<p><b>Meetings left out:</b></p>\n<ul class=\"answer\">\n";
    let rows = of.meetings_left_out.iter().take(MOST_LEFT_OUT).map(|row| left_out_words(row, dial));
    for words in rows.chain(more_left_out(of)) {
        let _ = writeln!(out, "<li>{}</li>", escape(&words));
    }
    *out += "</ul>\n";
}

/// With a capital letter in front.
pub(super) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |c| c.to_uppercase().chain(chars).collect())
}
