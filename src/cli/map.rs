//! `map`: a part of a layer as one page to look at.
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, ValueHint};

use super::files::OutputFile;
use super::notes::{HelpExample, HelpNotes};
use super::output::written;
use super::region;
use super::shown::{UnitsOption, shown};
use super::terminal::Said;
use super::titles::title_of;
use super::values::{bounds, length};
use super::with_layers::{AskedLayer, WithLayers};
use crate::ask;
use crate::ask::matching::MatchOptions;
use crate::ask::portion::{Portion, PortionOf, PortionQuestion};
use crate::base::caution::{Caution, on_terminal};
use crate::base::count::counted;
use crate::base::error::{Error, Result};
use crate::base::files::{self, ending, unknown_ending};
use crate::base::plain::PlainLines;
use crate::base::words::Units;
use crate::layer::Bounds;
use crate::map::district::region::Region;
use crate::report;
use crate::report::map_page::{MapPage, layer_mark, map_page};

/// Most segments that one page shows.
const MOST_SEGMENTS: usize = 60_000;
/// Most segments of which a page is made by leaving out the smaller roads.
const MOST_READ: u64 = 400_000;

/// What the help of `map` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a layer; a track or a GeoJSON file if given",
    writes: "a page (.html) that needs no network and no other file",
    examples: &[
        HelpExample { does: "All of a layer", line: "waymask map out/varrow.gpkg -o out/varrow.html" },
        HelpExample {
            does: "What lies within 2 km of a drive, with a strip of the drive",
            line: "waymask map out/varrow.gpkg --along data-samples/varrow-circuit.gpx --buffer 2km -o out/circuit.html",
        },
    ],
};

/// Options of `map`.
#[derive(Debug, ClapArgs)]
pub(crate) struct MapArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// File to write: a page (.html) that a browser opens from the disk
    #[arg(short, long, value_name = "FILE")]
    pub output: OutputFile,
    /// Layers asked as one with it.
    #[command(flatten)]
    pub neighbours: WithLayers,
    /// Replace the output if it exists
    ///
    /// The old file stays until the new one is complete.
    #[arg(long)]
    pub overwrite: bool,
    /// Only what lies in a box: south, west, north and east, degrees
    #[arg(long, value_name = "S,W,N,E", value_parser = bounds, allow_hyphen_values = true, conflicts_with_all = ["area", "along"])]
    pub bounds: Option<Bounds>,
    /// Only what lies in the polygons of a GeoJSON file
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, conflicts_with = "along")]
    pub area: Option<PathBuf>,
    /// Only what lies along a track, which the page opens at: a file, waypoints such as "42.5,1.5 42.51,1.5",
    /// or places by name
    #[arg(long, value_name = "TRACK", allow_hyphen_values = true)]
    pub along: Option<String>,
    /// How near to the track roads are shown, such as 2km; 20 km by default
    #[arg(long, value_name = "DISTANCE", requires = "along", value_parser = length(0.0..=100_000.0))]
    pub buffer: Option<f64>,
    /// How far the points of the track scatter about the road (standard deviation)
    #[arg(long, value_name = "DISTANCE", default_value = "10m", value_parser = length(1.0..=50.0))]
    pub noise: f64,
    /// Units of lengths.
    #[command(flatten)]
    pub units: UnitsOption,
    /// Title of the page; the name of the track's or the layer's file by default
    #[arg(long, value_name = "TEXT", value_hint = ValueHint::Other)]
    pub title: Option<String>,
}

/// How near to a track roads are shown, metres.
const BUFFER_M: f64 = 20_000.0;

/// What goes to standard output; the page is written.
pub fn run(args: &MapArgs) -> Result<Said> {
    let path = args.output.path();
    if ending(path) != "html" {
        return Err(unknown_ending(path, &["html"]));
    }
    let units = shown(&args.units, None)?.units;
    let (layer, part) = part(args)?;
    let question = PortionQuestion { part, most_segments: MOST_SEGMENTS, most_read: MOST_READ };
    let portion = ask::portion(&layer, &question)?;
    let title = args.title.clone().filter(|title| !title.trim().is_empty()).unwrap_or_else(|| default_title(args));
    let mark = layer_mark(layer.record());
    let page = map_page(&MapPage { title: &title, portion: &portion, units, mark: &mark })?;
    files::write(path, page.as_bytes(), args.overwrite)?;
    Ok(Said::Text(told((&portion, &[&layer.told[..], &layer.of_stops].concat()), path, page.len() as u64, units)))
}

fn told((portion, notes): (&Portion, &[String]), path: &Path, bytes: u64, units: Units) -> String {
    let mut out = PlainLines::new();
    notes.iter().for_each(|note| writeln!(out, "note: {note}"));
    writeln!(out, "shown");
    writeln!(
        out,
        "  {}, {}, {}, {}",
        counted(portion.segments.len() as u64, "segment"),
        report::map_page::stops_words(portion.stops.len()),
        counted(portion.places.len() as u64, "named place"),
        counted((portion.ground.len() + portion.ground_lines.len()) as u64, "shape") + " of water"
    );
    for left in &portion.left_out {
        let name = report::map_page::group_words(left.group);
        writeln!(
            out,
            "  not shown, too many for one page: {name}, {} ({})",
            counted(left.segments as u64, "segment"),
            units.road_about(left.km * 1e3)
        );
    }
    if let Some(trip) = portion.trip.as_ref().filter(|trip| trip.unmatched_m > 0.0) {
        writeln!(
            out,
            "  {} of the track is off the layer's roads: unknown is not clear",
            units.length(trip.unmatched_m)
        );
    }
    written(&mut out, path, &format!(" ({})", report::bytes(bytes)));
    out.own(&on_terminal(&Caution::ROAD));
    out.text()
}

/// What is asked, and which part of it.
fn part(args: &MapArgs) -> Result<(AskedLayer, PortionOf)> {
    if let Some(track) = &args.along {
        let buffer_m = args.buffer.unwrap_or(BUFFER_M);
        let (layer, track) = args.neighbours.open_along(&args.layer, (track, None), buffer_m)?;
        return Ok((layer, PortionOf::Along { track, matching: MatchOptions::of_noise(args.noise), buffer_m }));
    }
    let boxes = args.bounds.map(|bounds| vec![bounds]);
    let layer = args.neighbours.open(&args.layer, boxes.as_deref())?;
    if let Some(bounds) = args.bounds {
        return Ok((layer, PortionOf::Box(bounds)));
    }
    let Some(path) = &args.area else { return Ok((layer, PortionOf::Whole)) };
    match region::area(path)? {
        Region::Area(polygons) => Ok((layer, PortionOf::Polygons(polygons))),
        _ => Err(Error::file(path, "holds no polygon", "give a GeoJSON file with a polygon")),
    }
}

/// What the page is called after: the track's file, else the layers; the names of several layers are always told.
fn default_title(args: &MapArgs) -> String {
    let layers: Vec<String> =
        std::iter::once(&args.layer).chain(&args.neighbours.with).map(|path| title_of(path, "map")).collect();
    let layers = layers.join(" with ");
    let track = args.along.as_deref().map(Path::new).filter(|track| track.is_file());
    match track.map(|track| title_of(track, "map")) {
        Some(track) if args.neighbours.with.is_empty() => track,
        Some(track) => format!("{track} ({layers})"),
        None => layers,
    }
}
