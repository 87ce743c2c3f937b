//! Data and energy of the trip.
use std::fmt::Write;

use super::table::{PageCell, PageTable};
use crate::base::caution::Caution;
use crate::base::count::counted;
use crate::base::markup::escape;
use crate::budget::Budget;
use crate::budget::data::gb;

/// Said where the trip file gives no tariff.
const NO_PRICE_KNOWN: &str = "No price is known: the trip file gives no tariff.";

/// The section.
pub(in super::super) fn section(out: &mut String, s: &Budget) {
    let days = counted(s.days, "day");
    let battery = match s.energy.empty_on_day {
        Some(day) if day <= s.days => format!("The battery, full at the start, is empty on day {day}."),
        Some(_) => "The battery, full at the start, lasts for the trip.".to_owned(),
        None => "Charging covers what a day uses.".to_owned(),
    };
    let lasts = s
        .energy
        .lasts_working_h
        .map(|h| format!("A full battery gives {:.0} Wh: {h:.1} hours at work without charging.", s.energy.battery_wh));
    let mut sentences = vec![format!(
        "A day takes {:.2} GB and {:.0} Wh; the trip of {days} takes {:.2} GB and {:.0} Wh.",
        gb(s.data.total),
        s.energy.drawn_wh,
        gb(s.trip_bytes),
        s.trip_wh
    )];
    sentences.extend(lasts);
    sentences.push(battery);
    sentences.extend(
        s.break_evens
            .iter()
            .map(|b| format!("Up to {:.1} GB a month {} is cheaper, beyond it {}.", b.gb, b.below, b.above)),
    );
    if s.tariffs.is_empty() {
        sentences.push(NO_PRICE_KNOWN.to_owned());
    }
    sentences.extend(Caution::ENERGY.iter().map(|c| c.text().to_owned()));
    *out += "<section>\n<h2>Data and energy</h2>\n";
    for sentence in sentences {
        let _ = writeln!(out, "<p>{}</p>", escape(&sentence));
    }
    of_day(s).write(out);
    tariffs(s).write(out);
    *out += "</section>\n";
}

fn of_day(s: &Budget) -> PageTable {
    let mut table = PageTable::new("A day", &["what", "amount"]);
    let mut row = |what: &str, amount: String| table.row(vec![PageCell::name(what), PageCell::figure(amount)]);
    for (kind, bytes) in s.data.by_kind.iter().filter(|(_, bytes)| *bytes > 0) {
        row(kind, format!("{:.2} GB", gb(*bytes)));
    }
    row("background", format!("{:.2} GB", gb(s.data.background)));
    row(
        &format!("panel, {:.1} h at work and {:.1} h idle", s.energy.working_h, s.energy.idle_h),
        format!("{:.0} Wh", s.energy.panel_wh),
    );
    row("other loads", format!("{:.0} Wh", s.energy.other_wh));
    for (what, wh) in [("from the sun", s.energy.solar_wh), ("from the engine", s.energy.engine_wh)] {
        if wh > 0.0 {
            row(what, format!("minus {wh:.0} Wh"));
        }
    }
    if s.energy.solar_wh + s.energy.engine_wh > 0.0 {
        row("left for the battery", format!("{:.0} Wh", s.energy.short_wh().max(0.0)));
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
            PageCell::figure(t.cost.map_or("ends early".to_owned(), |cost| format!("{cost:.2}"))),
            PageCell::text(allowance),
            PageCell::text(if t.cheapest { "cheapest" } else { "" }),
        ]);
    }
    table
}
