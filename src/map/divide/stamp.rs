//! Whether a file is still the one it was.
use std::fs::Metadata;
use std::path::{Path, PathBuf};

use crate::base::error::{Error, Result};
use crate::map::extract::blocks::{cannot_open, check_file};

/// Size and time of a file at one moment.
pub(super) struct FileStamp {
    path: PathBuf,
    then: Metadata,
}

impl FileStamp {
    /// The file as it is now.
    ///
    /// # Errors
    /// It is not a file, or cannot be looked at.
    pub fn of(path: &Path) -> Result<Self> {
        check_file(path)?;
        let then = std::fs::metadata(path).map_err(|e| cannot_open(path, &e))?;
        Ok(Self { path: path.to_owned(), then })
    }
    /// What was read of the file, unless it changed meanwhile: then that is the trouble, whatever came of it.
    ///
    /// # Errors
    /// It changed, or the error of the reading.
    pub fn unchanged<T>(&self, read: Result<T>) -> Result<T> {
        match std::fs::metadata(&self.path) {
            Ok(now) if now.len() == self.then.len() && now.modified().ok() == self.then.modified().ok() => read,
            Ok(_) => Err(changed(&self.path)),
            Err(e) => Err(cannot_open(&self.path, &e)),
        }
    }
}

/// The error of a file that changed.
pub(super) fn changed(path: &Path) -> Error {
    let next = "wait until it is written to its end, then run again";
    Error::again(path.display().to_string(), "changed while it was read", next)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_grew_or_was_written_again_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.osm.pbf");
        std::fs::write(&path, "abc").unwrap();
        let stamp = FileStamp::of(&path).unwrap();
        assert_eq!(stamp.unchanged(Ok(1)).unwrap(), 1);
        std::fs::write(&path, "abcd").unwrap();
        let error = stamp.unchanged::<()>(Err(Error::file(&path, "block 1 is damaged", "mend it"))).unwrap_err();
        assert!(error.to_string().contains("changed while it was read") && error.exit_code() == 3, "{error}");
        let stamp = FileStamp::of(&path).unwrap();
        let later = std::fs::metadata(&path).unwrap().modified().unwrap() + std::time::Duration::from_secs(1);
        std::fs::File::options().write(true).open(&path).unwrap().set_modified(later).unwrap();
        assert!(stamp.unchanged(Ok(())).is_err());
    }
}
