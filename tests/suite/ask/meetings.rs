//! The risk of meetings where the truth is plain: inside a tunnel, on a ferry, over a whole tunnel, on open road, at a place.
use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;
use waymask::profile::Profile;

use crate::build::kit::{Place, Sketch};

/// Main road, 80 km/h: at 22.2 m/s.
const MPS: f64 = 80.0 / 3.6;

/// Five kilometres of open road, a tunnel of twenty, five open, a ferry of thirty, five open.
fn tunnel_and_ferry() -> (Sketch, Place) {
    let mut sketch = Sketch::at(46.0);
    let road = &[("highway", "primary"), ("maxspeed", "80"), ("ref", "A1")][..];
    let tunnel = [road, &[("tunnel", "yes"), ("layer", "-1")]].concat();
    let mut last = None;
    let parts = [(-5_000, 0, road), (0, 20_000, &tunnel[..]), (20_000, 25_000, road)];
    for (from, to, tags) in parts {
        last = Some(along(&mut sketch, last, (from, to), tags));
    }
    last = Some(along(&mut sketch, last, (25_000, 55_000), &[("route", "ferry"), ("motor_vehicle", "yes")]));
    along(&mut sketch, last, (55_000, 60_000), road);
    let place = sketch.build(Profile::default());
    (sketch, place)
}

/// A way from one place east to another, beginning with a node if one is given; returns its last node.
fn along(sketch: &mut Sketch, first: Option<i64>, (from, to): (i32, i32), tags: &[(&str, &str)]) -> i64 {
    let step = 250;
    let begins = first.unwrap_or_else(|| sketch.node(f64::from(from), 0.0, &[]));
    let mut nodes = vec![begins];
    nodes.extend((from / step + 1..=to / step).map(|k| sketch.node(f64::from(k * step), 0.0, &[])));
    sketch.way(&nodes, tags);
    nodes[nodes.len() - 1]
}

/// A track along the road from one place to another.
fn track(sketch: &Sketch, folder: &Path, (from, to): (i32, i32)) {
    let point = |k: i32| {
        let at = sketch.plane.to_position(waymask::base::geodesy::Point::new(f64::from(k * 200), 0.0));
        format!("<trkpt lat=\"{:.7}\" lon=\"{:.7}\"/>", at.lat_deg(), at.lon_deg())
    };
    let points: String = (from / 200..=to / 200).map(point).collect();
    std::fs::write(folder.join("t.gpx"), format!("<gpx><trk><trkseg>{points}</trkseg></trk></gpx>")).unwrap();
}

/// A calendar of calls that must not drop, minutes after eight.
fn calls(folder: &Path, of: &[(f64, f64)]) {
    let stamp = |min: f64| {
        let seconds = (8.0 * 3_600.0 + min * 60.0).round() as i64;
        format!("20260615T{:02}{:02}{:02}Z", seconds / 3_600, seconds / 60 % 60, seconds % 60)
    };
    let event = |(nth, (from, to)): (usize, &(f64, f64))| {
        format!(
            "BEGIN:VEVENT\r\nUID:{nth}\r\nDTSTAMP:20260101T000000Z\r\nDTSTART:{}\r\nDTEND:{}\r\nSUMMARY:call {nth}\r\n\
             CATEGORIES:must-not-drop\r\nEND:VEVENT\r\n",
            stamp(*from),
            stamp(*to)
        )
    };
    let events: String = of.iter().enumerate().map(event).collect();
    let text = format!("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//test//EN\r\n{events}END:VCALENDAR\r\n");
    std::fs::write(folder.join("day.ics"), text).unwrap();
}

fn run(place: &Place, folder: &Path, more: &[&str]) -> Output {
    let args =
        ["t.gpx", "--zone=+00:00", "--depart", "2026-06-15T08:00", "--meetings", "day.ics", "--trip", "trip.toml"];
    let mut command = Command::new(env!("CARGO_BIN_EXE_waymask"));
    command.current_dir(folder).arg("plan").arg(&place.path).args(args).args(more).output().unwrap()
}

/// Nobody leaves at another time or stops.
const AS_ASKED: &str =
    "[departure]\nearlier_min = 0\nlater_min = 0\n[stopping]\nmost_places = 0\n[driving]\nbreak_after_h = 5\n";

/// The meetings of the day as planned.
fn held(place: &Place, folder: &Path, trip: &str) -> Vec<Value> {
    std::fs::write(folder.join("trip.toml"), trip).unwrap();
    let out = run(place, folder, &["--json"]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let plan: Value = serde_json::from_slice(&out.stdout).unwrap();
    plan["days"][0]["plan"]["chosen"]["meetings"].as_array().unwrap().clone()
}

/// Minutes after leaving at which a place is passed, and the ferry's own speed is not asked for.
fn minutes(metres_from_start: f64) -> f64 {
    metres_from_start / MPS / 60.0
}

#[test]
fn a_call_in_a_tunnel_or_on_a_ferry_is_interrupted_for_certain_and_one_on_open_road_is_not() {
    let (sketch, place) = tunnel_and_ferry();
    let folder = tempfile::tempdir().unwrap();
    track(&sketch, folder.path(), (-5_000, 60_000));
    let (enters, leaves) = (minutes(5_000.0), minutes(25_000.0));
    let quay = minutes(30_000.0);
    calls(
        folder.path(),
        &[
            // Wholly inside the tunnel, far from both ends; begins inside it; wholly on the ferry; over both ends; open road.
            (enters + 3.0, leaves - 3.0),
            (leaves - 2.0, leaves + 1.0),
            (quay + 10.0, quay + 20.0),
            (enters - 1.0, leaves + 1.0),
            (0.5, enters - 0.5),
        ],
    );
    let held = held(&place, folder.path(), AS_ASKED);
    let told = |key: &str| -> Vec<f64> {
        (0..5).map(|n| held.iter().find(|m| m["name"] == format!("call {n}")).unwrap()[key].as_f64().unwrap()).collect()
    };
    assert_eq!(told("risk"), [1.0, 1.0, 1.0, 1.0, 0.0], "{held:?}");
    let outage_s = told("outage_s");
    for (nth, min) in [(0, leaves - enters - 6.0), (1, 2.0), (2, 10.0), (3, leaves - enters)] {
        // At the mouths of a tunnel the sky opens and shuts within a second; a search ends within a few.
        assert!((outage_s[nth] - 60.0 * min).abs() < 8.0, "{nth}: {} s of {} min", outage_s[nth], min);
    }
    assert_eq!(outage_s[4], 0.0);
    for m in &held {
        assert_eq!((&m["how"], &m["risk_from"]), (&"in_motion".into(), &"simulated".into()));
        assert_eq!(m["risk_best"], m["risk"], "nothing of the roadside is assumed");
        // Without elevation nobody knows the worst beside open road; in the tunnel it is all the same.
        assert!(m["risk_worst"] == m["risk"] || m["risk_worst"].is_null(), "{m}");
    }
}

#[test]
fn the_corridor_tells_tunnel_and_ferry_once_each_with_its_own_cause() {
    let (sketch, place) = tunnel_and_ferry();
    let folder = tempfile::tempdir().unwrap();
    track(&sketch, folder.path(), (-5_000, 60_000));
    let ask = |more: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_waymask"));
        command.current_dir(folder.path()).arg("corridor").arg(&place.path).arg("t.gpx").args(more).output().unwrap()
    };
    let told: Value = serde_json::from_slice(&ask(&["--json"]).stdout).unwrap();
    let rows: Vec<_> =
        told["outages"].as_array().unwrap().iter().map(|o| (&o["cause"], &o["at_km"], &o["to_km"])).collect();
    assert_eq!(rows.len(), 2, "{rows:?}");
    let near = |at: &Value, km: f64| (at.as_f64().unwrap() - km).abs() < 0.4;
    assert!(rows[0].0 == "cover" && near(rows[0].1, 5.0) && near(rows[0].2, 25.0), "{rows:?}");
    assert!(rows[1].0 == "boarded" && near(rows[1].1, 30.0) && near(rows[1].2, 60.0), "{rows:?}");
    // Twenty kilometres at 80 km/h take 15 min.
    let text = String::from_utf8(ask(&[]).stdout).unwrap();
    let first = text.lines().next().unwrap();
    assert!(
        first.starts_with(
            "For 35.0 of 65.0 km it is not known whether more blocks the sky. At 2 places, at least one drive"
        ),
        "{first}"
    );
    assert!(
        first.contains("km 5.0 (15 min")
            && first.contains("tunnel or roof), km 30.0 (1 h")
            && first.contains("on a ferry"),
        "{first}"
    );
}

#[test]
fn the_search_leaves_so_that_no_call_lies_in_the_tunnel() {
    let (sketch, place) = tunnel_and_ferry();
    let folder = tempfile::tempdir().unwrap();
    track(&sketch, folder.path(), (-5_000, 24_000));
    let (enters, leaves) = (minutes(5_000.0), minutes(25_000.0));
    calls(folder.path(), &[(enters + 5.0, enters + 9.0)]);
    let trip = AS_ASKED.replace("earlier_min = 0\nlater_min = 0", "earlier_min = 30\nlater_min = 30");
    let held = held(&place, folder.path(), &trip);
    // Leaving later puts the call on the road before the tunnel or before one leaves, never with its begin inside.
    assert!(held[0]["risk"].as_f64().is_none_or(|risk| risk < 0.02), "{held:?} ({enters} {leaves})");
    let in_tunnel = |km: &Value| km.as_f64().is_some_and(|km| (5.0..25.0).contains(&km));
    for part in held[0]["parts"].as_array().unwrap() {
        assert!(!in_tunnel(&part["road_km"][0]) && !in_tunnel(&part["road_km"][1]), "{held:?}");
    }
}

#[test]
fn what_lies_off_the_layer_is_neither_arrived_nor_known() {
    let (sketch, place) = tunnel_and_ferry();
    let folder = tempfile::tempdir().unwrap();
    // The track goes on for 66 km after the last road of the layer.
    track(&sketch, folder.path(), (-5_000, 126_000));
    calls(folder.path(), &[(145.0, 155.0)]);
    std::fs::write(folder.path().join("trip.toml"), AS_ASKED).unwrap();
    let out = run(&place, folder.path(), &[]);
    let said = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(1), "{said}");
    assert!(said.contains("off the layer's roads, more than 20 %"), "{said}");
    // Allowed by the trip file it takes its time, and meetings there are not known.
    let lenient = AS_ASKED.to_owned() + "most_unmatched = 0.9\nunmatched_kmh = 60\nday_h = 12\n";
    let held = held(&place, folder.path(), &lenient);
    assert_eq!((&held[0]["risk"], &held[0]["risk_from"]), (&Value::Null, &"not known".into()), "{held:?}");
    assert_eq!(held[0]["how"], "in_motion", "one drives for another hour");
    let out = run(&place, folder.path(), &[]);
    let said = String::from_utf8_lossy(&out.stdout);
    assert!(said.contains("risk of an outage longer than 2 s: not known"), "{said}");
    assert!(said.contains("unknown is not clear"), "{said}");
}
