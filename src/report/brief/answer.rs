//! The answer in words: when to leave, where to stop, when one arrives, how each meeting is held.
use std::fmt::Write;

use super::marks;
use crate::ask::plan::{Itinerary, Part, Stamp};
use crate::ask::trip::TripDay;
use crate::base::markup::escape;
use crate::base::words::{StopReason, Words};
use crate::report::plan::{
    MOST_LEFT_OUT, RULES_BROKEN, arrival_words, held_words, left_out_words, more_left_out, panel_words, shift_words,
};
use crate::report::words::{roof_words, spoken, unbroken};

/// Hours and minutes, with the day in front where it is not the day of departure.
pub(super) fn clock_on(day: &Itinerary, stamp: &Stamp) -> String {
    if stamp.0.date() == day.depart.0.date() { stamp.clock() } else { stamp.0.strftime("%a %H:%M").to_string() }
}

/// The stops of a day with their signs.
pub(super) fn stops(day: &Itinerary) -> Vec<(String, &Part)> {
    let stops = day.parts.iter().filter(|p| matches!(p, Part::Stop { .. }));
    stops.enumerate().map(|(n, p)| (marks::stop(n), p)).collect()
}

/// Why one stops, in words.
pub(super) fn why_words(why: StopReason, meeting: Option<&String>) -> String {
    match (why, meeting) {
        (_, Some(name)) => format!("for {name}"),
        (StopReason::Change, None) => "to change drivers".into(),
        (StopReason::Break, None) => "for a break".into(),
        (StopReason::Night, None) => "for the night".into(),
        (StopReason::Meeting, None) => "for a meeting".into(),
    }
}

/// The answer as a list: what one does, then the meetings.
pub(super) fn write(out: &mut String, of: &TripDay) {
    let (plan, day) = (&of.plan, &of.plan.chosen);
    if !plan.rules_kept {
        let _ = writeln!(out, "<p><b>{}</b></p>", escape(RULES_BROKEN));
    }
    *out += "<ol class=\"answer\">\n";
    let asked = shift_words(day.shift_min);
    let _ = writeln!(out, "<li><b>Leave {}</b> ({}).</li>", day.depart.clock(), escape(&asked));
    for (sign, part) in stops(day) {
        let Part::Stop { from, to, place, why, meeting } = part else { continue };
        let panel = if meeting.is_some() { format!(" {}.", capital(&panel_words(place))) } else { String::new() };
        let _ = writeln!(
            out,
            "<li><b>Stop {sign} from {} to {}</b> at {} ({}{}), km {:.1}, {}.{}</li>",
            clock_on(day, from),
            clock_on(day, to),
            escape(&place.name),
            escape(&place.kind.spoken()),
            roof_words(place.roof),
            place.at_km,
            escape(&why_words(*why, meeting.as_ref())),
            escape(&panel)
        );
    }
    let _ = writeln!(
        out,
        "<li><b>Arrive {}</b>{}: {:.1} km, {} at the wheel, {} of that expected without a link.</li>\n</ol>",
        clock_on(day, &day.arrive),
        escape(&arrival_words(plan)),
        day.length_km,
        spoken(day.driving_h * 3_600.0),
        spoken(day.outage_s)
    );
    meetings(out, day);
    left_out(out, of);
}

fn meetings(out: &mut String, day: &Itinerary) {
    if day.meetings.is_empty() {
        *out += "<p>No meetings.</p>\n";
        return;
    }
    *out += "<ul class=\"answer\">\n";
    for (n, m) in day.meetings.iter().enumerate() {
        let tentative = if m.tentative { ", not yet confirmed" } else { "" };
        let _ = writeln!(
            out,
            "<li><span class=\"sign\">{}</span> <b>{}–{} {}</b> ({}{tentative}): {}.</li>",
            marks::meeting(n),
            clock_on(day, &m.start),
            clock_on(day, &m.end),
            escape(&m.name),
            m.kind.name(),
            escape(&unbroken(&held_words(m)))
        );
    }
    *out += "</ul>\n";
}

/// What calendars hold and the meetings above do not.
fn left_out(out: &mut String, of: &TripDay) {
    if of.meetings_left_out.is_empty() {
        return;
    }
    *out += "<p><b>Meetings left out:</b></p>\n<ul class=\"answer\">\n";
    let rows = of.meetings_left_out.iter().take(MOST_LEFT_OUT).map(left_out_words);
    for words in rows.chain(more_left_out(of)) {
        let _ = writeln!(out, "<li>{}</li>", escape(&words));
    }
    *out += "</ul>\n";
}

/// With a capital letter in front.
fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |c| c.to_uppercase().chain(chars).collect())
}
