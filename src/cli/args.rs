//! Commands and options.
use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand};

/// Rates roads by the sky a roof-mounted satellite panel sees while driving.
#[derive(Debug, Parser)]
#[command(name = "waymask", version, propagate_version = true, arg_required_else_help = true)]
#[command(
    after_help = "The passenger operates this tool, never the driver. Posted clearance signs and local law beat \
                        anything printed here. Never rely on a satellite link as the only means of calling for help."
)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Build a risk layer (GeoPackage) from a map extract and elevation rasters
    Build(Build),
    /// Print what a layer was built from, what was assumed and what it holds
    Info(Info),
}

/// Options of `build`.
#[derive(Debug, ClapArgs)]
pub struct Build {
    /// Map extract, OSM PBF
    #[arg(required_unless_present = "print_profile")]
    pub extract: Option<PathBuf>,
    /// Elevation raster, `.hgt.zip`, or folder of them; several times, best first
    #[arg(short, long, value_name = "PATH")]
    pub elevation: Vec<PathBuf>,
    /// Layer to write
    #[arg(short, long, value_name = "FILE.gpkg", required_unless_present = "print_profile")]
    pub output: Option<PathBuf>,
    /// Replace the output if it exists (only once the new layer is complete)
    #[arg(long)]
    pub overwrite: bool,
    /// Assumptions about vehicle, panel, link and rating, TOML
    #[arg(short, long, value_name = "FILE.toml")]
    pub profile: Option<PathBuf>,
    /// Orbital elements (OMM as JSON, XML, KVN or CSV; two-line sets): shells fitted to them replace the profile's
    #[arg(long, value_name = "FILE")]
    pub orbits: Option<PathBuf>,
    /// Drive under the satellites of --orbits as SGP4 places them from this day or time on (UTC), not under shells
    #[arg(long, value_name = "DATE", requires = "orbits", value_parser = super::times::day_or_time)]
    pub orbit_date: Option<jiff::Timestamp>,
    /// Print the profile in force, with ranges and where each value comes from, and stop
    #[arg(long)]
    pub print_profile: bool,
    /// Who is credited for the map data; OpenStreetMap contributors by default
    #[arg(long, value_name = "TEXT")]
    pub credit: Option<String>,
    /// Fail on bad input data instead of counting it
    #[arg(long)]
    pub strict: bool,
    /// Worker threads; all cores by default
    #[arg(short = 'j', long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Print nothing but errors
    #[arg(short, long)]
    pub quiet: bool,
}

/// Options of `info`.
#[derive(Debug, ClapArgs)]
pub struct Info {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// The whole build record as JSON
    #[arg(long)]
    pub json: bool,
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        super::Args::command().debug_assert();
    }
}
