//! No command writes over what it reads.
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;

use waymask::base::geodesy::LocalPlane;

use crate::build::kit::write_raster;
use crate::cli::{map, said, text, waymask};

/// Every command with an output: words before it, inputs in capitals.
const COMMANDS: [&str; 9] = [
    "build EXTRACT --elevation ELEVATION --surface SURFACE --canopy CANOPY --profile PROFILE --orbits ORBITS",
    "sensitivity LAYER --profile PROFILE",
    "corridor LAYER TRACK",
    "route LAYER PLACES",
    "stops LAYER --along TRACK",
    "plan LAYER TRACK --trip TRIP --meetings FIRST --meetings SECOND",
    "sky LAYER --at 1,2 --orbits ORBITS",
    "edges LAYER",
    "diff OLD NEW",
];

fn is_input(word: &str) -> bool {
    word.chars().all(|c| c.is_ascii_uppercase())
}

/// The command with its inputs in a folder; the output is asked for under a name.
fn refused(command: &str, folder: &Path, output: &Path) {
    let paths: Vec<String> =
        command.split(' ').map(|w| if is_input(w) { text(&folder.join(w)).to_owned() } else { w.to_owned() }).collect();
    let words: Vec<&str> = paths.iter().map(String::as_str).collect();
    let out = waymask(&[&words[..], &["--overwrite", "-o", text(output)]].concat());
    let said = said(&out);
    assert!(said.contains("is also an input of this command"), "{command} -o {}: {said}", output.display());
    assert_eq!(out.status.code(), Some(2), "{command}: {said}");
}

#[test]
fn no_input_of_any_command_is_its_output_under_any_name() {
    let mut tried = 0;
    for command in COMMANDS {
        let folder = tempfile::tempdir().unwrap();
        let inputs: Vec<&str> = command.split(' ').filter(|w| is_input(w)).collect();
        for input in &inputs {
            fs::write(folder.path().join(input), format!("what {input} holds")).unwrap();
        }
        for input in &inputs {
            let path = folder.path().join(input);
            let [soft, hard] = ["soft", "hard"].map(|kind| folder.path().join(format!("{kind}-{input}.gpkg")));
            symlink(input, &soft).unwrap();
            fs::hard_link(&path, &hard).unwrap();
            for name in [&path, &folder.path().join(".").join(input), &soft, &hard] {
                refused(command, folder.path(), name);
                tried += 1;
            }
            assert_eq!(fs::read_to_string(&path).unwrap(), format!("what {input} holds"));
        }
    }
    assert_eq!(tried, 4 * 24);
}

#[test]
fn a_raster_of_a_folder_is_an_input_too() {
    let folder = tempfile::tempdir().unwrap();
    let rasters = folder.path().join("rasters");
    fs::create_dir(&rasters).unwrap();
    let raster = rasters.join("dem.tif");
    write_raster(&raster, &LocalPlane::at(-28.0, 47.0), 1_000.0, 50.0, |_| 7.0);
    let before = fs::read(&raster).unwrap();
    let output = folder.path().join("out.gpkg");
    fs::hard_link(&raster, &output).unwrap();
    let map = map(folder.path());
    let out = waymask(&["build", text(&map), "-e", text(&rasters), "-o", text(&output), "--overwrite"]);
    assert_eq!(out.status.code(), Some(2), "{}", said(&out));
    assert!(said(&out).contains("is also an input of this command"), "{}", said(&out));
    assert!(fs::read(&raster).unwrap() == before && fs::read(&output).unwrap() == before);
}

#[test]
fn a_title_is_no_file() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("trip.html");
    fs::write(&page, "an old brief").unwrap();
    let words = ["plan", "nowhere.gpkg", "47,-28 47.1,-28", "--overwrite", "--title", text(&page), "-o", text(&page)];
    let said = said(&waymask(&words));
    assert!(said.contains("nowhere.gpkg: does not exist"), "{said}");
}
