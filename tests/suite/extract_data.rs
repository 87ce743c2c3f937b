//! Reading real extracts, checked against counts taken with osmium-tool 1.x and with text searches of
//! its OPL output.
use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

use waymask::base::defect::Defect;
use waymask::base::progress::Silent;
use waymask::base::words::{RoadClass, StopKind};
use waymask::map::extract::model::{CanopyShape, Extract};
use waymask::map::extract::read;

use crate::need;
use crate::need::data;

fn extract(path: &Path) -> Extract {
    read(path, &Silent).expect("a whole extract")
}

fn distinct<T>(items: &[T], id: impl Fn(&T) -> i64, wanted: impl Fn(&T) -> bool) -> usize {
    items.iter().filter(|i| wanted(i)).map(id).collect::<BTreeSet<_>>().len()
}

#[test]
fn andorra_holds_what_osmium_counts() {
    let Some(path) = data("andorra/andorra-2025.osm.pbf") else { return };
    let e = extract(&path);
    // osmium fileinfo -e
    assert_eq!((e.info.nodes, e.info.ways, e.info.relations), (471_006, 24_607, 614));
    assert_eq!(e.info.data_time_unix_s, Some(1_737_321_696), "2025-01-19T21:21:36Z");
    assert_eq!(e.info.writing_program.as_deref(), Some("osmium/1.14.0"));
    // Ways by class 4,172 (3,453 without tracks); 31 of them (15 without tracks) forbid vehicles.
    let roads = |f: &dyn Fn(&waymask::map::extract::model::Road) -> bool| distinct(&e.roads, |r| r.id, f);
    assert_eq!(roads(&|r| r.class != RoadClass::Ferry), 4_172 - 31);
    assert_eq!(roads(&|r| r.class != RoadClass::Track), 3_453 - 15);
    // The same 4,141 ways: 287 on bridges, 83 in tunnels, 11 covered, 29 with maxheight of which 20 say "default".
    assert_eq!((roads(&|r| r.bridge), roads(&|r| r.tunnel.is_some()), roads(&|r| r.covered)), (287, 83, 11));
    assert_eq!((roads(&|r| r.lanes.is_some()), roads(&|r| r.maxheight_m.is_some())), (952, 29 - EXPECTED_DEFAULT));
}

/// `maxheight=default` on drivable ways of the Andorra extract.
const EXPECTED_DEFAULT: usize = 20;

#[test]
fn andorra_roadside_holds_what_osmium_counts() {
    let Some(path) = data("andorra/andorra-2025.osm.pbf") else { return };
    let e = extract(&path);
    let canopy = |f: &dyn Fn(&CanopyShape) -> bool| distinct(&e.canopy, |c| c.id, |c| f(&c.shape));
    // 839 ways and 98 relations; 6 of the ways are outer rings of those relations and say the same.
    assert_eq!(canopy(&|s| matches!(s, CanopyShape::Wood(_))), 937 - 6);
    assert_eq!(canopy(&|s| matches!(s, CanopyShape::Row(_))), 25);
    assert_eq!(canopy(&|s| matches!(s, CanopyShape::Tree(_))), 795);
    assert_eq!(canopy(&|s| matches!(s, CanopyShape::Hedge(_))), 2);
    // 7,343 ways and 40 relations; the outer way of one of them is a building too. 22 more ways are parts only.
    assert_eq!(distinct(&e.buildings, |b| b.id, |b| !b.part), 7_383 - 1);
    assert_eq!(distinct(&e.buildings, |b| b.id, |b| b.part), 22);
    assert_eq!(distinct(&e.buildings, |b| b.id, |b| !b.part && (b.height_m.is_some() || b.levels.is_some())), 733);
    // 308 walls, 1 city wall, 19 retaining walls, 91 cliffs, 3 embankments drawn by themselves.
    assert_eq!(distinct(&e.barriers, |b| b.id, |_| true), 308 + 1 + 19 + 91 + 3);
    // One of the 31 picnic sites is a rest area first.
    let stops = |kind| e.stops.iter().filter(|s| s.kind == kind).count();
    assert_eq!((stops(StopKind::Fuel), stops(StopKind::CampSite), stops(StopKind::CaravanSite)), (59, 8, 4));
    assert_eq!(
        (stops(StopKind::Parking), stops(StopKind::Viewpoint), stops(StopKind::PicnicSite)),
        (32 + 353 + 2, 52, 31 - 1)
    );
}

#[test]
fn lauf_refers_to_nodes_that_are_not_there() {
    let Some(path) = data("pbf_cases/lauf-missing-nodes.osm.pbf") else { return };
    let e = extract(&path);
    // 1,906 ways may be driven, tracks included; 85 of them, 119 highways of all kinds and 276 ways of
    // any kind refer to missing nodes.
    let whole = distinct(&e.roads, |r| r.id, |_| true);
    assert!((1_906 - 85..=1_906).contains(&whole), "{whole}");
    let missing = e.defects.count(Defect::MissingNode);
    assert!((85..=276).contains(&missing), "{missing}");
    assert!(e.roads.iter().all(|r| r.nodes.len() >= 2));
}

#[test]
fn lz4_blocks_are_refused_and_the_named_command_mends_them() {
    let (Some(lz4), Some(zlib)) = (data("pbf_cases/monaco-lz4.osm.pbf"), data("pbf_cases/monaco-zlib.osm.pbf")) else {
        return;
    };
    let Some(osmium) = need::program("osmium", "osmium-tool") else { return };
    let e = extract(&zlib);
    assert_eq!((e.info.nodes, e.info.ways, e.info.relations), (25_423, 4_106, 243));
    let message = read(&lz4, &Silent).expect_err("lz4").to_string();
    assert!(message.contains("lz4") && message.contains("block ") && message.contains("at byte "), "{message}");
    let dir = tempfile::tempdir().expect("a temporary folder");
    let mended = dir.path().join("zlib.osm.pbf");
    let command = message.split('`').nth(1).expect("a command");
    assert!(command.starts_with("osmium cat "), "{command}");
    let mut words =
        command.split(' ').map(|w| if w == "zlib.osm.pbf" { mended.as_os_str().to_owned() } else { w.into() });
    assert_eq!(words.next().expect("a program"), osmium);
    let ran = Command::new(osmium).args(words).output().expect("osmium runs");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let plain = |mut e: Extract| {
        e.info = Default::default();
        e
    };
    assert_eq!(plain(extract(&mended)), plain(e));
}

#[test]
fn a_real_extract_cut_short_is_an_error() {
    let Some(path) = data("pbf_cases/monaco-zlib.osm.pbf") else { return };
    let bytes = std::fs::read(path).expect("readable");
    let dir = tempfile::tempdir().expect("a temporary folder");
    let cut = dir.path().join("cut.osm.pbf");
    for keep in [3, 12, 100, bytes.len() / 3, bytes.len() / 2, bytes.len() - 1] {
        std::fs::write(&cut, &bytes[..keep]).expect("written");
        let message = read(&cut, &Silent).expect_err("cut").to_string();
        assert!(message.contains("truncated") || keep < 13, "{keep}: {message}");
        assert!(message.contains("cut.osm.pbf") && message.contains("at byte"), "{keep}: {message}");
    }
}

#[test]
fn other_extracts_hold_what_osmium_counts() {
    // Ways of drivable class without tracks, less those that forbid vehicles; buildings and parts as
    // ways and relations; bridge ways (garmisch: plus two outlines).
    for (name, roads, buildings, decks) in [
        ("bayreuth/north-bayreuth.osm.pbf", 883 - 14, 4_267, 63),
        ("pbf_cases/manhattan.osm.pbf", 70, 1_525 + 43, 0),
        ("pbf_cases/frankfurt-interchange.osm.pbf", 1_782 - 77, 0, 198),
        ("pbf_cases/garmisch-no-dem.osm.pbf", 1_110 - 11, 3_002 + 1_193, 35 + 2),
    ] {
        let Some(path) = data(name) else { return };
        let e = extract(&path);
        assert_eq!(distinct(&e.roads, |r| r.id, |r| r.class != RoadClass::Track), roads, "{name}");
        assert_eq!(distinct(&e.buildings, |b| b.id, |_| true), buildings, "{name}");
        assert_eq!(distinct(&e.decks, |d| d.id, |_| true), decks, "{name}");
        let sorted = e.roads.is_sorted_by_key(|r| r.id) && e.buildings.is_sorted_by_key(|b| b.id);
        assert!(sorted && e.canopy.is_sorted_by_key(|c| c.id), "{name}");
    }
}

/// Peak memory of this process so far, kB, as Linux keeps it.
fn peak_kb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").expect("Linux");
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB"));
    line.and_then(|kb| kb.parse().ok()).expect("a peak")
}

/// What reading Andorra adds to the peak of a process, kB, is 44,300 to 47,000 on two workers (twelve runs): the decoded roads
/// and features that are kept, and two blocks being decoded. A tenth more is let pass.
const READING_KB: u64 = 52_000;

/// Read in a process of its own, since a peak is kept for all tests of a process.
#[test]
fn andorra_is_read_in_little_memory() {
    let Some(path) = data("andorra/andorra-2025.osm.pbf") else { return };
    const CHILD: &str = "ANDORRA_IS_READ_HERE";
    if std::env::var_os(CHILD).is_some() {
        let before_kb = peak_kb();
        let roads = extract(&path).roads.len();
        return println!("CHILD {roads} roads, {} kB", peak_kb() - before_kb);
    }
    let mut child = Command::new(std::env::current_exe().expect("this program"));
    child.args(["--exact", "extract_data::andorra_is_read_in_little_memory", "--nocapture"]);
    let out = child.env(CHILD, "1").env("RAYON_NUM_THREADS", "2").output().expect("this program runs");
    let said = String::from_utf8_lossy(&out.stdout).into_owned();
    let told = said.lines().find_map(|l| l.split_once("CHILD ")).unwrap_or_else(|| panic!("{said}")).1;
    let added_kb = told.split(' ').nth(2).and_then(|kb| kb.parse::<u64>().ok()).expect("kB");
    // Less than a third would mean that it was not read there.
    assert!(told.starts_with("4141 roads") && (READING_KB / 3..READING_KB).contains(&added_kb), "{told}");
}
