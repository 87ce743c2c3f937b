//! `spend`: data and energy of a trip from its settings; no layer is needed.
use super::args::Spend;
use crate::ask::settings::Settings;
use crate::base::error::{Error, Result};
use crate::budget::Budget;
use crate::report;

/// Runs the command; the text to print.
///
/// # Errors
/// The file cannot be read, or holds a key or value that cannot be used.
pub fn run(args: &Spend) -> Result<String> {
    let trip = Settings::read_file(&args.trip)?;
    let answer = Budget::of(&trip.spending.unwrap_or_default(), None);
    if args.json {
        let json = serde_json::to_string_pretty(&answer);
        return Ok(json.map_err(|e| Error::failed("spend", e.to_string(), "leave out --json"))? + "\n");
    }
    Ok(report::spending::table(&answer))
}
