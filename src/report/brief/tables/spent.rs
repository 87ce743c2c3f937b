//! Data and energy of the trip.
use std::fmt::Write;

use super::table::{PageCell, PageTable};
use crate::base::caution::Caution;
use crate::base::count::counted;
use crate::base::markup::escape;
use crate::base::measure::minutes;
use crate::base::words::{Dial, HowTold};
use crate::budget::Budget;
use crate::budget::data::gb;
use crate::report::spending::money;

/// Times without the panel that the page lists; the rest is counted.
const MOST_OFF_ROWS: usize = 20;

/// The section.
pub(in super::super) fn section(out: &mut String, s: &Budget, shown: HowTold) {
    *out += "<section>\n<h2>Data and energy</h2>\n";
    let cautions = Caution::ENERGY.iter().map(|c| c.text().to_owned());
    for sentence in sentences(s, shown).into_iter().chain(cautions) {
        let _ = writeln!(out, "<p>{}</p>", escape(&sentence));
    }
    of_day(s).write(out);
    battery(s, shown.dial).write(out);
    without_panel(s, shown).write(out);
    if !s.tariffs.is_empty() {
        tariffs(s).write(out);
    }
    if !s.notes.is_empty() {
        *out += "<h3>Notes on energy</h3>\n<ul>\n";
        for note in &s.notes {
            let _ = writeln!(out, "<li>{}</li>", escape(note));
        }
        *out += "</ul>\n";
    }
    *out += "</section>\n";
}

fn sentences(s: &Budget, shown: HowTold) -> Vec<String> {
    let (e, total) = (&s.energy, &s.energy.total);
    let wanted_wh = total.panel_wh + total.other_wh;
    let mut out: Vec<String> = e.meetings_without_panel(shown).map(|words| format!("{words}.")).collect();
    out.push(format!(
        "A day takes {:.2} GB and {:.0} Wh; the trip of {} takes {:.2} GB and {wanted_wh:.0} Wh.",
        gb(s.data.total),
        wanted_wh / f64::from(s.days.max(1)),
        counted(s.days, "day"),
        gb(s.trip_bytes),
    ));
    match e.lasts_working_h {
        _ if e.battery_wh <= 0.0 => {
            out.push("There is no battery: the panel is on while sun and engine are enough for it.".to_owned());
        }
        Some(h) => {
            let lasts = minutes((60.0 * h).floor());
            out.push(format!("A full battery gives {:.0} Wh: {lasts} at work without charging.", e.battery_wh));
        }
        None => out.push(format!("A full battery gives {:.0} Wh.", e.battery_wh)),
    }
    out.push(match e.off_times {
        0 => "The panel never goes off for want of power.".to_owned(),
        times => format!(
            "The panel is off for want of power {}, {} in all: {:.0} Wh are missing.",
            counted(times, "time"),
            minutes(60.0 * total.off_h),
            total.missing_wh
        ),
    });
    if total.lost_wh > 0.0 {
        out.push(format!("Of what sun and engine give, {:.0} Wh are lost because the battery is full.", total.lost_wh));
    }
    out.extend(
        s.break_evens
            .iter()
            .map(|b| format!("Up to {:.1} GB a month {} is cheaper, beyond it {}.", b.gb, b.below, b.above)),
    );
    out
}

/// The battery, day by day.
fn battery(s: &Budget, dial: Dial) -> PageTable {
    let mut table =
        PageTable::new("The battery, day by day", &["day", "sun", "engine", "drawn", "least", "at the end"]);
    for (n, day) in s.energy.days.iter().enumerate() {
        let name = day.date.clone().unwrap_or_else(|| format!("day {}", n + 1));
        let figure = |wh: f64| PageCell::figure(format!("{wh:.0} Wh"));
        table.row(vec![
            PageCell::name(name),
            figure(day.sums.solar_wh),
            figure(day.sums.engine_wh),
            figure(day.sums.drawn_wh),
            PageCell::figure(format!("{:.0} Wh at {}", day.least_wh, dial.retold(&day.least_at))),
            figure(day.end_wh),
        ]);
    }
    table
}

/// When the panel is off for want of power.
fn without_panel(s: &Budget, shown: HowTold) -> PageTable {
    let mut table = PageTable::new("The panel is off", &["when", "meetings"]);
    for off in s.energy.off.iter().take(MOST_OFF_ROWS) {
        table.row(vec![PageCell::name(off.words(shown)), PageCell::text(off.meetings.join(", "))]);
    }
    if s.energy.off_times > MOST_OFF_ROWS {
        let more = counted(s.energy.off_times - MOST_OFF_ROWS, "more time");
        table.row(vec![PageCell::name(more), PageCell::text("")]);
    }
    table
}

fn of_day(s: &Budget) -> PageTable {
    let mut table = PageTable::new("A day", &["what", "amount"]);
    let mut row = |what: &str, amount: String| table.row(vec![PageCell::name(what), PageCell::figure(amount)]);
    for (kind, bytes) in s.data.by_kind.iter().filter(|(_, bytes)| *bytes > 0) {
        row(kind, format!("{:.2} GB", gb(*bytes)));
    }
    row("background", format!("{:.2} GB", gb(s.data.background)));
    let (total, days) = (&s.energy.total, f64::from(s.days.max(1)));
    row(
        &format!(
            "panel, {} at work and {} idle",
            minutes(60.0 * total.working_h / days),
            minutes(60.0 * total.idle_h / days)
        ),
        format!("{:.0} Wh", total.panel_wh / days),
    );
    row("other loads", format!("{:.0} Wh", total.other_wh / days));
    for (what, wh) in [("from the sun", total.solar_wh), ("from the engine", total.engine_wh)] {
        if wh > 0.0 {
            row(what, format!("minus {:.0} Wh", wh / days));
        }
    }
    for (what, wh) in
        [("of these lost, the battery being full", total.lost_wh), ("missing, it being empty", total.missing_wh)]
    {
        if wh > 0.0 {
            row(what, format!("{:.0} Wh", wh / days));
        }
    }
    table
}

fn tariffs(s: &Budget) -> PageTable {
    let mut table = PageTable::new("Tariffs, with the trip in one month", &["tariff", "cost", "allowance", ""]);
    for t in &s.tariffs {
        if t.cheapest {
            table.strong.push(table.rows.len());
        }
        let allowance = match t.runs_out_on_day {
            Some(day) => format!("used up on day {day}, {:.2} GB beyond it", t.extra_gb),
            None => "lasts".into(),
        };
        table.row(vec![
            PageCell::name(t.name.clone()),
            PageCell::figure(t.cost.map_or("ends early".to_owned(), |cost| money(cost, s))),
            PageCell::text(allowance),
            PageCell::text(if t.cheapest { "cheapest" } else { "" }),
        ]);
    }
    table
}
