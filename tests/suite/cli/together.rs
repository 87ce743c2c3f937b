//! Builders that do not know of each other.
use std::process::Command;

use waymask::layer::{Layer, LayerWriter};

use crate::cli::{map, text};
use crate::layer::rows;
use crate::need;
use crate::small_disk::names;

/// A folder shared by two containers: in the other one this process does not exist, and numbers of processes mean others.
#[test]
fn a_build_in_another_container_leaves_the_one_here_alone() {
    const CONTAINER: [&str; 4] = ["--pid", "--fork", "--mount-proc", "--"];
    let able = Command::new("unshare").args(CONTAINER).arg("true").output().is_ok_and(|o| o.status.success());
    if need::granted(able.then_some(()), "make a namespace of processes").is_none() {
        return;
    }
    let (folder, path) = rows::folder();
    let elsewhere = tempfile::tempdir().unwrap();
    let mut here = LayerWriter::create(&path, true).unwrap();
    rows::fill(&mut here, 1100).unwrap();
    let there = Command::new("unshare")
        .args(CONTAINER)
        .args([env!("CARGO_BIN_EXE_waymask"), "build", text(&map(elsewhere.path())), "-q", "-o", text(&path)])
        .output()
        .unwrap();
    assert!(there.status.success(), "{there:?}");
    let segments = || Layer::open(&path).unwrap().counts().unwrap()[0].1;
    assert!(segments() < 10, "the layer of the other container");
    here.finish(&rows::record()).unwrap();
    assert_eq!((segments(), names(folder.path())), (1100, vec!["layer.gpkg".to_owned()]));
}
