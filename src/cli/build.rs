//! `build`: files to a layer.
use std::path::PathBuf;

use clap::builder::{PathBufValueParser, TypedValueParser};
use clap::{Args as ClapArgs, ValueEnum, ValueHint};

use super::files::OutputFile;
use super::notes::{HelpExample, HelpNotes};
use super::output::written;
use super::terminal::Said;
use super::times::day_or_time;
use super::watch;
use crate::base::caution::on_terminal;
use crate::base::error::Result;
use crate::base::nearest::{nearest_name, or_meant};
use crate::base::plain::PlainLines;
use crate::base::words::Words;
use crate::build::{self, BuildOptions, OrbitOptions, SeasonOf};
use crate::profile::{Profile, Season, source};
use crate::relief::{ElevationKind, FootprintFile};
use crate::report;

/// What the help of `build` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a map extract (OSM PBF); rasters, buildings, a profile, orbital elements if given",
    writes: "a layer (.gpkg)",
    examples: &[
        HelpExample {
            does: "The demo island, with elevation and heights of trees",
            line: "waymask build data-samples/varrow.osm.pbf --elevation data-samples/varrow-elevation.tif --canopy data-samples/varrow-canopy.tif -o out/varrow.gpkg --overwrite",
        },
        HelpExample {
            does: "The same with the leaves of late November",
            line: "waymask build data-samples/varrow.osm.pbf --elevation data-samples/varrow-elevation.tif --season 2026-11-25 --credit \"Varrow, an invented island, CC0\" -o out/november.gpkg",
        },
    ],
};

/// Options of `build`.
#[derive(Debug, ClapArgs)]
pub(crate) struct BuildArgs {
    /// Map extract, OSM PBF
    pub extract: PathBuf,
    /// Elevation raster, `.hgt.zip`, or a folder of them; may be given several times, best first
    ///
    /// `surface:PATH` and `bare-earth:PATH` say what one of them holds. A file whose own name begins so is given as
    /// `./surface:...`.
    #[arg(short, long, value_name = "[KIND:]PATH", value_parser = kind_and_path())]
    pub elevation: Vec<(Option<KindOfElevation>, PathBuf)>,
    /// What elevation rasters hold the heights of, where they are given without a kind of their own
    #[arg(long, value_name = "KIND", default_value = "bare-earth")]
    pub elevation_kind: KindOfElevation,
    /// Metres per value of the elevation rasters, such as 0.1 for decimetres; what they declare by default
    #[arg(long, value_name = "FACTOR", requires = "elevation", value_parser = scale)]
    pub elevation_scale: Option<f64>,
    /// Surface model (tops of trees and buildings) over the bare earth of --elevation; may be given several times, best first
    #[arg(long, value_name = "PATH")]
    pub surface: Vec<PathBuf>,
    /// Metres per value of the surface models; what they declare by default
    #[arg(long, value_name = "FACTOR", requires = "surface", value_parser = scale)]
    pub surface_scale: Option<f64>,
    /// Heights of trees, a raster with pixels of 0.5 to 30 m; may be given several times, best first
    ///
    /// Where it has a value it decides whether a tree stands there and how high. Elsewhere the trees of the map count.
    #[arg(long, value_name = "PATH")]
    pub canopy: Vec<PathBuf>,
    /// Metres per value of the canopy rasters, such as 0.1 for decimetres; what they declare by default
    #[arg(long, value_name = "FACTOR", requires = "canopy", value_parser = scale)]
    pub canopy_scale: Option<f64>,
    /// Outlines of buildings with their heights, in any vector format; they replace those of the map where they overlap
    #[arg(long, value_name = "FILE", requires = "buildings_height")]
    pub buildings: Option<PathBuf>,
    /// Column of --buildings that holds heights above the ground, metres
    #[arg(long, value_name = "COLUMN", requires = "buildings", value_hint = ValueHint::Other)]
    pub buildings_height: Option<String>,
    /// Layer of --buildings, where it has several
    #[arg(long, value_name = "NAME", requires = "buildings", value_hint = ValueHint::Other)]
    pub buildings_layer: Option<String>,
    /// Whether trees are in leaf: leaf-on, leaf-off, or a date such as 2026-11-25
    ///
    /// With a date, trees have the leaves that are usual then at the latitude of the map.
    #[arg(long, value_name = "SEASON|DATE", value_parser = season)]
    pub season: Option<SeasonOf>,
    /// File to write: the layer (.gpkg)
    #[arg(short, long, value_name = "FILE")]
    pub output: OutputFile,
    /// Replace the output if it exists
    ///
    /// The old file stays until the new one is complete.
    #[arg(long, requires = "output")]
    pub overwrite: bool,
    /// Assumptions to rate by: the name of a preset, or a TOML file
    ///
    /// `waymask settings` lists the presets. `waymask settings profile` prints a file to begin with.
    #[arg(short, long, value_name = "NAME-OR-FILE")]
    pub profile: Option<PathBuf>,
    /// Orbital elements (OMM as JSON, XML, KVN or CSV, or two-line sets); shells fitted to them replace the profile's
    #[arg(long, value_name = "FILE")]
    pub orbits: Option<PathBuf>,
    /// Simulate drives under the satellites of --orbits themselves, from this day or time on (UTC), not under shells
    ///
    /// Every satellite that SGP4 places then counts, in a shell or not.
    #[arg(long, value_name = "DATE|TIME", requires = "orbits", value_parser = day_or_time)]
    pub orbit_date: Option<jiff::Timestamp>,
    /// Who is credited for the map data; OpenStreetMap contributors by default
    #[arg(long, value_name = "TEXT", value_hint = ValueHint::Other)]
    pub credit: Option<String>,
    /// Fail on bad input data instead of counting it and going on
    #[arg(long)]
    pub strict: bool,
    /// Worker threads; all cores by default
    #[arg(short = 'j', long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Print nothing but the answer and errors
    ///
    /// The answer of a build is its file, so that nothing is printed where all is well.
    #[arg(short, long)]
    pub quiet: bool,
}

/// What elevation rasters hold the heights of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum KindOfElevation {
    /// The ground without trees and buildings
    BareEarth,
    /// The tops of whatever stands there: trees and buildings of the map count only within one pixel of the road
    Surface,
}

impl From<KindOfElevation> for ElevationKind {
    fn from(kind: KindOfElevation) -> Self {
        match kind {
            KindOfElevation::BareEarth => Self::BareEarth,
            KindOfElevation::Surface => Self::Surface,
        }
    }
}

/// A path, with its kind before a colon where that is said.
fn kind_and_path() -> impl TypedValueParser<Value = (Option<KindOfElevation>, PathBuf)> {
    PathBufValueParser::new().try_map(|path| {
        let Some((word, rest)) = path.to_str().and_then(|text| text.split_once(':')) else { return Ok((None, path)) };
        let kinds = [("surface", KindOfElevation::Surface), ("bare-earth", KindOfElevation::BareEarth)];
        if let Some((_, kind)) = kinds.into_iter().find(|(name, _)| *name == word) {
            return Ok((Some(kind), PathBuf::from(rest)));
        }
        // Whatever is there under the whole name is meant, colon and all.
        match nearest_name(word, kinds.map(|(name, _)| name)).filter(|_| !word.contains('/') && !path.exists()) {
            Some(near) => Err(format!("`{word}:` is not a known kind; did you mean `{near}:`?")),
            None => Ok((None, path)),
        }
    })
}

fn scale(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(metres) if f64::is_finite(metres) && (1e-4..=100.0).contains(&metres) => Ok(metres),
        _ => Err("give metres per value, 0.0001 to 100".into()),
    }
}

fn season(text: &str) -> Result<SeasonOf, String> {
    match Season::parse(text) {
        Some(named) => Ok(SeasonOf::Named(named)),
        None => text.parse().map(SeasonOf::Date).map_err(|_| {
            let hint = or_meant(text, Season::NAMES.iter().copied());
            format!("give {} or a date such as 2026-11-25{hint}", Season::list())
        }),
    }
}

/// Builds; what to print.
pub fn run(args: BuildArgs) -> Result<Said> {
    let profile = match &args.profile {
        Some(name_or_file) => source::choose(name_or_file)?.profile,
        None => Profile::default(),
    };
    let (kinds, elevation): (Vec<_>, Vec<_>) = args.elevation.into_iter().unzip();
    let options = BuildOptions {
        elevation,
        elevation_kind: args.elevation_kind.into(),
        elevation_kinds: kinds.into_iter().map(|kind| kind.map(ElevationKind::from)).collect(),
        elevation_scale: args.elevation_scale,
        canopy: args.canopy,
        canopy_scale: args.canopy_scale,
        surface: args.surface,
        buildings: args.buildings.map(|path| FootprintFile {
            path,
            layer: args.buildings_layer,
            height_column: args.buildings_height.unwrap_or_default(),
        }),
        surface_scale: args.surface_scale,
        season: args.season,
        overwrite: args.overwrite,
        profile,
        credit: args.credit,
        strict: args.strict,
        orbits: args.orbits.map(|path| OrbitOptions {
            path,
            timeline_start: args.orbit_date,
            today: jiff::Timestamp::now(),
        }),
        threads: args.threads.map(usize::from),
        ..BuildOptions::new(args.extract, args.output.path().to_owned())
    };
    let watcher = watch::watcher(args.quiet);
    let done = build::build(&options, watcher.as_ref())?;
    if args.quiet {
        return Ok(Said::Text(String::new()));
    }
    let mut out = PlainLines::new();
    report::record_lines(&mut out, &done.record);
    report::stages_lines(&mut out, &done.stages, peak_memory_bytes());
    written(&mut out, args.output.path(), &format!(" ({})", report::bytes(done.output_bytes)));
    out.own(&on_terminal(&report::layer_cautions(&done.record)));
    Ok(Said::Text(out.text()))
}

/// The most memory this process has held, where the system tells it.
fn peak_memory_bytes() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    let kib: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib * 1024)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kind_stands_before_a_path_and_one_that_is_mistyped_is_told_the_nearest() {
        let read = |typed: &str| {
            let command = clap::Command::new("x").arg(clap::Arg::new("e").value_parser(kind_and_path()));
            let matches = command.try_get_matches_from(["x", typed]).map_err(|e| e.to_string())?;
            Ok::<_, String>(matches.get_one::<(Option<KindOfElevation>, PathBuf)>("e").cloned().unwrap())
        };
        assert_eq!(read("surface:a.tif"), Ok((Some(KindOfElevation::Surface), "a.tif".into())));
        assert_eq!(read("bare-earth:b:c.tif"), Ok((Some(KindOfElevation::BareEarth), "b:c.tif".into())));
        for path in ["a.tif", "./surface:a.tif", "C:a.tif", "srtm/"] {
            assert_eq!(read(path), Ok((None, path.into())));
        }
        assert!(read("surfac:a.tif").unwrap_err().contains("did you mean `surface:`?"));
    }

    #[test]
    fn seasons_are_names_or_dates() {
        assert_eq!(season("leaf-on"), Ok(SeasonOf::Named(Season::LeafOn)));
        assert!(matches!(season("2026-11-25"), Ok(SeasonOf::Date(_))));
        assert!(season("leaff-off").unwrap_err().ends_with("; did you mean `leaf-off`?"));
    }
}
