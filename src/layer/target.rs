//! Where the layer goes: a temporary file beside the final one, renamed when all is written.
use std::path::{Path, PathBuf};

use crate::base::error::{Error, Result};
use crate::base::files::{Replacement, place_of};
use crate::base::shell::quoted;

/// Ending of a GeoPackage (OGC 12-128r18, requirement 3).
const EXTENSION: &str = "gpkg";
/// What SQLite keeps beside an open or abandoned database, empty ones too: beside a new file of the same name they would be
/// played into it when it is opened.
const SIDE_FILES: [&str; 3] = [JOURNAL, "-wal", "-shm"];
/// The one that a program that stopped in the middle of a change leaves.
pub(super) const JOURNAL: &str = "-journal";

/// A layer on its way: the temporary file, removed on drop unless published.
#[derive(Debug)]
pub struct Target {
    replacement: Replacement,
}

impl Target {
    /// Checks that the layer can be written at `path` and reserves a temporary name beside it.
    pub(crate) fn reserve(path: &Path, overwrite: bool) -> Result<Self> {
        check_name(path)?;
        check_side_files(&place_of(path, overwrite)?)?;
        Ok(Self { replacement: Replacement::begin(path, overwrite, EXTENSION)? })
    }
    /// The same for a part of the work, which replaces what is there and of which an interrupt tells nothing.
    pub(crate) fn reserve_part(path: &Path) -> Result<Self> {
        check_name(path)?;
        Ok(Self { replacement: Replacement::begin_part(path, EXTENSION)? })
    }
    /// Final path.
    pub fn path(&self) -> &Path {
        self.replacement.path()
    }
    /// Path of the temporary file.
    pub fn temporary(&self) -> &Path {
        self.replacement.temporary()
    }
    /// Moves the finished, closed file to its final name, in one step that survives a power cut.
    pub(crate) fn publish(self) -> Result<()> {
        self.replacement.publish(check_side_files)
    }
}

fn check_name(path: &Path) -> Result<()> {
    let fits = path.extension().is_some_and(|e| e.eq_ignore_ascii_case(EXTENSION));
    if path.to_str().is_none() {
        return Err(Error::usage(
            path.display().to_string(),
            "is not UTF-8, which GDAL requires",
            "choose another name or folder",
        ));
    }
    if fits {
        return Ok(());
    }
    Err(Error::usage(path.display().to_string(), "a layer is a GeoPackage", "give a name that ends in .gpkg"))
}

/// Refuses to put a layer beside the side files of another of its name. Whoever has that open would go on writing them, or
/// they wait there with changes that the next to open the name would play into the new layer.
fn check_side_files(path: &Path) -> Result<()> {
    let Some(side) = SIDE_FILES.iter().map(|suffix| beside(path, suffix)).find(|side| side.symlink_metadata().is_ok())
    else {
        return Ok(());
    };
    let (side, layer) = (side.display().to_string(), quoted(path));
    if !path.exists() {
        let fact = "belongs to a layer that no longer exists, and SQLite would apply it to a new layer of that name";
        let next = "choose another name with -o, or move this file to where its layer went";
        return Err(Error::file(Path::new(&side), fact, next));
    }
    let next = format!(
        "close every program that has the layer open and run again; if the file stays, open the layer once with \
         `sqlite3 {layer} .tables`, which merges it, or choose another name with -o"
    );
    Err(Error::again(side, "shows that another program has the layer open, or left it unfinished", next))
}

/// The name of a side file.
pub(super) fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}
