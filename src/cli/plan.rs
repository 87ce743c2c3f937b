//! `plan`: a trip, day by day.
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, ValueHint};
use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::files::OutputFile;
use super::notes::{HelpExample, HelpNotes};
use super::output::{Forms, Output};
use super::terminal::Said;
use super::titles::title_of;
use super::values::length;
use super::{beside, read, times, watch, zones};
use crate::ask;
use crate::ask::days::{NamedCalendar, PlanQuestion, PlanRoad};
use crate::ask::matching::MatchOptions;
use crate::ask::settings::Settings;
use crate::ask::trip::Trip;
use crate::base::error::{Error, Result};
use crate::base::files::{ending, unknown_ending};
use crate::base::input::{self, InputKind};
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
    /// Take this way of those that `waymask route` lists: fastest, steadiest or a number
    ///
    /// The points of the track are then places to go through. Without it the track is the road that is driven.
    #[arg(long, value_name = "N|NAME")]
    pub way: Option<String>,
    /// When to leave, such as 2026-06-15T08:00; may be given several times, once for each day
    ///
    /// The time is one of --zone unless it has an offset of its own. Without --depart the track's own times count.
    #[arg(long, value_name = "TIME")]
    pub depart: Vec<String>,
    /// Time zone of the traveller: Europe/Madrid or an offset such as -01:00; that of the place by default
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    pub zone: Option<String>,
    /// Calendar with meetings (iCalendar); may be given several times
    #[arg(long, value_name = "FILE.ics")]
    pub meetings: Vec<PathBuf>,
    /// Rules of driving, kinds of meetings, people and more (TOML)
    ///
    /// `waymask settings trip` prints every key.
    #[arg(long, value_name = "FILE.toml")]
    pub trip: Option<PathBuf>,
    /// How far the points of the track scatter about the road (standard deviation)
    #[arg(long, value_name = "DISTANCE", default_value = "10m", value_parser = length(1.0..=50.0))]
    pub noise: f64,
    /// Print nothing but the answer and errors
    ///
    /// Where a file is written, it is the answer.
    #[arg(short, long)]
    pub quiet: bool,
    /// Where the answer goes.
    #[command(flatten)]
    pub output: Output,
    /// Title of the trip; the name of the track's file by default
    ///
    /// The brief has it as its heading, and the events of an .ics file are known by it: a new plan under the same title
    /// takes the place of the old one.
    #[arg(long, value_name = "TEXT", value_hint = ValueHint::Other)]
    pub title: Option<String>,
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
    let layer = Layer::open(&args.layer)?;
    let question = question(args, &layer)?;
    let watcher = watch::watcher(args.quiet || args.output.json);
    let trip = ask::plan(&layer, &question, watcher.as_ref())?;
    let file = match kind {
        None => None,
        Some(FileKind::Json) => Some(report::plan_json(&trip)?),
        Some(FileKind::Brief) => Some(brief(args, &layer, &trip)?),
        Some(FileKind::Calendar) => Some(calendar::write(&report::plan_events(&trip, &title(args)), Timestamp::now())),
    };
    let only_file = args.quiet && file.is_some() && !args.output.json;
    let forms = Forms {
        file,
        table: &|| report::plan_table(&trip),
        json: &|| report::plan_json(&trip),
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

fn question(args: &PlanArgs, layer: &Layer) -> Result<PlanQuestion> {
    let mut track = read::track_in(layer, &args.track, None)?;
    let taken = zones::zone_of(args.zone.as_deref(), &track)?;
    let zone = taken.zone.clone();
    let settings = args.trip.as_deref().map(Settings::read_file).transpose()?.unwrap_or_default();
    let calendars = args.meetings.iter().map(|p| calendar_of(p)).collect::<Result<_>>()?;
    let departs: Vec<Timestamp> = args.depart.iter().map(|text| depart(text, &zone)).collect::<Result<_>>()?;
    let begins = departs.first().copied().or_else(|| track.begins()).unwrap_or_else(Timestamp::now);
    track.notes.splice(0..0, taken.notes(begins));
    let road = match &args.way {
        Some(name) => PlanRoad::Way(name.clone()),
        None => PlanRoad::Driven(MatchOptions::of_noise(args.noise)),
    };
    Ok(PlanQuestion { track, road, departs, zone, calendars, settings })
}

fn depart(text: &str, zone: &TimeZone) -> Result<Timestamp> {
    times::moment(text, zone).map_err(|fact| Error::usage(format!("--depart {text}"), "cannot be read", fact))
}

fn calendar_of(path: &Path) -> Result<NamedCalendar> {
    let next = "give an iCalendar file (.ics)";
    let text = input::text(path, InputKind::Calendar, next)?;
    let calendar = calendar::read(&text).map_err(|fact| Error::file(path, fact, next))?;
    Ok(NamedCalendar { name: path.display().to_string(), calendar })
}

/// The page.
fn brief(args: &PlanArgs, layer: &Layer, trip: &Trip) -> Result<String> {
    let nearby = trip.days.iter().map(|day| ask::roads_around(layer, &day.corridor)).collect::<Result<Vec<_>>>()?;
    let places = trip.days.iter().map(|day| ask::places_around(layer, &day.corridor)).collect::<Result<Vec<_>>>()?;
    let output = args.output.output.as_ref().map(OutputFile::path);
    let map_pages = output.map_or(Vec::new(), |output| beside::map_pages(output, layer));
    Ok(page(&Brief { title: &title(args), trip, nearby: &nearby, places: &places, map_pages: &map_pages }))
}

/// What the trip is called.
fn title(args: &PlanArgs) -> String {
    args.title.clone().unwrap_or_else(|| title_of(Path::new(&args.track), "trip"))
}
