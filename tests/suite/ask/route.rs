//! Places on roads, ways between them, and the figures of both.
use waymask::ask::route::Limits;
use waymask::base::caution::{self, Caution};
use waymask::base::words::WayName;

use crate::ask::town::{Town, ask, asked, fastest_m, roads};
use crate::build::kit::sample;

#[track_caller]
fn close(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} is not {b}");
}

#[test]
fn a_start_and_an_end_on_one_edge_are_joined_in_either_order() {
    let town = Town::with_middle(&[]);
    let place = town.build();
    let (a, b) = (town.at(1_200.0, 15.0), town.at(1_700.0, -20.0));
    for places in [[a, b], [b, a]] {
        let found = ask(&place, &asked(places.to_vec())).unwrap();
        assert_eq!(found.ways.len(), 1);
        close(found.ways[0].length_m, 500.0, 1.0);
        close(found.ways[0].time_s, 50.0, 0.2);
        close(found.places[0].distance_m + found.places[1].distance_m, 35.0, 0.5);
        assert_eq!(found.places[0].road, "Middle Street");
    }
}

#[test]
fn against_a_one_way_edge_the_way_goes_round_the_block() {
    let mut town = Town::with_middle(&[("oneway", "yes")]);
    let (a, b) = (town.street[1], town.street[2]);
    let (n, m) = (town.sketch.node(1_000.0, 400.0, &[]), town.sketch.node(2_000.0, 400.0, &[]));
    town.sketch.way(&[a, n, m, b], &roads("residential"));
    let place = town.build();
    let (west, east) = (town.at(1_200.0, 0.0), town.at(1_700.0, 0.0));
    close(fastest_m(&place, &[west, east]), 500.0, 1.0);
    // 300 m to the end, 1800 m round, 200 m from the start.
    close(fastest_m(&place, &[east, west]), 2_300.0, 3.0);
}

#[test]
fn first_and_last_edges_count_in_part_and_figures_are_those_of_the_corridor() {
    let mut town = Town::with_middle(&[]);
    // Trees over a part of the street, so that time without a link is not the same everywhere.
    town.sketch.area([1_300.0, 3.0, 1_600.0, 60.0], &[("natural", "wood")]);
    town.sketch.area([1_300.0, -60.0, 1_600.0, -3.0], &[("natural", "wood")]);
    let place = town.build();
    let found = ask(&place, &asked(vec![town.at(400.0, 0.0), town.at(1_450.0, 0.0)])).unwrap();
    let way = &found.ways[0];
    close(way.length_m, 1_050.0, 1.0);
    close(way.time_s, 105.0, 0.3);
    close(way.corridor.time_s, way.time_s, 0.05);
    close(way.corridor.outage_s, way.outage_s, 0.05);
    assert!(way.outage_s > 0.3, "the wood does not count: {}", way.outage_s);
    let whole = ask(&place, &asked(vec![town.at(400.0, 0.0), town.at(1_995.0, 0.0)])).unwrap();
    assert!(way.outage_s < whole.ways[0].outage_s, "half of the wood costs less than all of it");
    let lines: f64 = way.corridor.pieces.iter().map(|p| waymask::base::geodesy::length_m(&p.line)).sum();
    close(lines, way.length_m, 1.0);
}

#[test]
fn a_way_goes_through_places_in_their_order_and_may_turn_there() {
    let town = Town::with_middle(&[]);
    let place = town.build();
    let (a, b, c) = (town.at(100.0, 0.0), town.at(2_500.0, 0.0), town.at(900.0, 0.0));
    let found = ask(&place, &asked(vec![a, b, c])).unwrap();
    close(found.ways[0].length_m, 2_400.0 + 1_600.0, 2.0);
    let labels: Vec<&str> = found.places.iter().map(|p| p.label.as_str()).collect();
    assert_eq!(labels, ["from", "via 1", "to"]);
    let drives: Vec<u32> = found.ways[0].matched.steps.iter().map(|s| s.drive).collect();
    assert!(drives.is_sorted() && drives.first() == Some(&0) && drives.last() == Some(&1), "{drives:?}");
}

#[test]
fn a_dead_island_next_to_the_start_is_passed_over_and_told() {
    let mut town = Town::with_middle(&[]);
    town.sketch.line(&[(450.0, 60.0), (550.0, 60.0)], &[("highway", "service"), ("name", "Court")]);
    let place = town.build();
    let found = ask(&place, &asked(vec![town.at(500.0, 50.0), town.at(2_500.0, 0.0)])).unwrap();
    close(found.ways[0].length_m, 2_000.0, 1.0);
    assert_eq!(found.places[0].road, "West Street");
    assert_eq!(found.notes.len(), 1, "{:?}", found.notes);
    assert!(
        found.notes[0].contains("Court (10 m)") && found.notes[0].contains("West Street, 50 m"),
        "{:?}",
        found.notes
    );
    // Within the court there is no need to leave it.
    let within = ask(&place, &asked(vec![town.at(460.0, 60.0), town.at(540.0, 60.0)])).unwrap();
    assert_eq!((within.places[0].road.as_str(), within.notes.len()), ("Court", 0));
}

#[test]
fn a_place_far_from_any_road_is_an_error() {
    let town = Town::with_middle(&[]);
    let place = town.build();
    let far = ask(&place, &asked(vec![town.at(500.0, 250.0), town.at(2_500.0, 0.0)])).unwrap_err();
    assert!(far.contains("from 47.0") && far.contains("the layer has no road within 200 m"), "{far}");
    let mut wide = asked(vec![town.at(500.0, 250.0), town.at(2_500.0, 0.0)]);
    wide.within_m = 300.0;
    assert!(ask(&place, &wide).is_ok());
}

/// A detour of 2 km around the middle of the street.
fn with_detour(middle: &[(&'static str, &'static str)]) -> Town {
    let mut town = Town::with_middle(middle);
    let (a, b) = (town.street[1], town.street[2]);
    let (n, m) = (town.sketch.node(1_000.0, -500.0, &[]), town.sketch.node(2_000.0, -500.0, &[]));
    town.sketch.way(&[a, n, m, b], &[roads("tertiary"), vec![("name", "Open Road")]].concat());
    town
}

#[test]
fn a_detour_that_saves_no_more_than_chance_is_left_out_and_told_as_such() {
    let mut town = with_detour(&[]);
    for (south, north) in [(3.0, 60.0), (-60.0, -3.0)] {
        town.sketch.area([1_100.0, south, 1_900.0, north], &[("natural", "wood")]);
    }
    let place = town.build();
    let found = ask(&place, &asked(vec![town.at(100.0, 0.0), town.at(2_900.0, 0.0)])).unwrap();
    // Trees now and then, in four drives.
    assert!(found.ways[0].outage_s > 1.0, "{}", found.ways[0].outage_s);
    assert_eq!(found.ways.len(), 1);
    assert!(found.notes.len() == 1 && found.notes[0].contains("1 slower way left out"), "{:?}", found.notes);
    assert_eq!((found.nth("steadiest").unwrap(), found.nth("2").is_err()), (0, true));
    let said = found.nth("fastst").unwrap_err().to_string();
    assert!(said.contains("there is no way `fastst`\n  Did you mean `fastest`? Take fastest, steadiest"), "{said}");
}

#[test]
fn the_detour_without_a_tunnel_is_told_beside_the_way_through_it() {
    let town = with_detour(&[("tunnel", "yes")]);
    let place = town.build();
    let mut question = asked(vec![town.at(100.0, 0.0), town.at(2_900.0, 0.0)]);
    let ways = ask(&place, &question).unwrap().ways;
    assert_eq!((ways[0].name, ways[ways.len() - 1].name), (WayName::Fastest, WayName::Steadiest));
    let last = &ways[ways.len() - 1];
    close(last.longer_s, 100.0, 1.0);
    assert!(last.gained_s > 90.0 && last.outage_s < ways[0].outage_s);
    assert!(last.roads.iter().any(|r| r.road == "Open Road"));
    for pair in ways.windows(2) {
        assert!(pair[0].time_s < pair[1].time_s && pair[0].outage_s > pair[1].outage_s, "a way is dominated");
    }
    question.limits = Limits { ways: 5, longer_ms: Some(60_000) };
    assert_eq!(ask(&place, &question).unwrap().ways.len(), 1, "the detour takes 100 s longer");
}

#[test]
fn the_command_writes_every_format_and_a_track_of_it_is_matched_to_the_same_way() {
    let folder = tempfile::tempdir().unwrap();
    let layer = folder.path().join("v.gpkg");
    let run = |args: &[&str]| std::process::Command::new(env!("CARGO_BIN_EXE_waymask")).args(args).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let profile = folder.path().join("few.toml");
    std::fs::write(&profile, "[link]\ndrives = 64\n").unwrap();
    let layer = layer.to_str().unwrap();
    let map = sample("varrow.osm.pbf");
    let built = run(&["build", map.to_str().unwrap(), "-o", layer, "-q", "-p", profile.to_str().unwrap()]);
    assert!(built.status.success(), "{}", text(&built.stderr));
    let (from, to) = ("46.96922,-28.05054", "46.98550,-27.94961");
    let ask = |more: &[&str]| run(&[&["route", layer, from, to], more].concat());
    let table = ask(&[]);
    assert!(table.status.success(), "{}", text(&table.stderr));
    for part in ["1 fastest", "without a link", "p95 outage", "never the driver"] {
        assert!(text(&table.stdout).contains(part), "{}", text(&table.stdout));
    }
    let json: serde_json::Value = serde_json::from_slice(&ask(&["--json"]).stdout).unwrap();
    let ways = json["ways"].as_array().unwrap();
    assert!(ways.len() > 1, "{}", text(&table.stdout));
    assert_eq!(json["cautions"], serde_json::json!(caution::texts(&Caution::ROAD)));
    assert!(ways[1]["trade"].as_str().unwrap().contains("less without a link"), "{}", ways[1]["trade"]);
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    for (name, more) in [("a.geojson", None), ("a.csv", None), ("b.csv", Some("1")), ("b.gpx", Some("steadiest"))] {
        let way = more.map(|m| vec!["--way", m]).unwrap_or_default();
        let out = ask(&[&["-o", &path(name)], &way[..]].concat());
        assert!(out.status.success(), "{}", text(&out.stderr));
    }
    let geojson: geojson::GeoJson = std::fs::read_to_string(path("a.geojson")).unwrap().parse().unwrap();
    let geojson::GeoJson::FeatureCollection(features) = geojson else { panic!("no collection") };
    assert_eq!(features.features.len(), ways.len());
    assert_eq!(std::fs::read_to_string(path("a.csv")).unwrap().lines().count(), ways.len() + 1);
    let driven = run(&["corridor", layer, &path("b.gpx"), "--json"]);
    let driven: serde_json::Value = serde_json::from_slice(&driven.stdout).unwrap();
    let steadiest = &ways[ways.len() - 1];
    for figure in ["length_m", "time_s", "outage_s"] {
        let (a, b) = (driven[figure].as_f64().unwrap(), steadiest[figure].as_f64().unwrap());
        assert!((a - b).abs() <= 0.01 * b + 1.0, "{figure}: matched {a}, routed {b}");
    }
    let places = format!("{from} {to}");
    let day = ["--way", "fastest", "--depart", "2026-06-15T08:00", "--zone", "UTC", "--json"];
    let planned = run(&[&["plan", layer, &places], &day[..]].concat());
    let planned: serde_json::Value = serde_json::from_slice(&planned.stdout).unwrap();
    let notes: Vec<String> = serde_json::from_value(planned["days"][0]["plan"]["notes"].clone()).unwrap();
    for (place, label) in
        json["places"].as_array().unwrap().iter().zip(["from 46.96922,-28.05054", "to 46.98550,-27.94961"])
    {
        let (road, m) = (place["road"].as_str().unwrap(), place["distance_m"].as_f64().unwrap());
        let told = |n: &&String| {
            n.contains(&format!("{label} was moved to {road}, ")) && n.ends_with(&format!("{m:.0} m away"))
        };
        assert_eq!(notes.iter().filter(told).count(), usize::from(m >= 0.5), "{m}: {notes:?}");
    }
    for (more, code) in [(vec!["--way", "99"], 2), (vec!["-o", "a.txt"], 2), (vec!["--ways", "0"], 2)] {
        assert_eq!(ask(&more).status.code(), Some(code), "{more:?}");
    }
}
