//! One law: a layer is the same file, however its districts were rated.
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;
use std::time::Duration;

use waymask::base::geodesy::Position;
use waymask::base::progress::{Progress, Silent};
use waymask::build::{self, BuildOptions, MergeOptions, Shard, ShardOptions};
use waymask::layer::{JoinedLayer, Layer};
use waymask::map::district::region::Region;
use waymask::profile::Profile;

use crate::build::kit::{Sketch, sample, write_raster};
use crate::extract_builder::{Map, Obj};

/// The island, which lies in four districts.
fn island(output: &Path) -> BuildOptions {
    let mut profile = Profile::default();
    profile.link.drives = 8;
    BuildOptions {
        profile,
        elevation: vec![sample("varrow-elevation.tif")],
        overwrite: true,
        ..BuildOptions::new(sample("varrow.osm.pbf"), output.to_owned())
    }
}

fn built(options: &BuildOptions) -> Vec<u8> {
    build::build(options, &Silent).unwrap();
    std::fs::read(&options.output).unwrap()
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries.map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn one_thread_or_many_shards_in_any_folders_and_order_give_the_same_file() {
    let home = tempfile::tempdir().unwrap();
    let at = |name: &str| home.path().join(name);
    let whole = built(&BuildOptions { threads: Some(1), ..island(&at("one.gpkg")) });
    assert!(whole == built(&BuildOptions { threads: Some(5), ..island(&at("five.gpkg")) }), "five threads");
    assert_eq!(names(home.path()), ["five.gpkg", "one.gpkg"], "nothing is left");

    // Each shard in a folder of its own, the last first; one of them twice.
    let count = 3;
    let folders: Vec<PathBuf> = (1..=count).map(|nth| at(&format!("shard{nth}"))).collect();
    for nth in (1..=count).rev().chain([2]) {
        let work = folders[nth - 1].clone();
        let options = ShardOptions { build: island(&work.join("layer.gpkg")), work };
        let done = build::rate_shard(&options, Shard { nth, count }, &Silent).unwrap();
        assert!(done.stages.iter().any(|stage| stage.name == "extract"), "where all of the time went");
    }
    let mut merged = MergeOptions {
        folders: vec![folders[1].clone(), folders[2].clone(), folders[0].clone()],
        output: at("merged.gpkg"),
        overwrite: false,
        region: Region::Whole,
        how: JoinedLayer::Whole,
    };
    build::merge(&merged, &Silent).unwrap();
    assert!(whole == std::fs::read(&merged.output).unwrap(), "shards");

    // Without one of them, and with one of another profile.
    merged.folders.truncate(2);
    merged.output = at("half.gpkg");
    let missing = build::merge(&merged, &Silent).unwrap_err().to_string();
    assert!(missing.contains("are missing: n47") || missing.contains("are missing: n46"), "{missing}");
    let mut other = ShardOptions { build: island(&at("x.gpkg")), work: at("other") };
    other.build.profile.link.drives = 9;
    build::rate_shard(&other, Shard { nth: 1, count }, &Silent).unwrap();
    merged.folders.push(at("other"));
    let mixed = build::merge(&merged, &Silent).unwrap_err().to_string();
    assert!(mixed.contains("other: is of another build") && mixed.contains("its profile differs"), "{mixed}");
    other.work = folders[0].clone();
    let refused = build::rate_shard(&other, Shard { nth: 1, count }, &Silent).unwrap_err().to_string();
    assert!(refused.contains("plan of another build: its profile differs"), "{refused}");
    assert!(!merged.output.exists());
}

/// The file of names and water in a work folder.
fn backdrop(work: &Path) -> PathBuf {
    let found: Vec<String> = names(work).into_iter().filter(|name| name.starts_with("backdrop-")).collect();
    assert_eq!(found.len(), 1, "{found:?}");
    work.join(&found[0])
}

/// What one shard of a plan needs, in a folder of its own: the plan, the mark and the bundles of its districts.
fn sent(work: &Path, to: &Path, (nth, count): (usize, usize)) {
    std::fs::create_dir_all(to.join("bundles")).unwrap();
    for name in ["plan.json", "waymask-work"] {
        std::fs::copy(work.join(name), to.join(name)).unwrap();
    }
    for planned in &build::found_plan(work).unwrap().plan.shards(count)[nth - 1] {
        let name = format!("bundles/{}.bundle", planned.district);
        std::fs::copy(work.join(&name), to.join(&name)).unwrap();
    }
}

#[test]
fn shards_of_a_plan_need_no_extract_and_give_the_same_file() {
    let home = tempfile::tempdir().unwrap();
    let at = |name: &str| home.path().join(name);
    let whole = built(&island(&at("whole.gpkg")));
    let (extract, elevation) = (at("varrow.osm.pbf"), at("varrow-elevation.tif"));
    std::fs::copy(sample("varrow.osm.pbf"), &extract).unwrap();
    std::fs::copy(sample("varrow-elevation.tif"), &elevation).unwrap();
    let own = island(&at("x.gpkg"));
    let own = BuildOptions { extract: extract.clone(), elevation: vec![elevation.clone()], ..own };
    build::plan_shards(&ShardOptions { build: own.clone(), work: at("work") }, &Silent).unwrap();
    assert_eq!(build::found_plan(&at("work")).unwrap().missing.len(), 4);
    std::fs::remove_file(&extract).unwrap();

    let rate =
        |folder: &str, nth| build::rate_planned_shard(&at(folder), (None, false), Shard { nth, count: 2 }, &Silent);
    for nth in 1..=2 {
        let folder = format!("machine{nth}");
        sent(&at("work"), &at(&folder), (nth, 2));
        let done = rate(&folder, nth).unwrap();
        let missing = build::found_plan(&at(&folder)).unwrap().missing.len();
        assert_eq!((done.districts + missing, done.of), (4, 4), "those of the other machine are missing");
    }
    let merged = MergeOptions {
        folders: vec![at("machine2"), at("machine1")],
        output: at("merged.gpkg"),
        overwrite: false,
        region: Region::Whole,
        how: JoinedLayer::Whole,
    };
    // Names and water lie where the build was planned.
    let missing = build::merge(&merged, &Silent).unwrap_err().to_string();
    assert!(missing.contains("names of places and water are missing: backdrop-"), "{missing}");
    let kept = at("machine1").join(backdrop(&at("work")).file_name().unwrap());
    let bytes = std::fs::read(backdrop(&at("work"))).unwrap();
    std::fs::write(&kept, [&bytes[..bytes.len() - 1], b"!"].concat()).unwrap();
    let damaged = build::merge(&merged, &Silent).unwrap_err().to_string();
    assert!(damaged.contains("backdrop-") && damaged.contains("is damaged"), "{damaged}");
    assert!(!merged.output.exists());
    std::fs::write(&kept, bytes).unwrap();
    build::merge(&merged, &Silent).unwrap();
    assert!(whole == std::fs::read(&merged.output).unwrap(), "shards of a plan");

    // Bundles of others, and none.
    let told = |nth| rate("work", nth).unwrap_err().to_string();
    let bundles: Vec<PathBuf> = names(&at("work/bundles")).iter().map(|name| at("work/bundles").join(name)).collect();
    assert_eq!(bundles.len(), 4);
    let last = std::fs::read(&bundles[3]).unwrap();
    bundles.iter().for_each(|path| std::fs::write(path, &last).unwrap());
    let errors = [told(1), told(2)];
    assert!(errors.iter().any(|e| e.contains(".bundle: is not the bundle that was planned")), "{errors:?}");
    bundles.iter().for_each(|path| std::fs::remove_file(path).unwrap());
    assert!(told(1).contains(".bundle: cannot be read") && told(2).contains(".bundle: cannot be read"));

    // A raster that changed: by its length, or one height of it.
    sent(&at("machine1"), &at("late"), (1, 2));
    let heights = std::fs::read(&elevation).unwrap();
    std::fs::write(&elevation, [&heights[..], b"!"].concat()).unwrap();
    let longer = rate("late", 1).unwrap_err().to_string();
    assert!(longer.contains("varrow-elevation.tif: has another size than when the build was planned"), "{longer}");
    let mut other = heights;
    *other.last_mut().unwrap() ^= 1;
    std::fs::write(&elevation, other).unwrap();
    let changed = rate("late", 1).unwrap_err().to_string();
    assert!(changed.contains("varrow-elevation.tif: is not what it was when the build was planned"), "{changed}");
    std::fs::copy(sample("varrow-elevation.tif"), &elevation).unwrap();
    // Another build in the folder of a plan takes its place, bundles and all.
    std::fs::copy(sample("varrow.osm.pbf"), &extract).unwrap();
    built(&BuildOptions { work: Some(at("work")), ..own });
    assert!(!at("work/bundles").exists());
}

#[test]
fn a_slim_layer_of_one_part_holds_the_rows_of_the_whole() {
    let home = tempfile::tempdir().unwrap();
    let work = home.path().join("work");
    let whole = home.path().join("whole.gpkg");
    built(&BuildOptions { work: Some(work.clone()), ..island(&whole) });
    let slim = MergeOptions {
        folders: vec![work],
        output: home.path().join("slim.gpkg"),
        overwrite: false,
        region: Region::bounds(-28.1, 46.9, -28.05, 46.95).unwrap(),
        how: JoinedLayer::WithoutMasks,
    };
    build::merge(&slim, &Silent).unwrap();
    same_rows(&whole, &slim.output);
    let layer = Layer::open(&slim.output).unwrap();
    assert!(!layer.has_masks().unwrap());
}

/// Every segment of a part is in the whole with the same figures.
fn same_rows(whole: &Path, part: &Path) {
    let rows = |path: &Path| -> BTreeMap<(i64, u32), String> {
        let layer = Layer::open(path).unwrap();
        let row = |mut r: waymask::layer::model::SegmentRow| {
            let key = (r.way_id, r.part);
            r.segment_id = 0;
            [&mut r.driven.forward, &mut r.driven.backward].into_iter().flatten().for_each(|d| d.edge = 0);
            (key, format!("{r:?}"))
        };
        layer.segments().unwrap().into_iter().map(row).collect()
    };
    whole_edges(part);
    let (whole, part) = (rows(whole), rows(part));
    assert!(part.len() > 20 && part.len() < whole.len(), "{} of {}", part.len(), whole.len());
    for (key, row) in &part {
        assert_eq!(whole.get(key), Some(row), "{key:?}");
    }
}

/// The edges of a part are those of its segments: none is longer than what is there, and none leads through what is not.
fn whole_edges(path: &Path) {
    let layer = Layer::open(path).unwrap();
    let mut sums: BTreeMap<i64, (f64, f64)> = BTreeMap::new();
    for row in layer.segments().unwrap() {
        for driven in [&row.driven.forward, &row.driven.backward].into_iter().flatten() {
            let sum = sums.entry(driven.edge).or_default();
            *sum = (sum.0 + row.length_m, sum.1 + driven.time_s);
        }
    }
    let nodes: std::collections::BTreeSet<i64> = layer.nodes().unwrap().iter().map(|n| n.node_id).collect();
    let mut met = std::collections::BTreeMap::new();
    let mut cut = 0;
    for edge in layer.edges() {
        let edge = edge.unwrap();
        let (length_m, time_s) = sums[&edge.edge_id];
        assert!(
            (edge.length_m - length_m).abs() < 0.1 && (edge.time_s - time_s).abs() < 0.1,
            "{edge:?} {length_m} {time_s}"
        );
        for node in [edge.from_node, edge.to_node] {
            assert!(nodes.contains(&node), "{edge:?}");
            *met.entry(node).or_insert(0) += 1;
            cut += usize::from(node < -1_000_000_000_000);
        }
    }
    assert!(cut > 0 && met.iter().all(|(node, count)| *node > -1_000_000_000_000 || *count == 1), "{cut}");
}

#[test]
fn a_part_of_an_extract_has_the_rows_of_the_whole() {
    let home = tempfile::tempdir().unwrap();
    let (whole, part) = (home.path().join("whole.gpkg"), home.path().join("part.gpkg"));
    built(&island(&whole));
    let line = vec![Position::from_deg(-28.09, 46.99), Position::from_deg(-28.07, 46.98)];
    let region = Region::along(vec![line], 100.0);
    built(&BuildOptions { region, ..island(&part) });
    same_rows(&whole, &part);
    let nowhere = BuildOptions { region: Region::bounds(1.0, 42.0, 1.1, 42.1).unwrap(), ..island(&part) };
    let error = build::build(&nowhere, &Silent).unwrap_err().to_string();
    assert!(error.contains("has no road in the districts that the region given touches"), "{error}");
}

/// Counts kilometres that were rated.
#[derive(Default)]
struct Told(Mutex<Vec<String>>);

impl Progress for Told {
    fn begin(&self, _: &str, _: &'static str, _: Option<u64>) {}
    fn advance(&self, _: u64) {}
    fn end(&self) {}
    fn warn(&self, message: &str) {
        self.0.lock().unwrap().push(message.to_owned());
    }
}

/// Roads with woods in three districts, side by side, 25 km in all, on plane ground.
fn three_districts() -> Sketch {
    let mut s = Sketch::around(47.125, -28.125);
    let nodes: Vec<i64> = (0..=50).map(|k| s.node(-25_000.0 + 1_000.0 * f64::from(k), 0.0, &[])).collect();
    for pair in nodes.chunks_exact(2) {
        s.way(pair, &[("highway", "secondary")]);
    }
    for pair in nodes[1..].chunks_exact(2) {
        s.way(pair, &[("highway", "tertiary"), ("name", "Long Lane")]);
    }
    for x_m in [-20_000.0, 0.0, 20_000.0] {
        s.area([x_m, 20.0, x_m + 400.0, 200.0], &[("natural", "wood")]);
    }
    s
}

#[test]
fn an_update_rates_the_districts_that_changed_and_no_other() {
    let home = tempfile::tempdir().unwrap();
    let work = home.path().join("work");
    let map = home.path().join("map.osm.pbf");
    let parts = || -> Vec<String> { names(&work).into_iter().filter(|n| n.ends_with(".gpkg")).collect() };
    let raster = home.path().join("ground.tif");
    let sketch = three_districts();
    write_raster(&raster, &sketch.plane, 36_000.0, 90.0, |p| (0.01 * p.x_m) as f32);
    let options = |name: &str, work: Option<PathBuf>| BuildOptions {
        elevation: vec![raster.clone()],
        work,
        ..BuildOptions { extract: map.clone(), ..island(&home.path().join(name)) }
    };
    let write = |objects: &[Obj]| std::fs::write(&map, Map::of(objects).bytes()).unwrap();
    write(&sketch.objects);
    built(&options("a.gpkg", Some(work.clone())));
    let before = parts();
    assert_eq!(before.len(), 3, "{before:?}");

    // What does not matter to any road: a name, and the order of the file.
    let mut turned: Vec<Obj> = sketch.objects.clone();
    turned.reverse();
    let (nodes, ways): (Vec<Obj>, Vec<Obj>) = turned.into_iter().partition(|o| matches!(o, Obj::Node { .. }));
    write(&[nodes, ways].concat());
    built(&options("a.gpkg", Some(work.clone())));
    assert_eq!(parts(), before);

    // A wood more in the west: one district; one close to a line: both sides.
    let begins = |names: &[String]| names.iter().map(|n| n.split('-').next().unwrap().to_owned()).collect::<Vec<_>>();
    for (x_m, changed) in [(-24_000.0, 1), (-9_700.0, 2)] {
        let mut more = three_districts();
        more.area([x_m, -200.0, x_m + 100.0, -20.0], &[("natural", "wood")]);
        write(&more.objects);
        let updated = built(&options("b.gpkg", Some(work.clone())));
        let now = parts();
        let other = now.iter().filter(|name| !before.contains(name)).count();
        assert_eq!((begins(&now), other), (begins(&before), changed), "wood at {x_m}");
        assert!(updated == built(&options("c.gpkg", None)), "an update and a new build differ");
    }

    // A part that is damaged is told, and made again.
    let part = work.join(&parts()[1]);
    let mut bytes = std::fs::read(&part).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(&part, bytes).unwrap();
    let told = Told::default();
    let layer = options("d.gpkg", Some(work.clone()));
    build::build(&layer, &told).unwrap();
    let told = told.0.into_inner().unwrap();
    assert!(told.iter().any(|w| w.ends_with("is damaged, and is made again")), "{told:?}");
    assert!(std::fs::read(&layer.output).unwrap() == std::fs::read(home.path().join("c.gpkg")).unwrap());
}

/// A program killed at any moment leaves nothing that the next one would not find or make.
fn killed_and_resumed(moments: u32) {
    let home = tempfile::tempdir().unwrap();
    let output = home.path().join("layer.gpkg");
    let command = || {
        let mut command = Command::new(env!("CARGO_BIN_EXE_waymask"));
        command.args(["build", sample("varrow.osm.pbf").to_str().unwrap(), "--quiet", "--threads", "2", "-e"]);
        command.arg(sample("varrow-elevation.tif")).arg("-o");
        command
    };
    let plain = home.path().join("plain.gpkg");
    let began = std::time::Instant::now();
    assert!(command().arg(&plain).status().unwrap().success());
    let whole_s = began.elapsed().as_secs_f64();
    let mut seed = 12_u64;
    let mut kept = 0;
    for _ in 0..moments {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let moment_s = whole_s * 1.1 * ((seed >> 33) % 1_000) as f64 / 1_000.0;
        let mut child = command().arg(&output).spawn().unwrap();
        std::thread::sleep(Duration::from_secs_f64(moment_s));
        let _ = child.kill();
        let done = child.wait().unwrap().success();
        assert_eq!(done, output.exists());
        if done {
            assert!(std::fs::read(&output).unwrap() == std::fs::read(&plain).unwrap());
            std::fs::remove_file(&output).unwrap();
        }
        let work = home.path().join("layer.gpkg.work");
        kept += usize::from(work.exists() && names(&work).iter().any(|n| n.ends_with(".gpkg") && !n.contains(".new.")));
    }
    assert!(command().arg(&output).status().unwrap().success());
    assert!(std::fs::read(&output).unwrap() == std::fs::read(&plain).unwrap(), "resumed");
    assert_eq!(names(home.path()), ["layer.gpkg", "plain.gpkg"]);
    assert!(kept > 0, "no kill left a finished part: the moments are too early");
}

#[test]
fn heavy_a_build_killed_at_twenty_moments_and_resumed_gives_the_same_file() {
    killed_and_resumed(20);
}
