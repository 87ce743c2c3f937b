//! Mounts side by side, as a table for people and as JSON.
use std::collections::BTreeSet;

use super::mounts_told::{called, interrupted, legend, not_known, rules_broken, verdict};
use super::plan::{MOST_LEFT_OUT, left_out_words};
use super::side_by_side::{SideBySide, TableRow};
use super::verdict::{percent, risk};
use crate::ask::mounts::{MountAnswer, MountDay, MountFigures, MountMeeting, MountsAnswer};
use crate::ask::plan::{Held, How};
use crate::base::caution::{self, Caution};
use crate::base::error::{Error, Result};
use crate::base::measure::{duration, minutes};
use crate::base::plain::PlainLines;
use crate::base::words::{Dial, Rating, Units};
use crate::profile::presets;

/// A row of the table: what it is called and how a mount's figures fill it.
type MountRow = (&'static str, fn(&MountFigures) -> String);

const ROWS: [MountRow; 6] = [
    ("at the wheel", |f| duration(f.driving_s)),
    ("without a link", |f| duration(f.outage_s)),
    ("  at best", |f| duration(f.outage_best_s)),
    ("  at worst", |f| {
        format!(
            "{}{}",
            duration(f.outage_worst_s),
            if f.outages.is_some() && f.unknown_m > 0.0 { " or more" } else { "" }
        )
    }),
    ("outages to expect", |f| f.outages.map_or(NONE.to_owned(), |n| n.to_string())),
    ("  longest (p95)", |f| f.longest_p95_s.map_or(NONE.to_owned(), duration)),
];

/// A cell with nothing to say.
const NONE: &str = "-";
/// Said where a meeting is held at rest.
const AT_REST: &str = "At places to stop every mount is reckoned as a level panel that nothing of the vehicle hides, on the \
                       vehicle or on a stand beside it: there mounts differ only by the panel's height and by what leaves \
                       may take.";
/// What becomes of a meeting that nobody can hold.
const NOT_HELD: &str = "not held";
/// What belongs to the answer besides what is said under the mounts: meetings in motion and at stops where its days have them.
pub fn mounts_cautions(answer: &MountsAnswer) -> Vec<Caution> {
    let days = || answer.mounts.iter().flat_map(|m| &m.days);
    let held = || days().flat_map(|day| &day.meetings).map(|m| &m.best);
    let moving = held().any(|m| m.is_in_motion() && m.how != How::NotHeld);
    let stopping = days().any(|day| day.stops > 0);
    let standing = held().any(|m| m.places().next().is_some());
    let told = [
        (true, Caution::Passenger),
        (stopping, Caution::Signs),
        (moving, Caution::Belt),
        (standing, Caution::Stand),
        (standing, Caution::Ground),
        (true, Caution::Law),
        (true, Caution::Figures),
    ];
    told.iter().filter(|(holds, _)| *holds).map(|(_, caution)| *caution).collect()
}

/// Everything as JSON; each mount has its own cautions.
///
/// # Errors
/// Figures that JSON cannot hold.
pub fn mounts_json(answer: &MountsAnswer) -> Result<String> {
    let failed = |e: serde_json::Error| Error::failed("the mounts as JSON", e.to_string(), "report this");
    let mut value = serde_json::to_value(answer).map_err(failed)?;
    for (nth, mount) in answer.mounts.iter().enumerate() {
        value["mounts"][nth]["cautions"] = caution::texts(presets::cautions(&mount.profile)).into();
    }
    value["cautions"] = caution::texts(&mounts_cautions(answer)).into();
    Ok(serde_json::to_string_pretty(&value).map_err(failed)? + "\n")
}

/// The mounts as a table; what its readers are warned of ends it.
pub fn mounts_table(answer: &MountsAnswer) -> String {
    let mut out = PlainLines::new();
    not_known(&mut out, answer);
    rules_broken(&mut out, answer);
    writeln!(out, "{}: {}", answer.title, verdict(answer));
    answer.notes.iter().for_each(|note| writeln!(out, "note: {note}"));
    legend(&mut out, answer);
    let most = answer.mounts.iter().map(|mount| mount.days.len()).max().unwrap_or(0);
    if answer.mounts.iter().any(|mount| mount.days.len() != most) {
        writeln!(
            out,
            "note: the days of the mounts end at other places, so that a day of one is not the same road as that of another"
        );
    }
    for nth in 0..most {
        one_day(&mut out, answer, nth);
    }
    if answer.mounts.first().is_some_and(|first| first.days.len() > 1) {
        writeln!(out, "all days");
        side_by_side(answer, figure_rows(answer, |mount| Some(&mount.whole))).print(&mut out);
    }
    if at_rest(answer) {
        out.own(AT_REST);
    }
    let told: Vec<&Caution> = answer.mounts.iter().flat_map(|m| presets::cautions(&m.profile)).collect();
    let others: Vec<Caution> = mounts_cautions(answer).into_iter().filter(|c| !told.contains(&c)).collect();
    out.own(&caution::on_terminal(&others));
    out.text()
}

/// Rows under the mounts.
fn side_by_side(answer: &MountsAnswer, rows: Vec<TableRow>) -> SideBySide {
    SideBySide { heads: answer.mounts.iter().map(called).collect(), rows }
}

fn one_day(out: &mut PlainLines, answer: &MountsAnswer, nth: usize) {
    let day = |mount: &MountAnswer| mount.days.get(nth).cloned();
    let Some(first) = answer.mounts.iter().find_map(day) else { return };
    writeln!(out, "{}; times in {}", first.depart.0.strftime("%A %Y-%m-%d"), answer.zone);
    let days: Vec<Option<&MountDay>> = answer.mounts.iter().map(|m| m.days.get(nth)).collect();
    let cells = |fill: &dyn Fn(&MountDay) -> String| -> Vec<String> {
        days.iter().map(|day| day.map_or(NONE.to_owned(), fill)).collect()
    };
    let mut rows = vec![
        TableRow::Cells("leave".to_owned(), cells(&|day| day.depart.clock())),
        TableRow::Cells("  than asked".to_owned(), cells(&|day| shift(day.shift_min))),
        TableRow::Cells("arrive".to_owned(), cells(&|day| arrival(day))),
        TableRow::Cells("stops".to_owned(), cells(&|day| day.stops.to_string())),
    ];
    if days.iter().flatten().all(|day| day.shift_min == 0.0) {
        rows.remove(1);
    }
    rows.extend(figure_rows(answer, |mount| mount.days.get(nth).map(|day| &day.figures)));
    rows.extend(meeting_rows(&days, answer.shown.units));
    side_by_side(answer, rows).print(out);
    left_out(out, &days, answer.shown.dial);
    notes(out, answer, nth);
}

/// `as asked`, `25 min later`, `5 min earlier`.
fn shift(shift_min: f64) -> String {
    match shift_min {
        0.0 => "as asked".to_owned(),
        m => format!("{} {}", minutes(m.abs()), if m < 0.0 { "earlier" } else { "later" }),
    }
}

/// The hour of arrival, with its date where that is another than that of departure.
fn arrival(day: &MountDay) -> String {
    let same = day.arrive.0.date() == day.depart.0.date();
    if same { day.arrive.clock() } else { format!("{} {}", day.arrive.0.strftime("%m-%d"), day.arrive.clock()) }
}

/// Rows of figures, of a day or of all.
fn figure_rows<'a>(
    answer: &'a MountsAnswer,
    of: impl Fn(&'a MountAnswer) -> Option<&'a MountFigures>,
) -> Vec<TableRow> {
    let figures: Vec<Option<&MountFigures>> = answer.mounts.iter().map(of).collect();
    let row = |name: &str, fill: &dyn Fn(&MountFigures) -> String| {
        TableRow::Cells(name.to_owned(), figures.iter().map(|f| f.map_or(NONE.to_owned(), fill)).collect())
    };
    let units = answer.shown.units;
    let mut out: Vec<TableRow> = ROWS.iter().map(|(name, fill)| row(name, fill)).collect();
    out.push(row(&format!("{} driven", units.sign()), &|f| format!("{:.1}", units.of_road(f.length_km * 1e3))));
    for rating in Rating::ALL {
        let km = |f: &MountFigures| {
            f.metres_by_rating
                .as_ref()
                .map_or(NONE.to_owned(), |metres| format!("{:.1}", units.of_road(metres[*rating])))
        };
        out.push(row(&format!("  {}", rating.name()), &km));
    }
    if figures.iter().flatten().any(|f| f.meetings > 0) {
        out.push(row("meetings", &|f| f.meetings.to_string()));
        out.push(row("  interrupted", &interrupted));
    }
    out
}

/// What tells meetings of a day apart: when they begin, what they are called, their identity.
type MeetingKey = (i64, String, String);

fn key(m: &MountMeeting) -> MeetingKey {
    (m.best.start.unix_s(), m.best.uid.clone(), m.best.name.clone())
}

/// Rows of every meeting that the day has with some mount.
fn meeting_rows(days: &[Option<&MountDay>], units: Units) -> Vec<TableRow> {
    let keys: BTreeSet<MeetingKey> = days.iter().flatten().flat_map(|day| &day.meetings).map(key).collect();
    let mut out = Vec::new();
    for one in &keys {
        let found: Vec<Option<&MountMeeting>> =
            days.iter().map(|day| day.and_then(|day| day.meetings.iter().find(|m| key(m) == *one))).collect();
        let Some(m) = found.iter().flatten().map(|m| &m.best).next() else { continue };
        out.push(TableRow::Heading(format!(
            "{}–{}  {}, tolerates {:.0} s  {}",
            m.start.clock(),
            m.end.clock(),
            m.kind.name(),
            m.stands_s,
            m.name
        )));
        let cells = |fill: &dyn Fn(&MountMeeting) -> String| -> Vec<String> {
            found.iter().map(|m| m.map_or(NONE.to_owned(), fill)).collect()
        };
        let rows = [
            ("  how", cells(&|m| how_words(&m.best).to_owned())),
            ("    where", cells(&|m| where_words(&m.best, units))),
            ("  risk", cells(&|m| risk(&m.best))),
            ("    at best", cells(&|m| end(&m.best, m.best.risk_best))),
            ("    at worst", cells(&|m| end(&m.best, m.best.risk_worst))),
            ("  driven as asked", cells(&|m| m.as_asked.as_ref().map_or(NONE.to_owned(), risk))),
        ];
        let says = |cells: &[String]| cells.iter().any(|cell| cell != NONE);
        let rows = rows.into_iter().filter(|(_, cells)| says(cells));
        out.extend(rows.map(|(name, cells)| TableRow::Cells(name.to_owned(), cells)));
    }
    out
}

/// How a meeting is held, in a cell.
fn how_words(m: &Held) -> &'static str {
    let main = m.main_parts();
    if main.iter().any(|part| part.how == How::NotHeld) {
        return NOT_HELD;
    }
    let how = match &main[..] {
        [one] => one.how,
        _ => m.how,
    };
    match how {
        How::InMotion => "in motion",
        How::AtStop => "at a stop",
        How::BeforeTrip => "before you leave",
        How::AfterTrip => "after arrival",
        How::NotHeld => NOT_HELD,
        How::InParts => "in parts",
    }
}

/// Where it is held: the places, or the kilometres driven meanwhile.
fn where_words(m: &Held, units: Units) -> String {
    let main = m.main_parts();
    if how_words(m) == NOT_HELD {
        return NONE.to_owned();
    }
    let places: BTreeSet<&str> = main.iter().filter_map(|part| part.place.as_deref()).collect();
    if !places.is_empty() {
        return places.into_iter().collect::<Vec<_>>().join(", ");
    }
    match main.iter().filter_map(|part| part.road_km).next() {
        Some(road) if main.len() == 1 => units.span(road),
        _ => NONE.to_owned(),
    }
}

/// The risk at an end of the range of what is assumed; where one end alone is known, the other is not.
fn end(m: &Held, end: Option<f64>) -> String {
    match (end, m.risk_best.or(m.risk_worst)) {
        (Some(risk), _) => percent(risk),
        (None, Some(_)) => "not known".to_owned(),
        (None, None) => NONE.to_owned(),
    }
}

/// Whether some meeting is held at rest at a place of the map.
fn at_rest(answer: &MountsAnswer) -> bool {
    let days = answer.mounts.iter().flat_map(|m| &m.days);
    days.flat_map(|day| &day.meetings).any(|m| m.best.places().next().is_some())
}

/// What the calendars hold besides the meetings, each once.
fn left_out(out: &mut PlainLines, days: &[Option<&MountDay>], dial: Dial) {
    let mut told: Vec<String> = Vec::new();
    for row in days.iter().flatten().flat_map(|day| &day.meetings_left_out).map(|row| left_out_words(row, dial)) {
        if !told.contains(&row) {
            told.push(row);
        }
    }
    told.iter().take(MOST_LEFT_OUT).for_each(|row| writeln!(out, "  left out: {row}"));
    if told.len() > MOST_LEFT_OUT {
        writeln!(out, "  left out: {} more; `--json` has all of them", told.len() - MOST_LEFT_OUT);
    }
}

/// Notes of a day, each once, with the mounts it is about where it is not about all.
fn notes(out: &mut PlainLines, answer: &MountsAnswer, nth: usize) {
    let mut told: Vec<(&String, Vec<usize>)> = Vec::new();
    for mount in &answer.mounts {
        for note in mount.days.get(nth).map_or(&[][..], |day| &day.notes) {
            match told.iter_mut().find(|(known, _)| *known == note) {
                Some((_, of)) => of.push(mount.number),
                None => told.push((note, vec![mount.number])),
            }
        }
    }
    for (note, mut of) in told {
        of.dedup();
        let whose = match of.len() == answer.mounts.len() {
            true => String::new(),
            false => format!(" ({})", of.iter().map(usize::to_string).collect::<Vec<_>>().join(", ")),
        };
        writeln!(out, "  note{whose}: {note}");
    }
}
