//! Skipped tests are told of and counted, and fail in CI.
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A test that needs two extracts.
const TEST: &str = "extract_data::lz4_blocks_are_refused_and_the_named_command_mends_them";

/// Runs that test where there is no data.
fn run(folder: &Path, ci: Option<&str>) -> (Output, PathBuf) {
    let (empty, skips) = (folder.join("empty"), folder.join("skips"));
    std::fs::create_dir(&empty).unwrap();
    let mut command = Command::new(std::env::current_exe().unwrap());
    command.args(["--exact", TEST, "--nocapture"]).env("WAYMASK_DATA", &empty).env("WAYMASK_SKIPS", &skips);
    match ci {
        Some(value) => command.env("CI", value),
        None => command.env_remove("CI"),
    };
    (command.output().unwrap(), skips)
}

#[test]
fn a_test_without_its_data_is_told_of_once_and_counted() {
    let folder = tempfile::tempdir().unwrap();
    let (out, skips) = run(folder.path(), None);
    let said = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(out.status.success() && said.contains("1 passed"), "{said}");
    let listed = std::fs::read_to_string(skips).unwrap();
    assert!(listed.starts_with(&format!("{TEST}: no pbf_cases/monaco-lz4.osm.pbf in ")), "{listed}");
    assert_eq!(listed.lines().count(), 1, "{listed}");
    assert!(said.contains(&format!("skipped: {listed}")), "{said}");
}

#[test]
fn a_test_without_its_data_fails_in_ci() {
    let folder = tempfile::tempdir().unwrap();
    let (out, skips) = run(folder.path(), Some("true"));
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(!out.status.success() && said.contains("with CI=true nothing is skipped"), "{said}");
    assert!(!skips.exists());
}

/// Files of Rust below a folder.
fn sources(folder: &Path, out: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

/// Nothing asks for shared data, or says that it is skipped, by another way.
#[test]
fn only_one_place_knows_where_data_lies() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    ["src", "tests", "benches"].iter().for_each(|folder| sources(&root.join(folder), &mut files));
    let own = ["need.rs", "skips.rs"];
    let others = files.iter().filter(|f| !own.contains(&f.file_name().unwrap().to_str().unwrap()));
    let wrong: Vec<&PathBuf> = others
        .filter(|f| {
            let text = std::fs::read_to_string(f).unwrap();
            ["WAYMASK_DATA", "shared/data", "skipped: "].iter().any(|word| text.contains(word))
        })
        .collect();
    assert!(files.len() > 200 && wrong.is_empty(), "{wrong:?}");
}
