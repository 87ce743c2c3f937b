//! What this run is writing and has written, so that an interrupt leaves nothing behind and can say what was kept.
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use tempfile::TempDir;

use crate::base::error::Result;

static LEDGER: Mutex<Ledger> =
    Mutex::new(Ledger { begun: Vec::new(), written: Vec::new(), marks: Vec::new(), tidied: Vec::new() });

struct Ledger {
    begun: Vec<Begun>,
    written: Vec<PathBuf>,
    /// Files that alone do not make their folders worth keeping.
    marks: Vec<PathBuf>,
    /// What killed runs had left, and this one removed.
    tidied: Vec<PathBuf>,
}

/// An output that is not whole yet.
struct Begun {
    home: PathBuf,
    path: PathBuf,
    replaces: bool,
    /// Whether people are told of it; not where it is a part of the work.
    told: bool,
}

/// What an interrupt leaves of an output.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Left {
    /// It was finished before.
    Whole,
    /// It was not; the file it should replace is as it was.
    Before,
    /// It was not, and there was nothing before.
    Nothing,
}

fn ledger() -> MutexGuard<'static, Ledger> {
    LEDGER.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Makes the hidden folder of an output, known from the first moment.
pub(super) fn begin(path: &Path, told: bool, make: impl FnOnce() -> io::Result<TempDir>) -> io::Result<TempDir> {
    let mut ledger = ledger();
    let home = make()?;
    ledger.begun.push(Begun { home: home.path().to_owned(), path: path.to_owned(), replaces: path.exists(), told });
    Ok(home)
}

/// Removes the hidden folder of an output that came to nothing.
pub(super) fn give_up(home: TempDir) {
    let mut ledger = ledger();
    ledger.begun.retain(|b| b.home != home.path());
    // What cannot be removed now is removed by the next run.
    let _ = home.close();
}

/// The last steps of an output and the removal of its hidden folder: an interrupt waits for them or comes before.
pub(super) fn finish(path: &Path, home: TempDir, last_steps: impl FnOnce() -> Result<()>) -> Result<()> {
    let mut ledger = ledger();
    let done = last_steps();
    let told = ledger.begun.iter().any(|b| b.told && b.home == home.path());
    ledger.begun.retain(|b| b.home != home.path());
    let _ = home.close();
    if done.is_ok() && told {
        ledger.written.push(path.to_owned());
    }
    done
}

/// Notes what a killed run had left, and this one removed.
pub(crate) fn note_tidied(path: &Path) {
    ledger().tidied.push(path.to_owned());
}

/// What killed runs had left, and this one removed.
pub(crate) fn tidied() -> Vec<PathBuf> {
    ledger().tidied.clone()
}

/// Notes the mark of a folder that nobody asked for: an interrupt removes both if nothing else is in it.
pub(crate) fn note_mark(mark: &Path) {
    ledger().marks.push(mark.to_owned());
}

/// Removes a folder in which there is nothing but its mark.
pub(crate) fn remove_if_bare(mark: &Path) {
    let Some(folder) = mark.parent() else { return };
    let bare = |mut all: std::fs::ReadDir| all.all(|entry| entry.is_ok_and(|entry| entry.path() == mark));
    if std::fs::read_dir(folder).is_ok_and(bare) {
        // What cannot be removed does no harm.
        let _ = std::fs::remove_file(mark);
        let _ = std::fs::remove_dir(folder);
    }
}

/// Removes whatever is unfinished and says what is left of every output. From then on nothing can be begun or finished:
/// the caller ends the program.
pub(crate) fn stop() -> Vec<(PathBuf, Left)> {
    let ledger = ledger();
    let left = |b: &Begun| {
        let _ = std::fs::remove_dir_all(&b.home);
        b.told.then(|| (b.path.clone(), if b.replaces { Left::Before } else { Left::Nothing }))
    };
    let whole = ledger.written.iter().map(|path| (path.clone(), Left::Whole));
    let all: Vec<_> = whole.chain(ledger.begun.iter().filter_map(left)).collect();
    ledger.marks.iter().for_each(|mark| remove_if_bare(mark));
    std::mem::forget(ledger);
    all
}
