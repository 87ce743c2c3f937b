//! The command line: what the user types, what the user sees.
pub mod args;
mod brief;
mod commands;
pub mod corridor;
mod day;
mod edges;
mod guide;
mod picture;
pub mod plan;
pub mod route;
mod sensitivity;
mod settings;
mod show;
mod sky;
mod spend;
mod stops;
mod times;
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
            // A reader that has gone away (`waymask --help | head`) is no failure of ours.
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
    eprintln!("waymask: {error}");
}
