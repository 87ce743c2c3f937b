//! One file per command; here they are called and their text is printed.
use std::io::Write;

use super::args::{Args, Command};
use super::output::harmless;
use super::{build, corridor, edges, guide, info, plan, route, sensitivity, settings, sky, spend, stops};
use crate::base::error::{Error, Result};

/// Runs a command.
pub fn run(args: Args) -> Result<()> {
    let text = match args.command {
        Command::Build(args) => build::run(args),
        Command::Corridor(args) => corridor::run(&args),
        Command::Plan(args) => plan::run(&args),
        Command::Edges(args) => edges::run(&args),
        Command::Info(args) => info::run(&args),
        Command::Route(args) => route::run(&args),
        Command::Sky(args) => sky::run(&args),
        Command::Spend(args) => spend::run(&args),
        Command::Stops(args) => stops::run(&args),
        Command::Sensitivity(args) => sensitivity::run(&args),
        Command::Settings(args) => settings::run(&args),
        Command::Guide(args) => Ok(guide::answer(&args)),
    }?;
    print(&harmless(&text))
}

/// Writes to standard output; a reader that has gone away is not an error.
fn print(text: &str) -> Result<()> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Error::failed("standard output", e.to_string(), "check where the output goes"))
        }
        _ => Ok(()),
    }
}
