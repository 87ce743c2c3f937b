//! What stops a run: every error says which file or thing, the fact, and the next step. Two lines, whatever they quote.
use std::io;
use std::path::{Path, PathBuf};

use super::hidden::known;
use super::plain::{beginning, one_line};

/// Most letters of a fact that are told: parsers quote what they stumble over, and that may be a whole file.
const TOLD: usize = 1_000;

/// Result of anything that can stop a run.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Trouble that ends the run. Bad input *data* that is survived is a [`crate::base::defect::Defect`].
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A file is missing, unreadable or in the wrong format.
    #[error("{path}: {fact}\n  {next}", path = one_line(&.path.display().to_string()), fact = told(fact), next = sentence(next_step))]
    File {
        /// The file or folder at fault.
        path: PathBuf,
        /// What is wrong with it, with the place (byte offset, block, line) where known.
        fact: String,
        /// What the user can do, a command where there is one.
        next_step: String,
    },
    /// An option, argument or profile key has a value that cannot be used.
    #[error("{what}: {fact}\n  {next}", what = told(what), fact = told(fact), next = sentence(next_step))]
    Usage {
        /// The option, argument or key.
        what: String,
        /// What is wrong with its value.
        fact: String,
        /// The allowed range or form.
        next_step: String,
    },
    /// Something else stopped the run (a library call).
    #[error("{what}: {fact}\n  {next}", what = told(what), fact = told(fact), next = sentence(next_step))]
    Failed {
        /// What was being done.
        what: String,
        /// What went wrong.
        fact: String,
        /// What the user can do.
        next_step: String,
    },
    /// The machine or another program stood in the way (a full disk, a lock): the same command may succeed later.
    #[error("{what}: {fact}\n  {next}", what = told(what), fact = told(fact), next = sentence(next_step))]
    Again {
        /// The file, or what was being done.
        what: String,
        /// What stood in the way.
        fact: String,
        /// What the user can do.
        next_step: String,
    },
}

/// A fact or a thing on one line, however long it is.
fn told(text: &str) -> String {
    one_line(&beginning(text, TOLD)).into_owned()
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
    /// Trouble that may be over when the same command is given again.
    pub(crate) fn again(what: impl Into<String>, fact: impl Into<String>, next_step: impl Into<String>) -> Self {
        Self::Again { what: what.into(), fact: fact.into(), next_step: next_step.into() }
    }
    /// The same with another next step.
    pub(crate) fn with_next(mut self, next: impl Into<String>) -> Self {
        let (Self::File { next_step, .. }
        | Self::Usage { next_step, .. }
        | Self::Failed { next_step, .. }
        | Self::Again { next_step, .. }) = &mut self;
        *next_step = next.into();
        self
    }
    /// A call of the system on a file failed; `doing` is what failed (`cannot be read`), `next_step` what to do where
    /// trying again does not help. Of a file in a hidden folder that folder is told which people know.
    pub(crate) fn io(path: &Path, doing: &str, e: &io::Error, next_step: impl Into<String>) -> Self {
        let path = known(path);
        let fact = format!("{doing}: {}", fact_of(e));
        match when_to_try_again(e) {
            Some(next) => Self::again(path.display().to_string(), fact, next),
            None => Self::file(path, fact, next_step),
        }
    }
    /// The same for what is known by a word, such as standard output.
    pub(crate) fn io_of(what: &str, doing: &str, e: &io::Error, next_step: impl Into<String>) -> Self {
        let fact = format!("{doing}: {}", fact_of(e));
        match when_to_try_again(e) {
            Some(next) => Self::again(what, fact, next),
            None => Self::failed(what, fact, next_step),
        }
    }
    /// Exit code of the program: 1 failed for good, 2 wrong usage, 3 may succeed when tried again.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::File { .. } | Self::Failed { .. } => 1,
            Self::Usage { .. } => 2,
            Self::Again { .. } => 3,
        }
    }
}

/// EIO, which the standard library has no kind for: a disk, cable or network drive that failed.
pub(crate) const INPUT_OUTPUT_ERROR: i32 = 5;
/// ENFILE and EMFILE: the system or this program holds as many files as it may.
const TOO_MANY_FILES: [i32; 2] = [23, 24];

/// What to do before the command is given again; nothing where the failure would stay. The one place that says which
/// failures of the system may pass.
fn when_to_try_again(e: &io::Error) -> Option<&'static str> {
    use io::ErrorKind::{
        ConnectionAborted, ConnectionReset, Deadlock, HostUnreachable, Interrupted, NetworkDown, NetworkUnreachable,
        NotConnected, OutOfMemory, QuotaExceeded, ResourceBusy, StaleNetworkFileHandle, StorageFull, TimedOut,
        WouldBlock,
    };
    match e.kind() {
        StorageFull | QuotaExceeded => Some("free some space there, or choose another disk, then run again"),
        ResourceBusy | WouldBlock | Deadlock => Some("wait until that program is done, or close it, then run again"),
        OutOfMemory => Some("close other programs, then run again"),
        Interrupted | TimedOut => Some("run again"),
        ConnectionAborted
        | ConnectionReset
        | HostUnreachable
        | NetworkDown
        | NetworkUnreachable
        | NotConnected
        | StaleNetworkFileHandle => Some("check the network drive, then run again"),
        _ if e.raw_os_error().is_some_and(|number| TOO_MANY_FILES.contains(&number)) => {
            Some("close other programs, or allow more open files (`ulimit -n`), then run again")
        }
        _ if e.raw_os_error() == Some(INPUT_OUTPUT_ERROR) => {
            Some("check the disk and its cable or network, then run again")
        }
        _ => None,
    }
}

/// What went wrong, in the words of this program where the system's are foreign to people.
fn fact_of(e: &io::Error) -> String {
    match e.kind() {
        io::ErrorKind::StorageFull => "the disk is full".to_owned(),
        io::ErrorKind::QuotaExceeded => "the space you may use on this disk is used up".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk is read-only".to_owned(),
        io::ErrorKind::ResourceBusy | io::ErrorKind::WouldBlock => "another program holds it".to_owned(),
        _ => reason(e),
    }
}

/// Why the system refuses, in its own words but without its number.
fn reason(error: &io::Error) -> String {
    let text = error.to_string();
    let words = text.split(" (os error ").next().unwrap_or_default();
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn io(e: io::Error) -> Error {
        Error::io(Path::new("x.gpkg"), "cannot be written", &e, "check the folder")
    }

    #[test]
    fn what_a_parser_quotes_is_told_in_part() {
        let said = Error::file(Path::new("x.toml"), format!("key `{}", "é".repeat(1 << 20)), "mend it").to_string();
        assert!(said.starts_with("x.toml: key `éé") && said.ends_with("é …\n  Mend it"), "{}", said.len());
        assert!(said.chars().count() < 1_100);
    }

    #[test]
    fn what_may_pass_is_3_and_the_rest_is_not() {
        for kind in [io::ErrorKind::StorageFull, io::ErrorKind::ResourceBusy, io::ErrorKind::Interrupted] {
            let error = io(kind.into());
            assert_eq!(error.exit_code(), 3, "{kind:?}");
            assert!(
                error.to_string().to_lowercase().contains("run again")
                    && !error.to_string().contains("Check the folder"),
                "{error}"
            );
        }
        for number in [INPUT_OUTPUT_ERROR, TOO_MANY_FILES[0], TOO_MANY_FILES[1]] {
            assert_eq!(io(io::Error::from_raw_os_error(number)).exit_code(), 3);
        }
        for kind in [io::ErrorKind::NotFound, io::ErrorKind::PermissionDenied, io::ErrorKind::InvalidData] {
            let error = io(kind.into());
            assert_eq!(error.exit_code(), 1, "{kind:?}");
            assert!(error.to_string().ends_with("\n  Check the folder"), "{error}");
        }
        assert_eq!(Error::usage("-o", "is wrong", "mend it").exit_code(), 2);
    }

    #[test]
    fn a_full_disk_is_told_in_plain_words() {
        let full = io(io::Error::from_raw_os_error(28));
        assert_eq!(
            full.to_string(),
            "x.gpkg: cannot be written: the disk is full\n  Free some space there, or choose another disk, then run again"
        );
    }

    #[test]
    fn no_hidden_folder_is_told() {
        let path = Path::new("work/.dividing.part-abcdef123456/n4675w02800.bundle");
        let full = Error::io(path, "cannot be written", &io::ErrorKind::StorageFull.into(), "");
        assert!(full.to_string().starts_with("work: cannot be written: the disk is full\n  Free some space"), "{full}");
        let refused = Error::io(path, "cannot be read", &io::ErrorKind::PermissionDenied.into(), "look");
        assert!(refused.to_string().starts_with("work: cannot be read: "), "{refused}");
    }

    #[test]
    fn what_an_error_quotes_cannot_forge_a_line() {
        let forged = "x\u{1b}[2J\nwaymask: done\u{202e}";
        let want = "x\u{FFFD}[2J waymask: done\u{FFFD}";
        for error in [
            Error::file(Path::new(forged), forged, "y"),
            Error::usage(forged, forged, "y"),
            Error::failed(forged, forged, "y"),
            Error::again(forged, forged, "y"),
        ] {
            assert_eq!(error.to_string(), format!("{want}: {want}\n  Y"));
        }
    }
}
