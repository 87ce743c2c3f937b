//! What stops a run: every error says which file or thing, the fact, and the next step.
use std::path::{Path, PathBuf};

/// Result of anything that can stop a run.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Trouble that ends the run. Bad input *data* that is survived is a [`crate::base::defect::Defect`].
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A file is missing, unreadable or in the wrong format.
    #[error("{path}: {fact}\n  {next}", path = .path.display(), next = sentence(next_step))]
    File {
        /// The file or folder at fault.
        path: PathBuf,
        /// What is wrong with it, with the place (byte offset, block, line) where known.
        fact: String,
        /// What the user can do, a command where there is one.
        next_step: String,
    },
    /// An option, argument or profile key has a value that cannot be used.
    #[error("{what}: {fact}\n  {next}", next = sentence(next_step))]
    Usage {
        /// The option, argument or key.
        what: String,
        /// What is wrong with its value.
        fact: String,
        /// The allowed range or form.
        next_step: String,
    },
    /// Something else stopped the run (a library call, a full disk).
    #[error("{what}: {fact}\n  {next}", next = sentence(next_step))]
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
