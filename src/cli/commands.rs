//! One file per command; here they are called and what they say is printed.
use super::args::{Args, Command};
use super::{
    build, completions, corridor, diff, edges, guide, help, info, man, map, merge, mounts, plan, route, sensitivity,
    settings, shards, sky, spend, stops, terminal,
};
use crate::base::error::Result;

/// Runs a command.
pub fn run(args: Args) -> Result<()> {
    let said = match args.command {
        Command::Build(args) => build::run(args),
        Command::Corridor(args) => corridor::run(&args),
        Command::Plan(args) => plan::run(&args),
        Command::Mounts(args) => mounts::run(&args),
        Command::Shards(args) => shards::run(args),
        Command::Map(args) => map::run(&args),
        Command::Merge(args) => merge::run(&args),
        Command::Diff(args) => diff::run(&args),
        Command::Edges(args) => edges::run(&args),
        Command::Info(args) => info::run(&args),
        Command::Route(args) => route::run(&args),
        Command::Sky(args) => sky::run(&args),
        Command::Spend(args) => spend::run(&args),
        Command::Stops(args) => stops::run(&args),
        Command::Sensitivity(args) => sensitivity::run(&args),
        Command::Settings(args) => settings::run(&args),
        Command::Guide(args) => Ok(terminal::Said::Text(guide::answer(&args))),
        Command::Man(args) => man::run(&args, help::command(), help::notes),
        Command::Completions(args) => Ok(completions::run(&args, help::command())),
    }?;
    terminal::print(&said)
}
