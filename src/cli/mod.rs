//! The command line: what the user types, what the user sees.
mod args;
mod build;
mod commands;
mod corridor;
mod edges;
mod guide;
mod info;
mod output;
mod picture;
mod plan;
mod read;
mod route;
mod sensitivity;
mod settings;
mod show;
mod sky;
mod spend;
mod stops;
mod times;
mod values;
mod watch;
mod whole;

use std::process::ExitCode;

use clap::Parser;

use crate::base::error::Error;

/// Runs the program; the exit code is 0 done, 1 failed, 2 wrong usage.
pub fn run() -> ExitCode {
    let args = match args::Args::try_parse() {
        Ok(args) => args,
        Err(e) => {
            // A reader that has gone away (`waymask --help | head`) is not our failure.
            let _ = e.print();
            return ExitCode::from(if e.use_stderr() { 2 } else { 0 });
        }
    };
    match commands::run(args) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            complain(&error);
            ExitCode::from(error.exit_code())
        }
    }
}

#[expect(clippy::print_stderr, reason = "the one place where errors reach the user")]
fn complain(error: &Error) {
    eprintln!("waymask: {}", output::harmless(&error.to_string()));
}
