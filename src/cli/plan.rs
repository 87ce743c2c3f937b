//! `plan`: a trip, day by day.
use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;
use jiff::Timestamp;

use super::files::OutputFile;
use super::notes::{HelpExample, HelpNotes};
use super::output::{Forms, Output};
use super::terminal::Said;
use super::trip_options::TripOptions;
use super::with_layers::WithLayers;
use super::{beside, watch};
use crate::ask;
use crate::ask::trip::Trip;
use crate::base::error::Result;
use crate::base::files::{ending, unknown_ending};
use crate::calendar;
use crate::layer::Layer;
use crate::report;
use crate::report::brief::{Brief, page};

/// What the help of `plan` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a layer and a track; calendars and a trip file (TOML) if given",
    writes: "with -o the brief (.html), a calendar (.ics) or the plan (.json); else nothing",
    examples: &[
        HelpExample {
            does: "A day along a track with its meetings",
            line: "waymask plan out/varrow.gpkg data-samples/varrow-circuit.gpx --zone=-01:00 --depart 2026-06-15T08:50 --meetings data-samples/varrow-meetings.ics",
        },
        HelpExample {
            does: "The brief of a drive by the steadiest way between two places",
            line: "waymask plan out/varrow.gpkg \"46.96922,-28.05054 46.98550,-27.94961\" --way steadiest --zone=-01:00 --depart 2026-06-15T08:00 -o out/day.html",
        },
    ],
};

/// Options of `plan`.
#[derive(Debug, ClapArgs)]
#[command(mut_arg("output", |a| a.help("File to write, in the format of its ending: .html (the brief), .json or .ics")))]
pub(crate) struct PlanArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Track: a file (GPX, GeoJSON or encoded polyline), waypoints such as "42.5,1.5 42.51,1.5", or "Harrow Quay to Eastmark"
    ///
    /// With --way its points are places to go through.
    #[arg(allow_hyphen_values = true)]
    pub track: String,
    /// Layers asked as one with it.
    #[command(flatten)]
    pub neighbours: WithLayers,
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

/// What is written to a file.
#[derive(Clone, Copy)]
enum FileKind {
    Json,
    Brief,
    Calendar,
}

/// What goes to standard output; a file asked for is written.
pub fn run(args: &PlanArgs) -> Result<Said> {
    let kind = args.output.output.as_ref().map(|file| kind_of(file.path())).transpose()?;
    let for_people = !args.output.json && !matches!(kind, Some(FileKind::Json));
    let layer = args.neighbours.open(&args.layer, None)?;
    let mut question = args.trip.question(&layer, &args.track, for_people)?;
    question.track.notes.splice(0..0, layer.told.iter().chain(&layer.of_stops).chain(&layer.of_masks).cloned());
    let watcher = watch::watcher(args.quiet || args.output.json);
    let trip = ask::plan(&layer, &question, watcher.as_ref())?;
    let file = match kind {
        None => None,
        Some(FileKind::Json) => Some(report::plan_json(&trip)?),
        Some(FileKind::Brief) => Some(brief(args, &layer, &trip)?),
        Some(FileKind::Calendar) => {
            Some(calendar::write(&report::plan_events(&trip, &args.trip.title(&args.track)), Timestamp::now()))
        }
    };
    let only_file = args.quiet && file.is_some() && !args.output.json;
    let forms = Forms {
        file,
        table: &|| report::plan_table(&trip),
        json: &|| report::plan_json(&trip),
        notes: &layer.told,
        cautions: &report::plan_cautions(&trip),
    };
    let said = args.output.deliver(&forms)?;
    Ok(if only_file { Said::Text(String::new()) } else { said })
}

fn kind_of(path: &Path) -> Result<FileKind> {
    match ending(path).as_str() {
        "json" => Ok(FileKind::Json),
        "html" => Ok(FileKind::Brief),
        "ics" => Ok(FileKind::Calendar),
        _ => Err(unknown_ending(path, &["html", "json", "ics"])),
    }
}

/// The page.
fn brief(args: &PlanArgs, layer: &Layer, trip: &Trip) -> Result<String> {
    let nearby = trip.days.iter().map(|day| ask::roads_around(layer, &day.corridor)).collect::<Result<Vec<_>>>()?;
    let places = trip.days.iter().map(|day| ask::places_around(layer, &day.corridor)).collect::<Result<Vec<_>>>()?;
    let output = args.output.output.as_ref().map(OutputFile::path);
    let map_pages = output.map_or(Vec::new(), |output| beside::map_pages(output, layer));
    let title = args.trip.title(&args.track);
    Ok(page(&Brief { title: &title, trip, nearby: &nearby, places: &places, map_pages: &map_pages }))
}
