//! Where an output may go.
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::base::error::{Error, Result};
use crate::base::shell::quoted;

/// Where an output goes, links followed, so that the file a link points to is replaced and not the link.
///
/// # Errors
/// It is there and may not be replaced, is not a file, or its folder is not there.
pub(crate) fn place_of(path: &Path, overwrite: bool) -> Result<PathBuf> {
    let failed = |e: &io::Error| Error::io(path, "cannot be written", e, "choose another name for the output");
    match fs::metadata(path) {
        Ok(there) if there.is_dir() => Err(Error::file(path, "is a folder", "give the name of a file in it")),
        Ok(there) if !there.is_file() => Err(not_a_file(path)),
        Ok(_) if !overwrite => Err(exists(path)),
        Ok(_) => fs::canonicalize(path).map_err(|e| failed(&e)),
        Err(_) if is_link(path) => Err(Error::file(
            path,
            "is a link to something that is not there",
            "remove the link, or give the name of the file it should point to",
        )),
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            check_folder(path)?;
            Ok(path.to_owned())
        }
        Err(e) => Err(failed(&e)),
    }
}

/// An output that is there and was not to be replaced.
pub(super) fn exists(path: &Path) -> Error {
    Error::file(path, "exists already", "use --overwrite to replace it, or choose another name with -o")
}

/// The folder a file lies in.
pub(crate) fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// What is sent into a pipe or device cannot be taken back, and an output is whole or not there.
fn not_a_file(path: &Path) -> Error {
    let next = "give the name of a file; without -o, most commands write to standard output";
    Error::file(path, "is a pipe or device, not a file", next)
}

fn is_link(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok_and(|m| m.is_symlink())
}

fn check_folder(path: &Path) -> Result<()> {
    let folder = folder_of(path);
    if folder.is_dir() {
        return Ok(());
    }
    let next_step = format!("create it first: mkdir -p {}", quoted(folder));
    Err(Error::file(path, format!("there is no folder {}", folder.display()), next_step))
}
