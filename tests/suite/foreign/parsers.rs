//! Broken and mutated inputs at every entry that takes foreign text or bytes: read or refused with words, never a panic.
use std::path::PathBuf;

use jiff::tz::TimeZone;
use proptest::prelude::*;
use proptest::sample::{Index, select};
use waymask::ask::settings::Settings;
use waymask::ask::track::read_with;
use waymask::base::progress::Silent;
use waymask::calendar;
use waymask::map::extract;
use waymask::physics::orbit::elements;
use waymask::physics::orbit::elements::satellite::Satellite;
use waymask::profile::source;

use crate::elements_writer::{Fields, Pattern, csv, fields, json, kvn, time, two_line_file, xml};
use crate::extract_builder::{Map, node, relation, way};

/// What one change puts in: nothing, noise of any letters, or pieces that parsers stumble over.
fn pieces() -> impl Strategy<Value = String> {
    let stumbling = [
        "",
        "",
        "永",
        "é",
        "\u{202e}",
        "\u{0}",
        "\u{1b}",
        "\"",
        "'",
        "<",
        ">",
        "&#x0;",
        "&a;",
        "{",
        "[",
        "]",
        "}",
        ",",
        ":",
        ";",
        "=",
        "\n",
        " ",
        "-",
        "1e999",
        "-0",
        "NaN",
        "99999999999999999999",
        "0x",
        "\\u",
        "\\ud800",
        "'''",
        "\"\"\"",
        "[[",
        "]]>",
        "<!DOCTYPE a [",
        "\r",
    ];
    prop_oneof![3 => select(stumbling.map(str::to_owned).to_vec()), 1 => ".{0,6}"]
}

/// One of some texts with one to four stretches of it replaced or doubled.
fn mutated(texts: Vec<String>) -> impl Strategy<Value = String> {
    let changes = prop::collection::vec((any::<Index>(), 0..12_usize, pieces(), any::<bool>()), 1..5);
    (select(texts), changes).prop_map(|(text, changes)| {
        let mut letters: Vec<char> = text.chars().collect();
        for (at, length, piece, double) in changes {
            let from = at.index(letters.len() + 1);
            let to = (from + length).min(letters.len());
            let old: Vec<char> = letters[from..to].to_vec();
            let kept = if double { old.repeat(2) } else { Vec::new() };
            letters.splice(from..to, kept.into_iter().chain(piece.chars()));
        }
        letters.into_iter().collect()
    })
}

/// The same for bytes.
fn mutated_bytes(bytes: Vec<u8>) -> impl Strategy<Value = Vec<u8>> {
    prop::collection::vec((any::<Index>(), 0..6_usize, prop::collection::vec(any::<u8>(), 0..6)), 1..5).prop_map(
        move |changes| {
            let mut bytes = bytes.clone();
            for (at, length, piece) in changes {
                let from = at.index(bytes.len() + 1);
                let to = (from + length).min(bytes.len());
                bytes.splice(from..to, piece);
            }
            bytes
        },
    )
}

fn sample(name: &str) -> String {
    std::fs::read_to_string(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("data-samples").join(name)).unwrap()
}

/// A refusal says something, and no more than a person reads.
fn says(refusal: &str) {
    assert!(!refusal.trim().is_empty() && refusal.chars().count() < 2_000, "{refusal:?}");
    // Nor is it the border that had to catch something, in a parser or in what of ours runs behind it.
    assert!(!refusal.contains("the reader of"), "{refusal:?}");
}

fn read_calendar(text: &str) {
    match calendar::read(text) {
        Ok(calendar) => {
            let (from, to) = ("2026-06-15T00:00Z".parse().unwrap(), "2026-06-18T00:00Z".parse().unwrap());
            let found = calendar.between(from, to, &TimeZone::UTC);
            found.complaints.iter().for_each(|c| says(&c.fact));
        }
        Err(fact) => says(&fact),
    }
}

fn read_elements(bytes: &[u8]) {
    match elements::read(bytes) {
        Ok(sets) => sets.objects.into_iter().for_each(|set| {
            let _ = Satellite::new(set).map(|s| s.earth_fixed(time("2026-07-01T00:00:00Z")));
        }),
        Err(refusal) => says(&refusal.fact),
    }
}

fn element_files() -> Vec<String> {
    let sets = Pattern::new(560.0, 53.0, 1, 2).elements(44_713, time("2026-06-30T01:02:03.25Z"));
    let messages: Vec<Fields> = sets.iter().map(fields).collect();
    vec![
        json(&messages, false),
        json(&messages, true),
        xml(&messages),
        kvn(&messages),
        csv(&messages),
        two_line_file(&sets),
    ]
}

const TRACKS: [&str; 6] = [
    "<?xml version=\"1.0\"?><gpx><trk><trkseg><trkpt lat=\"42.5\" lon=\"1.5\"><time>2026-06-15T08:00:00Z</time></trkpt>\
     <trkpt lat=\"42.6\" lon=\"1.6\"/></trkseg></trk></gpx>",
    "<gpx><rte><rtept lat=\"42.5\" lon=\"1.5\"/><rtept lat=\"42.6\" lon=\"1.6\"></rtept></rte><wpt lat=\"1\" lon=\"2\"/></gpx>",
    r#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":null,"geometry":{"type":"LineString","coordinates":[[1.5,42.5],[1.6,42.6]]}}]}"#,
    r#"{"type":"GeometryCollection","geometries":[{"type":"MultiLineString","coordinates":[[[1.5,42.5,3],[1.6,42.6]]]}]}"#,
    "_p~iF~ps|U_ulLnnqC_mqNvxq`@",
    "42.5,1.5 42.6,1.6 42.7,1.7",
];

fn map() -> Vec<u8> {
    let mut objects: Vec<_> =
        (1..20).map(|i| node(i, f64::from(i as i32) * 1e-3, 0.0, &[("natural", "tree")])).collect();
    objects.push(way(30, &[1, 2, 3, 4], &[("highway", "tertiary"), ("name", "Pier"), ("maxspeed", "50")]));
    objects.push(way(31, &[5, 6, 7, 5], &[("natural", "wood")]));
    objects.push(relation(40, &[(31, "outer")], &[("type", "multipolygon"), ("natural", "wood")]));
    let mut map = Map::of(&objects);
    map.per_block = 8;
    map.bytes()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn calendars(text in mutated(vec![sample("varrow-meetings.ics")])) {
        read_calendar(&text);
    }

    #[test]
    fn rules(parts in prop::collection::vec(
        "(FREQ|BYDAY|BYMONTH|BYMONTHDAY|BYYEARDAY|BYWEEKNO|BYHOUR|BYMINUTE|BYSETPOS|BYEASTER|COUNT|INTERVAL|WKST|UNTIL)=(DAILY|WEEKLY|YEARLY|HOURLY|MO|-1SU|[-+0-9A-Z,永é]{0,7})",
        1..5,
    )) {
        read_calendar(&format!(
            "BEGIN:VCALENDAR\nBEGIN:VEVENT\nUID:1\nDTSTART:20260601T100000Z\nRRULE:FREQ=DAILY;{}\nEND:VEVENT\nEND:VCALENDAR\n",
            parts.join(";")
        ));
    }

    #[test]
    fn trip_files(text in mutated(vec![sample("varrow-trip.toml"), Settings::example().unwrap()])) {
        if let Err(error) = Settings::read(&text, "trip.toml") {
            let said = error.to_string();
            assert!(said.starts_with("trip.toml"), "{said}");
            says(&said);
        }
    }

    #[test]
    fn profiles(text in mutated(vec![
        "base = \"hood\"\n[vehicle]\nantenna_height_m = 1.5\nlane = \"middle\"\n[[terminal.blocked]]\nbearing_from_deg = 60\nbearing_to_deg = 300\n\
         [[constellation.shells]]\naltitude_km = 550\ninclination_deg = 53\nplanes = 9\nper_plane = 9\n".to_owned(),
    ])) {
        if let Err(error) = source::parse(&text, "van.toml") {
            let said = error.to_string();
            assert!(said.starts_with("van.toml"), "{said}");
            says(&said);
        }
    }

    #[test]
    fn tracks(text in mutated(TRACKS.map(str::to_owned).to_vec()), decimals in prop::option::of(5..=6_u8)) {
        if let Err(fact) = read_with(&text, decimals) {
            says(&fact);
        }
    }

    #[test]
    fn element_sets(text in mutated(element_files())) {
        read_elements(text.as_bytes());
    }

    #[test]
    fn noise(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        read_elements(&bytes);
        let text = String::from_utf8_lossy(&bytes).into_owned();
        read_calendar(&text);
        for start in ["", "<", "{"] {
            let _ = read_with(&format!("{start}{text}"), None).map_err(|fact| says(&fact));
        }
        let _ = Settings::read(&text, "trip.toml").map_err(|e| says(&e.to_string()));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn extracts(bytes in mutated_bytes(map())) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("map.osm.pbf");
        std::fs::write(&path, bytes).unwrap();
        if let Err(error) = extract::read(&path, &Silent) {
            let said = error.to_string();
            assert!(said.contains("map.osm.pbf"), "{said}");
            says(&said);
        }
    }
}

/// A stack that overflows cannot be caught: nesting is bounded by every parser.
#[test]
fn deep_nesting_is_refused() {
    let deep =
        |open: &str, close: &str, inside: &str| format!("{}{inside}{}", open.repeat(100_000), close.repeat(100_000));
    let lists = deep("[", "]", "");
    assert!(Settings::read(&format!("x = {lists}"), "t.toml").is_err());
    assert!(Settings::read(&deep("x.", "", "y = 1"), "t.toml").is_err());
    assert!(Settings::read(&format!("x = {}", deep("{a=", "}", "1")), "t.toml").is_err());
    let line = r#"{"type":"LineString","coordinates":[[1.5,42.5],[1.6,42.6]]}"#;
    assert!(read_with(&deep(r#"{"type":"GeometryCollection","geometries":["#, "]}", line), None).is_err());
    assert!(read_with(&format!(r#"{{"type":"LineString","coordinates":{lists}}}"#), None).is_err());
    let _ = read_with(&deep("<gpx>", "</gpx>", ""), None).map_err(|fact| says(&fact));
    assert!(elements::read(lists.as_bytes()).is_err());
    assert!(elements::read(deep("<omm>", "</omm>", "").as_bytes()).is_err());
}
