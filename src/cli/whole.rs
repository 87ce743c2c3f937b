//! Small outputs, written whole or not at all.
use std::io::Write;
use std::path::Path;

use crate::error::{Error, Result};

/// Writes a file beside its name and renames it; an existing one stays unless it may be replaced.
///
/// # Errors
/// The file exists, or its folder cannot be written to.
pub fn write(path: &Path, bytes: &[u8], overwrite: bool) -> Result<()> {
    let failed =
        |e: std::io::Error| Error::file(path, e.to_string(), "check that its folder exists and may be written to");
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(failed)?;
    file.write_all(bytes).and_then(|()| file.flush()).map_err(failed)?;
    if overwrite {
        file.persist(path).map_err(|e| failed(e.error))?;
        return Ok(());
    }
    file.persist_noclobber(path).map_err(|e| match e.error.kind() {
        std::io::ErrorKind::AlreadyExists => Error::file(path, "exists", "choose another name, or add --overwrite"),
        _ => failed(e.error),
    })?;
    Ok(())
}
