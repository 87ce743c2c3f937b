//! Tracks, and polygons of a region.
use waymask::ask::track::{Track, read_bytes, read_with};
use waymask::base::district::District;
use waymask::map::district::region::Region;

use super::{sample, seeds, text};
use crate::target::{Outcome, Target, outcome};

pub const TARGETS: &[Target] = &[
    Target::new("gpx", gpx_seeds, |_| Box::new(|input| read_track(input.to_vec(), None)))
        .words(&[
            "<gpx>",
            "</gpx>",
            "<trk>",
            "</trk>",
            "<trkseg>",
            "</trkseg>",
            "<trkpt lat=\"1\" lon=\"2\"/>",
            "<rte>",
            "<rtept",
            "<wpt",
            "<time>",
            "</time>",
            "<name>",
            "<ele>",
            "<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?>",
            "<![CDATA[",
            "]]>",
            "<!--",
            "-->",
            "<!DOCTYPE a [",
            "&amp;",
            "&#1;",
            "&lt;",
            "encoding=\"UTF-16\"",
            "xmlns:x=\"y\"",
            "2026-06-15T08:00:00Z",
            "lat=\"-90\"",
            "lon=\"180\"",
        ])
        .longest(6_000),
    Target::new("geojson", || seeds(GEOJSON), |_| Box::new(|input| read_track(input.to_vec(), None))).words(JSON_WORDS),
    Target::new(
        "polyline",
        || seeds(&["_p~iF~ps|U_ulLnnqC_mqNvxq`@", "42.5,1.5 42.6,1.6 42.7,1.7", "??"]),
        |_| {
            Box::new(|input| {
                let decimals = [None, Some(5), Some(6)][input.len() % 3];
                read_track(input.to_vec(), decimals)
            })
        },
    )
    .longest(1_000),
    Target::new("polylines_encoded", || seeds(&["\0\0\0\0\u{1}\u{1}\u{1}\u{1}12345678"]), |_| Box::new(encode))
        .longest(400),
    Target::new(
        "polygons",
        || seeds(POLYGONS),
        |_| {
            Box::new(|input| {
                let read = Region::area(&text(input));
                if let Ok(region) = &read {
                    for name in ["n4250e00125", "s0025w17975", "n0000e00000"] {
                        region.takes(name.parse::<District>().expect("a district"));
                    }
                }
                outcome(&read)
            })
        },
    )
    .words(JSON_WORDS),
];

const GEOJSON: &[&str] = &[
    r#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":null,"geometry":{"type":"LineString","coordinates":[[1.5,42.5],[1.6,42.6]]}}]}"#,
    r#"{"type":"GeometryCollection","geometries":[{"type":"MultiLineString","coordinates":[[[1.5,42.5,3],[1.6,42.6]]]}]}"#,
    r#"{"type":"Feature","properties":{"coordTimes":["2026-06-15T08:00:00Z","2026-06-15T08:00:10Z"]},"geometry":{"type":"LineString","coordinates":[[1.5,42.5],[1.6,42.6]]}}"#,
    r#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"A"},"geometry":{"type":"Point","coordinates":[1.5,42.5]}}]}"#,
];
const POLYGONS: &[&str] = &[
    r#"{"type":"Polygon","coordinates":[[[1,42],[2,42],[2,43],[1,42]],[[1.5,42.1],[1.6,42.1],[1.6,42.2],[1.5,42.1]]]}"#,
    r#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":null,"geometry":{"type":"MultiPolygon","coordinates":[[[[179,-17],[181,-17],[181,-16],[179,-17]]]]}}]}"#,
    r#"{"type":"GeometryCollection","geometries":[{"type":"Polygon","coordinates":[[[1,42],[2,42],[2,43],[1,42]]]}]}"#,
];
const JSON_WORDS: &[&str] = &[
    "\"type\":",
    "\"Feature\"",
    "\"FeatureCollection\"",
    "\"features\":[",
    "\"geometry\":",
    "\"geometries\":[",
    "\"coordinates\":",
    "\"Point\"",
    "\"MultiPoint\"",
    "\"LineString\"",
    "\"MultiLineString\"",
    "\"Polygon\"",
    "\"MultiPolygon\"",
    "\"GeometryCollection\"",
    "\"properties\":",
    "\"coordTimes\":",
    "\"times\":",
    "null",
    "true",
    "[1,2],",
    "[[1,2],[3,4]],",
    "[]",
    "{}",
    "-180",
    "180",
    "90",
    "1e308",
    "\"bbox\":[1,2,3,4],",
];

fn gpx_seeds() -> Vec<Vec<u8>> {
    let short = [
        "<?xml version=\"1.0\"?><gpx><trk><trkseg><trkpt lat=\"42.5\" lon=\"1.5\"><time>2026-06-15T08:00:00Z</time></trkpt>\
         <trkpt lat=\"42.6\" lon=\"1.6\"/></trkseg></trk></gpx>",
        "<gpx><rte><rtept lat=\"42.5\" lon=\"1.5\"/><rtept lat=\"42.6\" lon=\"1.6\"></rtept></rte><wpt lat=\"1\" lon=\"2\"/></gpx>",
    ];
    let mut circuit = sample("varrow-circuit.gpx");
    circuit.truncate(3_000);
    let wide: Vec<u8> = short[0].encode_utf16().flat_map(u16::to_le_bytes).collect();
    seeds(&short).into_iter().chain([circuit, [&b"\xff\xfe"[..], &wide].concat()]).collect()
}

fn read_track(bytes: Vec<u8>, decimals: Option<u8>) -> Outcome {
    let read = read_bytes(bytes, decimals);
    if let Ok(track) = &read {
        check(track);
        return format!(
            "{} {} {} {}",
            track.pieces.len().min(3),
            track.is_route,
            track.repeated.min(1),
            track.notes.len()
        );
    }
    outcome(&read)
}

/// A track lies on earth, and comes back from waypoints.
fn check(track: &Track) {
    let places = track.places();
    assert!(track.pieces.iter().all(|piece| !piece.is_empty()) && !places.is_empty(), "{track:?}");
    assert!(places.iter().all(|p| p.lat_deg().abs() <= 90.0 && p.lon_deg().abs() <= 180.0), "{track:?}");
    assert!(track.pieces.iter().flatten().all(|p| p.time_s.is_none_or(f64::is_finite)), "{track:?}");
    if track.pieces.len() == 1 {
        let typed: Vec<String> = places.iter().map(|p| format!("{:.7},{:.7}", p.lat_deg(), p.lon_deg())).collect();
        let back = read_with(&typed.join(" "), None).expect("waypoints are read");
        assert_eq!(back.places(), places);
    }
}

/// Places encoded here, from the description of the format, come back.
fn encode(input: &[u8]) -> Outcome {
    let number = |bytes: &[u8], most: i64| bytes.iter().fold(0_i64, |sum, b| sum << 8 | i64::from(*b)) % most;
    // The first anywhere, the others within some degrees: a track that jumps farther is refused.
    let (mut places, mut at) = (Vec::new(), (0, 0));
    for (i, p) in input.chunks_exact(8).enumerate() {
        let (lat, lon) = (number(&p[..4], 360 * 100_000), number(&p[4..], 360 * 100_000));
        at = match i {
            0 => (lat / 2 - 90 * 100_000, lon - 180 * 100_000),
            _ => (at.0 + lat / 60 - 300_000, at.1 + lon / 60 - 300_000),
        };
        at = (at.0.clamp(-9_000_000, 9_000_000), at.1.clamp(-18_000_000, 18_000_000));
        places.push(at);
    }
    places.dedup();
    if places.len() < 2 {
        return String::new();
    }
    let (mut text, mut before) = (String::new(), (0, 0));
    for (lat, lon) in &places {
        for difference in [lat - before.0, lon - before.1] {
            let mut left = difference << 1;
            if difference < 0 {
                left = !left;
            }
            while left >= 0x20 {
                text.push(char::from((0x20 | (left & 0x1f)) as u8 + 63));
                left >>= 5;
            }
            text.push(char::from(left as u8 + 63));
        }
        before = (*lat, *lon);
    }
    let back = read_with(&text, Some(5)).expect("what was encoded is read").places();
    let whole = |deg: f64| (deg * 1e5).round() as i64;
    let back: Vec<(i64, i64)> = back.iter().map(|p| (whole(p.lat_deg()), whole(p.lon_deg()))).collect();
    let turned = |(lat, lon): (i64, i64)| (lat, if lon == 180 * 100_000 { -lon } else { lon });
    assert_eq!(
        back.into_iter().map(turned).collect::<Vec<_>>(),
        places.into_iter().map(turned).collect::<Vec<_>>(),
        "{text}"
    );
    String::new()
}
