//! `spend`: data and energy of a trip from its settings; no layer is needed.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::read;
use crate::ask::settings::Settings;
use crate::base::error::{Error, Result};
use crate::budget::{keys, spending};
use crate::report;

/// Options of `spend`.
#[derive(Debug, ClapArgs)]
pub struct SpendArgs {
    /// Working hours, devices, power and tariffs of the trip, TOML
    #[arg(value_name = "TRIP.toml", required_unless_present = "example")]
    pub trip: Option<PathBuf>,
    /// Print a file with every key, its range and where its value comes from
    #[arg(long, conflicts_with_all = ["trip", "json"])]
    pub example: bool,
    /// Everything as JSON
    #[arg(long)]
    pub json: bool,
}

/// Runs the command; the text to print.
///
/// # Errors
/// The file cannot be read, or holds a key or value that cannot be used.
pub fn run(args: &SpendArgs) -> Result<String> {
    let failed = |e: String| Error::failed("spend", e, "leave out the option");
    let Some(path) = args.trip.as_ref().filter(|_| !args.example) else {
        return keys::example().map_err(|e| failed(e.to_string()));
    };
    let next = "`waymask spend --example` prints a file with every key";
    let trip = Settings::read(&read::text(path, next)?)
        .map_err(|fact| Error::usage(path.display().to_string(), fact, next))?;
    let answer = spending(&trip.spending.unwrap_or_default(), None);
    if args.json {
        return Ok(serde_json::to_string_pretty(&answer).map_err(|e| failed(e.to_string()))? + "\n");
    }
    Ok(report::spending::table(&answer))
}
