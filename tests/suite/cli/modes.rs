//! Who may read what was written.
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::Command;

use crate::cli::{map, text, waymask};

fn mode(path: &Path) -> u32 {
    fs::metadata(path).unwrap().permissions().mode() & 0o7777
}

/// Runs the program under a mask of permissions.
fn masked(umask: &str, words: &[&str]) {
    let line = format!("umask {umask}; exec \"$0\" \"$@\"");
    let done = Command::new("sh").args(["-c", &line, env!("CARGO_BIN_EXE_waymask")]).args(words).output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

#[test]
fn new_files_are_as_open_as_the_mask_of_the_user_and_replaced_ones_as_before() {
    let folder = tempfile::tempdir().unwrap();
    let map = map(folder.path());
    let [layer, table] = ["out.gpkg", "edges.csv"].map(|name| folder.path().join(name));
    for (umask, wanted) in [("022", 0o644), ("027", 0o640), ("077", 0o600)] {
        masked(umask, &["build", text(&map), "-q", "-o", text(&layer)]);
        masked(umask, &["edges", text(&layer), "-o", text(&table)]);
        assert_eq!((mode(&layer), mode(&table)), (wanted, wanted), "umask {umask}");
        fs::remove_file(&layer).unwrap();
        fs::remove_file(&table).unwrap();
    }
    masked("022", &["build", text(&map), "-q", "-o", text(&layer)]);
    fs::write(&table, "old").unwrap();
    fs::set_permissions(&layer, fs::Permissions::from_mode(0o660)).unwrap();
    fs::set_permissions(&table, fs::Permissions::from_mode(0o604)).unwrap();
    masked("077", &["build", text(&map), "-q", "--overwrite", "-o", text(&layer)]);
    masked("077", &["edges", text(&layer), "--overwrite", "-o", text(&table)]);
    assert_eq!((mode(&layer), mode(&table)), (0o660, 0o604));
    assert!(waymask(&["info", text(&layer)]).status.success());
}
