//! `route`: ways between places.
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, ValueHint};

use super::notes::{HelpExample, HelpNotes};
use super::output::{Forms, Output};
use super::read;
use super::shown::{UnitsOption, shown};
use super::terminal::Said;
use super::values::{length, minutes};
use super::with_layers::WithLayers;
use crate::ask;
use crate::ask::route::{Limits, MOST_PLACES, RouteQuestion, RouteRules};
use crate::ask::search::{legs, place_typed};
use crate::base::caution::Caution;
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::base::words::Units;
use crate::layer::Layer;
use crate::report::{self, Format};

/// Worst segments that each corridor lists.
const WORST: usize = 5;

/// What the help of `route` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a layer; a file of places if given",
    writes: "with -o the ways (.geojson, .gpx, .csv, .json); else nothing",
    examples: &[
        HelpExample {
            does: "Ways between two places by their names",
            line: "waymask route out/varrow.gpkg \"Harrow Quay to Eastmark\"",
        },
        HelpExample {
            does: "Ways between two places",
            line: "waymask route out/varrow.gpkg 46.96922,-28.05054 46.98550,-27.94961",
        },
        HelpExample {
            does: "The steadiest of them as a track",
            line: "waymask route out/varrow.gpkg 46.96922,-28.05054 46.98550,-27.94961 --way steadiest -o out/steadiest.gpx",
        },
    ],
};

/// Options of `route`.
#[derive(Debug, ClapArgs)]
#[command(mut_arg("output", |a| a.help("File to write, in the format of its ending: .geojson, .gpx (tracks), .csv or .json")))]
pub(crate) struct RouteArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Where the drive begins, such as 42.5,1.5 or Eastmark; or all places as in "Harrow Quay to Eastmark"; or a file with them
    ///
    /// A place is coordinates or the name of a town, village, pass, stop or road (page `names`). Files are GPX or GeoJSON.
    #[arg(allow_hyphen_values = true)]
    pub from: String,
    /// Where the drive ends
    #[arg(allow_hyphen_values = true)]
    pub to: Option<String>,
    /// Layers asked as one with it.
    #[command(flatten)]
    pub neighbours: WithLayers,
    /// Go through this place on the way; may be given several times, in the order driven
    #[arg(long, value_name = "PLACE", value_hint = ValueHint::Other, allow_hyphen_values = true)]
    pub via: Vec<String>,
    /// Show at most this many ways
    #[arg(long, value_name = "N", default_value_t = 5, value_parser = ways)]
    pub ways: usize,
    /// Show no way that takes more than this many minutes longer than the fastest
    #[arg(long, value_name = "MINUTES", value_parser = minutes(0.0..=100_000.0))]
    pub longer: Option<f64>,
    /// Use no roads with a loose surface
    #[arg(long)]
    pub no_unpaved: bool,
    /// Use no ferries and no car shuttle trains
    #[arg(long)]
    pub no_ferry: bool,
    /// Use no private roads, not even at the ends of the drive
    #[arg(long)]
    pub no_private: bool,
    /// Height of the vehicle, such as 3.2m or 10'6"; that of the layer's profile by default
    ///
    /// Roads with a lower posted clearance are not used.
    #[arg(long, value_name = "HEIGHT", value_parser = length(0.5..=10.0))]
    pub height: Option<f64>,
    /// How far from the place a road is looked for
    #[arg(long, value_name = "DISTANCE", default_value = "200m", value_parser = length(1.0..=5_000.0))]
    pub snap: f64,
    /// Take this way of those that `waymask route` lists: fastest, steadiest or a number
    ///
    /// The answer is that way alone, and .geojson and .csv hold its pieces.
    #[arg(long, value_name = "N|NAME")]
    pub way: Option<String>,
    /// Units of lengths.
    #[command(flatten)]
    pub units: UnitsOption,
    /// Where the answer goes.
    #[command(flatten)]
    pub output: Output,
}

fn ways(text: &str) -> Result<usize, String> {
    text.parse().ok().filter(|n| (1..=20).contains(n)).ok_or_else(|| "give a number from 1 to 20".into())
}

/// What goes to standard output; a file asked for is written.
pub fn run(args: &RouteArgs) -> Result<Said> {
    let format = args.output.file_format()?;
    let units = shown(&args.units, None)?.units;
    let layer = args.neighbours.open(&args.layer, None)?;
    let (places, told) = places(args, &layer)?;
    let mut found = ask::route(&layer, &question(args, &layer, places, units))?;
    found.notes.splice(0..0, layer.told.iter().cloned().chain(told));
    let taken = args.way.as_deref().map(|name| found.nth(name)).transpose()?;
    if let Some(nth) = taken {
        found.ways = vec![found.ways.swap_remove(nth)];
    }
    let file = match (taken, format) {
        (_, None) => None,
        // One way in pieces, as `corridor` writes them.
        (Some(_), Some(format @ (Format::GeoJson | Format::Csv))) => {
            Some(report::written(&found.ways[0].corridor, format)?)
        }
        (_, Some(format)) => Some(report::route_written(&found, format)?),
    };
    args.output.deliver(&Forms {
        file,
        table: &|| report::route_table(&found, units),
        json: &|| report::route_written(&found, Format::Json),
        notes: &found.notes,
        cautions: &Caution::ROAD,
    })
}

fn question(args: &RouteArgs, layer: &Layer, places: Vec<Position>, units: Units) -> RouteQuestion {
    // Notes go to programs, too.
    let units = if args.output.is_for_people() { units } else { Units::Metric };
    let all = RouteRules::all(layer);
    let rules = RouteRules {
        unpaved: !args.no_unpaved,
        boarded: !args.no_ferry,
        private: !args.no_private,
        height_m: args.height.unwrap_or(all.height_m),
    };
    let limits = Limits { ways: args.ways, longer_ms: args.longer.map(|minutes| (minutes * 60e3) as u64) };
    RouteQuestion { places, within_m: args.snap, rules, limits, worst: WORST, units }
}

/// Places typed, or read from a file of waypoints; what was taken for their names.
fn places(args: &RouteArgs, layer: &Layer) -> Result<(Vec<Position>, Vec<String>)> {
    let next = "give places such as \"Harrow Quay to Eastmark\", 42.5,1.5 43,1.6, or a file of waypoints";
    let (typed, told) = match &args.to {
        Some(to) => {
            let all: Vec<&String> = [&args.from].into_iter().chain(&args.via).chain([to]).collect();
            let found = read::places_on_road(layer, &all)?;
            (read::positions(&found), read::told(&found))
        }
        None if !args.via.is_empty() => return Err(Error::usage("TO", "is missing", next)),
        None => of_track(&args.from, layer, next)?,
    };
    if let Some(i) = typed.windows(2).position(|w| w[0] == w[1]) {
        return Err(Error::usage(format!("place {}", i + 2), "is the same as the one before", next));
    }
    Ok((typed, told))
}

/// Places of a file or a list; a track of hundreds of points is not a list of places to go through.
fn of_track(text: &str, layer: &Layer, next: &str) -> Result<(Vec<Position>, Vec<String>)> {
    // One place alone is told as what it lacks, whatever it is.
    if !read::names_file(text) && legs(text).len() < 2 && place_typed(layer, text).is_ok() {
        return Err(Error::usage("TO", "is missing", next));
    }
    let track = read::track_in(layer, text, None)?;
    let places = track.places();
    if places.len() > MOST_PLACES {
        let fact = format!("has {} points; places to go through are at most {MOST_PLACES}", places.len());
        return Err(Error::file(Path::new(text), fact, "use `waymask corridor` for a track that was driven"));
    }
    // What was odd about a file matters to those who drove it.
    Ok((places, if read::names_file(text) { Vec::new() } else { track.notes }))
}
