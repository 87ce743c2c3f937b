//! Builds under real satellites: shells fitted to elements, timelines made of them.
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use waymask::base::words::InputRole;
use waymask::build::OrbitOptions;
use waymask::layer::model::BuildRecord;
use waymask::physics::orbit::elements::MeanElements;
use waymask::profile::{Profile, Shell};

use crate::build::kit::{Place, Sketch};
use crate::elements_writer::{Fields, Pattern, circular, fields, json, time, two_line_file};

const EPOCH: &str = "2026-06-30T00:00:00Z";

/// A road between two long walls of buildings: only part of the sky is left.
fn street() -> Sketch {
    let mut s = Sketch::at(47.0);
    s.line(&[(0.0, 0.0), (1_500.0, 0.0)], &[("highway", "tertiary")]);
    for side in [12.0, -24.0] {
        s.area([-50.0, side, 1_550.0, side + 12.0], &[("building", "yes"), ("height", "14")]);
    }
    s
}

fn pattern() -> Pattern {
    Pattern::new(540.0, 53.0, 24, 30)
}

/// The pattern and some that are in no shell, as two-line sets.
fn write_elements(folder: &Path) -> PathBuf {
    let mut sets = pattern().elements(50_000, time(EPOCH));
    let mut odd = circular(70_000, 800.0, 63.0, time(EPOCH));
    odd.eccentricity = 0.3;
    sets.push(odd);
    sets.push(circular(70_001, 420.0, 53.0, time(EPOCH)));
    let path = folder.join("elements.txt");
    std::fs::write(&path, two_line_file(&sets)).unwrap();
    path
}

fn under(sketch: &Sketch, timeline_start: Option<&str>, threads: usize) -> Place {
    sketch.build_with(Profile::default(), |options, folder| {
        options.threads = Some(threads);
        options.orbits = Some(OrbitOptions {
            path: write_elements(folder),
            timeline_start: timeline_start.map(time),
            today: time("2026-07-01T00:00:00Z"),
        });
    })
}

fn assumed(record: &BuildRecord, part: &str) -> bool {
    record.assumed.iter().any(|line| line.contains(part))
}

#[test]
fn fitted_shells_replace_the_profiles_and_are_written_down() {
    let place = under(&street(), None, 2);
    let record = place.layer.record();
    assert_eq!(record.profile.constellation.shells.len(), 1);
    let shell = record.profile.constellation.shells[0];
    assert!((shell.altitude_km - 540.0).abs() < 5.0 && (shell.inclination_deg - 53.0).abs() < 0.1, "{shell:?}");
    assert_eq!((shell.planes, shell.per_plane), (24, 30));
    let input = record.inputs.iter().find(|i| i.role == InputRole::Orbits).unwrap();
    assert_eq!((input.name.as_str(), input.data_time.as_deref()), ("elements.txt", Some(EPOCH)));
    // SHA-256 by the system's own tool.
    let path = place.path.parent().unwrap().join("elements.txt");
    let out = Command::new("sha256sum").arg(&path).output().unwrap();
    assert!(
        input.sha256.len() == 64 && String::from_utf8_lossy(&out.stdout).starts_with(&input.sha256),
        "{}",
        input.sha256
    );
    let counts = [("orbit objects", 722), ("orbit objects in shells", 720), ("orbit objects left out, eccentric", 1)];
    counts.iter().for_each(|(name, n)| assert_eq!(record.counts[*name], *n, "{name}"));
    assert_eq!(record.counts["orbit objects left out, in no shell"], 1);
    assert!(assumed(record, "720 of 722 objects in elements.txt") && assumed(record, "24 planes of 30 satellites"));
    assert!(assumed(record, "720 satellites in 1 given shell,") && !assumed(record, "as SGP4 places them"));
    // The same shells written in a profile give the same rows.
    let mut profile = Profile::default();
    profile.constellation.shells = vec![shell];
    assert_eq!(street().build(profile).rows, place.rows);
}

#[test]
fn drives_under_the_elements_themselves_agree_with_their_shells() {
    let by_shells = under(&street(), None, 2);
    let by_elements = under(&street(), Some("2026-07-01T00:00:00Z"), 2);
    let record = by_elements.layer.record();
    assert!(assumed(
        record,
        "under 721 of 722 satellites, as SGP4 places them in the 3 hours from 2026-07-01T00:00:00Z"
    ));
    // A narrow gap is worth more or less by how satellites are dealt to planes: this layout is in step by neither way.
    // The same sky by two ways: the share of time without a link is alike, the drives are not the same.
    let down = |place: &Place| {
        let sum: f64 = place.rows.iter().map(|r| f64::from(r.outage_share as f32) * r.length_m).sum();
        sum / place.rows.iter().map(|r| r.length_m).sum::<f64>()
    };
    let (a, b) = (down(&by_shells), down(&by_elements));
    assert!(a > 0.02 && a < 0.98, "the street must neither be open nor closed: {a}");
    // Two spans of three hours under elements differ by up to 0.03.
    assert!((a - b).abs() < 0.05, "{a} {b}");
    assert_ne!(by_shells.rows, by_elements.rows);
    // What is open does not depend on where satellites stand at a time.
    let open = |place: &Place| {
        let mut masks = Vec::new();
        place
            .layer
            .each_masks(|row| {
                masks.push((row.segment_id, row.forward, row.packed));
                Ok(())
            })
            .unwrap();
        masks
    };
    assert!(open(&by_shells) == open(&by_elements));
}

#[test]
fn equal_builds_under_elements_give_equal_bytes() {
    let bytes = |threads| std::fs::read(under(&street(), Some("2026-07-01T00:00:00Z"), threads).path).unwrap();
    let one = bytes(1);
    assert!(one == bytes(3) && !one.is_empty());
}

fn waymask(folder: &Path, elements: &Path, more: &[&str]) -> Output {
    let map = street().write(folder);
    Command::new(env!("CARGO_BIN_EXE_waymask"))
        .args(["build", map.to_str().unwrap(), "--overwrite", "--orbits", elements.to_str().unwrap()])
        .args(["-o", folder.join("out.gpkg").to_str().unwrap()])
        .args(more)
        .output()
        .unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn old_elements_are_warned_of() {
    let folder = tempfile::tempdir().unwrap();
    let path = write_elements(folder.path());
    let fresh = waymask(folder.path(), &path, &["--orbit-date", "2026-07-13"]);
    assert!(fresh.status.success() && !text(&fresh.stderr).contains("get newer ones"), "{}", text(&fresh.stderr));
    assert!(text(&fresh.stdout).contains("orbits     elements.txt"), "{}", text(&fresh.stdout));
    let old = waymask(folder.path(), &path, &["--orbit-date", "2026-08-01T12:00Z"]);
    let said = text(&old.stderr);
    assert!(old.status.success() && said.contains("721 of 721 satellites") && said.contains("up to 32 days"), "{said}");
    // Without a date it is today that counts; these elements were made for a day long before any clock.
    let mut sets = pattern().elements(50_000, time("1999-12-31T00:00:00Z"));
    sets.truncate(720);
    std::fs::write(&path, two_line_file(&sets)).unwrap();
    let now = waymask(folder.path(), &path, &[]);
    assert!(now.status.success() && text(&now.stderr).contains("720 of 720 satellites"), "{}", text(&now.stderr));
}

#[test]
fn bad_elements_are_errors_with_a_next_step_or_counted() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("elements");
    let failed = |content: &str, more: &[&str]| {
        std::fs::write(&path, content).unwrap();
        let out = waymask(folder.path(), &path, more);
        assert_eq!(out.status.code(), Some(1), "{}", text(&out.stdout));
        assert!(!folder.path().join("out.gpkg").exists());
        text(&out.stderr)
    };
    let messages: Vec<Fields> = pattern().elements(50_000, time(EPOCH)).iter().map(fields).collect();
    let good = json(&messages, true);
    for (content, said) in [
        ("", "is empty"),
        ("altitude,inclination\n550,53\n", "holds no orbital elements"),
        (&good[..good.len() - 40], "broken JSON"),
        (&json(&messages[..2], false), "no circular shell among its 2 objects"),
    ] {
        let told = failed(content, &[]);
        assert!(told.contains(said) && told.contains("elements: ") && told.lines().count() >= 2, "{told}");
    }
    let missing = waymask(folder.path(), &folder.path().join("nowhere"), &[]);
    assert!(missing.status.code() == Some(1) && text(&missing.stderr).contains("nowhere"));
    let as_folder = waymask(folder.path(), folder.path(), &[]);
    assert_eq!(as_folder.status.code(), Some(1));
    // One bad object: counted, and fatal only where asked.
    let mut one_bad = messages.clone();
    one_bad[3].iter_mut().filter(|(k, _)| *k == "ECCENTRICITY").for_each(|f| f.1 = "2".into());
    let told = failed(&json(&one_bad, false), &["--strict"]);
    assert!(told.contains("1 x bad_elements") && told.contains("PATTERN-50003"), "{told}");
    let counted = waymask(folder.path(), &path, &[]);
    assert!(counted.status.success() && text(&counted.stdout).contains("bad_elements"), "{}", text(&counted.stdout));
    // A date without elements, and a text that is not a date.
    let map = folder.path().join("place.osm.pbf");
    let bare = |args: &[&str]| {
        let out = Command::new(env!("CARGO_BIN_EXE_waymask"))
            .args(["build", map.to_str().unwrap(), "-o", "x.gpkg"])
            .args(args)
            .output();
        out.unwrap()
    };
    assert_eq!(bare(&["--orbit-date", "2026-07-01"]).status.code(), Some(2));
    let date = bare(&["--orbits", "x", "--orbit-date", "soon"]);
    assert!(date.status.code() == Some(2) && text(&date.stderr).contains("give a day"), "{}", text(&date.stderr));
}

#[test]
fn elements_that_do_not_reach_the_date_are_counted() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("elements.txt");
    let mut sets = pattern().elements(50_000, time(EPOCH));
    // Drag that brings it down within weeks, though it was in its place at the epoch.
    sets[11].bstar = 0.5;
    std::fs::write(&path, two_line_file(&sets)).unwrap();
    let out = waymask(folder.path(), &path, &["--orbit-date", "2026-09-01"]);
    let said = text(&out.stdout);
    assert!(out.status.success() && said.contains("lost_orbit") && said.contains("object 50011"), "{said}");
    assert!(said.contains("under 719 of 720 satellites"), "{said}");
}

#[test]
fn an_element_file_is_never_the_output() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("out.gpkg");
    std::fs::rename(write_elements(folder.path()), &path).unwrap();
    let before = std::fs::read(&path).unwrap();
    let out = waymask(folder.path(), &path, &[]);
    assert!(out.status.code() == Some(2) && text(&out.stderr).contains("is also an input"), "{}", text(&out.stderr));
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn satellites_that_nobody_sees_are_an_error_with_a_next_step() {
    // Orbits of 20 degrees of inclination are below every cone at 47 degrees north, by shells and by elements.
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("low.txt");
    std::fs::write(&path, two_line_file(&Pattern::new(540.0, 20.0, 12, 20).elements(1, time(EPOCH)))).unwrap();
    for more in [&[][..], &["--orbit-date", EPOCH]] {
        let out = waymask(folder.path(), &path, more);
        let said = text(&out.stderr);
        assert!(out.status.code() == Some(1) && !folder.path().join("out.gpkg").exists(), "{said}");
        assert!(said.contains("low.txt: none of the 240 satellites used rises above 35 degrees"), "{said}");
        assert!(said.contains("leave out --orbits"), "{said}");
    }
    // Carried to a time long after they came down.
    let mut sets = pattern().elements(50_000, time(EPOCH));
    sets.iter_mut().for_each(|set| set.bstar = 0.5);
    std::fs::write(&path, two_line_file(&sets)).unwrap();
    let out = waymask(folder.path(), &path, &["--orbit-date", "2026-12-01"]);
    let said = text(&out.stderr);
    assert!(
        out.status.code() == Some(1) && said.contains("low.txt: SGP4 cannot place any of its 720 satellites"),
        "{said}"
    );
    assert!(said.contains("another --orbit-date"), "{said}");
}

/// Satellites in no shell: a little elongated, with heights and inclinations of their own. Their number is that of the pattern.
fn scattered(first: u64) -> Vec<MeanElements> {
    let part = |k: u32, of: f64| (f64::from(k) * of).fract();
    let one = |k: u32| {
        let mut set = circular(
            first + u64::from(k),
            440.0 + 200.0 * part(k, 0.618_034),
            50.0 + 6.0 * part(k, 0.754_878),
            time(EPOCH),
        );
        (set.node_deg, set.anomaly_deg) = (360.0 * part(k, 0.569_84), 360.0 * part(k, 0.414_214));
        set.eccentricity = 0.006 + 0.006 * part(k, 0.732_051);
        set
    };
    (0..pattern().count()).map(one).collect()
}

fn with_elements(sets: Vec<MeanElements>) -> Place {
    street().build_with(Profile::default(), |options, folder| {
        let path = folder.join("elements.txt");
        std::fs::write(&path, two_line_file(&sets)).unwrap();
        let timeline_start = Some(time("2026-07-01T00:00:00Z"));
        options.orbits = Some(OrbitOptions { path, timeline_start, today: time(EPOCH) });
    })
}

#[test]
fn drives_are_under_every_satellite_that_sgp4_places() {
    let outage_share = |place: &Place| {
        let sum: f64 = place.rows.iter().map(|r| r.outage_share * r.length_m).sum();
        sum / place.rows.iter().map(|r| r.length_m).sum::<f64>()
    };
    let shell = with_elements(pattern().elements(50_000, time(EPOCH)));
    // Nothing of it is a shell; the road is as under those that say where they are expected.
    let alone = with_elements(scattered(60_000));
    let record = alone.layer.record();
    let counted = |name: &str| record.counts[name];
    assert_eq!((counted("orbit objects placed"), counted("orbit objects in shells")), (720, 0));
    assert_eq!(counted("orbit objects placed, in no shell"), 720);
    assert!(assumed(record, "under 720 of 720 satellites, as SGP4 places them") && assumed(record, "refused: none"));
    assert!(assumed(record, "720 of these are in no shell: directions are weighted as if these"));
    let weighted: u32 = record.profile.constellation.shells.iter().map(Shell::count).sum();
    assert_eq!(weighted, 720);
    let mut profile = Profile::default();
    profile.constellation.shells.clone_from(&record.profile.constellation.shells);
    let by_shells = street().build(profile);
    assert!(alone.rows.iter().map(|r| r.open_share).eq(by_shells.rows.iter().map(|r| r.open_share)));
    let (a, b) = (outage_share(&alone), outage_share(&by_shells));
    assert!(b > 0.02 && b < 0.98 && (a - b).abs() < 0.05, "{a} {b}");
    // Both together: fewer outages than under either. One more that comes down is counted and left out.
    let mut all = pattern().elements(50_000, time(EPOCH));
    all.extend(scattered(60_000));
    let mut down = circular(70_000, 800.0, 63.0, time(EPOCH));
    down.eccentricity = 0.3;
    all.push(down);
    let both = with_elements(all);
    assert!(outage_share(&both) < 0.9 * outage_share(&shell), "{} {}", outage_share(&both), outage_share(&shell));
    let record = both.layer.record();
    assert_eq!((record.counts["orbit objects placed"], record.counts["orbit objects in shells"]), (1_440, 720));
    assert_eq!(record.counts["orbit objects refused, it would be below the ground"], 1);
    assert!(assumed(record, "under 1440 of 1441 satellites") && assumed(record, "refused: 1: it would be below"));
}

#[test]
fn without_a_date_elements_without_a_shell_name_the_date_as_a_way_out() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("elements.txt");
    std::fs::write(&path, two_line_file(&scattered(60_000))).unwrap();
    let out = waymask(folder.path(), &path, &[]);
    let said = text(&out.stderr);
    assert!(
        out.status.code() == Some(1) && said.contains("no circular shell") && said.contains("--orbit-date"),
        "{said}"
    );
    assert!(waymask(folder.path(), &path, &["--orbit-date", "2026-07-01"]).status.success());
}
