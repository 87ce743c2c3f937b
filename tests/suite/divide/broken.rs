//! Bundles and extracts that are not as they should be, and disks that are full.
use std::path::Path;

use waymask::base::error::Error;
use waymask::base::progress::{Progress, Silent};
use waymask::map::divide::{ShareSizes, divide, divide_by, read_bundle};

use super::SMALL;
use crate::extract::{Dir, grid};
use crate::extract_builder::{Map, Obj, way};
use crate::small_disk::{SmallDisk, names};

fn map() -> Vec<u8> {
    let mut all: Vec<Obj> = grid();
    all.push(way(1, &[1, 11, 21, 31], &[("highway", "primary"), ("name", "Long name of a road")]));
    Map::of(&all).bytes()
}

fn bundle(work: &Path) -> Vec<u8> {
    let dir = Dir::new();
    let divided = divide(&dir.file(&map()), work, &|_| true, &Silent).unwrap();
    assert_eq!(divided.districts.len(), 1);
    std::fs::read(&divided.districts[0].path).unwrap()
}

#[test]
fn a_bundle_with_any_byte_wrong_or_missing_is_refused() {
    let work = tempfile::tempdir().unwrap();
    let whole = bundle(work.path());
    let path = work.path().join("wrong.bundle");
    let refused = |bytes: &[u8], why: &str| {
        std::fs::write(&path, bytes).unwrap();
        let error = read_bundle(&path).unwrap_err().to_string();
        assert!(error.contains("wrong.bundle") && error.contains(why), "{error}");
    };
    for at in 0..whole.len() {
        let mut bytes = whole.clone();
        bytes[at] ^= 0x21;
        let why = match at {
            0..14 => "is not the bundle",
            14..16 => "another version",
            _ => "is ",
        };
        refused(&bytes, why);
        refused(&whole[..at], if at > 0 { "is cut off" } else { "is " });
    }
    refused(&[&whole[..], &[0]].concat(), "follows its end");
    std::fs::write(&path, &whole).unwrap();
    assert_eq!(read_bundle(&path).unwrap().roads.len(), 1);
    assert!(read_bundle(&work.path().join("none")).unwrap_err().to_string().contains("none: cannot be read"));
}

#[test]
fn dividing_again_replaces_bundles() {
    let work = tempfile::tempdir().unwrap();
    assert_eq!(bundle(work.path()), bundle(work.path()));
}

/// Appends to a file when a stage begins.
struct Grows<'a>(&'a Path, &'a str);

impl Progress for Grows<'_> {
    fn begin(&self, stage: &str, _: &'static str, _: Option<u64>) {
        if stage == self.1 {
            let bytes = [std::fs::read(self.0).unwrap(), vec![0; 9]].concat();
            std::fs::write(self.0, bytes).unwrap();
        }
    }
    fn advance(&self, _: u64) {}
    fn end(&self) {}
    fn warn(&self, _: &str) {}
}

#[test]
fn an_extract_that_changes_is_told() {
    for stage in ["relations", "ways", "nodes"] {
        let (dir, work) = (Dir::new(), tempfile::tempdir().unwrap());
        let path = dir.file(&map());
        let error = divide(&path, work.path(), &|_| true, &Grows(&path, stage)).unwrap_err();
        assert!(
            matches!(error, Error::Again { .. }) && error.to_string().contains("changed while it was read"),
            "{error}"
        );
        assert!(names(work.path()).is_empty());
    }
}

#[test]
fn a_folder_that_is_not_there_is_told() {
    let dir = Dir::new();
    let path = dir.file(&map());
    let error = divide(&path, Path::new("/nowhere/at/all"), &|_| true, &Silent).unwrap_err();
    assert!(error.to_string().contains("/nowhere/at/all"), "{error}");
    let error = divide(Path::new("/nowhere.osm.pbf"), Path::new("/tmp"), &|_| true, &Silent).unwrap_err();
    assert!(error.to_string().contains("does not exist"), "{error}");
}

/// Fills a disk when a stage begins.
struct Fills<'a>(&'a SmallDisk, &'a str);

impl Progress for Fills<'_> {
    fn begin(&self, stage: &str, _: &'static str, _: Option<u64>) {
        if stage == self.1 {
            self.0.fill();
        }
    }
    fn advance(&self, _: u64) {}
    fn end(&self) {}
    fn warn(&self, _: &str) {}
}

#[test]
fn a_disk_that_is_or_runs_full_is_told_and_nothing_stays() {
    let dir = Dir::new();
    let path = dir.file(&map());
    {
        let Some(disk) = SmallDisk::mount("64k") else { return };
        disk.fill();
        let error = divide(&path, disk.path(), &|_| true, &Silent).unwrap_err();
        assert!(error.exit_code() == 3 && error.to_string().contains("are needed for dividing"), "{error}");
        assert_eq!(names(disk.path()), ["ballast"]);
    }
    for stage in ["ways", "features", "roads", "districts"] {
        let Some(disk) = SmallDisk::mount("4m") else { return };
        let sizes = ShareSizes { share_bytes: 1_000_000, ..SMALL };
        let error = divide_by(&path, disk.path(), &|_| true, &Fills(&disk, stage), &sizes).unwrap_err();
        assert!(error.exit_code() == 3 && error.to_string().contains("the disk is full"), "{stage}: {error}");
        assert_eq!(names(disk.path()), ["ballast"], "{stage}");
    }
}
