//! Outputs that are written whole or not at all.
use std::io::{BufWriter, Write};
use std::path::Path;

use crate::base::error::{Error, Result};
use crate::base::input::reason;

/// A file for everybody who may read the folder, as far as the user's mask lets them: temporary ones are private.
fn beside(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(folder)
}

/// Writes a file beside its name and renames it; an existing one stays unless it may be replaced.
///
/// # Errors
/// The file exists, or its folder cannot be written to.
pub fn write(path: &Path, bytes: &[u8], overwrite: bool) -> Result<()> {
    stream(path, overwrite, |out| out.write_all(bytes).map_err(|e| failed(path, &e)))
}

/// The same for what is made while it is written; nothing appears where `fill` fails.
///
/// # Errors
/// See [`write`], and those of `fill`.
pub(crate) fn stream(path: &Path, overwrite: bool, fill: impl FnOnce(&mut dyn Write) -> Result<()>) -> Result<()> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let file = beside(folder).map_err(|e| failed(path, &e))?;
    let mut out = BufWriter::new(file);
    fill(&mut out)?;
    let file = out.into_inner().map_err(|e| failed(path, e.error()))?;
    if overwrite {
        file.persist(path).map_err(|e| failed(path, &e.error))?;
        return Ok(());
    }
    file.persist_noclobber(path).map_err(|e| match e.error.kind() {
        std::io::ErrorKind::AlreadyExists => Error::file(path, "exists", "choose another name, or add --overwrite"),
        _ => failed(path, &e.error),
    })?;
    Ok(())
}

fn failed(path: &Path, e: &std::io::Error) -> Error {
    let fact = match e.kind() {
        std::io::ErrorKind::NotFound => "cannot be written: its folder does not exist".to_owned(),
        _ => format!("cannot be written: {}", reason(e)),
    };
    Error::file(path, fact, "check that its folder exists and may be written to")
}
