//! Tracks with gaps, stays and scatter, as devices write them, asked as a command on a small road with a tunnel and a ferry.
use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;
use waymask::base::geodesy::{LocalPlane, Point};
use waymask::profile::Profile;

use crate::ask::driven::Draws;
use crate::build::kit::{Place, Sketch};

/// Metres east and north, and seconds; no time where there is none.
type Spot = (f64, f64, Option<f64>);

/// Along y = 0: a road, from 5000 m to 7500 m in a tunnel, to 9000 m; from there a ferry of 6 km north and a road of 1 km;
/// and over a hill from 0 to 3000 m north of it a road that is far longer than the line across.
fn road() -> Place {
    let mut sketch = Sketch::around(46.0, 10.0);
    let at: Vec<i64> = [0.0, 5_000.0, 7_500.0, 9_000.0].iter().map(|x| sketch.node(*x, 0.0, &[])).collect();
    let plain = [("highway", "primary"), ("maxspeed", "80")];
    sketch.way(&at[..2], &plain);
    sketch.way(&at[1..3], &[&plain[..], &[("tunnel", "yes"), ("layer", "-1")]].concat());
    sketch.way(&at[2..], &plain);
    let ports = [sketch.node(9_000.0, 6_000.0, &[]), sketch.node(9_000.0, 7_000.0, &[])];
    sketch.way(&[at[3], ports[0]], &[("route", "ferry"), ("motor_vehicle", "yes"), ("duration", "00:30")]);
    sketch.way(&ports, &plain);
    let (a, b, c) =
        (sketch.node(0.0, 3_000.0, &[]), sketch.node(1_000.0, 6_000.0, &[]), sketch.node(2_000.0, 3_000.0, &[]));
    sketch.way(&[at[0], a], &plain);
    sketch.way(&[a, b, c], &plain);
    let end = sketch.node(4_000.0, 3_000.0, &[]);
    sketch.way(&[c, end], &plain);
    let mut profile = Profile::default();
    profile.link.drives = 4;
    sketch.build(profile)
}

/// Driven along a line at 20 m/s, a point a second.
fn driven(line: &[(f64, f64)], from_s: f64) -> Vec<Spot> {
    let (mut out, mut at_s) = (Vec::new(), from_s);
    for pair in line.windows(2) {
        let (a, b) = (Point::new(pair[0].0, pair[0].1), Point::new(pair[1].0, pair[1].1));
        let steps = (a.distance_m(b) / 20.0) as u32;
        for k in 0..steps {
            let p = a.towards(b, f64::from(k) / f64::from(steps));
            out.push((p.x_m, p.y_m, Some(at_s)));
            at_s += 1.0;
        }
    }
    let last = line[line.len() - 1];
    out.push((last.0, last.1, Some(at_s)));
    out
}

fn untimed(spots: &[Spot]) -> Vec<Spot> {
    spots.iter().map(|s| (s.0, s.1, None)).collect()
}

/// A file of GPX; `stamp` writes a time.
fn gpx_with(spots: &[Spot], stamp: impl Fn(usize, f64) -> String) -> String {
    let plane = LocalPlane::at(10.0, 46.0);
    let mut text = String::from("<gpx version=\"1.1\" creator=\"test\"><trk><trkseg>\n");
    for (i, (x, y, s)) in spots.iter().enumerate() {
        let at = plane.to_position(Point::new(*x, *y));
        let time = s.map_or(String::new(), |s| format!("<time>{}</time>", stamp(i, s)));
        let _ = writeln!(text, "<trkpt lat=\"{:.7}\" lon=\"{:.7}\">{time}</trkpt>", at.lat_deg(), at.lon_deg());
    }
    text + "</trkseg></trk></gpx>\n"
}

fn stamp(s: f64) -> String {
    let s = s as u32;
    format!("2026-06-{:02}T{:02}:{:02}:{:02}", 1 + s / 86_400, s / 3_600 % 24, s / 60 % 60, s % 60)
}

fn gpx(spots: &[Spot]) -> String {
    gpx_with(spots, |_, s| stamp(s) + "Z")
}

fn run(place: &Place, track: &[u8], more: &[&str]) -> Output {
    let file = tempfile::Builder::new().suffix(".gpx").tempfile().unwrap();
    std::fs::write(file.path(), track).unwrap();
    let (layer, path): (&Path, &Path) = (&place.path, file.path());
    Command::new(env!("CARGO_BIN_EXE_waymask")).arg("corridor").args([layer, path]).args(more).output().unwrap()
}

fn json(place: &Place, track: &[u8], more: &[&str]) -> Value {
    let out = run(place, track, &[&["--json"], more].concat());
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

fn table(place: &Place, track: &str) -> String {
    String::from_utf8(run(place, track.as_bytes(), &[]).stdout).unwrap()
}

fn figure(answer: &Value, key: &str) -> f64 {
    answer[key].as_f64().unwrap_or_else(|| panic!("{key}: {answer}"))
}

#[track_caller]
fn close(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} is not {b}");
}

#[test]
fn a_tunnel_without_points_is_driven() {
    let place = road();
    let before = driven(&[(4_000.0, 0.0), (5_000.0, 0.0)], 0.0);
    let after = driven(&[(7_500.0, 0.0), (8_500.0, 0.0)], 50.0 + 112.0);
    let track = [before.clone(), after.clone()].concat();
    for timed in [true, false] {
        let track = gpx(&if timed { track.clone() } else { untimed(&track) });
        let found = json(&place, track.as_bytes(), &[]);
        close(figure(&found, "length_m"), 4_500.0, 5.0);
        // 2.5 km at 80 km/h.
        assert!(figure(&found, "outage_s") > 105.0, "{found}");
        assert_eq!((figure(&found, "unmatched_m"), found["joined"].as_array().map(Vec::len)), (0.0, Some(1)));
        let gap = &found["joined"][0];
        close(figure(gap, "length_m"), 2_500.0, 5.0);
        close(figure(gap, "straight_m"), 2_500.0, 5.0);
        assert!(figure(gap, "covered_m") > 2_400.0, "{gap}");
        close(figure(gap, "track_km"), 1.0, 0.01);
        close(figure(gap, "time_s"), 112.5, 1.0);
        assert_eq!(gap["lasted_s"].as_f64(), timed.then_some(112.0));
        let table = table(&place, &track);
        let why = if timed {
            "1 min 52 s between the points, 1 min 52 s according to the layer"
        } else {
            "without times, so judged by length only"
        };
        let words = [
            "stretches of the track without points, joined along roads (2.5 km, included in the figures)",
            "2.5 km in tunnels",
            why,
        ];
        words.iter().for_each(|part| assert!(table.contains(part), "no `{part}`: {table}"));
    }
    let late = |from_s: f64| [before.clone(), driven(&[(7_500.0, 0.0), (8_500.0, 0.0)], 50.0 + from_s)].concat();
    // Five hours later the vehicle may have been anywhere, and nobody drives 2.5 km in 20 s.
    for lasted_s in [18_000.0, 20.0] {
        let found = json(&place, gpx(&late(lasted_s)).as_bytes(), &[]);
        close(figure(&found, "length_m"), 2_000.0, 5.0);
        close(figure(&found, "unmatched_m"), 2_500.0, 5.0);
        assert_eq!(
            (found["joined"].as_array().map(Vec::len), &found["unmatched"][0]["bridged"]),
            (Some(0), &Value::Bool(false))
        );
    }
}

#[test]
fn a_receiver_that_settles_behind_the_tunnel_loses_nothing() {
    let place = road();
    let mut after = driven(&[(7_500.0, 0.0), (8_500.0, 0.0)], 50.0 + 112.0);
    // Ten fixes that come closer, the first of them 400 m off every road.
    after.iter_mut().take(10).enumerate().for_each(|(i, p)| p.1 = 400.0 - 32.0 * i as f64);
    let track = [driven(&[(4_000.0, 0.0), (5_000.0, 0.0)], 0.0), after].concat();
    let found = json(&place, gpx(&track).as_bytes(), &[]);
    close(figure(&found, "length_m"), 4_500.0, 5.0);
    assert_eq!(found["joined"].as_array().map(Vec::len), Some(1), "{found}");
    assert_eq!(found["unmatched"].as_array().map(Vec::len), Some(0), "{found}");
}

#[test]
fn a_device_that_begins_a_new_piece_behind_the_tunnel_loses_nothing() {
    let place = road();
    let track = |lasted_s: f64| {
        let after = driven(&[(7_500.0, 0.0), (8_500.0, 0.0)], 50.0 + lasted_s);
        let [one, two] = [driven(&[(4_000.0, 0.0), (5_000.0, 0.0)], 0.0), after].map(|s| gpx(&s));
        let (one, two) = (one.split("</trkseg>").next().unwrap(), two.split("<trkseg>").nth(1).unwrap());
        format!("{one}</trkseg><trkseg>{two}")
    };
    let found = json(&place, track(112.0).as_bytes(), &[]);
    close(figure(&found, "length_m"), 4_500.0, 5.0);
    close(figure(&found, "track_m"), 2_000.0, 5.0);
    assert_eq!((figure(&found, "unmatched_m"), found["joined"].as_array().map(Vec::len)), (0.0, Some(1)), "{found}");
    // A day later it is another drive.
    let found = json(&place, track(80_000.0).as_bytes(), &[]);
    close(figure(&found, "length_m"), 2_000.0, 5.0);
    assert_eq!(found["joined"].as_array().map(Vec::len), Some(0), "{found}");
    // Without times two pieces are two drives.
    let bare: String = track(112.0).split("<time>").map(|t| t.split_once("</time>").map_or(t, |t| t.1)).collect();
    close(figure(&json(&place, bare.as_bytes(), &[]), "length_m"), 2_000.0, 5.0);
}

#[test]
fn a_ferry_is_joined_and_a_way_far_longer_than_the_line_is_not() {
    let place = road();
    // An hour's wait and half an hour's crossing.
    let ferry =
        [driven(&[(8_000.0, 0.0), (8_980.0, 0.0)], 0.0), driven(&[(9_000.0, 6_020.0), (9_000.0, 7_000.0)], 5_450.0)];
    let found = json(&place, gpx(&ferry.concat()).as_bytes(), &[]);
    assert_eq!((figure(&found, "unmatched_m"), found["joined"].as_array().map(Vec::len)), (0.0, Some(1)), "{found}");
    close(figure(&found["joined"][0], "boarded_m"), 6_000.0, 5.0);
    // Over the hill: 6.3 km for 2 km across.
    let hill =
        [driven(&[(0.0, 1_000.0), (0.0, 2_990.0)], 0.0), driven(&[(2_010.0, 3_000.0), (3_900.0, 3_000.0)], 400.0)];
    for timed in [true, false] {
        let track = if timed { hill.concat() } else { untimed(&hill.concat()) };
        let found = json(&place, gpx(&track).as_bytes(), &[]);
        assert_eq!(found["joined"].as_array().map(Vec::len), Some(0), "{found}");
        close(figure(&found, "unmatched_m"), 2_010.0, 15.0);
    }
}

#[test]
fn points_off_every_road_are_not_joined_over_another() {
    let place = road();
    // Five kilometres of a road that the layer does not know, 300 m beside the tunnel.
    let off = driven(
        &[(4_000.0, 0.0), (5_000.0, 0.0), (5_100.0, 300.0), (7_400.0, 300.0), (7_500.0, 0.0), (8_500.0, 0.0)],
        0.0,
    );
    let found = json(&place, gpx(&off).as_bytes(), &[]);
    assert_eq!(found["joined"].as_array().map(Vec::len), Some(0), "{found}");
    assert!(figure(&found, "unmatched_m") > 2_500.0, "{found}");
}

#[test]
fn drift_while_parked_adds_no_way() {
    let place = road();
    // In the middle of a drive, and at its beginning.
    for (seed, x, from_m) in
        [(0, 2_500.0, 0.0), (1, 3_000.0, 0.0), (2, 1_234.0, 0.0), (3, 4_000.0, 0.0), (4, 500.0, 500.0)]
    {
        let mut draws = Draws(seed);
        let (mut dx, mut dy) = (0.0, 0.0);
        let come = driven(&[(from_m, 0.0), (x, 0.0)], 0.0);
        let from_s = come.last().and_then(|s| s.2).unwrap();
        // A first-order Gauss-Markov process of 25 m a side that forgets itself in 50 s, 40 m beside the road.
        let stay = (1..=1_800).map(|s| {
            (dx, dy) = (0.98 * dx + 5.0 * draws.normal(), 0.98 * dy + 5.0 * draws.normal());
            (x + dx, 40.0 + dy, Some(from_s + f64::from(s)))
        });
        let stay: Vec<Spot> = stay.collect();
        let on = driven(&[(x, 0.0), (4_900.0, 0.0)], from_s + 1_801.0);
        let found = json(&place, gpx(&[come, stay, on].concat()).as_bytes(), &[]);
        close(figure(&found, "length_m"), 4_900.0 - from_m, 40.0);
    }
}

#[test]
fn files_as_devices_write_them_are_read_or_refused_with_a_reason() {
    let place = road();
    let spots = driven(&[(0.0, 0.0), (4_000.0, 0.0)], 0.0);
    let whole = gpx(&spots);
    // Cut between elements and within one.
    for end in [whole.find("</trkpt>\n<trkpt").unwrap() + 9, whole.len() / 2, whole.len() / 2 + 9, whole.len() - 3] {
        let out = run(&place, &whole.as_bytes()[..end], &[]);
        let said = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(1), "{said}");
        assert!(said.contains("ends in the middle") && said.contains("line"), "{said}");
    }
    let notes = |track: &[u8]| -> Vec<String> {
        let found = json(&place, track, &[]);
        close(figure(&found, "length_m"), 4_000.0, 5.0);
        serde_json::from_value(found["notes"].clone()).unwrap()
    };
    assert_eq!(notes(whole.as_bytes()), [""; 0]);
    let unzoned = gpx_with(&spots, |_, s| stamp(s));
    assert_eq!(notes(unzoned.as_bytes()), ["201 times of the track have no zone and are read as UTC"]);
    let odd = gpx_with(&spots, |i, s| match i {
        7 => "yesterday".into(),
        90 => stamp(s - 30.0) + "Z",
        91 => stamp(s + 3_600.0) + "Z",
        _ => stamp(s) + "Z",
    });
    let said = notes(odd.as_bytes());
    assert_eq!(said.len(), 2, "{said:?}");
    assert!(
        said[0].contains("of 201 times of the track, 1 cannot be read") && said[0].contains("`yesterday`"),
        "{said:?}"
    );
    assert!(said[1].contains("of 201 times of the track, 2 run backwards"), "{said:?}");
    assert!(table(&place, &unzoned).contains("note: 201 times"));
    for label in ["ISO-8859-1", "windows-1252"] {
        let named = whole.replace("<trk>", "<trk><name>CAFE</name>");
        let mut bytes = format!("<?xml version=\"1.0\" encoding=\"{label}\"?>{named}").into_bytes();
        let at = bytes.windows(4).position(|w| w == b"CAFE").unwrap();
        bytes[at + 3] = 0xe9;
        assert_eq!(notes(&bytes), [""; 0]);
    }
    let route = whole.replace("<trk><trkseg>", "<rte>").replace("</trkseg></trk>", "</rte>").replace("trkpt", "rtept");
    assert_eq!(notes(route.as_bytes()), [""; 0]);
}

#[test]
fn points_that_scatter_more_than_told_warn() {
    let place = road();
    for (noise_m, warned) in [(5.0, false), (10.0, false), (30.0, true)] {
        let mut draws = Draws(11);
        let scattered = |(x, y, s): Spot| (x + noise_m * draws.normal(), y + noise_m * draws.normal(), s);
        let track = driven(&[(0.0, 0.0), (5_000.0, 0.0)], 0.0).into_iter().map(scattered).collect::<Vec<_>>();
        let found = json(&place, gpx(&track).as_bytes(), &[]);
        let notes = found["notes"].to_string();
        assert_eq!(notes.contains("try --noise"), warned, "{noise_m} m: {notes}");
        if warned {
            close(figure(&found, "scatter_m"), noise_m, 6.0);
            let told = json(&place, gpx(&track).as_bytes(), &["--noise", "30"]);
            assert_eq!(told["notes"].as_array().map(Vec::len), Some(0), "{told}");
        }
    }
}
