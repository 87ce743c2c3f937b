//! A file system of a few pages, and what lies in a folder.
use std::path::Path;
use std::process::Command;

use crate::need;

/// A small file system of its own, unmounted on drop.
pub struct SmallDisk(tempfile::TempDir);

impl SmallDisk {
    pub fn mount(size: &str) -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let done = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs"])
            .arg(folder.path())
            .output();
        need::granted(done.is_ok_and(|o| o.status.success()).then_some(Self(folder)), "mount a small disk")
    }
    pub fn path(&self) -> &Path {
        self.0.path()
    }
    /// From now on nobody can write to it, not even root.
    pub fn make_read_only(&self) {
        let done = Command::new("mount").args(["-o", "remount,ro"]).arg(self.path()).output().unwrap();
        assert!(done.status.success(), "{done:?}");
    }
    /// Leaves no byte free.
    pub fn fill(&self) {
        let mut file = std::fs::File::create(self.path().join("ballast")).unwrap();
        let full = std::io::copy(&mut std::io::repeat(1), &mut file).unwrap_err();
        assert_eq!(full.kind(), std::io::ErrorKind::StorageFull);
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.path()).output();
    }
}

/// Names in a folder, sorted.
pub fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}
