//! Holds the code to the module rules of DEVELOPERS.md: which stage may use what.
//!
//! Comments, in-file test modules and files named `test*` are left out. The last test proves that
//! the check can fail.
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Stages in pipeline order: a stage may use those before it, never those after it.
const STAGES: &[&str] = &["extract", "terrain", "network", "scene", "sky", "orbit", "link", "layer"];
/// Modules without a stage, usable by everyone; they use only each other and plain types.
const GROUND: &[&str] = &["defect", "error", "geodesy", "markup", "profile", "progress", "ramp", "units"];
/// Words that mean files, clocks, threads or printing.
const IMPURE: &[&str] =
    &["std::fs", "std::thread", "std::time", "std::net", "rayon", "println!", "eprintln!", "print!("];

/// What each folder must not mention.
fn forbidden(module: &str) -> Vec<&'static str> {
    let physics = [
        "crate::physics::sky",
        "crate::physics::orbit",
        "crate::physics::link",
        "crate::physics::scene",
        "crate::map::network",
    ];
    let mut words: Vec<&str> = match module {
        "extract" => vec!["gdal", "rstar", "rusqlite"],
        "terrain" => vec!["osmpbfreader", "rusqlite"],
        "network" | "scene" | "sky" | "orbit" | "link" => {
            [&["gdal", "osmpbfreader", "rusqlite", "indicatif", "clap"], IMPURE].concat()
        }
        // The layer stores kinds and packed masks but computes nothing.
        "layer" => {
            // Kinds of overheads are words of the layer; everything else of the scene is not.
            let scene = [
                "crate::physics::scene::overheads",
                "crate::physics::scene::canopy",
                "crate::physics::scene::solids",
                "crate::physics::scene::decks",
            ];
            [
                &[
                    "osmpbfreader",
                    "rstar",
                    "rayon",
                    "crate::physics::orbit",
                    "crate::physics::link",
                    "crate::map::network",
                ],
                &scene[..],
            ]
            .concat()
        }
        "trip" => {
            let words = [
                "gdal",
                "osmpbfreader",
                "rusqlite",
                "clap",
                "indicatif",
                "crate::report",
                "crate::build",
                "crate::cli",
            ];
            [&words[..], IMPURE].concat()
        }
        "report" => {
            let words =
                ["gdal", "osmpbfreader", "rusqlite", "rstar", "clap", "indicatif", "crate::layer", "crate::cli"];
            [&words[..], IMPURE].concat()
        }
        "cli" => [&physics[..2], &["gdal", "osmpbfreader", "rstar", "rusqlite"]].concat(),
        "pipeline" => vec!["clap", "indicatif", "osmpbfreader", "rstar", "gdal::", "rusqlite", "println!", "eprintln!"],
        _ => vec!["gdal", "osmpbfreader", "rstar", "rayon", "rusqlite", "clap", "indicatif", "println!", "eprintln!"],
    };
    if let Some(at) = STAGES.iter().position(|s| *s == module) {
        const LATER: &[&str] = &[
            "crate::map::extract::",
            "crate::relief::",
            "crate::map::network::",
            "crate::physics::scene::",
            "crate::physics::sky::",
            "crate::physics::orbit::",
            "crate::physics::link::",
            "crate::layer::",
        ];
        words.extend(&LATER[at + 1..]);
        words.extend(["crate::build", "crate::cli"]);
    }
    words
}

/// Source without comments and without its in-file test module.
fn code_of(text: &str) -> String {
    let code = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default();
    code.lines().map(|l| l.split("//").next().unwrap_or_default()).collect::<Vec<_>>().join("\n")
}

/// Breaches of one file: the word and its line.
fn breaches(module: &str, text: &str) -> Vec<String> {
    let code = code_of(text);
    let mut out = Vec::new();
    for (n, line) in code.lines().enumerate() {
        for word in forbidden(module) {
            let whole = line.match_indices(word).any(|(i, _)| {
                let before = line[..i].chars().next_back();
                let after = line[i + word.len()..].chars().next();
                let part = |c: char| c.is_alphanumeric() || c == '_';
                !(before.is_some_and(part) || after.is_some_and(part) && word.ends_with(part))
            });
            if whole {
                out.push(format!("line {}: `{word}` in `{}`", n + 1, line.trim()));
            }
        }
    }
    out
}

fn sources(folder: &Path, out: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            sources(&path, out);
        } else if name.ends_with(".rs") && !name.starts_with("test") {
            out.push(path);
        }
    }
}

#[test]
fn stages_use_only_what_stands_before_them() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut wrong = Vec::new();
    for path in files {
        let inside = path.strip_prefix(&src).unwrap();
        let module = inside.components().next().unwrap().as_os_str().to_string_lossy().replace(".rs", "");
        *seen.entry(module.clone()).or_default() += 1;
        if module == "lib" || module == "main" {
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        wrong.extend(breaches(&module, &text).into_iter().map(|b| format!("{}: {b}", inside.display())));
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
    for module in STAGES.iter().chain(GROUND).chain(&["trip", "report"]) {
        assert!(seen.contains_key(*module), "no source found for `{module}`");
    }
}

#[test]
fn files_stay_readable() {
    let mut files = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut files);
    let long: Vec<String> = files
        .iter()
        .map(|f| (f, std::fs::read_to_string(f).unwrap().lines().count()))
        .filter(|(_, n)| *n > 600)
        .map(|(f, n)| format!("{}: {n} lines", f.display()))
        .collect();
    assert!(long.is_empty(), "{long:?}");
}

#[test]
fn the_check_itself_can_fail() {
    assert_eq!(breaches("sky", "use gdal::Dataset;").len(), 1);
    assert_eq!(breaches("extract", "fn f() { crate::map::network::build(); }").len(), 1);
    assert_eq!(breaches("link", "let t = std::time::Instant::now();").len(), 1);
    assert!(breaches("sky", "// gdal would be wrong here\nfn f() {}").is_empty());
    assert!(breaches("layer", "let r = GdalRaster;").is_empty());
}
