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
mod terminal;
mod times;
mod values;
mod watch;
mod whole;

use std::process::ExitCode;

use clap::Parser;

/// Runs the program; the exit code is 0 done, 1 failed, 2 wrong usage.
pub fn run() -> ExitCode {
    let args = match args::Args::try_parse() {
        Ok(args) => args,
        Err(e) if e.use_stderr() => {
            terminal::wrong_usage::<args::Args>(e, std::env::args_os());
            return ExitCode::from(2);
        }
        Err(e) => {
            // Help holds no word of others. A reader that has gone away (`waymask --help | head`) is not our failure.
            let _ = e.print();
            return ExitCode::SUCCESS;
        }
    };
    match commands::run(args) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            terminal::complain(&format!("waymask: {error}"));
            ExitCode::from(error.exit_code())
        }
    }
}
