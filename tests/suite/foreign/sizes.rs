//! Files that are too large, without end, no files at all, or not there: refused in few words and little memory.
use std::fs::File;
use std::path::Path;
use std::process::{Command, Stdio};

use waymask::base::input::InputKind;

use crate::build::kit::Sketch;

/// A layer, and files of zeros one byte larger than each kind may be; they take no room on the disk.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let mut s = Sketch::at(47.0);
    s.line(&[(0.0, 0.0), (900.0, 0.0)], &[("highway", "tertiary"), ("name", "Pier")]);
    let map = s.write(folder.path());
    let out = run(folder.path(), &["build", map.to_str().unwrap(), "-o", "l.gpkg", "-q"]);
    assert!(out.0, "{}", out.1);
    for kind in InputKind::ALL {
        let file = File::create(folder.path().join(format!("{kind:?}"))).unwrap();
        file.set_len(kind.most_mb() * 1_000_000 + 1).unwrap();
    }
    folder
}

/// With a gigabyte of address space: who reads before looking fails with another message.
fn command(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new("sh");
    command.args(["-c", "ulimit -v 1000000; exec \"$@\"", "sh", env!("CARGO_BIN_EXE_waymask")]).args(args);
    command.current_dir(folder);
    command
}

fn run(folder: &Path, args: &[&str]) -> (bool, String) {
    let out = command(folder, args).output().unwrap();
    (out.status.success(), String::from_utf8([out.stdout, out.stderr].concat()).unwrap())
}

/// Every way to give a file of a kind: the words before it.
const GIVEN: [(InputKind, &[&str]); 8] = [
    (InputKind::Settings, &["spend"]),
    (InputKind::Settings, &["settings", "profile"]),
    (InputKind::Settings, &["build", "place.osm.pbf", "-o", "x.gpkg", "-p"]),
    (InputKind::Calendar, &["plan", "l.gpkg", "47.0,-28.0 47.0,-27.99", "--depart", "2026-06-15T08:00", "--meetings"]),
    (InputKind::Track, &["corridor", "l.gpkg"]),
    (InputKind::Track, &["stops", "l.gpkg", "--along"]),
    (InputKind::Elements, &["sky", "l.gpkg", "--at", "47.0,-27.995", "--orbits"]),
    (InputKind::Elements, &["build", "place.osm.pbf", "-o", "x.gpkg", "--orbits"]),
];

#[test]
fn files_beyond_their_limit_are_refused_with_size_and_limit() {
    let folder = folder();
    for (kind, words) in GIVEN {
        let name = format!("{kind:?}");
        let (well, said) = run(folder.path(), &[words, &[&name]].concat());
        let limit = format!("{} may have at most {} MB", kind.name(), kind.most_mb());
        assert!(!well && said.contains(&format!("{name}: has ")) && said.contains(&limit), "{words:?}: {said}");
        // What has no length is read no further than that.
        let (well, said) = run(folder.path(), &[words, &["/dev/zero"]].concat());
        let endless = format!("/dev/zero: holds more than {} MB; {limit}", kind.most_mb());
        assert!(!well && said.contains(&endless), "{words:?}: {said}");
    }
}

#[test]
fn what_does_not_exist_or_is_a_folder_is_said_in_one_wording() {
    let folder = folder();
    std::fs::create_dir(folder.path().join("some.dir")).unwrap();
    let more: [&[&str]; 5] = [
        &["info"],
        &["build", "-o", "x.gpkg"],
        &["build", "place.osm.pbf", "-o", "x.gpkg", "-e"],
        &["route", "l.gpkg"],
        &["sensitivity"],
    ];
    for words in GIVEN.iter().map(|(_, words)| *words).chain(more) {
        let (well, said) = run(folder.path(), &[words, &["none.such"]].concat());
        // A word may name a preset, too.
        let may_be_preset = words.last().is_some_and(|last| ["profile", "-p"].contains(last));
        let fact = if may_be_preset { "is neither a preset nor a file" } else { "does not exist" };
        assert!(!well && said.contains(&format!("none.such: {fact}\n")), "{words:?}: {said}");
        assert!(!said.contains("os error"), "{words:?}: {said}");
        if !words.contains(&"-e") {
            let (well, said) = run(folder.path(), &[words, &["some.dir"]].concat());
            assert!(!well && said.contains("some.dir: is a folder"), "{words:?}: {said}");
        }
    }
}

#[test]
fn a_pipe_is_read_where_once_is_enough_and_refused_where_it_is_not() {
    let folder = folder();
    let fed = |args: &[&str], text: &str| {
        let mut child = command(folder.path(), args);
        let mut child = child.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        // A command that refuses the pipe need not read it.
        let _ = std::io::Write::write_all(&mut child.stdin.take().unwrap(), text.as_bytes());
        let out = child.wait_with_output().unwrap();
        (out.status.success(), String::from_utf8([out.stdout, out.stderr].concat()).unwrap())
    };
    let (well, said) = fed(&["corridor", "l.gpkg", "/dev/stdin"], "47.0,-28.0 47.0,-27.99");
    assert!(well && said.contains("driving"), "{said}");
    let (well, said) = fed(&["spend", "/dev/stdin"], "[work]\ndays = 2\n");
    assert!(well && said.contains("for 2 days"), "{said}");
    for args in [&["info", "/dev/stdin"][..], &["build", "/dev/stdin", "-o", "x.gpkg"]] {
        let (well, said) = fed(args, "x");
        assert!(!well && said.contains("/dev/stdin: is a pipe or device, not a file"), "{said}");
    }
}
