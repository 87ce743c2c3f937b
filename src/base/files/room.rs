//! Whether disks have room, before work begins that would fill them.
use std::path::Path;

use crate::base::error::{Error, Result};
use crate::base::hidden::known;

/// Refuses to begin what needs more than is free on the disk of a folder. `what` is what needs it.
///
/// # Errors
/// The disk has less free space; it may have enough later.
pub(crate) fn check_free(folder: &Path, what: &str, needed_bytes: u64) -> Result<()> {
    match free_bytes(folder) {
        Some(free) if free < needed_bytes => {
            let mb = |bytes: u64| bytes as f64 / 1e6;
            let (needed, free) = (mb(needed_bytes), mb(free));
            let fact = format!("about {needed:.1} MB are needed for {what}, {free:.1} MB are free on this disk");
            let next = "free some space there, or choose another disk, then run again";
            Err(Error::again(known(folder).display().to_string(), fact, next))
        }
        _ => Ok(()),
    }
}

/// The same for two things that may go to one disk: each with its folder and its bytes.
///
/// # Errors
/// As of [`check_free`].
pub(crate) fn check_both_free(first: (&Path, &str, u64), second: (&Path, &str, u64)) -> Result<()> {
    if is_same_disk(first.0, second.0) {
        return check_free(first.0, &format!("{} and {}", first.1, second.1), first.2 + second.2);
    }
    [first, second].into_iter().try_for_each(|(folder, what, bytes)| check_free(folder, what, bytes))
}

/// Free space of the disk of a folder, bytes; nothing where it cannot be told.
fn free_bytes(folder: &Path) -> Option<u64> {
    let told = rustix::fs::statvfs(folder).ok()?;
    Some(told.f_bavail.saturating_mul(told.f_frsize))
}

/// Whether two folders are on one disk. Where that cannot be told, they are.
fn is_same_disk(a: &Path, b: &Path) -> bool {
    let disk = |folder: &Path| rustix::fs::stat(folder).ok().map(|about| about.st_dev);
    disk(a).zip(disk(b)).is_none_or(|(a, b)| a == b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_does_not_fit_is_refused_and_may_be_tried_again() {
        let home = tempfile::tempdir().unwrap();
        let (at, free) = (home.path(), free_bytes(home.path()).unwrap());
        check_free(at, "a build", free / 2).unwrap();
        let error = check_free(at, "a build", u64::MAX / 2).unwrap_err();
        assert!(error.to_string().contains("needed for a build") && error.exit_code() == 3, "{error}");
        let hidden = at.join(".dividing.part-abcdef123456");
        std::fs::create_dir(&hidden).unwrap();
        let told = check_free(&hidden, "dividing", u64::MAX / 2).unwrap_err().to_string();
        assert!(told.starts_with(&format!("{}: about", at.display())), "{told}");
        // Each fits alone, both do not: it is one disk.
        let half = free / 2 + free / 10;
        let both = check_both_free((at, "parts", half), (at, "the layer", half)).unwrap_err().to_string();
        assert!(both.contains("needed for parts and the layer"), "{both}");
    }

    #[test]
    fn another_disk_is_told_from_this_one() {
        let home = tempfile::tempdir().unwrap();
        assert!(is_same_disk(home.path(), home.path()));
        // A file system of its own on Linux.
        if Path::new("/proc/self").exists() {
            assert!(!is_same_disk(home.path(), Path::new("/proc")));
        }
    }
}
