//! A plan as a table for people, and as JSON.
use super::late::{late_words, night_words, stay_name};
use super::verdict::{self, CERTAIN, percent, risk};
use super::words::roof_words;
use crate::ask::plan::{Held, HeldPart, How, Itinerary, Part, Plan, RiskFrom, Stamp};
use crate::ask::trip::{MeetingLeftOut, Trip, TripDay};
use crate::base::caution::{self, Caution};
use crate::base::count::counted;
use crate::base::error::{Error, Result};
use crate::base::geodesy::{WINDS, eighth};
use crate::base::measure::{duration, minutes};
use crate::base::plain::PlainLines;
use crate::base::words::{Dial, HowTold, Units, Words};
use crate::profile::presets;

/// What belongs to a trip, the most important first: meetings in motion and panels on a stand where its days have them.
pub fn plan_cautions(trip: &Trip) -> Vec<Caution> {
    let chosen = || trip.days.iter().map(|day| &day.plan.chosen);
    let for_meeting = |part: &Part| matches!(part, Part::Stop { meeting: Some(_), .. });
    let moving = chosen().any(|day| day.meetings.iter().any(Held::is_in_motion));
    let standing = chosen().any(|day| day.parts.iter().any(for_meeting));
    let stopping = chosen().any(|day| day.parts.iter().any(|part| matches!(part, Part::Stop { .. })));
    let told =
        [(true, Caution::Passenger), (stopping, Caution::Signs), (moving, Caution::Belt), (standing, Caution::Stand)];
    let mut out: Vec<Caution> = told.iter().filter(|(holds, _)| *holds).map(|(_, caution)| *caution).collect();
    let energy: &[Caution] = if trip.spending.is_some() { &Caution::ENERGY } else { &[] };
    let always = [Caution::Signs, Caution::Clearance, Caution::Ground, Caution::Stand, Caution::Law, Caution::Figures];
    for caution in always.iter().chain(presets::cautions(&trip.source.profile)).chain(energy) {
        if !out.contains(caution) {
            out.push(*caution);
        }
    }
    out
}

/// Said first of a day that breaks the rules of driving.
pub(super) const RULES_BROKEN: &str = "DO NOT DRIVE LIKE THIS: with the places to stop that the layer knows, no day \
                                       on this road keeps the rules of driving; the plan below breaks them.";

/// All days as JSON.
///
/// # Errors
/// Figures that JSON cannot hold.
pub fn plan_json(trip: &Trip) -> Result<String> {
    let failed = |e: serde_json::Error| Error::failed("the plan as JSON", e.to_string(), "report this");
    let mut value = serde_json::to_value(trip).map_err(failed)?;
    value["cautions"] = caution::texts(&plan_cautions(trip)).into();
    Ok(serde_json::to_string_pretty(&value).map_err(failed)? + "\n")
}

/// All days as tables.
pub fn plan_table(trip: &Trip) -> String {
    let mut out = PlainLines::new();
    if let Some(spending) = &trip.spending {
        out.own(&super::spending::first(spending, trip.shown));
    }
    for (nth, day) in trip.days.iter().enumerate() {
        one_day(&mut out, day, trip, nth + 1 == trip.days.len());
    }
    if let Some(spending) = &trip.spending {
        out.own(&super::spending::table(spending, trip.shown));
    }
    out.own(&caution::on_terminal(&plan_cautions(trip)));
    out.text()
}

fn one_day(out: &mut PlainLines, day: &TripDay, trip: &Trip, last: bool) {
    let chosen = &day.plan.chosen;
    let (zone, units) = (&trip.zone, trip.shown.units);
    writeln!(
        out,
        "{}  {}, {} at the wheel, {} expected without a link; times in {zone}",
        chosen.depart.0.strftime("%A %Y-%m-%d"),
        units.road(chosen.length_km * 1e3),
        duration(chosen.driving_h * 3_600.0),
        duration(chosen.outage_s)
    );
    if !day.plan.rules_kept {
        writeln!(out, "  {RULES_BROKEN}");
    }
    meetings(out, day, trip);
    writeln!(out, "the day");
    writeln!(out, "  leave {} ({})", chosen.depart.clock(), shift_words(chosen.shift_min));
    for part in &chosen.parts {
        writeln!(out, "  {}", part_words(part, units));
    }
    writeln!(out, "  arrive {}{}", chosen.arrive.clock(), arrival_words(&day.plan));
    if let Some(night) = &day.night {
        writeln!(out, "{}", stay_name(last).to_lowercase());
        night_words(night, units).iter().for_each(|words| writeln!(out, "  {words}"));
    }
    if !day.plan.late.is_empty() {
        writeln!(out, "if you leave late, with the same stops");
    }
    for late in late_words(&day.plan) {
        let [leave, arrive] = &late.leave_arrive;
        writeln!(out, "  {} late: leave {leave}, arrive {arrive}; {}", late.late, late.changes.join("; "));
    }
    writeln!(out, "why this day (cost in minutes, weighed by `worth` in the trip file)");
    for way in day.plan.others.iter().chain([chosen]) {
        writeln!(out, "  {}", way_words(way, std::ptr::eq(way, chosen)));
    }
    let s = &day.plan.searched;
    writeln!(
        out,
        "  compared: {}, {} of {}, {}",
        counted(s.departures, "departure"),
        s.places_kept,
        counted(s.places_found, "place"),
        counted(s.compared, "partial day")
    );
    for note in &day.plan.notes {
        writeln!(out, "  note: {note}");
    }
    writeln!(out);
}

/// Hours and minutes, with the day in front where it is not the day of departure.
pub(super) fn clock_on(day: &Itinerary, stamp: &Stamp) -> String {
    if stamp.0.date() == day.depart.0.date() { stamp.clock() } else { stamp.weekday_and_clock() }
}

/// The meetings, each with its word first, and what is left out of calendars.
fn meetings(out: &mut PlainLines, day: &TripDay, trip: &Trip) {
    let HowTold { units, dial } = trip.shown;
    let meetings = &day.plan.chosen.meetings;
    writeln!(out, "meetings{}", if meetings.is_empty() { ": none" } else { "" });
    for m in meetings {
        let worst = verdict::at_worst(m).map_or(String::new(), |worst| format!(" ({worst})"));
        let (word, kind) = (format!("{}{worst}", verdict::word(m.verdict)), m.kind.name());
        let tentative = if m.tentative { ", not yet confirmed" } else { "" };
        let [start, end] = [&m.start, &m.end].map(|at| clock_on(&day.plan.chosen, at));
        writeln!(out, "  {start}–{end}  {word}  {} ({kind}{tentative}): {}", m.name, held_words(m, units));
        let tight = verdict::tight(&day.plan.chosen, m, trip.settings.stopping.tight_min);
        for words in tight.into_iter().chain(verdict::why(m, units)) {
            writeln!(out, "      {words}");
        }
    }
    for row in day.meetings_left_out.iter().take(MOST_LEFT_OUT) {
        writeln!(out, "  left out: {}", left_out_words(row, dial));
    }
    if let Some(more) = more_left_out(day) {
        writeln!(out, "  left out: {more}");
    }
}

/// Rows of what is left out of calendars that people are shown; JSON has all.
pub(super) const MOST_LEFT_OUT: usize = 20;

/// `Levelling call, 2026-06-15 09:00 (Nowhere): why (day.ics, line 12)`.
pub(super) fn left_out_words(row: &MeetingLeftOut, dial: Dial) -> String {
    let told = |when: &String| match when.rsplit_once(' ') {
        Some((date, time)) => format!(", {date} {}", dial.retold(time)),
        None => format!(", {when}"),
    };
    let when = row.when.as_ref().map(told).unwrap_or_default();
    let line = row.line.map(|n| format!(", line {n}")).unwrap_or_default();
    format!("{}{when}: {} ({}{line})", row.name, row.why, row.calendar)
}

/// How many rows are not shown; nothing where all are.
pub(super) fn more_left_out(day: &TripDay) -> Option<String> {
    let more = day.meetings_left_out.len().saturating_sub(MOST_LEFT_OUT);
    (more > 0).then(|| format!("{more} more; `--json` has all of them"))
}

/// `as asked`, `25 min later than asked`.
pub(super) fn shift_words(shift_min: f64) -> String {
    match shift_min {
        0.0 => "as asked".into(),
        m if m < 0.0 => format!("{} earlier than asked", minutes(-m)),
        m => format!("{} later than asked", minutes(m)),
    }
}

/// ` (26 min later than asked)`; nothing where the day is the one asked for.
pub(super) fn arrival_words(plan: &Plan) -> String {
    let Some(asked) = plan.others.iter().find(|way| way.name == crate::base::words::DayWay::AsAsked) else {
        return String::new();
    };
    let later_min = (plan.chosen.arrive.unix_s() - asked.arrive.unix_s()) as f64 / 60.0;
    match later_min.round() {
        0.0 => " (the same as if driven as asked)".into(),
        m if m < 0.0 => format!(" ({} earlier than if driven as asked)", minutes(-m)),
        m => format!(" ({} later than if driven as asked)", minutes(m)),
    }
}

fn part_words(part: &Part, units: Units) -> String {
    match part {
        Part::Drive { from, to, from_km, to_km, outage_s, .. } => format!(
            "{}–{}  drive   {}, {} expected without a link",
            from.clock(),
            to.clock(),
            units.span((*from_km, *to_km)),
            duration(*outage_s)
        ),
        Part::Stop { from, to, place, why, meeting } => {
            let reason = meeting.as_ref().map_or(why.name().to_owned(), |m| format!("for {m}"));
            let panel = if meeting.is_some() { format!("; {}", panel_words(place, units)) } else { String::new() };
            format!(
                "{}–{}  stop    {} ({}{}){}, {}, {} off the road, {reason}{panel}",
                from.clock(),
                if from.0.date() == to.0.date() { to.clock() } else { to.date_and_clock() },
                place.name,
                place.kind.spoken(),
                roof_words(place.roof),
                town_words(place, units),
                units.at(place.at_km),
                units.near(place.off_road_m)
            )
        }
    }
}

/// `, 4 km north of Anselm (town)`; nothing where no town is near.
pub(super) fn town_words(place: &crate::ask::plan::Halt, units: Units) -> String {
    place.town.as_ref().map_or(String::new(), |town| format!(", {}", town.words(units)))
}

/// Whether a panel on a stand sees more than one on the vehicle.
pub(super) fn is_put_out(place: &crate::ask::plan::Halt) -> bool {
    place.best_m >= 0.5 && place.best_open_share > place.open_share
}

/// Where the panel stands best.
pub(super) fn panel_words(place: &crate::ask::plan::Halt, units: Units) -> String {
    if !is_put_out(place) {
        let roof = roof_words(place.roof);
        return format!("panel on the vehicle, {:.0} % of the sky open{roof}", 100.0 * place.open_share);
    }
    format!(
        "panel {} to the {} of the vehicle, {:.0} % of the sky open instead of {:.0} %{}",
        units.near(place.best_m),
        wind(place.best_bearing_deg),
        100.0 * place.best_open_share,
        100.0 * place.open_share,
        roof_words(place.roof)
    )
}

/// The eight winds.
pub(super) fn wind(bearing_deg: f64) -> &'static str {
    WINDS[eighth(bearing_deg)]
}

/// How a meeting is held, and how likely it is interrupted.
pub(super) fn held_words(m: &Held, units: Units) -> String {
    let parts = m.main_parts();
    let how = match (&parts[..], m.how) {
        ([part], How::NotHeld) => part_of_meeting(m, part, units),
        ([part], How::AtStop) => format!("stop {}", part_of_meeting(m, part, units)),
        ([part], _) => format!("hold it {}", part_of_meeting(m, part, units)),
        (parts, _) => {
            let words = parts.iter().map(|part| timed_part(m, part, units)).collect::<Vec<_>>().join(", then ");
            if parts.first().is_some_and(|p| p.how == How::NotHeld) { words } else { format!("hold it {words}") }
        }
    };
    risk_sentence(m).map_or(how.clone(), |risk| format!("{how}; {risk}"))
}

/// `risk of an outage longer than 2 s: below 1 %`; nothing where the meeting is not held.
pub(super) fn risk_sentence(m: &Held) -> Option<String> {
    let moment = if m.start == m.end { "; it has no length in the calendar and is judged over one minute" } else { "" };
    let told = || format!("risk of an outage longer than {:.0} s: {}{moment}", m.stands_s, risk_words(m));
    (!matches!(m.risk_from, RiskFrom::NotHeld | RiskFrom::NoPower)).then(told)
}

/// `from 09:40 at Lower Lot (42.50000,1.50000)`.
fn timed_part(m: &Held, part: &HeldPart, units: Units) -> String {
    let from = part.from.clock();
    match part.how {
        How::NotHeld => format!("not from {from}, {}", not_held(m)),
        _ => format!("from {from} {}", part_of_meeting(m, part, units)),
    }
}

fn part_of_meeting(m: &Held, part: &HeldPart, units: Units) -> String {
    let place = part.place.as_ref().map(|name| {
        let at = part.lat_deg.zip(part.lon_deg).map_or(String::new(), |(lat, lon)| format!(" ({lat:.5},{lon:.5})"));
        format!("at {name}{at}")
    });
    let at_end = |word: &str| place.as_ref().map_or(word.to_owned(), |place| format!("{word}, {place}"));
    let road = part.road_km.map_or(String::new(), |road| format!(", {}", units.span(road)));
    match part.how {
        How::InMotion | How::InParts => format!("in motion, by {}{road}", holders(m)),
        How::NotHeld => format!("not held, {}{road}", not_held(m)),
        How::AtStop => place.unwrap_or_else(|| "at a stop".to_owned()),
        How::BeforeTrip => at_end("before you leave"),
        How::AfterTrip => at_end("after you have arrived"),
    }
}

/// The risk of a meeting with its range, where there is one.
fn risk_words(m: &Held) -> String {
    let told = risk(m);
    let [best, worst] = [m.risk_best, m.risk_worst].map(|end| end.map(percent));
    let spread = |a: &str, b: &str| format!("{told} ({a} to {b}, depending on what is assumed about the roadside)");
    match (best, worst) {
        (Some(best), Some(worst)) if best != worst => spread(&best, &worst),
        // What is certain at best needs no range.
        (Some(best), None) if best != CERTAIN => spread(&best, "not known"),
        _ => told,
    }
}

/// Who holds a meeting in motion.
pub(super) fn holders(m: &Held) -> String {
    // Drivers who change in the middle leave it to each other.
    let by = if m.by.is_empty() { "whoever is not driving".to_owned() } else { m.by.join(" and ") };
    if m.drivers.is_empty() { by } else { format!("{by}, while {} at the wheel", at_the_wheel(m)) }
}

fn at_the_wheel(m: &Held) -> String {
    format!("{} {}", m.drivers.join(" or "), if m.drivers.len() == 1 { "is" } else { "are" })
}

/// Why nobody can hold a meeting, and what would help.
pub(super) fn not_held(m: &Held) -> String {
    format!("because {} at the wheel and nobody else can hold it: move it, or let somebody else drive", at_the_wheel(m))
}

/// One way to spend the day, in one line.
pub(super) fn way_words(way: &Itinerary, chosen: bool) -> String {
    let risks: Vec<String> = way.meetings.iter().map(|m| format!("{} {}", m.name, risk(m))).collect();
    format!(
        "{}{:20}  leave {}  arrive {}  cost {:4.0}  {}",
        if chosen { "* " } else { "  " },
        way.name,
        way.depart.clock(),
        way.arrive.clock(),
        way.cost_min,
        risks.join("; ")
    )
}
