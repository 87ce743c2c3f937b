//! `profiles`: the presets.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use crate::base::error::Result;
use crate::profile::source::{self, Chosen};
use crate::profile::{keys, presets};

/// Options of `profiles`.
#[derive(Debug, ClapArgs)]
pub struct ProfilesArgs {
    /// A preset or a TOML file to print whole
    #[arg(value_name = "NAME-OR-FILE")]
    pub profile: Option<PathBuf>,
}

/// The list, or one of them; the text to print.
pub fn run(args: &ProfilesArgs) -> Result<String> {
    if let Some(name_or_file) = &args.profile {
        let Chosen { profile, base } = source::choose(name_or_file)?;
        return Ok(keys::print(&profile, base));
    }
    Ok(presets::PRESETS.iter().map(|r| format!("{:12} {}\n", r.name, r.title)).collect())
}
