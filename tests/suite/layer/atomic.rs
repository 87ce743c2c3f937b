//! Whole or not at all.
use std::path::Path;
use std::process::Command;

use waymask::layer::{Layer, LayerWriter};

use crate::layer::rows;
use crate::small_disk::{SmallDisk, names};

/// Not a test of its own: the process that the others start and that dies or runs out of disk.
#[test]
#[ignore = "started by other tests in a process of its own"]
fn child_process() {
    let (Ok(path), Ok(end)) = (std::env::var("LAYER_CHILD_PATH"), std::env::var("LAYER_CHILD_END")) else { return };
    let mut writer = LayerWriter::create(Path::new(&path), true).unwrap();
    let filled = rows::fill(&mut writer, 4000);
    if end == "abort" {
        std::process::abort();
    }
    match filled.and_then(|()| writer.finish(&rows::record())) {
        Ok(()) => println!("CHILD finished"),
        Err(e) => println!("CHILD {} {e}", e.exit_code()),
    }
}

fn run_child(path: &Path, end: &str) -> String {
    let output = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "layer::atomic::child_process", "--ignored", "--nocapture"])
        .env("LAYER_CHILD_PATH", path)
        .env("LAYER_CHILD_END", end)
        .output()
        .unwrap();
    String::from_utf8_lossy(&output.stdout).into_owned() + String::from_utf8_lossy(&output.stderr).as_ref()
}

#[test]
fn a_layer_that_exists_is_only_replaced_on_request() {
    let (folder, path) = rows::folder();
    rows::write(&path, false, 2).unwrap();
    let error = LayerWriter::create(&path, false).err().unwrap();
    assert!(error.to_string().contains("Use --overwrite"), "{error}");
    assert_eq!(error.exit_code(), 1);
    rows::write(&path, true, 3).unwrap();
    assert_eq!(Layer::open(&path).unwrap().counts().unwrap()[0], ("segments", 3));
    assert_eq!(names(folder.path()), ["layer.gpkg"]);
}

#[test]
fn a_layer_that_appears_meanwhile_is_not_replaced() {
    let (folder, path) = rows::folder();
    let writer = LayerWriter::create(&path, false).unwrap();
    std::fs::write(&path, "someone else's").unwrap();
    assert!(writer.finish(&rows::record()).unwrap_err().to_string().contains("--overwrite"));
    assert_eq!(std::fs::read(&path).unwrap(), b"someone else's");
    assert_eq!(names(folder.path()), ["layer.gpkg"]);
}

#[test]
fn paths_that_cannot_be_written_are_refused_at_the_start() {
    let (folder, path) = rows::folder();
    let refused = |p: &Path| LayerWriter::create(p, false).err().unwrap().to_string();
    assert!(refused(&folder.path().join("no/such/layer.gpkg")).contains("mkdir -p"));
    assert!(refused(&folder.path().join("layer.shp")).contains("ends in .gpkg"));
    std::fs::create_dir(folder.path().join("folder.gpkg")).unwrap();
    assert!(refused(&folder.path().join("folder.gpkg")).contains("is a folder"));
    if Path::new("/proc/self").exists() {
        // A file system that refuses new files even for root.
        assert!(refused(Path::new("/proc/layer.gpkg")).contains("cannot create a file here"));
    }
    std::os::unix::fs::symlink("nowhere.gpkg", folder.path().join("link.gpkg")).unwrap();
    assert!(refused(&folder.path().join("link.gpkg")).contains("a link to something that is not there"));
    assert!(refused(Path::new("/dev/null")).contains("ends in .gpkg"));
    std::fs::write(folder.path().join("layer.gpkg-wal"), "pages of a layer that is gone").unwrap();
    assert!(refused(&path).contains("a layer that no longer exists"));
}

#[test]
fn a_writer_that_is_dropped_leaves_the_old_layer() {
    let (folder, path) = rows::folder();
    rows::write(&path, false, 2).unwrap();
    let old = std::fs::read(&path).unwrap();
    let mut writer = LayerWriter::create(&path, true).unwrap();
    rows::fill(&mut writer, 1100).unwrap();
    let during = names(folder.path());
    assert!(during.iter().any(|n| n.starts_with(".layer.gpkg.part-")), "{during:?}");
    drop(writer);
    assert_eq!(names(folder.path()), ["layer.gpkg"]);
    assert!(std::fs::read(&path).unwrap() == old);
}

#[test]
fn a_process_that_dies_leaves_the_old_layer_and_the_next_one_tidies_up() {
    let (folder, path) = rows::folder();
    rows::write(&path, false, 2).unwrap();
    let old = std::fs::read(&path).unwrap();
    let said = run_child(&path, "abort");
    assert!(!said.contains("CHILD"), "{said}");
    assert!(std::fs::read(&path).unwrap() == old);
    let left = names(folder.path());
    assert_eq!(left.len(), 2, "the dead process left its temporary file: {left:?}");
    let stranger = folder.path().join(".layer.gpkg.part-of-a-whole");
    std::fs::write(&stranger, "not ours").unwrap();
    rows::write(&path, true, 3).unwrap();
    assert_eq!(names(folder.path()), [".layer.gpkg.part-of-a-whole", "layer.gpkg"]);
}

#[test]
fn two_that_write_one_layer_at_once_leave_each_other_alone() {
    let (folder, path) = rows::folder();
    let mut first = LayerWriter::create(&path, true).unwrap();
    rows::fill(&mut first, 1100).unwrap();
    let mut second = LayerWriter::create(&path, true).unwrap();
    rows::fill(&mut second, 2).unwrap();
    rows::write(&path, true, 3).unwrap();
    let segments = || Layer::open(&path).unwrap().counts().unwrap()[0].1;
    assert_eq!((segments(), names(folder.path()).len()), (3, 3));
    first.finish(&rows::record()).unwrap();
    assert_eq!(segments(), 1100);
    second.finish(&rows::record()).unwrap();
    assert_eq!((segments(), names(folder.path())), (2, vec!["layer.gpkg".to_owned()]));
}

#[test]
fn a_full_disk_is_an_error_and_the_old_layer_stays() {
    // Room for the old layer and an empty new one, not for 4000 segments.
    let Some(disk) = SmallDisk::mount("2m") else { return };
    let path = disk.path().join("layer.gpkg");
    rows::write(&path, false, 2).unwrap();
    let old = std::fs::read(&path).unwrap();
    let said = run_child(&path, "finish");
    assert!(said.contains("CHILD 3 ") && said.contains("layer.gpkg: cannot be written: the disk is full\n"), "{said}");
    assert!(said.contains("Free some space there"), "{said}");
    assert!(std::fs::read(&path).unwrap() == old);
    assert_eq!(names(disk.path()), ["layer.gpkg"]);
}

#[test]
fn a_disk_too_small_for_an_empty_layer_is_an_error_too() {
    let Some(disk) = SmallDisk::mount("64k") else { return };
    let path = disk.path().join("layer.gpkg");
    let error = LayerWriter::create(&path, false).err().expect("64 KiB cannot hold a GeoPackage");
    let said = error.to_string();
    assert!(said.contains("cannot be written: the disk is full\n") && said.contains("Free some space"), "{said}");
    assert_eq!((error.exit_code(), said.lines().count()), (3, 2), "{said}");
    assert_eq!(names(disk.path()), Vec::<String>::new());
}
