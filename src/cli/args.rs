//! Commands and options.
use clap::{Parser, Subcommand};

use super::build::BuildArgs;
use super::corridor::CorridorArgs;
use super::edges::EdgesArgs;
use super::guide::GuideArgs;
use super::info::InfoArgs;
use super::plan::PlanArgs;
use super::route::RouteArgs;
use super::sensitivity::SensitivityArgs;
use super::settings::SettingsArgs;
use super::sky::SkyArgs;
use super::spend::SpendArgs;
use super::stops::StopsArgs;

/// Rates roads by the sky a roof-mounted satellite panel sees while driving.
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

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Build a risk layer (GeoPackage) from a map extract and elevation rasters
    Build(BuildArgs),
    /// Worst segments and outages along a track, in the direction driven
    Corridor(CorridorArgs),
    /// Plan a day: when to leave, where to stop, how every meeting is held
    Plan(PlanArgs),
    /// Write the edges of a layer as a table for routing tools
    Edges(EdgesArgs),
    /// Fastest and steadiest way between places, a few between, and the trade
    Route(RouteArgs),
    /// Print what a layer was built from, what was assumed and what it holds
    Info(InfoArgs),
    /// Show the sky over one place of a layer: what blocks it, and who passes when
    Sky(SkyArgs),
    /// Data and energy of a trip: GB, Wh, tariffs, how long allowance and battery last
    Spend(SpendArgs),
    /// Places to stop: roofed or not, how much sky is open there, and where beside the vehicle most is
    Stops(StopsArgs),
    /// Rate a layer again from its stored masks under other assumptions, and print what changes
    Sensitivity(SensitivityArgs),
    /// Print what may be set in a file: every key with its meaning, range, unit and where its value comes from
    Settings(SettingsArgs),
    /// Pages on columns, words, accuracy and decisions
    Guide(GuideArgs),
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        super::Args::command().debug_assert();
    }
}
