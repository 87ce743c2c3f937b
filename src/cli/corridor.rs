//! `corridor`: what a layer says about a track.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::notes::{HelpExample, HelpNotes};
use super::output::{Forms, Output};
use super::shown::{UnitsOption, shown};
use super::terminal::Said;
use super::values::length;
use super::with_layers::WithLayers;
use crate::ask;
use crate::ask::corridor::CorridorQuestion;
use crate::ask::matching::MatchOptions;
use crate::base::caution::Caution;
use crate::base::error::Result;
use crate::base::words::Units;
use crate::report::{self, Format};

/// What the help of `corridor` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a layer and a track",
    writes: "with -o the answer (.geojson, .gpx, .csv, .json); else nothing",
    examples: &[
        HelpExample {
            does: "Outages along a track",
            line: "waymask corridor out/varrow.gpkg data-samples/varrow-circuit.gpx",
        },
        HelpExample {
            does: "The same as lines and points for a map, with the roads nearby",
            line: "waymask corridor out/varrow.gpkg data-samples/varrow-circuit.gpx --buffer 500m -o out/circuit.geojson",
        },
    ],
};

/// Options of `corridor`.
#[derive(Debug, ClapArgs)]
pub(crate) struct CorridorArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Track: a file (GPX, GeoJSON or encoded polyline), waypoints such as "42.5,1.5 42.51,1.5", or "Harrow Quay to Eastmark"
    #[arg(allow_hyphen_values = true)]
    pub track: String,
    /// Layers asked as one with it.
    #[command(flatten)]
    pub neighbours: WithLayers,
    /// Decimals of degrees in an encoded polyline; by default 5, or 6 where 5 leads off the earth
    #[arg(long, value_name = "5|6", value_parser = clap::value_parser!(u8).range(5..=6))]
    pub polyline_precision: Option<u8>,
    /// List every outage, also short ones, and what stands overhead
    #[arg(long)]
    pub all: bool,
    /// How many of the worst stretches to list
    #[arg(long, value_name = "N", default_value_t = 5)]
    pub worst: usize,
    /// How near to the track other roads are listed too, such as 200m or 2km
    #[arg(long, value_name = "DISTANCE", default_value = "0m", value_parser = length(0.0..=20_000.0))]
    pub buffer: f64,
    /// How far the points of the track scatter about the road (standard deviation)
    #[arg(long, value_name = "DISTANCE", default_value = "10m", value_parser = length(1.0..=50.0))]
    pub noise: f64,
    /// Units of lengths.
    #[command(flatten)]
    pub units: UnitsOption,
    /// Where the answer goes.
    #[command(flatten)]
    pub output: Output,
}

/// What goes to standard output; a file asked for is written.
pub fn run(args: &CorridorArgs) -> Result<Said> {
    let format = args.output.file_format()?;
    let units = shown(&args.units, None)?.units;
    let (layer, track) =
        args.neighbours.open_along(&args.layer, (&args.track, args.polyline_precision), args.buffer)?;
    let question = CorridorQuestion {
        track,
        matching: MatchOptions::of_noise(args.noise),
        worst: args.worst,
        buffer_m: args.buffer,
        // Notes go to programs, too.
        units: if args.output.is_for_people() { units } else { Units::Metric },
    };
    let found = ask::corridor(&layer, &question)?;
    args.output.deliver(&Forms {
        file: format.map(|format| report::written(&found, format)).transpose()?,
        table: &|| report::table(&found, args.all, units),
        json: &|| report::written(&found, Format::Json),
        notes: &found.notes,
        cautions: &Caution::ROAD,
    })
}
