//! Test data that is not part of the project.
use std::path::{Path, PathBuf};

/// A file or folder of `../shared/data` or `$WAYMASK_DATA`; prints why where it is not there.
pub fn shared(name: &str) -> Option<PathBuf> {
    let folder = std::env::var_os("WAYMASK_DATA")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data"), PathBuf::from);
    let path = folder.join(name);
    if !path.exists() {
        eprintln!("skipped: {} is not there (set WAYMASK_DATA)", path.display());
        return None;
    }
    Some(path)
}
