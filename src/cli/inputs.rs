//! What is built from what: options of `build` and `shards`.
use std::path::{Path, PathBuf};

use clap::builder::{PathBufValueParser, TypedValueParser};
use clap::{Args as ClapArgs, ValueEnum, ValueHint};

use super::region::RegionArgs;
use super::times::day_or_time;
use crate::base::error::{Error, Result};
use crate::base::nearest::{nearest_name, or_meant};
use crate::base::words::Words;
use crate::build::{BuildOptions, OrbitOptions, SeasonOf};
use crate::profile::{Profile, Season, source};
use crate::relief::{ElevationKind, FootprintFile};

/// What is built from what: options of `build` and `shards`.
#[derive(Debug, ClapArgs)]
pub(crate) struct InputArgs {
    /// Map extract, OSM PBF
    pub extract: Option<PathBuf>,
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
    /// What part of the extract is built.
    #[command(flatten)]
    pub region: RegionArgs,
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

impl InputArgs {
    /// Whether any input or assumption is given, which a plan holds already.
    pub fn are_given(&self) -> bool {
        let rasters = [&self.surface, &self.canopy].iter().any(|paths| !paths.is_empty()) || !self.elevation.is_empty();
        let files = [&self.extract, &self.buildings, &self.profile, &self.orbits].iter().any(|path| path.is_some());
        rasters || files || self.season.is_some() || self.credit.is_some() || self.strict || self.region.is_given()
    }
    /// As a build takes them.
    ///
    /// # Errors
    /// There is no extract, or the profile or the region cannot be read.
    pub fn options(self, output: &Path) -> Result<BuildOptions> {
        let Some(extract) = self.extract else {
            let next = "give an OSM PBF file first; only shards of a plan and the plan itself go without (`--shard`, `shards`)";
            return Err(Error::usage("a build", "needs a map extract", next));
        };
        let profile = match &self.profile {
            Some(name_or_file) => source::choose(name_or_file)?.profile,
            None => Profile::default(),
        };
        let region = self.region.region()?;
        let (kinds, elevation): (Vec<_>, Vec<_>) = self.elevation.into_iter().unzip();
        Ok(BuildOptions {
            elevation,
            elevation_kind: self.elevation_kind.into(),
            elevation_kinds: kinds.into_iter().map(|kind| kind.map(ElevationKind::from)).collect(),
            elevation_scale: self.elevation_scale,
            canopy: self.canopy,
            canopy_scale: self.canopy_scale,
            surface: self.surface,
            buildings: self.buildings.map(|path| FootprintFile {
                path,
                layer: self.buildings_layer,
                height_column: self.buildings_height.unwrap_or_default(),
            }),
            surface_scale: self.surface_scale,
            season: self.season,
            profile,
            credit: self.credit,
            strict: self.strict,
            region,
            orbits: self.orbits.map(|path| OrbitOptions {
                path,
                timeline_start: self.orbit_date,
                today: jiff::Timestamp::now(),
            }),
            threads: self.threads.map(usize::from),
            ..BuildOptions::new(extract, output.to_owned())
        })
    }
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
