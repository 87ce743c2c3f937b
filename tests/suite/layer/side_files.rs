//! What SQLite keeps beside a layer that is open: it is never played into a new layer of that name.
use std::path::Path;

use rusqlite::Connection;
use waymask::layer::{Layer, LayerWriter};

use crate::layer::rows;
use crate::small_disk::{SmallDisk, names};

/// Another program that has a layer open in WAL mode and has written nothing yet: its -wal file is empty.
fn held(path: &Path) -> Connection {
    let other = Connection::open(path).unwrap();
    other.pragma_update(None, "journal_mode", "WAL").unwrap();
    other.query_row("SELECT count(*) FROM segments", [], |r| r.get::<_, i64>(0)).unwrap();
    other
}

fn segments(path: &std::path::Path) -> u64 {
    Layer::open(path).unwrap().counts().unwrap()[0].1
}

#[test]
fn a_layer_that_another_program_holds_is_not_replaced() {
    let (folder, path) = rows::folder();
    rows::write(&path, false, 2).unwrap();
    let other = held(&path);
    assert_eq!(std::fs::metadata(folder.path().join("layer.gpkg-wal")).unwrap().len(), 0);
    let error = LayerWriter::create(&path, true).err().expect("the layer is open elsewhere");
    let said = error.to_string();
    assert!(said.contains("layer.gpkg-wal") && said.contains("Close every program"), "{said}");
    assert_eq!(error.exit_code(), 3, "it may succeed when that program is closed");
    // What that program writes is in the layer, and the next layer begins without it.
    other.execute_batch("UPDATE edges SET way_id = 78").unwrap();
    drop(other);
    assert_eq!(Layer::open(&path).unwrap().edge(1).unwrap().unwrap().way_id, 78);
    rows::write(&path, true, 3).unwrap();
    assert_eq!((segments(&path), names(folder.path())), (3, vec!["layer.gpkg".to_owned()]));
}

#[test]
fn a_layer_that_another_program_opens_meanwhile_is_not_replaced() {
    let (folder, path) = rows::folder();
    rows::write(&path, false, 2).unwrap();
    let mut writer = LayerWriter::create(&path, true).unwrap();
    rows::fill(&mut writer, 3).unwrap();
    let other = held(&path);
    let error = writer.finish(&rows::record()).unwrap_err();
    assert!(error.exit_code() == 3 && error.to_string().contains("layer.gpkg-wal"), "{error}");
    other.execute_batch("UPDATE edges SET way_id = 78").unwrap();
    drop(other);
    assert_eq!((segments(&path), names(folder.path())), (2, vec!["layer.gpkg".to_owned()]));
}

#[test]
fn every_side_file_is_a_reason_to_ask() {
    let (folder, path) = rows::folder();
    rows::write(&path, false, 2).unwrap();
    for suffix in ["-wal", "-shm", "-journal"] {
        let side = folder.path().join(format!("layer.gpkg{suffix}"));
        std::fs::write(&side, "").unwrap();
        let error = LayerWriter::create(&path, true).err().expect(suffix).to_string();
        assert!(error.contains(side.to_str().unwrap()) && error.contains(".tables"), "{error}");
        std::fs::remove_file(side).unwrap();
    }
    // Through a link the side files are those of the file it points to.
    let link = folder.path().join("link.gpkg");
    std::os::unix::fs::symlink("layer.gpkg", &link).unwrap();
    std::fs::write(folder.path().join("layer.gpkg-shm"), "").unwrap();
    assert!(LayerWriter::create(&link, true).is_err());
}

#[test]
fn reading_a_layer_in_wal_mode_leaves_nothing_beside_it() {
    let (folder, path) = rows::folder();
    rows::write(&path, false, 2).unwrap();
    drop(held(&path));
    let before = std::fs::read(&path).unwrap();
    assert_eq!((before[18], segments(&path)), (2, 2), "the mode stays with the file");
    assert_eq!(names(folder.path()), ["layer.gpkg"]);
    assert!(std::fs::read(&path).unwrap() == before);
}

/// The record at the end of a journal that names another file (SQLite file format, 3.1: the super-journal).
fn named_in_journal(path: &Path, page_size: u32) -> Vec<u8> {
    let name = path.to_str().unwrap().as_bytes();
    let sum: u32 = name.iter().map(|b| u32::from(*b)).sum();
    let magic = [0xd9, 0xd5, 0x05, 0xf9, 0x20, 0xa1, 0x63, 0xd7];
    let lock_page = 0x4000_0000 / page_size + 1;
    [&lock_page.to_be_bytes()[..], name, &(name.len() as u32).to_be_bytes(), &sum.to_be_bytes(), &magic].concat()
}

#[test]
fn a_change_that_was_broken_off_is_told_and_nothing_is_touched() {
    let (folder, path) = rows::folder();
    rows::write(&path, false, 2_000).unwrap();
    let other = Connection::open(&path).unwrap();
    // So little memory that the middle of the change reaches the disk.
    other.execute_batch("PRAGMA cache_size = 5; BEGIN; UPDATE edges SET way_id = 78").unwrap();
    let left = tempfile::tempdir().unwrap();
    for name in names(folder.path()) {
        std::fs::copy(folder.path().join(&name), left.path().join(&name)).unwrap();
    }
    assert_eq!(names(left.path()), ["layer.gpkg", "layer.gpkg-journal"], "as after a power cut");
    // A journal may name another file, which SQLite deletes once it has taken back the change.
    let (journal, victim) = (left.path().join("layer.gpkg-journal"), left.path().join("letters.txt"));
    std::fs::write(&victim, "not ours").unwrap();
    let mut bytes = std::fs::read(&journal).unwrap();
    bytes.extend(named_in_journal(&victim, other.pragma_query_value(None, "page_size", |r| r.get(0)).unwrap()));
    std::fs::write(&journal, &bytes).unwrap();
    let layer = left.path().join("layer.gpkg");
    let before = std::fs::read(&layer).unwrap();
    let said = Layer::open(&layer).err().expect("half a change").to_string();
    assert!(said.contains("layer.gpkg: was left in the middle of a change"), "{said}");
    assert_eq!(names(left.path()), ["layer.gpkg", "layer.gpkg-journal", "letters.txt"]);
    assert!(std::fs::read(&layer).unwrap() == before && std::fs::read(&journal).unwrap() == bytes);
    // SQLite does what it is kept from here, so that the test shows the danger.
    Connection::open(&layer).unwrap().query_row("SELECT count(*) FROM edges", [], |r| r.get::<_, i64>(0)).unwrap();
    assert!(!victim.exists());
    other.execute_batch("COMMIT").unwrap();
}

#[test]
fn a_layer_in_wal_mode_on_a_read_only_disk_is_explained() {
    let Some(disk) = SmallDisk::mount("4m") else { return };
    let path = disk.path().join("layer.gpkg");
    rows::write(&path, false, 2).unwrap();
    drop(held(&path));
    disk.make_read_only();
    let error = Layer::open(&path).err().expect("SQLite cannot write beside it");
    let said = error.to_string();
    assert!(said.contains("layer.gpkg: was left in WAL mode") && said.contains("Copy the layer"), "{said}");
    let copy = tempfile::tempdir().unwrap();
    std::fs::copy(&path, copy.path().join("copy.gpkg")).unwrap();
    assert_eq!(segments(&copy.path().join("copy.gpkg")), 2, "the advice works");
}

#[test]
fn a_layer_on_a_read_only_disk_is_read() {
    let Some(disk) = SmallDisk::mount("4m") else { return };
    let path = disk.path().join("layer.gpkg");
    rows::write(&path, false, 2).unwrap();
    disk.make_read_only();
    assert_eq!(segments(&path), 2);
    let error = LayerWriter::create(&path, true).err().unwrap();
    assert!(error.to_string().contains("the disk is read-only"), "{error}");
    assert_eq!(error.exit_code(), 1);
}
