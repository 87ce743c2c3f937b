//! `spend`: data and energy of a trip from its settings; no layer is needed.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::notes::{HelpExample, HelpNotes};
use super::shown::{ClockOption, dial};
use super::terminal::Said;
use crate::ask::settings::Settings;
use crate::base::error::Result;
use crate::base::words::{Dial, HowTold};
use crate::budget::Budget;
use crate::report;

/// What the help of `spend` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a trip file (TOML)",
    writes: "nothing; the answer is printed",
    examples: &[
        HelpExample { does: "Data and energy of the demo trip", line: "waymask spend data-samples/varrow-trip.toml" },
        HelpExample { does: "The same for a program", line: "waymask spend data-samples/varrow-trip.toml --json" },
    ],
};

/// Options of `spend`.
#[derive(Debug, ClapArgs)]
pub(crate) struct SpendArgs {
    /// Working hours, devices, power and tariffs of the trip, TOML
    #[arg(value_name = "TRIP.toml")]
    pub trip: PathBuf,
    /// Print the answer as JSON
    #[arg(long)]
    pub json: bool,
    /// The dial of clocks.
    #[command(flatten)]
    pub clock: ClockOption,
}

/// Runs the command; what to print.
///
/// # Errors
/// The file cannot be read, or holds a key or value that cannot be used.
pub fn run(args: &SpendArgs) -> Result<Said> {
    let dial = dial(&args.clock)?;
    let trip = Settings::read_file(&args.trip)?;
    // Notes go to programs, too.
    let noted = if args.json { Dial::Hours24 } else { dial };
    let answer = Budget::of(&trip.spending.unwrap_or_default(), None, &args.trip.display().to_string(), noted)?;
    if args.json {
        return report::spending::json(&answer).map(Said::Json);
    }
    Ok(Said::Text(report::spending::answer(&answer, HowTold { dial, ..HowTold::default() })))
}
