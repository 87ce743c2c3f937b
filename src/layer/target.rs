//! Where the layer goes: a temporary file beside the final one, renamed when all is written.
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

use crate::base::error::{Error, Result};
use crate::base::input::reason;

/// Between the final name and the process id in the name of a temporary file.
const MARK: &str = ".part-";
/// Ending of a GeoPackage (OGC 12-128r18, requirement 3).
const EXTENSION: &str = "gpkg";
/// What SQLite keeps beside an open or abandoned database. Left beside a new file of the same name,
/// they would be played into it when it is opened.
const SIDE_FILES: [&str; 2] = ["-journal", "-wal"];

/// A layer on its way: the temporary file, removed on drop unless published.
#[derive(Debug)]
pub struct Target {
    path: PathBuf,
    folder: PathBuf,
    temporary: PathBuf,
    overwrite: bool,
}

impl Target {
    /// Checks that the layer can be written at `path` and reserves a temporary name beside it.
    pub(crate) fn reserve(path: &Path, overwrite: bool) -> Result<Self> {
        check_name(path)?;
        check_free(path, overwrite)?;
        // An existing link is followed, so that the file it points to is replaced and not the link.
        let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
        let folder = folder_of(&path)?;
        let prefix = format!(".{}{MARK}", file_name(&path));
        remove_abandoned(&folder, &prefix);
        static NUMBER: AtomicU32 = AtomicU32::new(0);
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        let temporary = folder.join(format!("{prefix}{}-{number}.{EXTENSION}", std::process::id()));
        // An earlier process with the same id may have left this name.
        let _ = fs::remove_file(&temporary);
        fs::File::create_new(&temporary).map_err(|e| {
            Error::file(
                &folder,
                format!("cannot create a file here: {}", reason(&e)),
                "choose a folder you may write to with -o",
            )
        })?;
        let target = Self { path, folder, temporary, overwrite };
        // The name is known to work; the file itself is created by the writer.
        let _ = fs::remove_file(&target.temporary);
        Ok(target)
    }
    /// Final path.
    pub fn path(&self) -> &Path {
        &self.path
    }
    /// Path of the temporary file.
    pub fn temporary(&self) -> &Path {
        &self.temporary
    }
    /// Moves the finished, closed file to its final name, in one step that survives a power cut.
    pub(crate) fn publish(self) -> Result<()> {
        check_free(&self.path, self.overwrite)?;
        let failed = |e: std::io::Error| trouble(&self.path, &reason(&e));
        fs::File::open(&self.temporary).and_then(|f| f.sync_all()).map_err(failed)?;
        if self.overwrite {
            fs::rename(&self.temporary, &self.path).map_err(failed)?;
        } else {
            self.rename_if_free()?;
        }
        // Not every file system can sync a folder; the rename itself is done.
        let _ = fs::File::open(&self.folder).and_then(|f| f.sync_all());
        Ok(())
    }
    fn rename_if_free(&self) -> Result<()> {
        let from = tempfile::TempPath::try_from_path(&self.temporary).map_err(|e| trouble(&self.path, &reason(&e)))?;
        from.persist_noclobber(&self.path).map_err(|e| match e.error.kind() {
            std::io::ErrorKind::AlreadyExists => exists(&self.path),
            _ => trouble(&self.path, &reason(&e.error)),
        })
    }
}

impl Drop for Target {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.temporary);
        for suffix in SIDE_FILES {
            let _ = fs::remove_file(beside(&self.temporary, suffix));
        }
    }
}

/// The error of a write that failed for a reason outside the data.
pub fn trouble(path: &Path, fact: &str) -> Error {
    Error::file(
        path,
        format!("cannot write the layer: {fact}"),
        "free space there or choose another disk with -o, then run again; what was there before is untouched",
    )
}

fn exists(path: &Path) -> Error {
    Error::file(path, "exists already", "use --overwrite to replace it, or choose another name with -o")
}

fn check_name(path: &Path) -> Result<()> {
    let fits = path.extension().is_some_and(|e| e.eq_ignore_ascii_case(EXTENSION));
    if path.to_str().is_none() {
        return Err(Error::usage(
            path.display().to_string(),
            "is not UTF-8, which GDAL asks for",
            "choose another name or folder",
        ));
    }
    if fits {
        return Ok(());
    }
    Err(Error::usage(path.display().to_string(), "a layer is a GeoPackage", "let its name end in .gpkg"))
}

fn check_free(path: &Path, overwrite: bool) -> Result<()> {
    if path.is_dir() {
        return Err(Error::file(path, "is a folder", "choose a file name ending in .gpkg"));
    }
    if !overwrite && path.symlink_metadata().is_ok() {
        return Err(exists(path));
    }
    for suffix in SIDE_FILES {
        let side = beside(path, suffix);
        if fs::metadata(&side).is_ok_and(|m| m.len() > 0) {
            return Err(Error::file(
                &side,
                "belongs to a layer that another program has open or left unfinished",
                "close that program, or remove this file, then run again",
            ));
        }
    }
    Ok(())
}

fn folder_of(path: &Path) -> Result<PathBuf> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => PathBuf::from("."),
    };
    if folder.is_dir() {
        return Ok(folder);
    }
    let next_step = format!("make it first: mkdir -p '{}'", folder.display());
    Err(Error::file(path, format!("there is no folder {}", folder.display()), next_step))
}

fn file_name(path: &Path) -> String {
    path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default()
}

fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}

/// Removes temporary files of processes that are gone. Best effort: what cannot be removed stays.
fn remove_abandoned(folder: &Path, prefix: &str) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let Some(rest) = name.to_str().and_then(|n| n.strip_prefix(prefix)) else { continue };
        let digits = rest.split('-').next().unwrap_or_default();
        if digits.parse::<u32>().is_ok_and(|id| !is_running(id)) {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// Whether a process exists; assumed where the system does not tell.
fn is_running(id: u32) -> bool {
    let processes = Path::new("/proc");
    !processes.join("self").exists() || processes.join(id.to_string()).exists()
}
