//! What is in the page.
use sha2::{Digest, Sha256};
use waymask::ask::portion::{Portion, RoadsLeftOut};
use waymask::base::geodesy::{LocalPlane, Position};
use waymask::layer::RoadGroup;
use waymask::layer::model::SegmentRow;
use waymask::report::map_page::{MapPage, is_map_of, layer_mark, map_page};

use super::unpacked::Unpacked;
use crate::build::country;
use crate::layer::rows;

const HOSTILE: [&str; 5] = [
    "<img src=x onerror=alert(1)>",
    "</script><script>alert(2)</script>",
    "{{overview}}<!--",
    "\u{202e}turned\u{202c}",
    "\"' & ]]>",
];

fn portion(count: i64) -> Portion {
    let hostile = |id: i64| Some(HOSTILE[id as usize % HOSTILE.len()].to_owned());
    Portion {
        segments: (1..=count).map(|id| SegmentRow { name: hostile(id), ..rows::segment(id) }).collect(),
        stops: (1..=9).map(|id| waymask::layer::model::StopRow { name: hostile(id), ..rows::stop(id) }).collect(),
        places: (1..=9)
            .map(|id| waymask::layer::model::PlaceRow { name: hostile(id).unwrap(), ..rows::place(id) })
            .collect(),
        ground: (1..=9).map(rows::ground).collect(),
        ground_lines: (1..=9).map(rows::ground_line).collect(),
        ..Portion::default()
    }
}

fn page_of(portion: &Portion) -> String {
    map_page(&MapPage { title: HOSTILE[0], portion, units: waymask::base::words::Units::Metric, mark: "0123" }).unwrap()
}

/// A page without what it holds packed, its library and its program.
fn bare(page: &str) -> String {
    let mut out = String::new();
    let mut rest = page;
    while let Some((before, after)) = rest.split_once("<script") {
        out += before;
        out += "<script/>";
        rest = after.split_once("</script>").unwrap().1;
    }
    out + rest
}

#[test]
fn text_of_maps_stays_text() {
    let page = page_of(&portion(40));
    let bare = bare(&page);
    assert_eq!(bare.matches("<script/>").count(), 3, "what it holds, the library, the program");
    for raw in &HOSTILE[..2] {
        assert!(!bare.contains(raw), "{raw}");
    }
    assert!(bare.contains("&lt;img src=x onerror=alert(1)&gt;"), "the title");
    assert!(bare.contains("{{overview}}&lt;!--"), "a name that looks like a place of the frame is a name");
    assert!(!bare.contains('\u{202e}'));
    let texts = Unpacked::of(&page).texts();
    let cleaned: Vec<String> = HOSTILE.iter().map(|t| t.replace(['\u{202e}', '\u{202c}'], "\u{FFFD}")).collect();
    assert!(cleaned.iter().all(|text| texts.contains(text)), "{texts:?}");
    let mut once = texts.clone();
    once.sort_unstable();
    once.dedup();
    assert_eq!(once.len(), texts.len(), "each text once");
}

#[test]
fn the_policy_lets_run_what_is_in_the_page_and_nothing_else() {
    use base64::Engine;
    let page = page_of(&portion(5));
    let policy = page.split_once("Content-Security-Policy\" content=\"").unwrap().1.split_once('"').unwrap().0;
    let sum = |text: &str| {
        format!("'sha256-{}'", base64::engine::general_purpose::STANDARD.encode(Sha256::digest(text.as_bytes())))
    };
    let mut wanted: Vec<String> = Vec::new();
    for part in page.split("<script>").skip(1) {
        wanted.push(sum(part.split_once("</script>").unwrap().0));
    }
    wanted.push(sum(page.split_once("<style>").unwrap().1.split_once("</style>").unwrap().0));
    assert_eq!(wanted.len(), 3);
    let named: Vec<&str> = policy.split([' ', ';']).filter(|word| word.starts_with("'sha256-")).collect();
    assert_eq!(named, wanted.iter().map(String::as_str).collect::<Vec<_>>());
    for word in ["default-src 'none'", "worker-src blob:", "base-uri 'none'", "form-action 'none'"] {
        assert!(policy.contains(word), "{policy}");
    }
    for open in ["unsafe", "http", " *", "connect-src"] {
        assert!(!policy.contains(open), "{policy}");
    }
    // Addresses lead within the page.
    let bare = bare(&page);
    let addresses = |name: &str| {
        bare.split(&format!(" {name}=\"")).skip(1).map(|a| a.split('"').next().unwrap()).collect::<Vec<_>>()
    };
    assert!(addresses("src").is_empty() && addresses("style").is_empty());
    assert!(addresses("href").iter().all(|address| address.starts_with('#')), "{:?}", addresses("href"));
}

#[test]
fn the_same_input_gives_the_same_page_and_a_mark_is_found_again() {
    let (one, two) = (page_of(&portion(20)), page_of(&portion(20)));
    assert!(one == two && one.len() < 3_000_000);
    assert!(is_map_of(&one[..4_096], "0123") && !is_map_of(&one[..4_096], "0124") && !is_map_of("", "0123"));
    let mut record = rows::record();
    let mark = layer_mark(&record);
    assert_eq!((mark.len(), &mark), (32, &layer_mark(&rows::record())));
    record.counts.insert("roads".to_owned(), 51);
    assert_ne!(mark, layer_mark(&record));
}

/// Metres from a place to a line.
pub fn away_m(at: Position, line: &[(f64, f64)]) -> f64 {
    let plane = LocalPlane::at_position(at);
    let flat: Vec<_> = line.iter().map(|(lon, lat)| plane.from_lon_lat(*lon, *lat)).collect();
    let to_piece = |pair: &[waymask::base::geodesy::Point]| {
        let (a, b) = (pair[0], pair[1]);
        let (dx, dy) = (b.x_m - a.x_m, b.y_m - a.y_m);
        let share = (-(a.x_m * dx + a.y_m * dy) / (dx * dx + dy * dy).max(1e-9)).clamp(0.0, 1.0);
        (a.x_m + share * dx).hypot(a.y_m + share * dy)
    };
    flat.windows(2).map(to_piece).fold(f64::INFINITY, f64::min)
}

#[test]
fn lines_and_figures_come_back_as_they_were() {
    let portion = portion(60);
    let mut held = Unpacked::of(&page_of(&portion));
    for row in &portion.segments {
        let line = held.line();
        let (first, last) = (row.line[0], row.line[row.line.len() - 1]);
        for (at, end) in [(first, line[0]), (last, line[line.len() - 1])] {
            assert!((at.lon_deg() - end.0).abs() <= 0.51e-5 && (at.lat_deg() - end.1).abs() <= 0.51e-5);
        }
        // A metre for what is simplified, one for what is rounded.
        assert!(row.line.iter().all(|at| away_m(*at, &line) < 2.0));
    }
    for stop in &portion.stops {
        assert!((held.line()[0].1 - stop.at.lat_deg()).abs() < 1e-5);
    }
    for place in &portion.places {
        assert!((held.line()[0].0 - place.at.lon_deg()).abs() < 1e-5);
    }
    for shore in &portion.ground_lines {
        let line = held.line();
        assert!(shore.line.iter().all(|at| away_m(*at, &line) < 2.0));
    }
    for (water, rings) in portion.ground.iter().zip(held.json["rings"].as_array().unwrap().clone()) {
        assert_eq!(rings.as_u64().unwrap() as usize, water.rings.len());
        for ring in &water.rings {
            let line = held.line();
            assert_eq!(line[0], line[line.len() - 1], "rings stay closed");
            assert!(ring.iter().all(|at| away_m(*at, &line) < 2.0));
        }
    }
    assert!(held.done(), "nothing is left over");
    let roads = &held.json["roads"];
    for (k, row) in portion.segments.iter().enumerate() {
        assert_eq!(roads["way"][k], row.way_id);
        assert_eq!(roads["rating"][k], row.rating.code());
        assert_eq!(roads["rating_worst"][k], row.rating_worst.map_or(-1, |r| i64::from(r.code())));
        for (side, driven) in [("forward", &row.driven.forward), ("backward", &row.driven.backward)] {
            let of = |column: &str| roads[side][column][k].as_i64().unwrap();
            let wanted = driven.as_ref();
            assert_eq!(of("rating"), wanted.map_or(-1, |d| i64::from(d.rating.code())));
            assert_eq!(of("worst"), wanted.and_then(|d| d.rating_worst).map_or(-1, |r| i64::from(r.code())));
            assert_eq!(of("p95_ds"), wanted.map_or(-1, |d| (d.outage_p95_s * 10.0).round() as i64));
            let share = wanted.map_or(-1, |d| (d.outage_s / d.time_s * 1e3).round() as i64);
            assert_eq!(of("share_permille"), share);
        }
    }
}

#[test]
fn what_is_left_out_is_said_first() {
    let left_out = vec![RoadsLeftOut { group: RoadGroup::Lesser, segments: 34_120, km: 1_234.4 }];
    let page = page_of(&Portion { left_out, ..portion(5) });
    let told = "<b>Not on this map:</b> service roads and tracks (34120 segments, 1234 km)";
    assert!(page.find(told).unwrap() < page.find("id=\"stage\"").unwrap());
    assert!(!page_of(&portion(5)).contains("Not on this map"));
}

/// Seven copies of a country side by side: as many segments as one page takes.
#[test]
fn heavy_sixty_thousand_segments_fit_on_a_page() {
    let Some(path) = country::andorra() else { return };
    let layer = waymask::layer::Layer::open(&path).unwrap();
    let rows = layer.segments().unwrap();
    let mut segments = Vec::new();
    for copy in 0..7 {
        let moved = |s: &SegmentRow| {
            let line = s.line.iter().map(|p| Position { lon_e7: p.lon_e7 + copy * 4_137_717, ..*p });
            SegmentRow { line: line.collect(), way_id: s.way_id + i64::from(copy), ..s.clone() }
        };
        segments.extend(rows.iter().map(moved));
    }
    assert!(segments.len() > 59_000, "{}", segments.len());
    let page = page_of(&Portion { segments, stops: layer.stops().unwrap(), ..Portion::default() });
    assert!(page.len() < 12_000_000, "{} bytes", page.len());
}
