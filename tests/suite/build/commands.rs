//! The program as a user runs it: outputs, errors and exit codes.
use std::path::Path;
use std::process::{Command, Output};
use std::time::{Duration, Instant};

use waymask::base::geodesy::LocalPlane;
use waymask::base::words::TerrainEvidence;

use crate::build::kit::{Sketch, sample, write_raster};

fn waymask(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_waymask")).args(args).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Runs a build that must fail; returns its exit code and what it said.
fn refused(args: &[&str], output: &Path) -> (i32, String) {
    let before = std::fs::read(output).ok();
    let out = waymask(&[&["build"], args, &["-o", output.to_str().unwrap()]].concat());
    assert!(!out.status.success(), "{}", text(&out.stdout));
    assert_eq!(std::fs::read(output).ok(), before, "a refused build touched its output");
    let folder = output.parent().unwrap();
    let left: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|n| n.starts_with('.'))
        .collect();
    assert!(left.is_empty(), "left behind: {left:?}");
    (out.status.code().unwrap(), text(&out.stderr))
}

fn lane() -> Sketch {
    let mut s = Sketch::at(47.0);
    s.line(&[(0.0, 0.0), (700.0, 100.0)], &[("highway", "tertiary"), ("name", "Pier Street")]);
    s
}

#[test]
fn build_and_info_tell_the_same_and_quiet_says_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let (map, layer) = (lane().write(folder.path()), folder.path().join("out.gpkg"));
    let (map, layer) = (map.to_str().unwrap(), layer.to_str().unwrap());
    let built = waymask(&["build", map, "-o", layer]);
    assert!(built.status.success(), "{}", text(&built.stderr));
    let (built, info) = (text(&built.stdout), text(&waymask(&["info", layer]).stdout));
    for part in
        ["roads by rating", "assumed", "OpenStreetMap contributors", "The passenger reads this, never the driver"]
    {
        assert!(built.contains(part), "build does not say `{part}`:\n{built}");
        assert!(info.contains(part), "info does not say `{part}`:\n{info}");
    }
    assert!(built.contains("memory") && built.contains("written"));
    let json: serde_json::Value = serde_json::from_slice(&waymask(&["info", layer, "--json"]).stdout).unwrap();
    assert_eq!(json["counts"]["roads"], 1);
    let quiet = waymask(&["build", map, "-o", layer, "--overwrite", "--quiet"]);
    assert!(quiet.status.success() && quiet.stdout.is_empty() && quiet.stderr.is_empty());
}

#[test]
fn wrong_usage_is_2_and_help_is_0() {
    assert_eq!(waymask(&["build"]).status.code(), Some(2));
    assert_eq!(waymask(&["build", "a.osm.pbf", "-o", "b.gpkg", "--threads", "none"]).status.code(), Some(2));
    let help = waymask(&["--help"]);
    assert!(help.status.success() && text(&help.stdout).contains("never the driver"));
    let profile = text(&waymask(&["settings", "profile"]).stdout);
    assert!(profile.contains("[link]") && profile.contains("assumed"), "{profile}");
    for gone in [&["build", "--print-profile"][..], &["plan", "--print-trip"], &["spend", "--example"], &["profiles"]] {
        assert_eq!(waymask(gone).status.code(), Some(2), "{gone:?}");
    }
}

#[test]
fn a_profile_is_taken_and_a_wrong_one_is_explained() {
    let folder = tempfile::tempdir().unwrap();
    let (map, layer) = (lane().write(folder.path()), folder.path().join("out.gpkg"));
    let path = folder.path().join("van.toml");
    std::fs::write(&path, text(&waymask(&["settings", "profile"]).stdout).replace("drives = 256", "drives = 8"))
        .unwrap();
    let args = [map.to_str().unwrap(), "--profile", path.to_str().unwrap()];
    let out = waymask(&[&["build"], &args[..], &["-o", layer.to_str().unwrap()]].concat());
    assert!(out.status.success(), "{}", text(&out.stderr));
    let json: serde_json::Value =
        serde_json::from_slice(&waymask(&["info", layer.to_str().unwrap(), "--json"]).stdout).unwrap();
    assert_eq!(json["profile"]["link"]["drives"], 8);
    std::fs::write(&path, "[link]\nslot_s = 0.0\n").unwrap();
    let (code, said) = refused(&args, &folder.path().join("other.gpkg"));
    assert!(code == 2 && said.contains("line 2") && said.contains("1 to 600"), "{said}");
}

#[test]
fn presets_are_listed_printed_and_built_with() {
    let list = text(&waymask(&["settings"]).stdout);
    assert!(list.contains("waymask settings profile") && list.contains("waymask settings trip"), "{list}");
    for name in ["roof", "tilted", "windscreen", "hood", "camp", "stand"] {
        assert!(list.lines().any(|l| l.trim_start().starts_with(name)), "{list}");
        let printed = waymask(&["settings", "profile", name]);
        assert!(printed.status.success() && text(&printed.stdout).contains("antenna_height_m"), "{name}");
    }
    let printed = text(&waymask(&["settings", "profile", "hood"]).stdout);
    assert!(printed.contains("hood, assumed: windscreen and cabin"), "{printed}");
    let folder = tempfile::tempdir().unwrap();
    let (map, layer) = (lane().write(folder.path()), folder.path().join("out.gpkg"));
    let (code, said) = refused(&[map.to_str().unwrap(), "-p", "sunroof"], &layer);
    assert!(code == 2 && said.contains("windscreen, hood"), "{said}");
    let out = waymask(&["build", map.to_str().unwrap(), "-p", "camp", "-o", layer.to_str().unwrap()]);
    assert!(out.status.success(), "{}", text(&out.stderr));
    let json: serde_json::Value =
        serde_json::from_slice(&waymask(&["info", layer.to_str().unwrap(), "--json"]).stdout).unwrap();
    assert_eq!(json["profile"]["terminal"]["bearings_from"], "north");
}

#[test]
fn sensitivity_tells_what_a_change_moves_and_refuses_what_it_cannot_know() {
    let folder = tempfile::tempdir().unwrap();
    let (map, layer) = (lane().write(folder.path()), folder.path().join("out.gpkg"));
    let [map, layer] = [&map, &layer].map(|p| p.to_str().unwrap());
    assert!(waymask(&["build", map, "-o", layer, "-q"]).status.success());
    let out = waymask(&["sensitivity", layer, "--set", "link.usable_share=0.01", "--set", "link.slot_s=30"]);
    let said = text(&out.stdout);
    assert!(said.contains("link.slot_s 15.0 -> 30.0, link.usable_share 0.5 -> 0.01"), "{said}");
    assert!(said.contains("steady -> dark") && said.contains("never the driver"), "{said}");
    let json = waymask(&["sensitivity", layer, "--set", "link.usable_share=0.01", "--json"]);
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert!(json["changes"][0]["worse_km"].as_f64().unwrap() > 0.6, "{json}");
    let new = folder.path().join("new.gpkg");
    let out = waymask(&["sensitivity", layer, "--set", "link.slot_s=30", "-q", "-o", new.to_str().unwrap()]);
    let said = text(&out.stdout);
    assert!(new.is_file() && said.contains(&format!("\nwritten\n  {}\nThe passenger", new.display())), "{said}");
    let wrong = |args: &[&str]| {
        let out = waymask(&[&["sensitivity", layer], args].concat());
        (out.status.code().unwrap(), text(&out.stderr))
    };
    let (code, said) = wrong(&["--set", "vehicle.antenna_height_m=3"]);
    assert!(code == 2 && said.contains("another height") && said.contains("Build the layer again"), "{said}");
    let (code, said) = wrong(&["--profile", "windscreen"]);
    assert!(code == 2 && said.contains("antenna_height_m") && said.contains("masks end at 35"), "{said}");
    let (code, said) = wrong(&["-o", layer, "--overwrite", "--set", "link.slot_s=30"]);
    assert!(code == 2 && said.contains("is also an input of this command"), "{said}");
    let (code, said) = wrong(&["-o", "x.gpkg"]);
    assert!(code == 2 && said.contains("--set"), "{said}");
    assert_eq!(waymask(&["sensitivity", map]).status.code(), Some(1));
}

#[test]
fn a_profile_without_a_usable_satellite_warns() {
    let folder = tempfile::tempdir().unwrap();
    let (map, layer) = (lane().write(folder.path()), folder.path().join("out.gpkg"));
    let path = folder.path().join("equator.toml");
    let shell = "[[constellation.shells]]\naltitude_km = 550\ninclination_deg = 5\nplanes = 9\nper_plane = 9\n";
    std::fs::write(&path, shell).unwrap();
    let [map, path, layer] = [&map, &path, &layer].map(|p| p.to_str().unwrap());
    let out = waymask(&["build", map, "--profile", path, "-o", layer]);
    assert!(out.status.success() && text(&out.stdout).contains("dark"), "{}", text(&out.stderr));
    assert!(text(&out.stderr).contains("only 0.00 usable satellites"), "{}", text(&out.stderr));
    // It is not what stands beside the road.
    assert!(text(&out.stderr).contains("open road at 47 degrees of latitude is rated dark"), "{}", text(&out.stderr));
    let rows = waymask::layer::Layer::open(Path::new(layer)).unwrap().segments().unwrap();
    assert!(rows.iter().all(|row| row.main_cause == waymask::base::words::Cause::Satellites));
    let default = waymask(&["build", map, "-o", layer, "--overwrite"]);
    assert!(!text(&default.stderr).contains("open road"), "{}", text(&default.stderr));
    let rows = waymask::layer::Layer::open(Path::new(layer)).unwrap().segments().unwrap();
    assert!(rows.iter().all(|row| row.main_cause != waymask::base::words::Cause::Satellites));
}

#[test]
fn missing_and_useless_inputs_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (map, output) = (lane().write(folder.path()), folder.path().join("out.gpkg"));
    let map = map.to_str().unwrap();
    let (code, said) = refused(&[&at("nowhere.osm.pbf")], &output);
    assert!(code == 1 && said.contains("nowhere.osm.pbf: does not exist"), "{said}");
    // Pipes are refused at once instead of waiting for their other end.
    assert!(Command::new("mkfifo").args([at("pipe.osm.pbf"), at("pipe.tif")]).status().unwrap().success());
    for args in [&[&at("pipe.osm.pbf")[..]][..], &[map, "-e", &at("pipe.tif")]] {
        let (code, said) = refused(args, &output);
        assert!(code == 1 && said.contains("is a pipe or device"), "{said}");
    }
    let (code, said) = refused(&[map, "-e", &at("nowhere.tif")], &output);
    assert!(code == 1 && said.contains("nowhere.tif"), "{said}");
    std::fs::create_dir(at("empty")).unwrap();
    let (code, said) = refused(&[map, "-e", &at("empty")], &output);
    assert!(code == 1 && said.contains("empty"), "{said}");
    // A raster of another place.
    write_raster(Path::new(&at("far.tif")), &LocalPlane::at(10.0, 10.0), 500.0, 50.0, |_| 7.0);
    let (code, said) = refused(&[map, "-e", &at("far.tif")], &output);
    assert!(code == 1 && said.contains("covers none of the roads"), "{said}");
    // A map without roads.
    let mut sea = Sketch::at(47.0);
    sea.area([0.0, 0.0, 50.0, 50.0], &[("building", "yes")]);
    std::fs::create_dir(at("sea")).unwrap();
    let sea = sea.write(Path::new(&at("sea")));
    let (code, said) = refused(&[sea.to_str().unwrap()], &output);
    assert!(code == 1 && said.contains("no road"), "{said}");
    // An output folder that is not there.
    let out = waymask(&["build", map, "-o", &at("no/such/out.gpkg")]);
    assert!(out.status.code() == Some(1) && text(&out.stderr).contains("no/such"), "{}", text(&out.stderr));
}

#[test]
fn elevation_of_a_part_warns_and_the_rows_say_so() {
    let sketch = lane();
    let place = sketch.build_with(Default::default(), |o, folder| {
        let raster = folder.join("half.tif");
        // The raster ends 300 m east of the road's start.
        write_raster(&raster, &sketch.plane, 300.0, 30.0, |_| 12.0);
        o.elevation = vec![raster];
    });
    let evidence: Vec<TerrainEvidence> = place.rows.iter().map(|r| r.evidence_terrain).collect();
    // Beyond the border, in sight of every place on the raster, anything may stand.
    assert!(evidence.contains(&TerrainEvidence::Part) && evidence.contains(&TerrainEvidence::None), "{evidence:?}");
    let folder = tempfile::tempdir().unwrap();
    let (map, raster) = (sketch.write(folder.path()), folder.path().join("half.tif"));
    write_raster(&raster, &sketch.plane, 300.0, 30.0, |_| 12.0);
    let out = waymask(&[
        "build",
        map.to_str().unwrap(),
        "-e",
        raster.to_str().unwrap(),
        "-o",
        folder.path().join("out.gpkg").to_str().unwrap(),
    ]);
    assert!(out.status.success() && text(&out.stderr).contains("have no elevation"), "{}", text(&out.stderr));
    assert!(text(&out.stdout).contains("no_elevation"), "{}", text(&out.stdout));
}

#[test]
fn an_existing_output_is_kept_unless_overwriting_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let (map, output) = (lane().write(folder.path()), folder.path().join("out.gpkg"));
    std::fs::write(&output, "mine").unwrap();
    let (code, said) = refused(&[map.to_str().unwrap()], &output);
    assert!(code == 1 && said.contains("--overwrite"), "{said}");
    let out = waymask(&["build", map.to_str().unwrap(), "-o", output.to_str().unwrap(), "--overwrite"]);
    assert!(out.status.success() && std::fs::read(&output).unwrap().starts_with(b"SQLite format 3"));
}

#[test]
fn an_input_is_never_the_output() {
    let folder = tempfile::tempdir().unwrap();
    let map = folder.path().join("map.gpkg");
    std::fs::rename(lane().write(folder.path()), &map).unwrap();
    let (code, said) = refused(&[map.to_str().unwrap(), "--overwrite"], &map);
    assert!(code == 2 && said.contains("is also an input of this command"), "{said}");
}

#[test]
fn no_elevation_asked_for_is_no_defect() {
    let folder = tempfile::tempdir().unwrap();
    let (map, output) = (lane().write(folder.path()), folder.path().join("out.gpkg"));
    let out = waymask(&["build", map.to_str().unwrap(), "--strict", "-o", output.to_str().unwrap()]);
    assert!(out.status.success(), "{}", text(&out.stderr));
    assert!(text(&out.stderr).contains("terrain is unknown") && !text(&out.stdout).contains("no_elevation"));
}

#[test]
fn strict_makes_defects_fatal() {
    let folder = tempfile::tempdir().unwrap();
    let mut sketch = lane();
    sketch.line(&[(0.0, 50.0), (300.0, 60.0)], &[("highway", "service"), ("maxspeed", "fast")]);
    let (map, output) = (sketch.write(folder.path()), folder.path().join("out.gpkg"));
    let (code, said) = refused(&[map.to_str().unwrap(), "--strict"], &output);
    assert!(code == 1 && said.contains("bad_speed"), "{said}");
}

#[test]
fn a_killed_build_leaves_the_old_layer_and_no_half_file() {
    let folder = tempfile::tempdir().unwrap();
    let output = folder.path().join("varrow.gpkg");
    std::fs::write(&output, "the old layer").unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_waymask"))
        .args(["build", sample("varrow.osm.pbf").to_str().unwrap(), "--overwrite", "--quiet", "-o"])
        .arg(&output)
        .args(["-e", sample("varrow-elevation.tif").to_str().unwrap()])
        .spawn()
        .unwrap();
    // Half-way: the new file has been begun in its hidden folder beside the old one.
    let began = Instant::now();
    let hidden = || {
        let entries = std::fs::read_dir(folder.path()).unwrap().map(Result::unwrap);
        entries.map(|e| e.path()).find(|p| p.file_name().unwrap().to_string_lossy().starts_with('.'))
    };
    while !hidden().is_some_and(|home| home.join("content.gpkg").exists()) {
        assert!(began.elapsed() < Duration::from_secs(60) && child.try_wait().unwrap().is_none(), "never saw it begin");
        std::thread::sleep(Duration::from_millis(2));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(std::fs::read(&output).unwrap(), b"the old layer");
    // The next build cleans up what the killed one left.
    let map = lane().write(folder.path());
    let out = waymask(&["build", map.to_str().unwrap(), "-o", output.to_str().unwrap(), "--overwrite"]);
    assert!(out.status.success() && hidden().is_none(), "{}", text(&out.stderr));
}
