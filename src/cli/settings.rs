//! `settings`: an annotated example of everything that may be set in a file.
use std::fmt::Write;
use std::path::PathBuf;

use clap::{Args as ClapArgs, Subcommand};

use super::notes::{HelpExample, HelpNotes};
use super::shown;
use super::terminal::Said;
use crate::ask::settings::Settings as Trip;
use crate::base::error::Result;
use crate::profile::presets::PRESETS;
use crate::profile::{print, source};

/// What the help of `settings` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "nothing",
    writes: "nothing; the list is printed",
    examples: &[
        HelpExample { does: "What there is to set, and the presets", line: "waymask settings" },
        HelpExample { does: "A profile of your own to begin with", line: "waymask settings profile > out/own.toml" },
    ],
};
/// What the help of `settings profile` ends with.
pub(crate) const PROFILE_NOTES: HelpNotes = HelpNotes {
    reads: "a preset, or a profile (TOML)",
    writes: "nothing; the profile is printed",
    examples: &[
        HelpExample {
            does: "Every key of the panel behind the windscreen",
            line: "waymask settings profile windscreen",
        },
        HelpExample { does: "A profile of your own to begin with", line: "waymask settings profile > out/own.toml" },
    ],
};
/// What the help of `settings trip` ends with.
pub(crate) const TRIP_NOTES: HelpNotes = HelpNotes {
    reads: "nothing",
    writes: "nothing; the trip file is printed",
    examples: &[
        HelpExample { does: "Every key of a trip", line: "waymask settings trip" },
        HelpExample { does: "A trip of your own to begin with", line: "waymask settings trip > out/trip.toml" },
    ],
};

/// What the help of `settings user` ends with.
pub(crate) const USER_NOTES: HelpNotes = HelpNotes {
    reads: "nothing",
    writes: "nothing; the file is printed",
    examples: &[
        HelpExample { does: "Every key of your own settings", line: "waymask settings user" },
        HelpExample { does: "The same as a file to begin with", line: "waymask settings user > out/settings.toml" },
    ],
};

/// Options of `settings`.
#[derive(Debug, ClapArgs)]
pub(crate) struct SettingsArgs {
    /// What to print.
    #[command(subcommand)]
    pub of: Option<SettingsOf>,
}

/// What to print.
#[derive(Debug, Subcommand)]
pub(crate) enum SettingsOf {
    /// Print a profile: panel, vehicle, link, roadside, satellites, edges between ratings
    ///
    /// It is the file that `build --profile` and `sensitivity --profile` read.
    Profile {
        /// Assumptions to print: the name of a preset, or a TOML file; the preset `roof` by default
        #[arg(value_name = "NAME-OR-FILE")]
        profile: Option<PathBuf>,
    },
    /// Print a trip file: rules of the day, people, meetings, data and energy
    ///
    /// It is the file that `plan --trip` and `spend` read.
    Trip,
    /// Print your own settings: units and clock of answers for people
    ///
    /// The file is read from the folder for settings of the system; the first line printed says from where.
    User,
}

/// Runs the command; what to print.
///
/// # Errors
/// No such preset or file, or a file that cannot be used.
pub fn run(args: &SettingsArgs) -> Result<Said> {
    let text = match &args.of {
        None => Ok(listed()),
        Some(SettingsOf::Trip) => Trip::example(),
        Some(SettingsOf::User) => shown::example(),
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
                   waymask settings user\n  units and clock of every answer for people\n\
                   waymask settings profile [NAME-OR-FILE]\n  every assumption of a build: for `build --profile` and `sensitivity --profile`. Presets:\n"
        .to_owned();
    for preset in PRESETS {
        let _ = writeln!(out, "  {:12} {}", preset.name, preset.title);
    }
    out
}
