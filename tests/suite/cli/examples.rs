//! The examples of the help do what they say, one after the other, in a folder like that of the sources.
use std::path::Path;
use std::process::Command;

use crate::cli::said;
use crate::need;

/// Every command, by the words that lead to it.
fn commands() -> Vec<String> {
    let pages = run(Path::new("."), "waymask man --list");
    pages.lines().filter_map(|page| page.strip_prefix("waymask-")).map(|page| page.replace('-', " ")).collect()
}

/// HowTold under `Examples` by the help of a command, each on one line again.
fn examples(command: &str) -> Vec<String> {
    let help = run(Path::new("."), &format!("waymask {command} --help"));
    let (_, examples) = help.split_once("\nExamples.").unwrap_or_else(|| panic!("{command}: {help}"));
    let whole = examples.replace(" \\\n", "");
    let lines = whole.lines().filter_map(|line| line.strip_prefix("    waymask "));
    lines.map(|line| format!("waymask {}", line.split_whitespace().collect::<Vec<_>>().join(" "))).collect()
}

/// What the shell prints for a line; the program is the one under test.
fn run(folder: &Path, line: &str) -> String {
    let program = Path::new(env!("CARGO_BIN_EXE_waymask"));
    let path = format!("{}:{}", program.parent().unwrap().display(), std::env::var("PATH").unwrap());
    // As wide as no line is, so that clap cuts none.
    let done = Command::new("sh")
        .args(["-c", line])
        .current_dir(folder)
        .env("PATH", path)
        .env("COLUMNS", "300")
        .output()
        .unwrap();
    assert!(done.status.success(), "{line}\n{}", said(&done));
    String::from_utf8_lossy(&done.stdout).into_owned()
}

#[test]
fn every_example_of_the_help_works() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::create_dir(at("out")).unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples");
    std::os::unix::fs::symlink(samples, at("data-samples")).unwrap();
    // The default number of drives shows no more here.
    for preset in ["roof", "windscreen"] {
        let text = format!("base = \"{preset}\"\n[link]\ndrives = 4\n");
        std::fs::write(at(&format!("few-{preset}.toml")), text).unwrap();
    }
    let mut commands = commands();
    // A shard goes by a plan; the others ask the layer that `build` makes.
    commands.sort_by_key(|command| (command != "shards", command != "build"));
    let mut done = 0;
    for command in &commands {
        for example in examples(command) {
            // What another program, or a folder of somebody's home, gets from it is theirs.
            let own = example.split(['|', '>']).next().unwrap().trim();
            let few = match own.split_once(" --profile windscreen") {
                Some((before, after)) => format!("{before} --profile few-windscreen.toml{after}"),
                None if own.contains(".osm.pbf") => format!("{own} --profile few-roof.toml"),
                None => own.to_owned(),
            };
            let printed = run(folder.path(), &few);
            assert!(!printed.is_empty(), "{example} says nothing");
            let words: Vec<&str> = example.split(' ').collect();
            if let Some(output) = words.windows(2).find(|pair| pair[0] == "-o").map(|pair| pair[1]) {
                assert!(std::fs::metadata(at(output)).unwrap().len() > 100, "{example}");
                assert!(printed.contains(output), "{example} does not say what it wrote: {printed}");
            }
            done += 1;
        }
    }
    let more = "a shard and a mount are the last of `build`, ways are that of `edges`, names are that of `route`";
    assert_eq!(done, 2 * commands.len() + 4, "{more}");
    assert!(done >= 34, "{done} examples");
}

#[test]
fn a_file_and_json_do_not_exclude_each_other() {
    let (folder, layer) = crate::layer::rows::folder();
    crate::layer::rows::write(&layer, false, 2).unwrap();
    let both = run(folder.path(), "waymask stops layer.gpkg -o stops.csv --json");
    let json: serde_json::Value = serde_json::from_str(&both).unwrap();
    assert!(json.is_object(), "{both}");
    assert!(std::fs::read_to_string(folder.path().join("stops.csv")).unwrap().lines().count() >= 1);
    assert_eq!(run(folder.path(), "waymask stops layer.gpkg --json"), both);
    let file = run(folder.path(), "waymask stops layer.gpkg -o stops.csv --overwrite");
    assert!(file.starts_with("written\n  stops.csv\n"), "{file}");
}

#[test]
fn pages_of_the_manual_are_shown_without_a_warning() {
    let Some(groff) = need::program("groff", "groff-base") else { return };
    let folder = tempfile::tempdir().unwrap();
    for command in commands().iter().map(String::as_str).chain([""]) {
        let file = folder.path().join("page.1");
        std::fs::write(&file, run(folder.path(), &format!("waymask man {command}"))).unwrap();
        let done =
            Command::new(groff).args(["-man", "-Tutf8", "-ww", "-P-cbou", "-rLL=300n"]).arg(file).output().unwrap();
        assert!(done.status.success() && done.stderr.is_empty(), "{command}: {}", said(&done));
        let shown = String::from_utf8_lossy(&done.stdout).replace(['\u{2010}', '\u{2212}'], "-");
        let name = format!("waymask {command}").trim_end().replace(' ', "-");
        let lines: Vec<String> =
            shown.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" ")).collect();
        assert!(lines.iter().any(|line| line.starts_with(&format!("{name} - "))), "{shown}");
        if command.is_empty() {
            assert!(lines.iter().any(|line| line.starts_with("The passenger operates this tool")), "{shown}");
            continue;
        }
        let examples = lines.iter().filter(|line| line.starts_with(&format!("waymask {command}"))).count();
        // The synopsis begins so, too.
        assert!((1 + 2..=1 + 4).contains(&examples), "{shown}");
    }
}
