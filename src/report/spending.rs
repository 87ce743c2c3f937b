//! Data and energy of a trip as a table for people, and as JSON.
use crate::base::caution::{self, Caution};
use crate::base::count::counted;
use crate::base::error::{Error, Result};
use crate::base::measure::minutes;
use crate::base::plain::PlainLines;
use crate::base::words::{Dial, HowTold};
use crate::budget::Budget;
use crate::budget::data::gb;
use crate::budget::energy::{DayEnergy, EnergySums, TripEnergy};

/// Days of the battery and times without the panel that people are shown; JSON has all.
const MOST_ROWS: usize = 10;

/// The table with what its readers are warned of.
pub fn answer(s: &Budget, shown: HowTold) -> String {
    let mut out = PlainLines::new();
    out.own(&first(s, shown));
    out.own(&table(s, shown));
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
    value["cautions"] = caution::texts(&Caution::ENERGY).into();
    Ok(serde_json::to_string_pretty(&value).map_err(failed)? + "\n")
}

/// What is said before everything else: meetings during which the panel goes off.
pub(super) fn first(s: &Budget, shown: HowTold) -> String {
    let mut out = PlainLines::new();
    for words in s.energy.meetings_without_panel(shown) {
        writeln!(out, "{words}");
    }
    out.text()
}

/// The table.
pub fn table(s: &Budget, shown: HowTold) -> String {
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
    energy(&mut out, s, shown);
    tariffs(&mut out, s);
    out.text()
}

fn energy(out: &mut PlainLines, s: &Budget, shown: HowTold) {
    let (e, days) = (&s.energy, f64::from(s.days.max(1)));
    let EnergySums { working_h, idle_h, panel_wh, other_wh, solar_wh, engine_wh, lost_wh, missing_wh, .. } = e.total;
    let wanted_wh = panel_wh + other_wh;
    writeln!(out, "energy for a day {:.0} Wh, for the trip {wanted_wh:.0} Wh", wanted_wh / days);
    let [working, idle] = [working_h, idle_h].map(|h| minutes(60.0 * h / days));
    writeln!(out, "  {:9.0} Wh  panel, {working} at work and {idle} idle", panel_wh / days);
    writeln!(out, "  {:9.0} Wh  other loads", other_wh / days);
    for (gain_wh, of) in [(solar_wh, "the sun"), (engine_wh, "the engine")] {
        if gain_wh > 0.0 {
            writeln!(out, "  {:>9} Wh  from {of}", format!("-{:.0}", gain_wh / days));
        }
    }
    if lost_wh > 0.0 {
        writeln!(out, "  {:9.0} Wh  of these lost, because the battery is full", lost_wh / days);
    }
    if missing_wh > 0.0 {
        writeln!(out, "  {:9.0} Wh  missing, because it is empty", missing_wh / days);
    }
    battery(out, e, shown.dial);
    without_panel(out, e, shown);
    for note in &s.notes {
        writeln!(out, "  note: {note}");
    }
}

fn battery(out: &mut PlainLines, e: &TripEnergy, dial: Dial) {
    if e.battery_wh <= 0.0 {
        writeln!(out, "no battery: the panel is on while sun and engine are enough for it");
        return;
    }
    let lasts = e
        .lasts_working_h
        .map_or(String::new(), |h| format!(", which is {} at work without charging", minutes((60.0 * h).floor())));
    writeln!(out, "battery {:.0} Wh when full{lasts}; {:.0} Wh at the start", e.battery_wh, e.start_wh);
    for (n, day) in e.days.iter().enumerate().take(MOST_ROWS) {
        let name = day.date.clone().unwrap_or_else(|| format!("day {}", n + 1));
        let DayEnergy { least_wh, end_wh, .. } = day;
        let least_at = dial.retold(&day.least_at);
        writeln!(out, "  {name}: least {least_wh:.0} Wh at {least_at}, {end_wh:.0} Wh at its end");
    }
    if e.days.len() > MOST_ROWS {
        let more = counted(e.days.len() - MOST_ROWS, "more day");
        writeln!(out, "  {more}; {:.0} Wh at the end of the trip; `--json` has all", e.end_wh);
    }
}

fn without_panel(out: &mut PlainLines, e: &TripEnergy, shown: HowTold) {
    if e.off_times == 0 {
        writeln!(out, "  the panel never goes off for want of power");
    }
    for off in e.off.iter().take(MOST_ROWS) {
        writeln!(out, "  PANEL OFF {}", off.words(shown));
    }
    if e.off_times > MOST_ROWS {
        let times = counted(e.off_times - MOST_ROWS, "more time");
        writeln!(out, "  PANEL OFF {times}, {} in all; `--json` has them", minutes(60.0 * e.total.off_h));
    }
}

/// An amount of money, as the user names money.
pub(super) fn money(amount: f64, s: &Budget) -> String {
    match &s.currency {
        Some(currency) => format!("{amount:.2} {currency}"),
        None => format!("{amount:.2}"),
    }
}

fn tariffs(out: &mut PlainLines, s: &Budget) {
    if s.tariffs.is_empty() {
        return;
    }
    writeln!(out, "tariffs, with the trip in one month");
    for t in &s.tariffs {
        let cost = t.cost.map_or("ends early".to_owned(), |cost| money(cost, s));
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
