//! Whether a file is still the one it was.
use std::fs::Metadata;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

use crate::base::error::{Error, Result};
use crate::map::extract::blocks::{cannot_open, check_file};

/// Which file a name leads to, its size and its time at one moment.
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
            Ok(now) if told_by(&now) == told_by(&self.then) => read,
            Ok(_) => Err(changed(&self.path)),
            Err(e) => Err(cannot_open(&self.path, &e)),
        }
    }
}

/// Another file may take a name with the size and the time of the one before: copies that keep times do.
fn told_by(about: &Metadata) -> (u64, u64, u64, (i64, i64)) {
    (about.dev(), about.ino(), about.len(), (about.mtime(), about.mtime_nsec()))
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

    #[test]
    fn a_file_put_in_its_place_is_told_even_with_its_size_and_time() {
        let folder = tempfile::tempdir().unwrap();
        let [path, other] = ["x.osm.pbf", "y.osm.pbf"].map(|name| folder.path().join(name));
        std::fs::write(&path, "abc").unwrap();
        std::fs::write(&other, "xyz").unwrap();
        let time = std::fs::metadata(&path).unwrap().modified().unwrap();
        std::fs::File::options().write(true).open(&other).unwrap().set_modified(time).unwrap();
        let stamp = FileStamp::of(&path).unwrap();
        std::fs::rename(&other, &path).unwrap();
        assert_eq!(stamp.unchanged(Ok(())).unwrap_err().exit_code(), 3);
    }
}
