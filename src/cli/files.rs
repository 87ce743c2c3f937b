//! Files that a command line names: what is written is none of what is read, and can be written.
use std::ffi::OsString;
use std::path::{Path, PathBuf};

use clap::parser::ValueSource;
use clap::{ArgMatches, Command, ValueHint};

use crate::base::error::Result;
use crate::base::files::{check_apart, place_of};

/// A file that a command writes. Options that name one have this type: so they are told from all others, which may name
/// what is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutputFile(PathBuf);

impl From<OsString> for OutputFile {
    fn from(typed: OsString) -> Self {
        Self(typed.into())
    }
}

impl OutputFile {
    /// As typed.
    pub fn path(&self) -> &Path {
        &self.0
    }
}

/// Refuses outputs that are inputs or each other, or that can never be written, before anything is read. Whatever is typed
/// and is not an output counts as an input, so that no command has to list its own; free text is marked by
/// [`ValueHint::Other`].
///
/// # Errors
/// The first such output.
pub(crate) fn check(command: &Command, matches: &ArgMatches) -> Result<()> {
    if let Some((name, inner)) = matches.subcommand() {
        return command.find_subcommand(name).map_or(Ok(()), |command| check(command, inner));
    }
    let (mut read, mut written) = (Vec::new(), Vec::new());
    for arg in command.get_arguments() {
        let id = arg.get_id().as_str();
        if matches.value_source(id) != Some(ValueSource::CommandLine) || !arg.get_action().takes_values() {
            continue;
        }
        match matches.try_get_many::<OutputFile>(id) {
            Ok(files) => written.extend(files.into_iter().flatten().map(OutputFile::path)),
            Err(_) if arg.get_value_hint() == ValueHint::Other => {}
            Err(_) => read.extend(matches.try_get_raw(id).ok().flatten().into_iter().flatten().map(Path::new)),
        }
    }
    check_apart(read, written.iter().copied())?;
    // What may not be replaced is told before the work and not after it. Commands that never replace have no such option.
    let overwrite = matches.try_get_one::<bool>("overwrite").ok().flatten().copied().unwrap_or(false);
    written.into_iter().try_for_each(|path| place_of(path, overwrite).map(drop))
}

#[cfg(test)]
mod tests {
    use clap::builder::ValueParser;
    use clap::{CommandFactory, value_parser};

    use super::*;
    use crate::cli::args::Args;

    #[test]
    fn every_output_is_known_as_one() {
        let wanted = ValueParser::from(value_parser!(OutputFile)).type_id();
        let mut found = 0;
        for command in Args::command().get_subcommands() {
            for arg in command.get_arguments() {
                let help = arg.get_help().map(ToString::to_string).unwrap_or_default();
                let writes = arg.get_id() == "output" || help.to_lowercase().contains("to write");
                let known = arg.get_value_parser().type_id() == wanted;
                assert_eq!(writes && arg.get_action().takes_values(), known, "{} {}", command.get_name(), arg.get_id());
                found += usize::from(known);
            }
        }
        assert!(found >= 8, "{found} outputs");
    }
}
