//! One output on its way to its name.
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use tempfile::{Builder, TempDir, TempPath};

use super::place::{exists, folder_of, place_of};
use super::{abandoned, ledger};
use crate::base::error::{Error, Result};
use crate::base::hidden::RANDOM_LETTERS;

/// Others may take a hidden folder for abandoned in the moment before it is locked; so often in a row they do not.
const TRIES: usize = 16;

/// An output on its way: it grows in a hidden folder beside its name, which goes when this is dropped.
#[derive(Debug)]
pub(crate) struct Replacement {
    path: PathBuf,
    temporary: PathBuf,
    overwrite: bool,
    /// Taken when all is over.
    home: Option<TempDir>,
    /// Says to others that the hidden folder is in use, for as long as it is open.
    _lock: File,
}

impl Replacement {
    /// Checks that an output can be written at `path` and makes a hidden folder beside it. The file that will be renamed
    /// is not made; its name has the ending given.
    ///
    /// # Errors
    /// As of [`place_of`], or the folder cannot be written.
    pub fn begin(path: &Path, overwrite: bool, ending: &str) -> Result<Self> {
        Self::begin_with(path, overwrite, ending, true)
    }
    /// The same for a part of the work, which replaces what is there and of which an interrupt tells nothing.
    ///
    /// # Errors
    /// See [`Replacement::begin`].
    pub fn begin_part(path: &Path, ending: &str) -> Result<Self> {
        Self::begin_with(path, true, ending, false)
    }
    fn begin_with(path: &Path, overwrite: bool, ending: &str, told: bool) -> Result<Self> {
        let path = place_of(path, overwrite)?;
        abandoned::remove(&path);
        let folder = folder_of(&path);
        let failed = |e: io::Error| {
            let option = if told { "-o" } else { "--work" };
            Error::io(
                folder,
                "cannot create a file here",
                &e,
                format!("choose a folder you may write to with {option}"),
            )
        };
        let mut builder = Builder::new();
        let prefix = abandoned::prefix(&path);
        builder.prefix(&prefix).rand_bytes(RANDOM_LETTERS);
        let mut tries = TRIES;
        loop {
            let home = ledger::begin(&path, told, || builder.tempdir_in(folder)).map_err(failed)?;
            let temporary = home.path().join(format!("content.{ending}"));
            match abandoned::claim(home.path()) {
                Ok(lock) => {
                    return Ok(Self { path: path.clone(), temporary, overwrite, home: Some(home), _lock: lock });
                }
                Err(e) => {
                    ledger::give_up(home);
                    tries -= 1;
                    if e.kind() != io::ErrorKind::NotFound || tries == 0 {
                        return Err(failed(e));
                    }
                }
            }
        }
    }
    /// Final path, links followed.
    pub fn path(&self) -> &Path {
        &self.path
    }
    /// Path of the file that will be renamed.
    pub fn temporary(&self) -> &Path {
        &self.temporary
    }
    /// Moves the finished, closed file to its final name, in one step that survives a power cut. `last_look` may still
    /// refuse right before. A file that is replaced hands on who may read and write it.
    ///
    /// # Errors
    /// The disk fails, or something was put there meanwhile.
    pub fn publish(mut self, last_look: impl FnOnce(&Path) -> Result<()>) -> Result<()> {
        let Some(home) = self.home.take() else {
            let next = "this is a fault of the program: please report it with the command and the input";
            return Err(Error::file(&self.path, "cannot be written: its hidden folder is gone", next));
        };
        let failed = |e: io::Error| cannot_write(&self.path, &e);
        let synced = File::open(&self.temporary).and_then(|f| f.sync_all()).map_err(failed);
        ledger::finish(&self.path, home, || {
            synced?;
            place_of(&self.path, self.overwrite)?;
            last_look(&self.path)?;
            if self.overwrite { self.replace().map_err(failed) } else { self.rename_if_free() }
        })?;
        // Not every file system can sync a folder; the rename itself is done.
        let _ = File::open(folder_of(&self.path)).and_then(|f| f.sync_all());
        Ok(())
    }
    fn replace(&self) -> io::Result<()> {
        if let Ok(before) = fs::metadata(&self.path) {
            // Some file systems keep no modes; the file is worth more.
            let _ = fs::set_permissions(&self.temporary, before.permissions());
        }
        fs::rename(&self.temporary, &self.path)
    }
    fn rename_if_free(&self) -> Result<()> {
        let failed = |e: &io::Error| cannot_write(&self.path, e);
        let from = TempPath::try_from_path(&self.temporary).map_err(|e| failed(&e))?;
        from.persist_noclobber(&self.path).map_err(|e| match e.error.kind() {
            io::ErrorKind::AlreadyExists => exists(&self.path),
            _ => failed(&e.error),
        })
    }
}

impl Drop for Replacement {
    fn drop(&mut self) {
        if let Some(home) = self.home.take() {
            ledger::give_up(home);
        }
    }
}

/// The error of a write that the system refused.
pub(crate) fn cannot_write(path: &Path, e: &io::Error) -> Error {
    Error::io(path, "cannot be written", e, "choose another folder or disk with -o; what was there before is untouched")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_output_without_its_folder_is_not_told_to_be_written() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out.csv");
        let mut begun = Replacement::begin(&path, false, "out").unwrap();
        ledger::give_up(begun.home.take().unwrap());
        let error = begun.publish(|_| Ok(())).unwrap_err();
        assert!(error.to_string().contains("out.csv: cannot be written: its hidden folder is gone"), "{error}");
        assert!(!path.exists());
    }

    #[test]
    fn runs_that_begin_at_once_leave_each_other_alone() {
        let folder = tempfile::tempdir().unwrap();
        let output = folder.path().join("x.gpkg");
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| {
                    for _ in 0..200 {
                        let begun = Replacement::begin(&output, true, "out").unwrap();
                        fs::write(begun.temporary(), "whole").unwrap();
                        begun.publish(|_| Ok(())).unwrap();
                    }
                });
            }
        });
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
