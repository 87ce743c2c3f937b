//! `spend`: data and energy of a trip from its settings; no layer is needed.
use super::args::Spend;
use crate::ask::settings::Settings;
use crate::base::error::{Error, Result};
use crate::budget::{keys, spending};
use crate::report;

/// Runs the command; the text to print.
///
/// # Errors
/// The file cannot be read, or holds a key or value that cannot be used.
pub fn run(args: &Spend) -> Result<String> {
    let failed = |e: String| Error::failed("spend", e, "leave out the option");
    let Some(path) = args.trip.as_ref().filter(|_| !args.example) else {
        return keys::example().map_err(|e| failed(e.to_string()));
    };
    let next = "`waymask spend --example` prints a file with every key";
    let text = std::fs::read_to_string(path).map_err(|e| Error::file(path, e.to_string(), next))?;
    let trip = Settings::read(&text).map_err(|fact| Error::usage(path.display().to_string(), fact, next))?;
    let answer = spending(&trip.spending.unwrap_or_default(), None);
    if args.json {
        return Ok(serde_json::to_string_pretty(&answer).map_err(|e| failed(e.to_string()))? + "\n");
    }
    Ok(report::spending::table(&answer))
}
