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

use std::path::PathBuf;
use std::process::ExitCode;

use clap::FromArgMatches;

use crate::base::plain::one_line;

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
    let is_quiet = matches.subcommand().is_some_and(|(_, of)| matches!(of.try_get_one("quiet"), Ok(Some(true))));
    let done = files::check(&command, &matches).and_then(|()| commands::run(args));
    if !is_quiet && let Some(line) = tidied(&crate::base::files::tidied()) {
        terminal::complain(&line);
    }
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            terminal::complain(&format!("waymask: {error}"));
            ExitCode::from(error.exit_code())
        }
    }
}

/// What killed runs had left, and this one removed; people may have seen it and wondered.
fn tidied(removed: &[PathBuf]) -> Option<String> {
    const NAMED: usize = 4;
    let named: Vec<String> =
        removed.iter().take(NAMED).map(|path| one_line(&path.display().to_string()).into()).collect();
    let more = removed.len().saturating_sub(NAMED);
    let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
    (!named.is_empty())
        .then(|| format!("waymask: removed what a run that was killed had left: {}{rest}", named.join(", ")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_removed_is_named() {
        let paths = |count: usize| (0..count).map(|n| PathBuf::from(format!("out/.x{n}"))).collect::<Vec<_>>();
        assert_eq!(tidied(&paths(0)), None);
        assert!(tidied(&paths(2)).unwrap().ends_with("had left: out/.x0, out/.x1"));
        assert!(tidied(&paths(6)).unwrap().ends_with("out/.x3 and 2 more"));
    }
}
