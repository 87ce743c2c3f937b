//! Places reached shortly before a meeting, by the plan's own times.
use std::process::Command;

use jiff::Timestamp;
use serde_json::Value;

use crate::build::kit::{sample, varrow};

fn at(value: &Value) -> i64 {
    value.as_str().unwrap().parse::<Timestamp>().unwrap().as_second()
}

/// Stops that begin less than ten minutes before the meeting that is held there from its begin, or after that, by plain loops.
fn tight(plan: &Value) -> usize {
    let chosen = &plan["days"][0]["plan"]["chosen"];
    let stops: Vec<&Value> = chosen["parts"].as_array().unwrap().iter().filter(|p| p["doing"] == "stop").collect();
    let mut found = 0;
    for meeting in chosen["meetings"].as_array().unwrap() {
        let parts = meeting["parts"].as_array().unwrap();
        // Driving off the road to the place for less than a minute does not count as a part.
        let first = parts.iter().find(|p| at(&p["to"]) - at(&p["from"]) >= 60).unwrap();
        let there = |s: &&&Value| at(&s["from"]) <= at(&first["from"]) && at(&first["to"]) <= at(&s["to"]);
        let stop = stops.iter().filter(|_| first["how"] == "at_stop").find(there);
        found += usize::from(stop.is_some_and(|s| at(&meeting["start"]) - at(&s["from"]) < 600));
    }
    found
}

#[test]
fn a_place_reached_shortly_before_a_meeting_is_told_as_tight() {
    let folder = tempfile::tempdir().unwrap();
    varrow(folder.path(), 8);
    let told = |depart: &str, more: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_waymask"));
        command.current_dir(folder.path()).args(["plan", "varrow.gpkg"]).arg(sample("varrow-circuit.gpx"));
        command.args(["--zone=-01:00", "-q", "--depart", depart, "--meetings"]).arg(sample("varrow-meetings.ics"));
        let out = command.args(more).output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    };
    let mut counts = Vec::new();
    for depart in ["2026-06-15T07:30", "2026-06-15T08:20", "2026-06-15T08:50", "2026-06-16T08:20"] {
        let plan: Value = serde_json::from_str(&told(depart, &["--json"])).unwrap();
        let text = told(depart, &[]);
        assert_eq!(text.matches("tight: you reach the place").count(), tight(&plan), "{depart}: {text}");
        counts.push(tight(&plan));
    }
    assert!(counts.iter().any(|n| *n > 0), "{counts:?}");
    std::fs::write(folder.path().join("trip.toml"), "[stopping]\ntight_min = 0\n").unwrap();
    let text = told("2026-06-15T08:50", &["--trip", "trip.toml"]);
    assert!(!text.contains("before it begins"), "{text}");
}
