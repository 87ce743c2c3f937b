//! The `waymask` program: see the library [`waymask`] for the stages.
use std::process::ExitCode;

fn main() -> ExitCode {
    waymask::cli::run()
}
