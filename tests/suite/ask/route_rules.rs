//! Who may drive where: what is left out, what serves only the ends, and what an error names.
use waymask::ask::route::RouteRules;
use waymask::base::geodesy::Position;
use waymask::base::index::JunctionIndex;
use waymask::base::words::RoadAccess;
use waymask::map::network::local::{JunctionPair, local};

use crate::ask::town::{ALL, Town, ask, asked, fastest_m, roads};
use crate::build::kit::Place;

/// Tags of the middle of the street, rules, and what the error says.
type Case = (&'static [(&'static str, &'static str)], RouteRules, &'static str);

/// The error of a way from west to east under some rules.
fn refused(town: &Town, place: &Place, rules: RouteRules) -> String {
    let mut question = asked(ends(town));
    question.rules = rules;
    ask(place, &question).unwrap_err()
}

fn ends(town: &Town) -> Vec<Position> {
    vec![town.at(500.0, 0.0), town.at(2_500.0, 0.0)]
}

#[test]
fn an_error_names_what_is_in_the_way() {
    let cases: [Case; 5] = [
        (&[("surface", "gravel")], RouteRules { unpaved: false, ..ALL }, "the only way uses unpaved roads"),
        (&[("access", "private")], RouteRules { private: false, ..ALL }, "the only way uses private roads"),
        (&[("maxheight", "2.2")], ALL, "under posted clearances"),
        (&[("oneway", "-1")], ALL, "the only way goes against one-way roads"),
        (&[("oneway", "-1"), ("maxheight", "2.2")], ALL, "several of these"),
    ];
    for (middle, rules, says) in cases {
        let town = Town::with_middle(middle);
        let error = refused(&town, &town.build(), rules);
        assert!(error.contains(says), "{middle:?}: {error}");
    }
    let mut town = Town::with_middle(&[]);
    let far = town.sketch.line(&[(5_000.0, 0.0), (5_500.0, 0.0)], &roads("tertiary")).1;
    let place = town.build();
    let island = vec![town.at(500.0, 0.0), town.at(5_200.0, 0.0)];
    assert!(
        ask(&place, &asked(island.clone())).unwrap_err().contains("m of the places are not connected with each other")
    );
    town.sketch.way(&[town.street[3], far[0]], &[("route", "ferry")]);
    let place = town.build();
    assert!(ask(&place, &asked(island.clone())).unwrap().ways[0].boarded_m > 1_900.0);
    let mut dry = asked(island);
    dry.rules.boarded = false;
    assert!(ask(&place, &dry).unwrap_err().contains("the only way uses a ferry"));
}

#[test]
fn what_is_left_out_is_gone_round() {
    let mut town = Town::with_middle(&[("surface", "gravel"), ("maxheight", "2.7")]);
    let (a, b) = (town.street[1], town.street[2]);
    let n = town.sketch.node(1_500.0, 800.0, &[]);
    town.sketch.way(&[a, n, b], &roads("tertiary"));
    let place = town.build();
    let length_m = |rules: RouteRules| {
        let mut question = asked(ends(&town));
        question.rules = rules;
        ask(&place, &question).unwrap().ways[0].length_m
    };
    assert!(length_m(RouteRules { height_m: 2.7, ..ALL }) < 2_002.0, "as high as posted passes");
    assert!(length_m(RouteRules { height_m: 2.7, unpaved: false, ..ALL }) > 2_800.0);
    assert!(length_m(RouteRules { height_m: 2.71, ..ALL }) > 2_800.0);
}

#[test]
fn a_road_for_business_there_is_no_way_through_but_a_place_on_it_is_reached() {
    for middle in [("motor_vehicle", "destination"), ("access", "private")] {
        let mut town = Town::with_middle(&[middle]);
        let (a, b) = (town.street[1], town.street[2]);
        let n = town.sketch.node(1_500.0, 800.0, &[]);
        town.sketch.way(&[a, n, b], &roads("tertiary"));
        let place = town.build();
        assert!(fastest_m(&place, &ends(&town)) > 2_800.0, "{middle:?} was driven through");
        let on_it = [town.at(500.0, 0.0), town.at(1_900.0, 0.0)];
        let found = ask(&place, &asked(on_it.to_vec())).unwrap();
        let business_m = found.ways[0].destination_m + found.ways[0].private_m;
        assert!((found.ways[0].length_m - 1_400.0).abs() < 2.0 && (business_m - 900.0).abs() < 2.0, "{middle:?}");
        assert!((fastest_m(&place, &[on_it[1], on_it[0]]) - 1_400.0).abs() < 2.0);
    }
}

#[test]
fn open_streets_behind_a_gate_are_left_and_reached() {
    let mut town = Town::with_middle(&[]);
    let gate = town.sketch.node(500.0, 100.0, &[]);
    let inside = town.sketch.node(500.0, 400.0, &[]);
    let corner = town.sketch.node(500.0, 0.0, &[]);
    town.sketch.way(&[town.street[0], corner, town.street[1]], &roads("tertiary"));
    town.sketch.way(&[corner, gate], &[roads("service"), vec![("access", "private")]].concat());
    town.sketch.way(&[gate, inside], &roads("service"));
    let place = town.build();
    let open_but_local =
        place.layer.edges().map(|e| e.unwrap()).filter(|e| e.local && e.access == RoadAccess::Open).count();
    assert_eq!(open_but_local, 2, "the street inside, both ways");
    assert_column_is_what_a_search_finds(&place.layer);
    let (home, away) = (town.at(500.0, 380.0), town.at(1_500.0, 0.0));
    for places in [[home, away], [away, home]] {
        assert!((fastest_m(&place, &places) - 1_380.0).abs() < 3.0);
    }
    let mut question = asked(vec![home, away]);
    question.rules.private = false;
    assert!(ask(&place, &question).unwrap_err().contains("the only way uses private roads"));
}

#[test]
fn streets_that_hang_on_a_road_left_out_are_left_over_private_ones() {
    let mut town = Town::with_middle(&[]);
    let corner = town.sketch.node(500.0, 0.0, &[]);
    let inside = town.sketch.node(500.0, 300.0, &[]);
    let home = town.sketch.node(500.0, 600.0, &[]);
    town.sketch.way(&[town.street[0], corner, town.street[1]], &roads("tertiary"));
    town.sketch.way(&[corner, inside], &[roads("service"), vec![("access", "private")]].concat());
    town.sketch.way(&[inside, home], &roads("service"));
    town.sketch.way(&[inside, town.street[1]], &[roads("track"), vec![("surface", "gravel")]].concat());
    let place = town.build();
    let local: Vec<(bool, RoadAccess)> = place.layer.edges().map(|e| e.unwrap()).map(|e| (e.local, e.access)).collect();
    assert!(local.iter().all(|(local, access)| *local == (*access == RoadAccess::Private)), "{local:?}");
    assert_column_is_what_a_search_finds(&place.layer);
    let places = [town.at(500.0, 580.0), town.at(1_500.0, 0.0)];
    for places in [places, [places[1], places[0]]] {
        // 280 m to the fork, 583 m of track, 500 m of street.
        assert!((fastest_m(&place, &places) - 1_363.0).abs() < 3.0);
        let mut question = asked(places.to_vec());
        question.rules.unpaved = false;
        let found = ask(&place, &question).unwrap();
        assert!((found.ways[0].length_m - 1_580.0).abs() < 3.0, "{}", found.ways[0].length_m);
    }
}

/// The column and what a search finds for itself are the same, so routes are.
fn assert_column_is_what_a_search_finds(layer: &waymask::layer::Layer) {
    let rows: Vec<_> = layer.edges().map(|e| e.unwrap()).collect();
    let mut numbers = std::collections::HashMap::new();
    let mut number = |node: i64| {
        let next = JunctionIndex::new(numbers.len());
        *numbers.entry(node).or_insert(next)
    };
    let mut pairs = Vec::new();
    for e in &rows {
        let open = e.access == RoadAccess::Open;
        pairs.push(JunctionPair { from: number(e.from_node), to: number(e.to_node), open });
    }
    let found = local(numbers.len(), &pairs, None);
    let column: Vec<bool> = rows.iter().map(|e| e.local).collect();
    assert_eq!(column, found);
    let open_but_local = rows.iter().filter(|e| e.local && e.access == RoadAccess::Open).count();
    println!("{} edges, {} local, {open_but_local} of them open", rows.len(), column.iter().filter(|l| **l).count());
    assert!(column.contains(&true) && column.contains(&false));
}

#[test]
fn heavy_the_local_roads_of_a_country_are_those_a_search_finds() {
    let Some(layer) = crate::build::country::andorra() else { return };
    assert_column_is_what_a_search_finds(&waymask::layer::Layer::open(&layer).unwrap());
}

#[test]
fn a_road_left_out_next_to_a_place_is_told() {
    let mut town = Town::with_middle(&[]);
    let n = town.sketch.node(0.0, 60.0, &[]);
    town.sketch.way(&[town.street[0], n], &[("highway", "track"), ("name", "Ride")]);
    let place = town.build();
    let mut question = asked(vec![town.at(5.0, 60.0), town.at(2_500.0, 0.0)]);
    question.rules.unpaved = false;
    let found = ask(&place, &question).unwrap();
    assert!(found.notes[0].contains("Ride (5 m), is unpaved"), "{:?}", found.notes);
    question.places[0] = town.at(-150.0, 60.0);
    question.within_m = 155.0;
    let none = ask(&place, &question).unwrap_err();
    assert!(none.contains("every road within 155 m is unpaved"), "{none}");
}
