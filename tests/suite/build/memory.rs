//! A build that would run out of memory is refused before it rates anything, and says what it would have taken.
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use crate::build::kit::sample;
use crate::need;

/// A group of processes that may hold no more than some memory, removed on drop (`cgroups(7)`).
struct MemoryGroup(PathBuf);

impl MemoryGroup {
    fn new(most_bytes: u64) -> Option<Self> {
        let groups = fs::read_to_string("/proc/self/cgroup").unwrap_or_default();
        let of_version = |folder: &str, kinds: &str, limit: &str| {
            let line = groups.lines().find_map(|line| line.split_once(':')?.1.strip_prefix(kinds))?;
            let home = Path::new("/sys/fs/cgroup").join(folder).join(line.trim_start_matches('/'));
            let group = home.join(format!("waymask-test-{}", std::process::id()));
            fs::create_dir(&group).ok()?;
            let made = Self(group);
            fs::write(made.0.join(limit), most_bytes.to_string()).ok()?;
            Some(made)
        };
        let made =
            of_version("memory", "memory:", "memory.limit_in_bytes").or_else(|| of_version("", ":", "memory.max"));
        need::granted(made, "make a group with little memory")
    }
    /// Runs the program in it.
    fn run(&self, args: &[&str]) -> Output {
        let inside = r#"echo $$ > "$0" && exec "$@""#;
        let program = env!("CARGO_BIN_EXE_waymask");
        Command::new("sh")
            .args(["-c", inside])
            .arg(self.0.join("cgroup.procs"))
            .arg(program)
            .args(args)
            .output()
            .unwrap()
    }
}

impl Drop for MemoryGroup {
    fn drop(&mut self) {
        let _ = fs::remove_dir(&self.0);
    }
}

#[test]
fn a_build_that_cannot_fit_is_refused_with_its_figure() {
    // The island is forecast to take about 190 MB with two threads.
    let Some(group) = MemoryGroup::new(150_000_000) else { return };
    let home = tempfile::tempdir().unwrap();
    let output = home.path().join("layer.gpkg");
    let extract = sample("varrow.osm.pbf");
    let args = ["build", extract.to_str().unwrap(), "--threads", "2", "-o", output.to_str().unwrap()];
    let refused = group.run(&args);
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    // Trying again may help: others may have ended by then.
    assert_eq!(refused.status.code(), Some(3), "{said}");
    let told = said.split_once("the rating is forecast to take ").and_then(|(_, told)| told.split_once(" MB, "));
    let (needed_mb, rest) = told.unwrap_or_else(|| panic!("{said}"));
    let free_mb: f64 = rest.split(' ').next().unwrap().parse().unwrap();
    let needed_mb: f64 = needed_mb.parse().unwrap();
    assert!(free_mb <= 150.0 && needed_mb > free_mb, "{said}");
    assert!(said.contains("--threads") && said.contains("--anyway"), "{said}");
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0, "something was left behind");
    // Asked to, it begins; how it ends is the business of the system.
    let anyway = group.run(&[&args[..], &["--anyway"]].concat());
    let said = String::from_utf8_lossy(&anyway.stderr).into_owned();
    assert!(!said.contains("is forecast to take") && said.contains("of memory"), "{said}");
}

/// The figure of a line such as `memory     335.0 MB`, or of `..., 298.4 MB of memory, ...`.
fn mb(text: &str, before: &str, after: &str) -> f64 {
    let from = text.find(before).unwrap_or_else(|| panic!("no {before:?} in {text}")) + before.len();
    let figure = text[from..].split(after).next().unwrap().trim();
    let (figure, unit) = figure.rsplit_once(' ').unwrap();
    assert_eq!(unit, "MB", "{text}");
    figure.parse().unwrap()
}

#[test]
fn heavy_memory_is_as_forecast() {
    let (Some(andorra), Some(bayreuth)) = (need::data("andorra"), need::data("bayreuth")) else { return };
    let home = tempfile::tempdir().unwrap();
    // Fewer drives take less time and as much memory.
    let profile = home.path().join("few.toml");
    fs::write(&profile, "[link]\ndrives = 8\n").unwrap();
    let island = (sample("varrow.osm.pbf"), sample("varrow-elevation.tif"));
    let regions =
        [island, (andorra.join("andorra-2025.osm.pbf"), andorra), (bayreuth.join("north-bayreuth.osm.pbf"), bayreuth)];
    for (extract, elevation) in regions {
        let run = |more: &[&str]| {
            let done = Command::new(env!("CARGO_BIN_EXE_waymask"))
                .args(["build", "--threads", "2", "--profile"])
                .args([&profile, &extract])
                .arg("--elevation")
                .arg(&elevation)
                .args(more)
                .output()
                .unwrap();
            assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
            String::from_utf8_lossy(&done.stdout).into_owned()
        };
        let told_mb = mb(&run(&["--estimate"]), "threads, ", " of memory");
        let layer = home.path().join("layer.gpkg");
        let took_mb = mb(&run(&["--overwrite", "-o", layer.to_str().unwrap()]), "memory ", "\n");
        println!("{}: {told_mb} MB forecast, {took_mb} MB taken", extract.display());
        // The rule that a build is refused by is worth as much as this figure.
        assert!((1.0 / 1.3..1.3).contains(&(told_mb / took_mb)), "{extract:?}: {told_mb} MB told, {took_mb} MB taken");
    }
}
