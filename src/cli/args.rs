//! Commands and options.
use clap::{Parser, Subcommand};

use super::build::BuildArgs;
use super::completions::CompletionsArgs;
use super::corridor::CorridorArgs;
use super::diff::DiffArgs;
use super::edges::EdgesArgs;
use super::guide::GuideArgs;
use super::info::InfoArgs;
use super::man::ManArgs;
use super::map::MapArgs;
use super::merge::MergeArgs;
use super::mounts::MountsArgs;
use super::plan::PlanArgs;
use super::route::RouteArgs;
use super::sensitivity::SensitivityArgs;
use super::settings::SettingsArgs;
use super::shards::ShardsArgs;
use super::sky::SkyArgs;
use super::spend::SpendArgs;
use super::stops::StopsArgs;

/// Tells, before you drive, where the satellite panel on the roof loses its link and why
#[derive(Debug, Parser)]
#[command(name = "waymask", version, propagate_version = true, arg_required_else_help = true)]
#[command(
    after_help = "The passenger operates this tool, never the driver. Posted clearance signs and local law beat \
                        anything printed here. Never rely on a satellite link as the only means of calling for help.\n\n\
                        Exit codes: 0 done, 1 failed for good, 2 wrong usage, 3 may succeed when tried again (a full disk, a \
                        file that another program holds), 129, 130 and 143 ended by SIGHUP, SIGINT (Ctrl-C) and \
                        SIGTERM."
)]
pub(crate) struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do. The first line of each is all that the program's own help shows of it: it must fit beside the name.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Make a layer: rate the roads of a map by the sky a panel sees
    ///
    /// Rates every road of a map extract that a vehicle may use, and says why the sky is closed: trees, buildings, bridges,
    /// tunnels, terrain. The layer is one GeoPackage, which every other command asks.
    Build(BuildArgs),
    /// Plan a build in shards, for one machine or many
    ///
    /// Reads what a build reads, writes its plan into the work folder, and lists the shards with their districts and roads.
    /// `build --shard` rates each, anywhere; `merge` joins them to the same layer that one build would write.
    Shards(ShardsArgs),
    /// Join the shards of a build to a layer
    ///
    /// Takes the work folders of all shards, checks that they are of one build and whole, and writes the layer: all of it, a
    /// part of its region, or a small one without sky masks.
    Merge(MergeArgs),
    /// List the outages along a track, in the direction driven
    ///
    /// Matches a track to the roads of the layer. Lists each outage too long for some kind of meeting, with its cause and its
    /// place, and the worst stretches.
    Corridor(CorridorArgs),
    /// Plan a trip: when to leave, where to stop, how meetings are held
    ///
    /// Cuts the track into days, reads the meetings of each day, and says of every meeting whether to hold it in motion, to
    /// leave at another time, or to stop, where, and from when to when.
    Plan(PlanArgs),
    /// Compare mounts: where on the vehicle a panel does best on a drive
    ///
    /// Takes one layer for each mount, built from the same files with another profile, plans the trip with each, and shows side
    /// by side the expected time without a link, the outages, and how each meeting is best held and at what risk.
    Mounts(MountsArgs),
    /// Write the edges of a layer as a table for routing tools
    ///
    /// An edge is one direction between two junctions, with its length, driving time and expected time without a link. The same
    /// figures come by each two nodes of the map that follow each other, and by way.
    Edges(EdgesArgs),
    /// Compare two layers: what changed between two builds of a region
    ///
    /// Tells which roads came and went, which are rated better or worse and why, where the expected time without a link changes
    /// most, and whether a change may come from another profile or another version of the program instead.
    Diff(DiffArgs),
    /// Compare the fastest way between places with steadier ones
    ///
    /// Shows the fastest way, the steadiest and a few between, side by side, with what each costs in time and saves in
    /// outages.
    Route(RouteArgs),
    /// Make a page of a layer: a map to look at without a GIS
    ///
    /// Writes one file that a browser opens from the disk, with or without a network, on a laptop or a telephone: roads by rating,
    /// the figures of each, the worst outages, places to stop, a search by name. With --along it opens at a drive.
    Map(MapArgs),
    /// Print what a layer was built from, and what was assumed
    ///
    /// Prints the record of the build as people read it: inputs, counts, kilometres by rating and by cause, assumptions.
    Info(InfoArgs),
    /// Show the sky over one place: what blocks it, what passes
    ///
    /// Says what blocks the sky over the road nearest to the place, and where satellites are expected.
    /// With orbital elements of your own it lists who passes.
    Sky(SkyArgs),
    /// Work out the data and energy of a trip: GB, Wh, tariffs, battery
    ///
    /// Reads working hours, devices, power and tariffs from a trip file. Tells when the battery is full or empty, which of
    /// your tariffs is cheapest, and when its allowance runs out. It needs no layer.
    Spend(SpendArgs),
    /// List places to stop, and how much sky is open there
    ///
    /// Lists fuel stations, rest areas, services, camp sites and pitches, caravan sites, picnic sites, viewpoints and car
    /// parks: roofed or not, how much of the usable sky a panel on the vehicle sees there, and where within reach of a cable
    /// it sees most. Private places are left out unless asked for.
    Stops(StopsArgs),
    /// Rate a layer again under other assumptions: what would change
    ///
    /// Rates a layer again from what it holds, without extract and rasters. Without --profile and --set every assumption is
    /// moved by itself, and those that move most kilometres come first.
    Sensitivity(SensitivityArgs),
    /// Print what may be set in a file: every key with range and source
    ///
    /// Prints a file to begin with: every key with its meaning, range, unit and where its value comes from. Without more it
    /// lists what there is, and the presets.
    Settings(SettingsArgs),
    /// Read the guide: columns, words, accuracy, decisions
    Guide(GuideArgs),
    /// Print a page of the manual, for `man`
    ///
    /// There is a page for the program and one for each command. They say what --help says.
    Man(ManArgs),
    /// Print completions of commands and options for a shell
    ///
    /// Put them where your shell looks for completions, and Tab completes commands, options and files.
    Completions(CompletionsArgs),
}
