//! Data and energy of a trip as a table for people, and as JSON.
use crate::base::caution::{self, Caution};
use crate::base::count::counted;
use crate::base::error::{Error, Result};
use crate::base::plain::PlainLines;
use crate::budget::Budget;
use crate::budget::data::gb;
use crate::budget::energy::DayEnergy;

/// Said where the trip file gives no tariff.
pub(super) const NO_PRICE: &str = "no price is known: give the prices of your tariffs in the trip file, as [[tariff]]";

/// The table with what its readers are warned of.
pub fn answer(s: &Budget) -> String {
    let mut out = PlainLines::new();
    out.own(&table(s));
    out.own(&caution::on_terminal(&Caution::ENERGY));
    out.text()
}

/// Everything as JSON.
///
/// # Errors
/// A figure that cannot be written, which is a fault of the program.
pub fn json(s: &Budget) -> Result<String> {
    let failed = |e: serde_json::Error| Error::failed("spend", e.to_string(), "leave out --json");
    let mut value = serde_json::to_value(s).map_err(failed)?;
    value["notes"] = if s.tariffs.is_empty() { vec![NO_PRICE] } else { Vec::new() }.into();
    value["cautions"] = caution::texts(&Caution::ENERGY).into();
    Ok(serde_json::to_string_pretty(&value).map_err(failed)? + "\n")
}

/// The table.
pub fn table(s: &Budget) -> String {
    let mut out = PlainLines::new();
    let days = counted(s.days, "day");
    writeln!(out, "data for a day {:.2} GB, for {days} {:.2} GB", gb(s.data.total), gb(s.trip_bytes));
    for (kind, bytes) in s.data.by_kind.iter().filter(|(_, bytes)| *bytes > 0) {
        writeln!(out, "  {:9.2} GB  {kind}", gb(*bytes));
    }
    writeln!(out, "  {:9.2} GB  background", gb(s.data.background));
    let devices: Vec<String> = s.data.by_device.iter().map(|(name, b)| format!("{name} {:.2} GB", gb(*b))).collect();
    let meetings =
        if s.data.meetings > 0 { format!(", meetings {:.2} GB", gb(s.data.meetings)) } else { String::new() };
    writeln!(out, "  of which {}{meetings}", devices.join(", "));
    energy(&mut out, s);
    tariffs(&mut out, s);
    out.text()
}

fn energy(out: &mut PlainLines, s: &Budget) {
    let DayEnergy { working_h, idle_h, panel_wh, other_wh, drawn_wh, solar_wh, engine_wh, battery_wh, .. } = s.energy;
    writeln!(out, "energy for a day {drawn_wh:.0} Wh, for the trip {:.0} Wh", s.trip_wh);
    writeln!(out, "  {panel_wh:9.0} Wh  panel, {working_h:.1} h at work and {idle_h:.1} h idle");
    writeln!(out, "  {other_wh:9.0} Wh  other loads");
    for (gain_wh, of) in [(solar_wh, "the sun"), (engine_wh, "the engine")] {
        if gain_wh > 0.0 {
            writeln!(out, "  {:>9} Wh  from {of}", format!("-{gain_wh:.0}"));
        }
    }
    if solar_wh + engine_wh > 0.0 {
        writeln!(out, "  {:9.0} Wh  left for the battery", s.energy.short_wh().max(0.0));
    }
    if let Some(hours) = s.energy.lasts_working_h {
        writeln!(out, "  a full battery gives {battery_wh:.0} Wh: {hours:.1} h at work without charging");
    }
    match s.energy.empty_on_day {
        Some(day) if day <= s.days => writeln!(out, "  full at the start, it is empty on day {day}"),
        Some(_) => writeln!(out, "  full at the start, it lasts for the trip"),
        None => writeln!(out, "  charging covers what a day uses"),
    }
}

fn tariffs(out: &mut PlainLines, s: &Budget) {
    writeln!(out, "{}", if s.tariffs.is_empty() { NO_PRICE } else { "tariffs, with the trip in one month" });
    for t in &s.tariffs {
        let cost = t.cost.map_or("ends early".to_owned(), |cost| format!("{cost:.2}"));
        let mark = if t.cheapest { "  cheapest" } else { "" };
        let out_on = t
            .runs_out_on_day
            .map_or(String::new(), |day| format!("  allowance used up on day {day}, {:.2} GB beyond it", t.extra_gb));
        writeln!(out, "  {cost:>10}  {}{out_on}{mark}", t.name);
    }
    for b in &s.break_evens {
        writeln!(out, "  up to {:.1} GB a month {} is cheaper, beyond it {}", b.gb, b.below, b.above);
    }
}
