//! The command line: what the user types, what the user sees.
mod args;
mod beside;
mod build;
mod commands;
mod completions;
mod corridor;
mod diff;
mod edges;
mod files;
#[doc(hidden)]
pub mod fuzzed;
mod guide;
mod help;
mod info;
mod inputs;
mod man;
mod map;
mod merge;
mod mounts;
mod notes;
mod output;
mod picture;
mod plan;
mod read;
mod region;
mod route;
mod sensitivity;
mod settings;
mod shards;
mod shown;
mod signals;
mod sky;
mod spend;
mod stops;
mod terminal;
#[cfg(test)]
mod tests_flags;
#[cfg(test)]
mod tests_help;
mod times;
mod titles;
mod trip_options;
mod values;
mod watch;
mod with_layers;
mod zones;

use std::process::ExitCode;

use clap::FromArgMatches;

/// Runs the program; the exit code is 0 done, 1 failed for good, 2 wrong usage, 3 may succeed when tried again, and 128
/// more than a signal that ended it.
pub fn run() -> ExitCode {
    signals::listen();
    let command = help::command();
    let parsed = command.clone().try_get_matches();
    let (args, matches) = match parsed.and_then(|m| Ok((args::Args::from_arg_matches(&m)?, m))) {
        Ok(parsed) => parsed,
        Err(e) if e.use_stderr() => {
            terminal::wrong_usage(command, e, std::env::args_os());
            return ExitCode::from(2);
        }
        Err(e) => {
            terminal::help(&e);
            return ExitCode::SUCCESS;
        }
    };
    match files::check(&command, &matches).and_then(|()| commands::run(args)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            terminal::complain(&format!("waymask: {error}"));
            ExitCode::from(error.exit_code())
        }
    }
}
