//! What tests and benches need from outside the project: data, programs, Python packages.
//!
//! Where something is missing a test fails if `CI=true`. Otherwise it ends early, prints `skipped: <test>: <reason>` and
//! adds that line, without its first word, to the file that WAYMASK_SKIPS names: `scripts/test` prints and counts them.
use std::cell::Cell;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A file or folder of `../shared/data`, or of the folder that WAYMASK_DATA names.
pub fn data(name: &str) -> Option<PathBuf> {
    let folder = std::env::var_os("WAYMASK_DATA")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data"), PathBuf::from);
    let path = folder.join(name);
    present(path.exists().then_some(path), || format!("no {name} in {} (set WAYMASK_DATA)", folder.display()))
}

/// A program on the search path; `package` is the Debian package that brings it.
pub fn program(name: &'static str, package: &str) -> Option<&'static str> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found = std::env::split_paths(&path).any(|folder| folder.join(name).is_file());
    present(found.then_some(name), || format!("no {name} (Debian package {package})"))
}

/// The Python that `scripts/test` makes, where a package of PyPI is installed in it.
pub fn python(package: &str) -> Option<PathBuf> {
    let target = option_env!("CARGO_TARGET_TMPDIR").and_then(|folder| Path::new(folder).parent());
    let python = target.unwrap_or(Path::new("target")).join("python/bin/python");
    let imports = Command::new(&python).args(["-c", &format!("import {package}")]).output();
    let there = imports.is_ok_and(|o| o.status.success());
    let reason = format!("no Python package {package} beside {} (scripts/test installs it)", python.display());
    present(there.then_some(python), || reason)
}

/// What only some machines grant, such as mounting. Nobody can install it, so that CI counts it and goes on, too.
pub fn granted<T>(found: Option<T>, what: &str) -> Option<T> {
    if found.is_none() {
        skip(&format!("no right to {what}"));
    }
    found
}

/// Hands over what was found; otherwise fails in CI and counts elsewhere.
pub fn present<T>(found: Option<T>, reason: impl FnOnce() -> String) -> Option<T> {
    if found.is_none() {
        let reason = reason();
        assert!(std::env::var("CI").as_deref() != Ok("true"), "{reason}: with CI=true nothing is skipped");
        skip(&reason);
    }
    found
}

thread_local!(static SKIPPED: Cell<bool> = const { Cell::new(false) });

/// Tells of a skipped test, once: each test has a thread of its own.
fn skip(reason: &str) {
    if SKIPPED.replace(true) {
        return;
    }
    let line = format!("{}: {reason}\n", name());
    print!("skipped: {line}");
    if let Some(path) = std::env::var_os("WAYMASK_SKIPS") {
        let mut file = std::fs::OpenOptions::new().append(true).create(true).open(path).unwrap();
        // One write in append mode: lines of programs that run side by side do not mix.
        file.write_all(line.as_bytes()).unwrap();
    }
}

/// The test that runs, after which its thread is named; of a bench the program.
fn name() -> String {
    match std::thread::current().name() {
        Some(test) if test != "main" => test.to_owned(),
        _ => std::env::current_exe().unwrap().file_stem().unwrap().to_string_lossy().into_owned(),
    }
}
