//! Where outputs go: links are followed, and what is not a file is left alone.
use std::fs;
use std::os::unix::fs::{FileTypeExt, symlink};
use std::process::Command;

use crate::cli::{said, text, waymask};
use crate::layer::rows;
use crate::small_disk::names;

#[test]
fn what_is_no_file_is_never_replaced() {
    let (folder, layer) = rows::folder();
    rows::write(&layer, false, 2).unwrap();
    let at = |name: &str| folder.path().join(name);
    assert!(Command::new("mkfifo").arg(at("pipe.csv")).status().unwrap().success());
    symlink("nowhere.csv", at("dangling.csv")).unwrap();
    symlink("/dev/null", at("null.csv")).unwrap();
    fs::create_dir(at("folder.csv")).unwrap();
    let before = names(folder.path());
    for (name, fact) in [
        ("pipe.csv", "is a pipe or device, not a file"),
        ("null.csv", "is a pipe or device, not a file"),
        ("dangling.csv", "is a link to something that is not there"),
        ("folder.csv", "is a folder"),
        ("no/such/folder.csv", "mkdir -p"),
        ("no'such/folder.csv", r"no'\''such'"),
    ] {
        for overwrite in [&["--overwrite"][..], &[]] {
            let out = waymask(&[&["edges", text(&layer), "-o", text(&at(name))], overwrite].concat());
            assert_eq!(out.status.code(), Some(1), "{name}: {}", said(&out));
            assert!(said(&out).contains(fact), "{name}: {}", said(&out));
        }
    }
    for device in ["/dev/null", "/dev/stdout"] {
        let out = waymask(&["edges", text(&layer), "-o", device, "--overwrite"]);
        assert_eq!((out.status.code(), out.stdout.len()), (Some(1), 0), "{device}: {}", said(&out));
        assert!(said(&out).contains("is a pipe or device"), "{device}: {}", said(&out));
    }
    assert_eq!(names(folder.path()), before);
    assert!(fs::symlink_metadata(at("pipe.csv")).unwrap().file_type().is_fifo());
    assert!(fs::metadata("/dev/null").unwrap().file_type().is_char_device());
}

#[test]
fn a_link_stays_and_the_file_it_points_to_is_replaced() {
    let (folder, layer) = rows::folder();
    rows::write(&layer, false, 2).unwrap();
    let [real, link] = ["real.csv", "link.csv"].map(|name| folder.path().join(name));
    fs::write(&real, "old").unwrap();
    symlink("real.csv", &link).unwrap();
    let out = waymask(&["edges", text(&layer), "-o", text(&link)]);
    assert!(out.status.code() == Some(1) && said(&out).contains("exists already"), "{}", said(&out));
    let out = waymask(&["edges", text(&layer), "-o", text(&link), "--overwrite"]);
    assert!(out.status.success(), "{}", said(&out));
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert!(fs::read_to_string(&real).unwrap().starts_with("edge_id,"));
    assert_eq!(names(folder.path()), ["layer.gpkg", "link.csv", "real.csv"]);
}
