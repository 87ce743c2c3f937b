//! Commands and options.
use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};

use crate::build::SeasonOf;
use crate::profile::Season;

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
    /// Worst segments and outages along a track, in the direction driven
    Corridor(Corridor),
    /// Plan a day: when to leave, where to stop, how every meeting is held
    Plan(Plan),
    /// Write the edges of a layer as a table for routing tools
    Edges(Edges),
    /// Fastest and steadiest way between places, a few between, and the trade
    Route(Route),
    /// Print what a layer was built from, what was assumed and what it holds
    Info(Info),
    /// Show the sky over one place of a layer: what blocks it, and who passes when
    Sky(Sky),
    /// Data and energy of a trip: GB, Wh, tariffs, how long allowance and battery last
    Spend(Spend),
    /// Places to stop: roofed or not, how much sky is open there, and where beside the vehicle most is
    Stops(super::stops::Stops),
    /// Rate a layer again from its stored masks under other assumptions, and print what changes
    Sensitivity(Sensitivity),
    /// Print what may be set in a file: every key with its meaning, range, unit and where its value comes from
    Settings(Settings),
    /// Pages on columns, words, accuracy and decisions
    Guide(super::guide::Guide),
}

/// Options of `build`.
#[derive(Debug, ClapArgs)]
pub struct Build {
    /// Map extract, OSM PBF
    pub extract: PathBuf,
    /// Elevation raster, `.hgt.zip`, or folder of them; several times, best first
    #[arg(short, long, value_name = "PATH")]
    pub elevation: Vec<PathBuf>,
    /// What the elevation rasters hold the heights of
    #[arg(long, value_name = "KIND", default_value = "bare-earth")]
    pub elevation_kind: KindOfElevation,
    /// Surface model (tops of trees and buildings) over the bare earth of --elevation; several times, best first
    #[arg(long, value_name = "PATH")]
    pub surface: Vec<PathBuf>,
    /// Canopy-height raster, 0.5 to 30 m, instead of default heights of trees; several times, best first
    #[arg(long, value_name = "PATH")]
    pub canopy: Vec<PathBuf>,
    /// Metres per value of the canopy rasters, such as 0.1 for decimetres; what they declare by default
    #[arg(long, value_name = "METRES", requires = "canopy", value_parser = scale)]
    pub canopy_scale: Option<f64>,
    /// leaf-on, leaf-off, or a date (2026-11-25: leaves as usual then at the latitude of the map)
    #[arg(long, value_name = "SEASON|DATE", value_parser = season)]
    pub season: Option<SeasonOf>,
    /// Layer to write
    #[arg(short, long, value_name = "FILE.gpkg")]
    pub output: PathBuf,
    /// Replace the output if it exists (only once the new layer is complete)
    #[arg(long)]
    pub overwrite: bool,
    /// Assumptions: the name of a preset (`waymask settings` lists them) or a TOML file
    #[arg(short, long, value_name = "NAME-OR-FILE")]
    pub profile: Option<PathBuf>,
    /// Orbital elements (OMM as JSON, XML, KVN or CSV; two-line sets): shells fitted to them replace the profile's
    #[arg(long, value_name = "FILE")]
    pub orbits: Option<PathBuf>,
    /// Drive under the satellites of --orbits as SGP4 places them from this day or time on (UTC), not under shells
    #[arg(long, value_name = "DATE", requires = "orbits", value_parser = super::times::day_or_time)]
    pub orbit_date: Option<jiff::Timestamp>,
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

/// Options of `sensitivity`.
#[derive(Debug, ClapArgs)]
#[command(
    long_about = "Rates a layer again from what it holds, without extract and rasters. Without --profile and --set every \
                  assumption is moved by itself and the ones that move most kilometres come first."
)]
pub struct Sensitivity {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Another profile: a name of a preset or a TOML file
    #[arg(short, long, value_name = "NAME-OR-FILE")]
    pub profile: Option<PathBuf>,
    /// Replace one value, such as link.slot_s=30; several times
    #[arg(long, value_name = "KEY=VALUE")]
    pub set: Vec<String>,
    /// Write the layer as rated under the changed profile
    #[arg(short, long, value_name = "FILE.gpkg")]
    pub output: Option<PathBuf>,
    /// Replace the output if it exists
    #[arg(long, requires = "output")]
    pub overwrite: bool,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
    /// Worker threads; all cores by default
    #[arg(short = 'j', long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Show no progress
    #[arg(short, long)]
    pub quiet: bool,
}

/// Options of `settings`.
#[derive(Debug, ClapArgs)]
#[command(
    long_about = "Prints what may be set in a file, as a file to begin with: every key with its meaning, range, unit \
                        and where its value comes from. Without more it lists what there is, and the presets."
)]
pub struct Settings {
    /// What to print.
    #[command(subcommand)]
    pub of: Option<SettingsOf>,
}

/// What to print.
#[derive(Debug, Subcommand)]
pub enum SettingsOf {
    /// A profile: panel, vehicle, link, roadside, satellites, edges between ratings
    Profile {
        /// A preset or a TOML file; the default by default
        #[arg(value_name = "NAME-OR-FILE")]
        profile: Option<PathBuf>,
    },
    /// A trip: rules of the day, meetings, data and energy
    Trip,
}

/// What elevation rasters hold the heights of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum KindOfElevation {
    /// The ground without trees and buildings
    BareEarth,
    /// The tops of whatever stands there: trees and buildings of the map count only within one pixel of the road
    Surface,
}

fn scale(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(metres) if f64::is_finite(metres) && metres > 0.0 && metres <= 100.0 => Ok(metres),
        _ => Err("give metres per value, more than 0 and at most 100".into()),
    }
}

fn season(text: &str) -> Result<SeasonOf, String> {
    match text {
        "leaf-on" => Ok(SeasonOf::Named(Season::LeafOn)),
        "leaf-off" => Ok(SeasonOf::Named(Season::LeafOff)),
        date => {
            date.parse().map(SeasonOf::Date).map_err(|_| "give leaf-on, leaf-off or a date such as 2026-11-25".into())
        }
    }
}

/// Options of `corridor`.
#[derive(Debug, ClapArgs)]
pub struct Corridor {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// GPX, GeoJSON or encoded polyline in a file, or waypoints such as "42.5,1.5 42.6,1.6"
    #[arg(allow_hyphen_values = true)]
    pub track: String,
    /// Decimals of degrees in an encoded polyline; by default 5, or 6 where 5 leads off the earth
    #[arg(long, value_name = "5|6", value_parser = clap::value_parser!(u8).range(5..=6))]
    pub polyline_precision: Option<u8>,
    /// How many of the worst segments to list
    #[arg(long, value_name = "N", default_value_t = 10)]
    pub worst: usize,
    /// Rate other roads this near to the track, metres
    #[arg(long, value_name = "METRES", default_value_t = 0.0, value_parser = buffer)]
    pub buffer: f64,
    /// Noise of the track's points, metres (standard deviation)
    #[arg(long, value_name = "METRES", default_value_t = 10.0, value_parser = noise)]
    pub noise: f64,
    /// The whole answer as JSON
    #[arg(long, conflicts_with = "output")]
    pub json: bool,
    /// Write to a file instead; .geojson, .gpx (waypoints), .csv or .json
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace the output if it exists
    #[arg(long)]
    pub overwrite: bool,
}

fn buffer(text: &str) -> Result<f64, String> {
    metres(text, 0.0, 20_000.0)
}

fn noise(text: &str) -> Result<f64, String> {
    metres(text, 1.0, 50.0)
}

fn metres(text: &str, low: f64, high: f64) -> Result<f64, String> {
    match text.parse() {
        Ok(m) if f64::is_finite(m) && (low..=high).contains(&m) => Ok(m),
        _ => Err(format!("give metres from {low} to {high}")),
    }
}

/// Options of `edges`.
#[derive(Debug, ClapArgs)]
pub struct Edges {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// File to write; .csv or .json
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
    /// Replace the output if it exists
    #[arg(long)]
    pub overwrite: bool,
}

/// Options of `route`.
#[derive(Debug, ClapArgs)]
pub struct Route {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Where the drive begins, such as 42.5,1.5; or a file with all places (GPX, GeoJSON)
    #[arg(allow_hyphen_values = true)]
    pub from: String,
    /// Where it ends
    #[arg(allow_hyphen_values = true)]
    pub to: Option<String>,
    /// Go through a place; several times, in their order
    #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true)]
    pub via: Vec<String>,
    /// At most N ways
    #[arg(long, value_name = "N", default_value_t = 5, value_parser = ways)]
    pub ways: usize,
    /// No way that takes more than MINUTES longer than the fastest
    #[arg(long, value_name = "MINUTES", value_parser = longer)]
    pub longer: Option<f64>,
    /// No loose surfaces
    #[arg(long)]
    pub no_unpaved: bool,
    /// No ferries and car shuttle trains
    #[arg(long)]
    pub no_ferry: bool,
    /// No private roads, not even at the ends of the drive
    #[arg(long)]
    pub no_private: bool,
    /// No roads with a lower posted clearance, metres; the height in the layer's profile by default
    #[arg(long, value_name = "METRES", value_parser = height)]
    pub height: Option<f64>,
    /// Roads are looked for this far from each place, metres
    #[arg(long, value_name = "METRES", default_value = "200", value_parser = within)]
    pub within: f64,
    /// Only this way, by number or name; .geojson and .csv then hold its pieces
    #[arg(long, value_name = "N|NAME")]
    pub take: Option<String>,
    /// The whole answer as JSON
    #[arg(long, conflicts_with = "output")]
    pub json: bool,
    /// Write to a file instead; .geojson, .gpx (tracks), .csv or .json
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace the output if it exists
    #[arg(long)]
    pub overwrite: bool,
}

fn ways(text: &str) -> Result<usize, String> {
    text.parse().ok().filter(|n| (1..=20).contains(n)).ok_or_else(|| "give a number from 1 to 20".into())
}

fn longer(text: &str) -> Result<f64, String> {
    let parsed = text.parse().ok().filter(|m| (0.0..=100_000.0).contains(m));
    parsed.ok_or_else(|| "give minutes from 0 to 100000".into())
}

fn height(text: &str) -> Result<f64, String> {
    metres(text, 0.5, 10.0)
}

/// Options of `spend`.
#[derive(Debug, ClapArgs)]
pub struct Spend {
    /// Working hours, devices, power and tariffs of the trip, TOML
    #[arg(value_name = "TRIP.toml")]
    pub trip: PathBuf,
    /// Everything as JSON
    #[arg(long)]
    pub json: bool,
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

/// Options of `sky`.
#[derive(Debug, ClapArgs)]
pub struct Sky {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Latitude and longitude of a place on a road, degrees: 46.99,-28.01
    #[arg(long, value_name = "LAT,LON", value_parser = place, allow_hyphen_values = true)]
    pub at: (f64, f64),
    /// A road is looked for this far from it, metres
    #[arg(long, value_name = "METRES", default_value = "100", value_parser = within)]
    pub within: f64,
    /// The lane driven against the direction in which the way is drawn
    #[arg(long)]
    pub backward: bool,
    /// Orbital elements (OMM as JSON, XML, KVN or CSV; two-line sets): who passes, as SGP4 places them
    #[arg(long, value_name = "FILE")]
    pub orbits: Option<PathBuf>,
    /// Passes from this time on (UTC unless it has an offset); now by default
    #[arg(long, value_name = "TIME", requires = "orbits", value_parser = super::times::day_or_time)]
    pub time: Option<jiff::Timestamp>,
    /// Passes for so many minutes
    #[arg(long, value_name = "N", default_value = "15", value_parser = minutes)]
    pub minutes: f64,
    /// Picture to write, .svg or .png
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace the picture if it exists
    #[arg(long)]
    pub overwrite: bool,
    /// Everything as JSON
    #[arg(long)]
    pub json: bool,
}

/// Options of `plan`.
#[derive(Debug, ClapArgs)]
pub struct Plan {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// GPX, GeoJSON or encoded polyline; or, with --way, places such as "46.9686,-28.0609 46.9850,-27.9194"
    #[arg(allow_hyphen_values = true)]
    pub track: String,
    /// Take the points of the track as places to go through, and this way between them: fastest, steadiest or a number, as
    /// `waymask route` lists them
    #[arg(long, value_name = "N|NAME")]
    pub way: Option<String>,
    /// When to leave: 2026-06-15T08:00 (in --zone) or with an offset; once per day, or never for the track's own times
    #[arg(long, value_name = "TIME")]
    pub depart: Vec<String>,
    /// Zone of the traveller: Europe/Madrid or an offset such as -01:00; the system's by default
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    pub zone: Option<String>,
    /// Calendar with meetings (iCalendar); several times
    #[arg(long, value_name = "FILE.ics")]
    pub meetings: Vec<PathBuf>,
    /// Rules of driving, kinds of meetings and more (TOML; `waymask settings trip` prints every key)
    #[arg(long, value_name = "FILE.toml")]
    pub trip: Option<PathBuf>,
    /// Assumed scatter of the track's points, metres
    #[arg(long, value_name = "METRES", default_value = "10", value_parser = noise)]
    pub noise: f64,
    /// What to write: .html (the brief), .json or .ics
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace the output if it exists
    #[arg(long)]
    pub overwrite: bool,
    /// Everything as JSON
    #[arg(long, conflicts_with = "output")]
    pub json: bool,
    /// What the brief calls the trip; the name of the track's file by default
    #[arg(long, value_name = "TEXT")]
    pub title: Option<String>,
}

/// Latitude and longitude, degrees, from text.
pub fn place(text: &str) -> Result<(f64, f64), String> {
    let parsed = text.split_once(',').and_then(|(a, b)| Some((a.trim().parse().ok()?, b.trim().parse().ok()?)));
    match parsed {
        Some((lat, lon)) if (-90.0..=90.0).contains(&lat) && (-180.0..=180.0).contains(&lon) => Ok((lat, lon)),
        _ => Err("give latitude and longitude in degrees, such as 46.99,-28.01".into()),
    }
}

fn within(text: &str) -> Result<f64, String> {
    metres(text, 1.0, 5_000.0)
}

fn minutes(text: &str) -> Result<f64, String> {
    let parsed = text.parse().ok().filter(|m| (1.0..=1_440.0).contains(m));
    parsed.ok_or_else(|| "give minutes from 1 to 1440".into())
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        super::Args::command().debug_assert();
    }
}
