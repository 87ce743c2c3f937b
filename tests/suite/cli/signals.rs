//! Interrupts: nothing half-written stays, what was there is untouched, and both are said.
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::build::kit::sample;
use crate::small_disk::names;

/// A build of the sample that has begun its file.
fn begun(output: &Path, before: &str) -> Child {
    let line = format!("{before} exec \"$0\" \"$@\"");
    let mut child = Command::new("sh")
        .args(["-c", &line, env!("CARGO_BIN_EXE_waymask"), "build", "--overwrite", "--quiet"])
        .args([sample("varrow.osm.pbf"), "-e".into(), sample("varrow-elevation.tif"), "-o".into(), output.into()])
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let began = Instant::now();
    while !names(output.parent().unwrap()).iter().any(|n| n.starts_with('.')) {
        assert!(began.elapsed() < Duration::from_secs(60) && child.try_wait().unwrap().is_none(), "never saw it begin");
        std::thread::sleep(Duration::from_millis(2));
    }
    child
}

fn send(signal: &str, child: &Child) {
    assert!(Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap().success());
}

/// Its exit code and what it said.
fn ended(child: Child) -> (Option<i32>, String) {
    let output = child.wait_with_output().unwrap();
    (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
}

#[test]
fn an_interrupted_build_leaves_the_old_layer_and_says_so() {
    for (signal, code) in [("-INT", 130), ("-TERM", 143), ("-HUP", 129)] {
        let folder = tempfile::tempdir().unwrap();
        let output = folder.path().join("varrow.gpkg");
        std::fs::write(&output, "the old layer").unwrap();
        let child = begun(&output, "");
        send(signal, &child);
        let (ended_with, said) = ended(child);
        assert_eq!(ended_with, Some(code), "{said}");
        let named = format!("waymask: stopped by SIG{}\n  {}: ", signal.trim_start_matches('-'), output.display());
        assert!(said.starts_with(&named) && said.contains("what was there before is untouched"), "{said}");
        assert_eq!(names(folder.path()), ["varrow.gpkg"]);
        assert_eq!(std::fs::read(&output).unwrap(), b"the old layer");
    }
}

#[test]
fn where_nothing_was_before_nothing_is_left() {
    let folder = tempfile::tempdir().unwrap();
    let child = begun(&folder.path().join("varrow.gpkg"), "");
    send("-TERM", &child);
    let (code, said) = ended(child);
    assert!(code == Some(143) && said.contains("varrow.gpkg: was not finished and is removed"), "{said}");
    assert_eq!(names(folder.path()), Vec::<String>::new());
}

/// Nobody reads what the program says, and the pipe is full: it ends all the same, and soon.
#[test]
fn a_listener_that_does_not_listen_holds_nobody_up() {
    let folder = tempfile::tempdir().unwrap();
    let output = folder.path().join("varrow.gpkg");
    // More than a pipe holds is written to it before the program begins.
    let mut child = begun(&output, "timeout 1 head -c 1000000 /dev/zero >&2;");
    let began = Instant::now();
    send("-TERM", &child);
    while child.try_wait().unwrap().is_none() {
        assert!(began.elapsed() < Duration::from_secs(10), "still there");
        std::thread::sleep(Duration::from_millis(20));
    }
    assert_eq!(ended(child).0, Some(143));
    assert_eq!(names(folder.path()), Vec::<String>::new());
}

#[test]
fn a_signal_that_was_to_be_ignored_is() {
    let folder = tempfile::tempdir().unwrap();
    let mut child = begun(&folder.path().join("varrow.gpkg"), "trap '' INT HUP;");
    send("-INT", &child);
    send("-HUP", &child);
    std::thread::sleep(Duration::from_millis(300));
    // A fast machine may have built the sample by now.
    if let Some(done) = child.try_wait().unwrap() {
        assert_eq!(done.code(), Some(0));
        return;
    }
    send("-TERM", &child);
    assert!(matches!(ended(child).0, Some(143 | 0)));
}
