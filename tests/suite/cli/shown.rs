//! Feet, miles and the twelve-hour clock: every figure of an answer says what the metric answer says, and programs get the same.
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use crate::build::kit::{sample, varrow};
use crate::cli::said;

/// A figure with a unit of length, metres, and by how much its rounding may move it.
type Length = (f64, f64);

fn unit_m(unit: &str) -> Option<f64> {
    // International yard and pound agreement of 1959: a yard has 0.9144 m exactly; 3 feet, 36 inches, 1/1760 mile.
    Some(match unit {
        "km" => 1_000.0,
        "m" => 1.0,
        "mi" | "mile" => 0.9144 * 1_760.0,
        "ft" => 0.9144 / 3.0,
        "in" => 0.9144 / 36.0,
        _ => return None,
    })
}

/// Every length in a text: `0.4 km`, `35 m`, `km 1.0 to 2.0`, `13 ft 9 in`.
fn lengths(text: &str) -> Vec<Length> {
    let text = text.replace('\u{a0}', " ");
    let words: Vec<&str> =
        text.split_whitespace().map(|w| w.trim_matches(['(', ')', ',', ';', ':', '.', '\u{201d}'])).collect();
    let figure = |word: &str| {
        let step = 0.1f64.powi(word.split_once('.').map_or(0, |(_, decimals)| decimals.len() as i32));
        word.parse::<f64>().ok().map(|value| (value, step))
    };
    let mut out: Vec<Length> = Vec::new();
    let mut nth = 0;
    while nth < words.len() {
        let rest = &words[nth..];
        let at = |k: usize| rest.get(k).copied().unwrap_or_default();
        // A place on a road, and perhaps where it ends.
        if let (Some(unit_m), Some((value, step))) = (unit_m(at(0)).filter(|m| *m > 1_000.0 - 1.0), figure(at(1))) {
            out.push((value * unit_m, step * unit_m));
            nth += 2;
            if let ("to", Some((value, step))) = (at(2), figure(at(3))) {
                out.push((value * unit_m, step * unit_m));
                nth += 2;
            }
            continue;
        }
        match (figure(at(0)), unit_m(at(1))) {
            (Some((value, step)), Some(unit)) if at(1) == "ft" && at(3) == "in" => {
                let (inches, _) = figure(at(2)).unwrap();
                out.push((value * unit + inches * 0.0254, 0.0254));
                assert!(step == 1.0, "whole feet: {value}");
                nth += 4;
            }
            (Some((value, step)), Some(unit)) => {
                out.push((value * unit, step * unit));
                nth += 2;
            }
            _ => nth += 1,
        }
    }
    out
}

/// Every time of day in a text, minutes since midnight.
fn clocks(text: &str) -> Vec<i32> {
    let words: Vec<&str> =
        text.split(|c: char| c.is_whitespace() || "–()<>;,".contains(c)).filter(|w| !w.is_empty()).collect();
    let mut out = Vec::new();
    for (nth, word) in words.iter().enumerate() {
        let Some((hour, minute)) = word.trim_end_matches('.').split_once(':') else { continue };
        let (Ok(hour), Ok(minute)) = (hour.parse::<i32>(), minute.parse::<i32>()) else { continue };
        let half = words.get(nth + 1).map(|w| w.trim_end_matches('.')).unwrap_or_default();
        out.push(match half {
            "am" => 60 * (hour % 12) + minute,
            "pm" => 60 * (hour % 12 + 12) + minute,
            _ => 60 * hour + minute,
        });
    }
    out
}

struct Asked<'a> {
    folder: &'a Path,
}

impl Asked<'_> {
    fn run(&self, words: &[&str], settings: &str) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_waymask"));
        command
            .current_dir(self.folder)
            .args(words)
            .env("XDG_CONFIG_HOME", self.folder.join(settings))
            .output()
            .unwrap()
    }
    fn told(&self, words: &[&str]) -> String {
        self.told_by(words, "none")
    }
    fn told_by(&self, words: &[&str], settings: &str) -> String {
        let out = self.run(words, settings);
        assert!(out.status.success(), "{words:?}: {}", said(&out));
        String::from_utf8(out.stdout).unwrap()
    }
}

/// The same lengths, as far as rounding lets one tell.
fn agree(what: &str, metric: &str, imperial: &str) -> usize {
    let (a, b) = (lengths(metric), lengths(imperial));
    assert_eq!(a.len(), b.len(), "{what}:\n{metric}\n{imperial}");
    for ((a_m, a_step), (b_m, b_step)) in a.iter().zip(&b) {
        // Clearances are rounded down, vehicles up: a whole step each.
        assert!((a_m - b_m).abs() <= a_step + b_step, "{what}: {a_m} m and {b_m} m\n{metric}\n{imperial}");
    }
    let words: Vec<&str> = imperial.split_whitespace().collect();
    let is_metric = |pair: &&[&str]| {
        ["km", "m", "km/h"].contains(&pair[1].trim_matches([',', ';', '.', ')'])) && pair[0].parse::<f64>().is_ok()
    };
    let left = words.windows(2).find(is_metric);
    assert!(left.is_none(), "{what}: {left:?}\n{imperial}");
    a.len()
}

/// Text of a page without its marks.
fn plain(page: &str) -> String {
    let body = &page[page.find("<body").unwrap()..];
    // The program of a page comes last.
    let body = body.split("<script").next().unwrap();
    let mut out = String::new();
    for part in body.split('<').skip(1) {
        let (tag, text) = part.split_once('>').unwrap_or((part, ""));
        if !tag.starts_with("style") {
            out += " ";
            out += text;
        }
    }
    out.replace("&nbsp;", " ")
}

#[test]
fn every_figure_says_what_the_metric_answer_says() {
    let folder = tempfile::tempdir().unwrap();
    varrow(folder.path(), 8);
    let asked = Asked { folder: folder.path() };
    let [track, trip, meetings] = ["varrow-circuit.gpx", "varrow-trip.toml", "varrow-meetings.ics"]
        .map(|name| sample(name).display().to_string());
    let plan = [
        "plan",
        "varrow.gpkg",
        &track,
        "--depart",
        "2026-06-15T08:50",
        "--zone=-01:00",
        "--meetings",
        &meetings,
        "--trip",
        &trip,
        "-q",
    ];
    let questions: [&[&str]; 6] = [
        &["corridor", "varrow.gpkg", &track, "--all", "--buffer", "1km"],
        &["route", "varrow.gpkg", "Harrow Quay to Eastmark"],
        &["stops", "varrow.gpkg", "--near", "46.97542,-28.03299", "--within", "8km"],
        &["stops", "varrow.gpkg", "--along", &track],
        &["sky", "varrow.gpkg", "--at", "46.97542,-28.03299"],
        &plan,
    ];
    let mut seen = 0;
    for words in questions {
        let has_clock = words[0] == "plan";
        let other: &[&str] =
            if has_clock { &["--units", "imperial", "--clock", "12h"] } else { &["--units", "imperial"] };
        let both = [words, other].concat();
        let (metric, imperial) = (asked.told(words), asked.told(&both));
        seen += agree(words[0], &metric, &imperial);
        if has_clock {
            let (a, b) = (clocks(&metric), clocks(&imperial));
            assert!(a == b && a.len() > 10, "{a:?} {b:?}\n{imperial}");
            assert!(imperial.contains(" am") && imperial.contains(" pm"), "{imperial}");
        }
        // Programs get the same, to the byte.
        let json = |words: &[&str]| asked.told(&[words, &["--json"]].concat());
        assert!(json(words) == json(&both), "{words:?}");
        // A person's own settings are as good as options, and options come before them.
        fs::create_dir_all(folder.path().join("own/waymask")).unwrap();
        fs::write(folder.path().join("own/waymask/settings.toml"), "units = \"imperial\"\nclock = \"12h\"\n").unwrap();
        assert_eq!(asked.told_by(words, "own"), imperial);
        let back: &[&str] = if has_clock { &["--units", "metric", "--clock", "24h"] } else { &["--units", "metric"] };
        assert_eq!(asked.told_by(&[words, back].concat(), "own"), metric);
        assert!(asked.told_by(&[words, &["--json"]].concat(), "own") == json(words), "{words:?}");
    }
    assert!(seen > 150, "{seen} lengths compared");
    pages(&asked, &plan, &track);
}

/// The brief, the map page and the calendar.
fn pages(asked: &Asked, plan: &[&str], track: &str) {
    let file = |name: &str, words: &[&str]| {
        asked.told(&[words, &["-o", name]].concat());
        fs::read_to_string(asked.folder.join(name)).unwrap()
    };
    let other = ["--units", "imperial", "--clock", "12h"];
    let brief = plain(&file("metric.html", plan));
    let foreign = plain(&file("imperial.html", &[plan, &other].concat()));
    let words = foreign.split_whitespace().collect::<Vec<_>>().join(" ");
    // What the layer assumed is told as it was built.
    let words = words.split("What this is based on").next().unwrap();
    assert!(
        words.contains(" mi, ") && words.contains(" ft ") && words.contains(" am") && !words.contains(" km "),
        "{words}"
    );
    assert!(brief.contains(" km, ") && !brief.contains(" mi, "));
    let events = file("trip.ics", &[plan, &other].concat());
    assert!(events.contains(" mi") && !events.contains(" km"), "{events}");
    let map = ["map", "varrow.gpkg", "--along", track, "--buffer", "2km"];
    let page = plain(&file("map.html", &[&map[..], &["--units", "imperial"]].concat()));
    assert!(page.contains("mile ") && !page.contains(" km"), "{page}");
    for table in ["points.csv", "points.geojson", "points.gpx"] {
        let words = ["corridor", "varrow.gpkg", track];
        let metric = file(table, &words);
        fs::remove_file(asked.folder.join(table)).unwrap();
        assert!(metric == file(table, &[&words[..], &["--units", "imperial"]].concat()), "{table}");
    }
}

#[test]
fn what_cannot_be_understood_is_refused_by_name() {
    let folder = tempfile::tempdir().unwrap();
    let asked = Asked { folder: folder.path() };
    for (words, part) in [
        (&["stops", "x.gpkg", "--units", "metric,imperial"][..], "metric"),
        (&["stops", "x.gpkg", "--units", "miles"], "imperial"),
        (&["spend", "x.toml", "--clock", "12"], "12h"),
        // One length, one unit.
        (&["stops", "x.gpkg", "--near", "1,1", "--within", "1 mi 500 m"], "other units are km, ft and mi"),
        (&["stops", "x.gpkg", "--near", "1,1", "--within", "5 km 3 mi"], "other units are km, ft and mi"),
    ] {
        let out = asked.run(words, "none");
        assert!(out.status.code() == Some(2) && said(&out).contains(part), "{words:?}: {}", said(&out));
    }
    fs::create_dir_all(folder.path().join("own/waymask")).unwrap();
    let file = folder.path().join("own/waymask/settings.toml");
    for (text, part) in [
        ("units = \"yards\"", "metric"),
        ("clock = 12", "24h"),
        ("unit = \"metric\"", "units"),
        ("units = [\"metric\", \"imperial\"]", "units"),
        ("units", "line 1"),
    ] {
        fs::write(&file, text).unwrap();
        let out = asked.run(&["stops", "x.gpkg"], "own");
        let told = said(&out);
        assert!(!out.status.success() && told.contains("settings.toml") && told.contains(part), "{text}: {told}");
    }
    fs::remove_file(&file).unwrap();
    std::os::unix::fs::symlink("nowhere.toml", &file).unwrap();
    assert!(said(&asked.run(&["stops", "x.gpkg"], "own")).contains("is not a file"));
    fs::remove_file(&file).unwrap();
    // Asked for in full, the file is not needed, and does not stand in the way.
    let out = asked.run(&["stops", "x.gpkg", "--units", "metric"], "own");
    assert!(said(&out).contains("x.gpkg"), "{}", said(&out));
    // What is printed is what is read.
    let printed = asked.run(&["settings", "user"], "none");
    fs::write(&file, &printed.stdout).unwrap();
    assert!(said(&asked.run(&["stops", "x.gpkg"], "own")).contains("x.gpkg"));
}
