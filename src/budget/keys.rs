//! Every key with its range, where its starting value comes from, and the example file.
use std::fmt::Write;

use toml::{Table, Value};

use super::settings::SpendingSettings;
use crate::profile::keys::Mark::{Assumed, CommonPractice, Published};
use crate::profile::keys::{Key, key};

/// Every number, in the order of the example.
pub const KEYS: &[Key] = &[
    key("work.days", Assumed, 1.0, 366.0, "days of the trip"),
    key("work.driving_h", Assumed, 0.0, 24.0, "engine on, hours a day"),
    key("work.stopped_h", Assumed, 0.0, 24.0, "at stops with the panel on, hours a day"),
    key(
        "rates.video_kbps",
        Published,
        0.0,
        1e6,
        "816 kbit/s each way: example bearer of 3GPP TS 26.114; HD calls use 2 to 4 times as much",
    ),
    key("rates.voice_kbps", Published, 0.0, 1e6, "64 kbit/s each way, ITU-T G.711 without headers"),
    key("rates.messages_kbps", Assumed, 0.0, 1e6, "messages and mail with some pictures"),
    key("rates.pages_kbps", Assumed, 0.0, 1e6, "pages, maps, shared documents"),
    key("rates.streaming_kbps", Assumed, 0.0, 1e6, "films and recorded talks"),
    key("rates.upload_kbps", Assumed, 0.0, 1e6, "photographs and files sent, over the hours it goes on"),
    key("device.count", Assumed, 0.0, 1e3, "how many"),
    key("device.hours", CommonPractice, 0.0, 24.0, "hours of use a day: 4 to 6"),
    key("device.background_kbps", Assumed, 0.0, 1e6, "updates, synchronising, feeds while the panel is on"),
    key("device.video", Assumed, 0.0, 1.0, "shares of the hours by kind of work; together 1"),
    key("device.voice", Assumed, 0.0, 1.0, ""),
    key("device.messages", Assumed, 0.0, 1.0, ""),
    key("device.pages", Assumed, 0.0, 1.0, ""),
    key("device.streaming", Assumed, 0.0, 1.0, ""),
    key("device.upload", Assumed, 0.0, 1.0, ""),
    key("power.working_w", CommonPractice, 0.0, 1e3, "the panel at work"),
    key("power.idle_w", Assumed, 0.0, 1e3, "the panel on without work, driving or standing"),
    key("power.other_w", Assumed, 0.0, 1e4, "everything else while somebody works: laptop and phones charging"),
    key("battery.volts", CommonPractice, 1.0, 1e3, "nominal voltage"),
    key("battery.amp_hours", Assumed, 0.0, 1e4, "capacity; 0 for none"),
    key("battery.usable_depth", CommonPractice, 0.0, 1.0, "share that may be used"),
    key("battery.converter_efficiency", CommonPractice, 0.01, 1.0, "share that the converter passes on"),
    key("battery.charge_driving_w", Assumed, 0.0, 1e4, "charging while the engine runs"),
    key("solar.panel_w", Assumed, 0.0, 1e4, "rated power; 0 for none"),
    key("solar.sun_hours", Assumed, 0.0, 24.0, "hours of full sun a day, of the season and place"),
    key(
        "solar.efficiency",
        CommonPractice,
        0.0,
        1.0,
        "share that reaches the battery: lying flat, heat, dirt, regulator",
    ),
    key("tariff.price", Assumed, 0.0, 1e6, "of a month, in any unit of money"),
    key("tariff.included_gb", Assumed, 0.0, 1e6, "GB of 10^9 bytes; leave out where nothing is counted"),
    key("tariff.extra_per_gb", Assumed, 0.0, 1e6, "price of each GB beyond; leave out where the link ends there"),
];

/// A number of TOML.
pub fn number(value: &Value) -> Option<f64> {
    match value {
        Value::Integer(n) => Some(*n as f64),
        Value::Float(n) => Some(*n),
        _ => None,
    }
}

/// A file with every key, its range and where its value comes from.
///
/// # Errors
/// Never, unless the settings cannot be written as TOML.
pub fn example() -> Result<String, toml::ser::Error> {
    let table = Table::try_from(SpendingSettings::default())?;
    let mut out = String::from("# Data and energy of a trip. Ranges in brackets; every key may be left out.\n");
    for section in SpendingSettings::SECTIONS {
        match table.get(section) {
            Some(Value::Array(many)) => {
                many.iter()
                    .filter_map(Value::as_table)
                    .for_each(|t| put(&mut out, section, &format!("[[{section}]]"), t));
            }
            Some(Value::Table(one)) => put(&mut out, section, &format!("[{section}]"), one),
            _ => {}
        }
    }
    Ok(out)
}

fn put(out: &mut String, section: &str, head: &str, table: &Table) {
    let _ = writeln!(out, "\n{head}");
    if let Some(name) = table.get("name") {
        let _ = writeln!(out, "name = {name}");
    }
    for key in KEYS {
        let Some((_, name)) = key.path.split_once('.').filter(|(s, _)| *s == section) else { continue };
        if let Some(value) = table.get(name) {
            let (mark, note) = (key.mark.name(), key.note);
            let note = if note.is_empty() { String::new() } else { format!("; {note}") };
            let _ = writeln!(out, "{:26} # {mark} [{} to {}]{note}", format!("{name} = {value}"), key.min, key.max);
        }
    }
}
