//! The meetings of a day, first of all: what to do about each, when, where, how sure.
use std::fmt::Write;

use super::marks;
use crate::ask::plan::{Halt, Held, HeldPart, How, Itinerary, Part, Stamp, Verdict};
use crate::ask::trip::Trip;
use crate::base::markup::escape;
use crate::base::words::Units;
use crate::report::plan::clock_on;
use crate::report::plan::{holders, not_held, panel_words, risk_sentence};
use crate::report::verdict;
use crate::report::words::unbroken;

/// The stop of a day at which a meeting is held, with its sign.
struct HeldAtStop<'a> {
    sign: String,
    from: &'a Stamp,
    to: &'a Stamp,
    place: &'a Halt,
}

/// The cards, or one sentence where there is no meeting.
pub(super) fn write(out: &mut String, day: &Itinerary, n: usize, trip: &Trip) {
    let _ = writeln!(out, "<h3 id=\"meetings-{n}\">Meetings</h3>");
    if day.meetings.is_empty() {
        *out += "<p>No meetings.</p>\n";
        return;
    }
    *out += "<ol class=\"cards\">\n";
    for (nth, m) in day.meetings.iter().enumerate() {
        card(out, day, nth, m, trip);
    }
    *out += "</ol>\n";
}

fn card(out: &mut String, day: &Itinerary, nth: usize, m: &Held, trip: &Trip) {
    let units = trip.shown.units;
    let unsure = m.verdict.is_lost();
    let stop = stop_of(day, m);
    let worst = verdict::at_worst(m).map_or(String::new(), |worst| format!(" <b>({worst})</b>"));
    let class = if unsure { "card unsure" } else { "card" };
    let tentative = if m.tentative { ", not yet confirmed" } else { "" };
    let _ = writeln!(
        out,
        "<li class=\"{class}\"><p><span class=\"sign\">{}</span> <b class=\"verdict\">{}</b> {}{}</p>\n\
         <p><b>{}–{} {}</b> ({}{tentative})</p>",
        marks::meeting(nth),
        verdict::word(m.verdict),
        escape(&unbroken(&window(day, m, stop.as_ref(), units))),
        worst,
        clock_on(day, &m.start),
        clock_on(day, &m.end),
        escape(&m.name),
        m.kind.name()
    );
    let _ = writeln!(out, "<p>{}</p>", how(day, m, stop.as_ref(), units));
    let tight = verdict::tight(day, m, trip.settings.stopping.tight_min);
    let whys = tight.into_iter().chain(verdict::why(m, units));
    let mut words: Vec<String> = whys.map(|why| super::answer::capital(&why) + ".").collect();
    words.extend(risk_sentence(m).map(|risk| super::answer::capital(&risk) + "."));
    if !words.is_empty() {
        let _ = writeln!(out, "<p class=\"why\">{}</p>", escape(&unbroken(&words.join(" "))));
    }
    *out += "</li>\n";
}

/// `at S2, 10:20 to 10:50` or `km 12.0 to 25.3`: what the word is about.
fn window(day: &Itinerary, m: &Held, stop: Option<&HeldAtStop>, units: Units) -> String {
    match (m.verdict, stop) {
        (Verdict::Stop, Some(s)) => format!("at {}, {} to {}", s.sign, clock_on(day, s.from), clock_on(day, s.to)),
        (Verdict::Drive, _) => m.road_km().map_or(String::new(), |road| units.span(road)),
        _ => String::new(),
    }
}

/// The stop that a meeting touches longest.
fn stop_of<'a>(day: &'a Itinerary, m: &Held) -> Option<HeldAtStop<'a>> {
    let held = m.parts.iter().filter(|p| p.how == How::AtStop).max_by_key(|p| p.to.unix_s() - p.from.unix_s())?;
    super::answer::stops(day).into_iter().find_map(|(sign, part)| match part {
        Part::Stop { from, to, place, .. }
            if from.unix_s() <= held.from.unix_s() && held.to.unix_s() <= to.unix_s() =>
        {
            Some(HeldAtStop { sign, from, to, place })
        }
        _ => None,
    })
}

/// Where it is held, part by part: places with coordinates that a telephone opens in its own map.
fn how(day: &Itinerary, m: &Held, stop: Option<&HeldAtStop>, units: Units) -> String {
    let parts = m.main_parts();
    let timed = parts.len() > 1;
    let told: Vec<String> = parts.iter().map(|part| part_words(day, m, part, timed, units)).collect();
    let panel = stop.map_or(String::new(), |s| format!("; {}", escape(&panel_words(s.place, units))));
    format!("{}{panel}.", super::answer::capital(&told.join(", then ")))
}

fn part_words(day: &Itinerary, m: &Held, part: &HeldPart, timed: bool, units: Units) -> String {
    let from = if timed { format!("from {} ", clock_on(day, &part.from)) } else { String::new() };
    let road = part.road_km.map_or(String::new(), |road| format!(", {}", units.span(road)));
    let place = part.place.as_ref().map(|name| {
        let link =
            part.lat_deg.zip(part.lon_deg).map_or(String::new(), |(lat, lon)| format!(", {}", marks::geo(lat, lon)));
        format!("at {}{link}", escape(name))
    });
    let what = match (part.how, place) {
        (How::InMotion | How::InParts, _) => escape(&format!("in motion, by {}{road}", holders(m))),
        (How::NotHeld, _) => escape(&format!("not held, {}{road}", not_held(m))),
        (How::AtStop, place) => place.unwrap_or_else(|| "at a stop".to_owned()),
        (How::BeforeTrip, place) => format!("before you leave{}", place.map_or(String::new(), |p| format!(", {p}"))),
        (How::AfterTrip, place) => format!("after you arrive{}", place.map_or(String::new(), |p| format!(", {p}"))),
    };
    format!("{from}{what}")
}
