//! `mounts`: layers of several mounts, and how a trip fares with each.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::notes::{HelpExample, HelpNotes};
use super::output::{Forms, Output};
use super::terminal::Said;
use super::trip_options::TripOptions;
use super::watch;
use crate::ask;
use crate::ask::mounts::{MountsQuestion, check_count};
use crate::base::error::{Error, Result};
use crate::base::files::{ending, unknown_ending};
use crate::layer::Layer;
use crate::report;

/// What the help of `mounts` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a track and a layer for each mount; calendars and a trip file (TOML) if given",
    writes: "with -o the answer (.json); else nothing",
    examples: &[
        HelpExample {
            does: "Roof or windscreen (the last example of `build` makes the second layer)",
            line: "waymask mounts data-samples/varrow-circuit.gpx out/varrow.gpkg out/windscreen.gpkg --zone=-01:00 --meetings data-samples/varrow-meetings.ics",
        },
        HelpExample {
            does: "The same by the fastest way between two places, for a program",
            line: "waymask mounts \"46.96922,-28.05054 46.98550,-27.94961\" out/varrow.gpkg out/windscreen.gpkg --way fastest --zone=-01:00 --depart 2026-06-15T08:00 -o out/mounts.json",
        },
    ],
};

/// Options of `mounts`.
#[derive(Debug, ClapArgs)]
#[command(mut_arg("output", |a| a.help("File to write: the answer (.json)")))]
pub(crate) struct MountsArgs {
    /// Track: a file (GPX, GeoJSON or encoded polyline), waypoints such as "42.5,1.5 42.51,1.5", or "Harrow Quay to Eastmark"
    ///
    /// With --way its points are places to go through.
    #[arg(allow_hyphen_values = true)]
    pub track: String,
    /// A layer written by `waymask build` for each mount, from the same files with another --profile; at most eight
    ///
    /// The others are compared with the first.
    #[arg(value_name = "LAYER", required = true)]
    pub layers: Vec<PathBuf>,
    /// The trip.
    #[command(flatten)]
    pub trip: TripOptions,
    /// Print nothing but the answer and errors
    ///
    /// Where a file is written, it is the answer.
    #[arg(short, long)]
    pub quiet: bool,
    /// Where the answer goes.
    #[command(flatten)]
    pub output: Output,
}

/// What goes to standard output; a file asked for is written.
pub fn run(args: &MountsArgs) -> Result<Said> {
    if let Some(path) = args.output.output.as_ref().map(|file| file.path()).filter(|path| ending(path) != "json") {
        return Err(unknown_ending(path, &["json"]));
    }
    check_count(args.layers.len())?;
    let layers = args.layers.iter().map(|path| Layer::open(path)).collect::<Result<Vec<_>>>()?;
    let Some(first) = layers.first() else {
        return Err(Error::usage("LAYER", "is missing", "give a layer for each mount"));
    };
    let question = MountsQuestion {
        title: args.trip.title(&args.track),
        plan: args.trip.question(first, &args.track, args.output.is_for_people())?,
    };
    let watcher = watch::watcher(args.quiet || args.output.json);
    let answer = ask::mounts(&layers, &question, watcher.as_ref())?;
    let file = args.output.output.as_ref().map(|_| report::mounts_json(&answer)).transpose()?;
    let only_file = args.quiet && file.is_some() && !args.output.json;
    let said = args.output.deliver(&Forms {
        file,
        table: &|| report::mounts_table(&answer),
        json: &|| report::mounts_json(&answer),
        notes: &[],
        cautions: &report::mounts_cautions(&answer),
    })?;
    Ok(if only_file { Said::Text(String::new()) } else { said })
}
