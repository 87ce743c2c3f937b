//! What stops a run: every error says which file or thing, the fact, and the next step. Two lines, whatever they quote.
use std::path::{Path, PathBuf};

use super::plain::one_line;

/// Result of anything that can stop a run.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Trouble that ends the run. Bad input *data* that is survived is a [`crate::base::defect::Defect`].
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A file is missing, unreadable or in the wrong format.
    #[error("{path}: {fact}\n  {next}", path = one_line(&.path.display().to_string()), fact = one_line(fact), next = sentence(next_step))]
    File {
        /// The file or folder at fault.
        path: PathBuf,
        /// What is wrong with it, with the place (byte offset, block, line) where known.
        fact: String,
        /// What the user can do, a command where there is one.
        next_step: String,
    },
    /// An option, argument or profile key has a value that cannot be used.
    #[error("{what}: {fact}\n  {next}", what = one_line(what), fact = one_line(fact), next = sentence(next_step))]
    Usage {
        /// The option, argument or key.
        what: String,
        /// What is wrong with its value.
        fact: String,
        /// The allowed range or form.
        next_step: String,
    },
    /// Something else stopped the run (a library call, a full disk).
    #[error("{what}: {fact}\n  {next}", what = one_line(what), fact = one_line(fact), next = sentence(next_step))]
    Failed {
        /// What was being done.
        what: String,
        /// What went wrong.
        fact: String,
        /// What the user can do.
        next_step: String,
    },
}

/// The next step as a sentence of its own: it begins with a capital.
fn sentence(text: &str) -> String {
    let text = one_line(text);
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

impl Error {
    /// A file error.
    pub fn file(path: &Path, fact: impl Into<String>, next_step: impl Into<String>) -> Self {
        Self::File { path: path.to_owned(), fact: fact.into(), next_step: next_step.into() }
    }
    /// A wrong option, argument or key.
    pub(crate) fn usage(what: impl Into<String>, fact: impl Into<String>, next_step: impl Into<String>) -> Self {
        Self::Usage { what: what.into(), fact: fact.into(), next_step: next_step.into() }
    }
    /// Any other failure.
    pub fn failed(what: impl Into<String>, fact: impl Into<String>, next_step: impl Into<String>) -> Self {
        Self::Failed { what: what.into(), fact: fact.into(), next_step: next_step.into() }
    }
    /// Exit code of the program: 2 for wrong usage, 1 for the rest.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Usage { .. } => 2,
            _ => 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_an_error_quotes_cannot_forge_a_line() {
        let forged = "x\u{1b}[2J\nwaymask: done\u{202e}";
        let want = "x\u{FFFD}[2J waymask: done\u{FFFD}";
        for error in [
            Error::file(Path::new(forged), forged, "y"),
            Error::usage(forged, forged, "y"),
            Error::failed(forged, forged, "y"),
        ] {
            assert_eq!(error.to_string(), format!("{want}: {want}\n  Y"));
        }
    }
}
