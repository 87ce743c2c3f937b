//! `sky`: one place, its mask and who passes over it.
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, ValueHint};

use super::files::OutputFile;
use super::notes::{HelpExample, HelpNotes};
use super::output::written;
use super::picture;
use super::read;
use super::shown::{UnitsOption, shown};
use super::terminal::Said;
use super::times::day_or_time;
use super::values::{length, minutes};
use crate::ask;
use crate::ask::place::{PassesQuestion, SkyQuestion, read_elements};
use crate::base::caution::{Caution, on_terminal};
use crate::base::count::counted;
use crate::base::error::{Error, Result};
use crate::base::files;
use crate::base::input::{self, InputKind};
use crate::base::plain::PlainLines;
use crate::layer::Layer;
use crate::report::{self, polar};

/// What the help of `sky` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a layer; orbital elements if given",
    writes: "with -o a picture (.svg, .png); else nothing",
    examples: &[
        HelpExample {
            does: "What blocks the sky over a road",
            line: "waymask sky out/varrow.gpkg --at 46.97542,-28.03299",
        },
        HelpExample {
            does: "The other lane, as a picture",
            line: "waymask sky out/varrow.gpkg --at 46.97542,-28.03299 --backward -o out/sky.svg",
        },
    ],
};

/// Options of `sky`.
#[derive(Debug, ClapArgs)]
pub(crate) struct SkyArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Place on a road: coordinates such as 46.99,-28.01, or a name; a named place is taken at the road nearest to it
    #[arg(long, value_name = "PLACE", value_hint = ValueHint::Other, allow_hyphen_values = true)]
    pub at: String,
    /// How far from the place a road is looked for
    #[arg(long, value_name = "DISTANCE", default_value = "100m", value_parser = length(1.0..=5_000.0))]
    pub snap: f64,
    /// Look at the lane driven against the direction in which the road is drawn on the map
    #[arg(long)]
    pub backward: bool,
    /// Orbital elements (OMM as JSON, XML, KVN or CSV, or two-line sets); lists who passes, as SGP4 places them
    #[arg(long, value_name = "FILE")]
    pub orbits: Option<PathBuf>,
    /// List passes from this time on (UTC unless it has an offset); now by default
    #[arg(long, value_name = "TIME", requires = "orbits", value_parser = day_or_time)]
    pub time: Option<jiff::Timestamp>,
    /// List passes for this long, minutes
    #[arg(long, value_name = "MINUTES", default_value = "15", value_parser = minutes(1.0..=1_440.0))]
    pub minutes: f64,
    /// Height of the place above the ellipsoid of WGS 84, for the passes
    #[arg(long, value_name = "HEIGHT", requires = "orbits", default_value = "0m", value_parser = length(0.0..=9_000.0))]
    pub altitude: f64,
    /// Units of lengths.
    #[command(flatten)]
    pub units: UnitsOption,
    /// File to write: the sky as a picture, .svg or .png
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<OutputFile>,
    /// Replace the output if it exists
    ///
    /// The old file stays until the new one is complete.
    #[arg(long, requires = "output")]
    pub overwrite: bool,
    /// Print the answer as JSON
    ///
    /// A picture asked for is written, too.
    #[arg(long)]
    pub json: bool,
}

/// Runs the command; what to print.
pub fn run(args: &SkyArgs) -> Result<Said> {
    let output = args.output.as_ref().map(OutputFile::path);
    let kind = output.map(PictureKind::of_file).transpose()?;
    let units = shown(&args.units, None)?.units;
    let layer = Layer::open(&args.layer)?;
    let passes = args.orbits.as_deref().map(|path| passes_asked(args, path)).transpose()?;
    let with_passes = passes.is_some();
    let satellites = passes.as_ref().map_or(0, |p| p.elements.objects.len());
    let place = read::place_on_road(&layer, &args.at)?;
    let at_deg = (place.at.lat_deg(), place.at.lon_deg());
    let question = SkyQuestion { at_deg, within_m: args.snap, backward: args.backward, passes };
    let answer = ask::sky(&layer, &question)?;
    if let Some(path) = args.orbits.as_deref().filter(|_| answer.lost == satellites) {
        let fact = format!("SGP4 places none of its {} at the time asked about", counted(satellites, "satellite"));
        return Err(Error::file(path, fact, "give elements of that time, or another --time"));
    }
    if let (Some(path), Some(kind)) = (output, kind) {
        let svg = polar::svg(&answer);
        let bytes = match kind {
            PictureKind::Svg => svg.into_bytes(),
            PictureKind::Png => picture::png(&svg)?,
        };
        files::write(path, &bytes, args.overwrite)?;
    }
    if args.json {
        return Ok(Said::Json(report::place_json(&answer)?));
    }
    let mut out = PlainLines::new();
    place.told.iter().for_each(|told| writeln!(out, "at {told}"));
    out.own(&report::place_table(&answer, with_passes, units));
    if let Some(path) = output {
        written(&mut out, path, "");
    }
    out.own(&on_terminal(&Caution::SKY));
    Ok(Said::Text(out.text()))
}

fn passes_asked(args: &SkyArgs, path: &Path) -> Result<PassesQuestion> {
    let bytes = input::bytes(path, InputKind::Elements, "give the path of a readable file of orbital elements")?;
    let elements = read_elements(&bytes).map_err(|e| Error::file(path, e.fact, e.next_step))?;
    let time = args.time.unwrap_or_else(jiff::Timestamp::now);
    Ok(PassesQuestion { elements, time, minutes: args.minutes, altitude_m: args.altitude })
}

/// A format of pictures.
#[derive(Debug, Clone, Copy)]
enum PictureKind {
    Svg,
    Png,
}

impl PictureKind {
    /// By the ending of a file's name, before anything is looked for.
    fn of_file(path: &Path) -> Result<Self> {
        match files::ending(path).as_str() {
            "svg" => Ok(Self::Svg),
            "png" => Ok(Self::Png),
            _ => Err(files::unknown_ending(path, &["svg", "png"])),
        }
    }
}
