//! `settings`: an annotated example of everything that may be set in a file.
use std::fmt::Write;
use std::path::PathBuf;

use clap::{Args as ClapArgs, Subcommand};

use super::terminal::Said;
use crate::ask::settings::Settings as Trip;
use crate::base::error::Result;
use crate::profile::presets::PRESETS;
use crate::profile::{print, source};

/// Options of `settings`.
#[derive(Debug, ClapArgs)]
#[command(
    long_about = "Prints what may be set in a file, as a file to begin with: every key with its meaning, range, unit \
                  and where its value comes from. Without more it lists what there is, and the presets."
)]
pub(crate) struct SettingsArgs {
    /// What to print.
    #[command(subcommand)]
    pub of: Option<SettingsOf>,
}

/// What to print.
#[derive(Debug, Subcommand)]
pub(crate) enum SettingsOf {
    /// A profile: panel, vehicle, link, roadside, satellites, edges between ratings
    Profile {
        /// Assumptions to print: the name of a preset, or a TOML file; the preset `roof` by default
        #[arg(value_name = "NAME-OR-FILE")]
        profile: Option<PathBuf>,
    },
    /// A trip: rules of the day, meetings, data and energy
    Trip,
}

/// Runs the command; what to print.
///
/// # Errors
/// No such preset or file, or a file that cannot be used.
pub fn run(args: &SettingsArgs) -> Result<Said> {
    let text = match &args.of {
        None => Ok(listed()),
        Some(SettingsOf::Trip) => Trip::example(),
        Some(SettingsOf::Profile { profile: None }) => print::annotated(&PRESETS[0].profile()?, &PRESETS[0]),
        Some(SettingsOf::Profile { profile: Some(name_or_file) }) => {
            let chosen = source::choose(name_or_file)?;
            print::annotated(&chosen.profile, chosen.base)
        }
    };
    text.map(Said::Text)
}

/// What there is to print, and the presets.
fn listed() -> String {
    let mut out = "waymask settings trip\n  rules of the day, meetings, data and energy: for `plan --trip` and `spend`\n\
                   waymask settings profile [NAME-OR-FILE]\n  every assumption of a build: for `build -p` and `sensitivity -p`. Presets:\n"
        .to_owned();
    for preset in PRESETS {
        let _ = writeln!(out, "  {:12} {}", preset.name, preset.title);
    }
    out
}
