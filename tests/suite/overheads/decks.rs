//! Decks over constructed roads: a deck of width w crossing with skew s covers w / cos s of the lane, centred on the
//! crossing.
use super::kit::{LANE_M, TOLERANCE_DEG, TOLERANCE_M, World, close, deck, flat, ring, road, roof, skewed_deck};
use waymask::base::geodesy::{Point, normal_deg};
use waymask::base::words::{Direction, OverheadKind, RoadClass, ValueFrom};
use waymask::map::extract::model::*;
use waymask::physics::scene::overheads::cell::{LaneOverheads, centre_m, with_neighbours};
use waymask::physics::scene::overheads::overhead::Overhead;

#[test]
fn a_deck_covers_its_width_over_the_cosine_of_its_skew() {
    for skew in [-60.0_f64, -30.0, 0.0, 30.0, 60.0] {
        let found = World::new(vec![skewed_deck(7, 20.0, skew)]).overheads();
        assert_eq!(found.len(), 1, "skew {skew}");
        let o = &found[0];
        let half = 6.0 / skew.to_radians().cos();
        close(o.start_m, 120.0 - half, TOLERANCE_M);
        close(o.end_m, 120.0 + half, TOLERANCE_M);
        close(o.skew_deg, skew, TOLERANCE_DEG);
        close(o.heading_start_deg, 90.0, TOLERANCE_DEG);
        close(o.deck_width_m, 12.0, TOLERANCE_M);
        close(centre_m(o), 120.0, TOLERANCE_M);
        // Ends 60 m away along the deck: finite, square to the lane.
        close(o.left_m, 60.0 * skew.to_radians().cos(), TOLERANCE_M);
        close(o.right_m, 60.0 * skew.to_radians().cos(), TOLERANCE_M);
        assert_eq!(o.kind, OverheadKind::RoadDeck);
        // FHWA: 16 ft (4.9 m) over motorways; antenna at 2 m.
        assert_eq!((o.underside_above_road_m, o.underside_from), (4.9, ValueFrom::Default));
        close(o.clearance_m, 2.9, 1e-9);
    }
}

#[test]
fn a_deck_that_ends_close_by_runs_into_its_abutment() {
    let near = deck(7, DeckUse::Foot, &[(0.0, -20.0), (0.0, 40.0)]);
    let o = &World::new(vec![near]).overheads()[0];
    assert_eq!(o.right_m, f64::INFINITY);
    close(o.left_m, 40.0, TOLERANCE_M);
    let pipe = deck(7, DeckUse::Pipe, &[(0.0, -20.0), (0.0, 40.0)]);
    let o = &World::new(vec![pipe]).overheads()[0];
    close(o.right_m, 20.0, TOLERANCE_M);
}

#[test]
fn twin_decks_stay_two_and_keep_their_gap() {
    let found = World::new(vec![skewed_deck(7, -10.0, 0.0), skewed_deck(8, 10.0, 0.0)]).overheads();
    assert_eq!(found.iter().map(|o| o.osm_id).collect::<Vec<_>>(), [7, 8]);
    close(found[1].start_m - found[0].end_m, 20.0 - 12.0, TOLERANCE_M);
}

#[test]
fn pieces_of_one_bridge_are_one_deck_with_two_ends() {
    let mut south = deck(7, DeckUse::Rail, &[(0.0, -70.0), (0.0, -5.0)]);
    let mut north = deck(8, DeckUse::Rail, &[(0.0, 50.0), (0.0, -5.0)]);
    south.end_nodes = [71, 500];
    north.end_nodes = [82, 500];
    let found = World::new(vec![south, north]).overheads();
    assert_eq!(found.len(), 1);
    close(found[0].right_m, 70.0, TOLERANCE_M);
    close(found[0].left_m, 50.0, TOLERANCE_M);
}

#[test]
fn a_deck_that_begins_at_a_junction_is_not_over_the_road() {
    let mut world = World::new(vec![deck(7, DeckUse::Road(RoadClass::Primary), &[(0.0, 0.0), (0.0, -80.0)])]);
    world.road = road(1, RoadClass::Primary, &[(-100.0, 0.0), (0.0, 0.0), (100.0, 0.0)]);
    // The lane, right of the centre line, is crossed by the deck's line all the same.
    let lane = world.on(Direction::Forward, (-100.0, -LANE_M), (100.0, -LANE_M), flat);
    assert_eq!(lane, []);
    // A deck through the same place without the shared node is over the road.
    world.road = road(1, RoadClass::Primary, &[(-100.0, 0.0), (100.0, 0.0)]);
    let lane = world.on(Direction::Forward, (-100.0, -LANE_M), (100.0, -LANE_M), flat);
    assert_eq!(lane.len(), 1);
}

#[test]
fn layers_order_what_crosses() {
    let mut world = World::new(vec![skewed_deck(7, 0.0, 0.0)]);
    let mut count = |road_bridge: bool, road_layer: i8, deck_layer: i8| {
        world.road.bridge = road_bridge;
        world.road.layer = road_layer;
        world.extract.decks[0].layer = deck_layer;
        world.overheads().len()
    };
    // Road on the ground: bridges are often tagged without a layer.
    assert_eq!(count(false, 0, 1), 1);
    assert_eq!(count(false, 0, 0), 1);
    assert_eq!(count(false, 0, -1), 0);
    // Road on a bridge: only a higher deck.
    assert_eq!(count(true, 1, 2), 1);
    assert_eq!(count(true, 1, 1), 0);
    assert_eq!(count(true, 2, 1), 0);
}

#[test]
fn a_road_in_a_tunnel_is_under_its_tunnel_only() {
    let mut world = World::new(vec![skewed_deck(7, 0.0, 0.0)]);
    world.road.tunnel = Some(TunnelKind::Tunnel);
    let found = world.overheads();
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].kind, OverheadKind::Tunnel);
    assert!(found[0].left_closed && found[0].right_closed);
    // Carriageway 7 m, lane 1.75 m right of its middle, walls 1 m beyond the edges.
    close(found[0].left_m, 3.5 + 1.75 + 1.0, 1e-6);
    close(found[0].right_m, 3.5 - 1.75 + 1.0, 1e-6);
}

#[test]
fn a_viaduct_above_the_road_covers_the_stretch_under_its_outline() {
    // Crosses at 10 degrees from the road's direction: skew 80. Half width 6 m.
    let (sin, cos) = 10.0_f64.to_radians().sin_cos();
    let viaduct =
        deck(7, DeckUse::Road(RoadClass::Motorway), &[(-300.0 * cos, -300.0 * sin), (300.0 * cos, 300.0 * sin)]);
    let found = World::new(vec![viaduct]).overheads();
    let half = 6.0 / sin;
    close(found[0].start_m, 100.0 - half, 0.2);
    close(found[found.len() - 1].end_m, 100.0 + half, 0.2);
    for pair in found.windows(2) {
        close(pair[0].end_m, pair[1].start_m, 1e-6);
    }
    for o in &found {
        assert!(o.left_m.is_finite() && o.right_m.is_finite() && o.skew_deg == 0.0);
        // Square to the lane the band is 12 m / cos 10 wide.
        close(o.left_m + o.right_m, 12.0 / cos, TOLERANCE_M);
    }
}

#[test]
fn a_parallel_deck_beside_its_own_approach_is_not_over_the_road() {
    // Road 1 leaves road 2 at the gore, 30 m before the bridge of road 3, and stays 4 m beside it.
    let beside = deck(3, DeckUse::Road(RoadClass::Motorway), &[(-70.0, 4.0), (100.0, 4.0)]);
    let mut world = World::new(vec![beside]);
    assert!(!world.overheads().is_empty(), "without the junction it counts as above");
    let gore = (-100.0, 0.0);
    world.extract.roads = vec![
        world.road.clone(),
        road(2, RoadClass::Motorway, &[(-200.0, 0.0), gore, (-70.0, 4.0)]),
        road(3, RoadClass::Motorway, &[(-70.0, 4.0), (100.0, 4.0)]),
    ];
    assert_eq!(world.overheads(), []);
}

#[test]
fn undersides_come_from_signs_then_elevation_then_defaults() {
    let mut world = World::new(vec![skewed_deck(7, 0.0, 0.0)]);
    // Both ends of the deck 30 m above the road.
    let valley = |p: Point| Some(if p.y_m.abs() > 30.0 { 130.0 } else { 100.0 });
    let one = |w: &World, ground| w.on(Direction::Forward, (-100.0, 0.0), (100.0, 0.0), ground)[0].clone();
    let o = one(&world, valley);
    assert_eq!(o.underside_from, ValueFrom::Elevation);
    close(o.underside_above_road_m, 30.0 - 1.6, 0.01);
    let o = one(&world, |p| Some(if p.y_m.abs() > 30.0 { 108.0 } else { 100.0 }));
    assert_eq!(o.underside_from, ValueFrom::Default, "8 m is within the noise of an elevation raster");
    assert_eq!(one(&world, |_| None).underside_from, ValueFrom::Default);
    world.road.maxheight_m = Some(4.0);
    let o = one(&world, valley);
    assert_eq!(o.underside_from, ValueFrom::Tag);
    close(o.underside_above_road_m, 4.2, 1e-6);
    world.road.maxheight_physical_m = Some(4.5);
    close(one(&world, valley).underside_above_road_m, 4.5, 1e-6);
    world.road.maxheight_physical_m = Some(2.0);
    close(one(&world, valley).clearance_m, 0.2, 1e-9);
}

#[test]
fn an_outline_gives_the_deck_its_width() {
    let outline = Deck {
        shape: DeckShape::Outline(ring(&[(-9.0, -60.0), (7.0, -60.0), (7.0, 60.0), (-9.0, 60.0)])),
        end_nodes: [0, 0],
        ..deck(50, DeckUse::Structure, &[])
    };
    let foot = deck(8, DeckUse::Foot, &[(5.0, -60.0), (5.0, 60.0)]);
    let world = World::new(vec![skewed_deck(7, 0.0, 0.0), foot, outline.clone()]);
    let found = world.overheads();
    assert_eq!(found.len(), 1, "a footway on the same outline is the same deck");
    assert_eq!((found[0].kind, found[0].osm_id), (OverheadKind::RoadDeck, 7));
    close(found[0].start_m, 91.0, TOLERANCE_M);
    close(found[0].end_m, 107.0, TOLERANCE_M);
    let found = World::new(vec![outline]).overheads();
    assert_eq!((found.len(), found[0].kind), (1, OverheadKind::OtherDeck));
    close(found[0].start_m, 91.0, TOLERANCE_M);
    close(found[0].end_m, 107.0, TOLERANCE_M);
}

#[test]
fn a_road_along_an_outline_without_lines_runs_on_it() {
    let outline = Deck {
        shape: DeckShape::Outline(ring(&[(-50.0, -6.0), (50.0, -6.0), (50.0, 6.0), (-50.0, 6.0)])),
        end_nodes: [0, 0],
        layer: 0,
        ..deck(50, DeckUse::Structure, &[])
    };
    assert_eq!(World::new(vec![outline]).overheads(), []);
}

#[test]
fn driving_backward_mirrors_forward() {
    let mut decks = vec![skewed_deck(7, 20.0, 30.0), skewed_deck(8, -40.0, -50.0)];
    decks.push(deck(9, DeckUse::Foot, &[(60.0, -20.0), (60.0, 40.0)]));
    let (sin, cos) = 12.0_f64.to_radians().sin_cos();
    decks.push(deck(
        10,
        DeckUse::Road(RoadClass::Motorway),
        &[(-300.0 * cos, -300.0 * sin), (300.0 * cos, 300.0 * sin)],
    ));
    let mut world = World::new(decks);
    world.extract.buildings = vec![roof(30, &[(70.0, -5.0), (85.0, -5.0), (85.0, 9.0), (70.0, 9.0)])];
    let forward = world.overheads();
    let backward = world.on(Direction::Backward, (100.0, 0.0), (-100.0, 0.0), flat);
    assert_eq!(forward.len(), backward.len());
    for f in &forward {
        let b = backward
            .iter()
            .find(|b| b.osm_id == f.osm_id && (b.start_m - (200.0 - f.end_m)).abs() < 1e-6)
            .expect("mirrored overhead");
        close(b.end_m, 200.0 - f.start_m, 1e-6);
        close(b.skew_deg, f.skew_deg, 1e-6);
        close(b.deck_width_m, f.deck_width_m, 1e-6);
        close(b.heading_start_deg, normal_deg(f.heading_end_deg + 180.0), 1e-6);
        let same = |a: f64, b: f64| a == b || (a - b).abs() < 1e-6;
        assert!(same(b.left_m, f.right_m) && same(b.right_m, f.left_m), "{f:?} {b:?}");
        assert_eq!((b.clearance_m, b.kind), (f.clearance_m, f.kind));
    }
}

#[test]
fn splitting_a_segment_keeps_the_union_of_intervals() {
    let (sin, cos) = 20.0_f64.to_radians().sin_cos();
    let mut decks = vec![skewed_deck(7, 20.0, 30.0), skewed_deck(8, -40.0, -50.0)];
    decks.push(deck(
        10,
        DeckUse::Road(RoadClass::Motorway),
        &[(-300.0 * cos, -300.0 * sin + 10.0), (300.0 * cos, 300.0 * sin + 10.0)],
    ));
    let world = World::new(decks);
    let whole = union(&world.overheads(), 1e-6);
    // Through open road, through the middle of a deck, through its edge.
    for cut in [-75.0_f64, 20.0, 15.3, -40.0, 99.0] {
        let part = |a: f64, b: f64| LaneOverheads {
            length_m: b - a,
            overheads: world.on(Direction::Forward, (a, 0.0), (b, 0.0), flat),
        };
        let (first, second) = (part(-100.0, cut), part(cut, 100.0));
        let seen_first = with_neighbours(&first, &[], std::slice::from_ref(&second));
        let seen_second = with_neighbours(&second, std::slice::from_ref(&first), &[]);
        let mut both = seen_first.clone();
        both.extend(seen_second.iter().map(|o| {
            let (start_m, end_m) = (o.start_m + cut + 100.0, o.end_m + cut + 100.0);
            Overhead { start_m, end_m, ..o.clone() }
        }));
        let got = union(&both, 1e-6);
        assert_eq!(got.len(), whole.len(), "cut {cut}: {got:?} {whole:?}");
        for (g, w) in got.iter().zip(&whole) {
            close(g.0, w.0, 1e-6);
            close(g.1, w.1, 1e-6);
        }
        let owned =
            |s: &[Overhead], l: f64| s.iter().filter(|o| (0.0..l).contains(&centre_m(o)) && o.osm_id != 10).count();
        let counted = owned(&seen_first, first.length_m) + owned(&seen_second, second.length_m);
        assert_eq!(counted, 2, "each crossing deck is counted once, cut {cut}");
    }
}

fn union(overheads: &[Overhead], gap_m: f64) -> Vec<(f64, f64)> {
    let all = overheads.iter().map(|o| (o.start_m, o.end_m)).collect();
    waymask::physics::scene::lane_path::merged(all, gap_m)
}

#[test]
fn the_order_of_decks_changes_nothing() {
    let mut decks = vec![skewed_deck(7, 20.0, 30.0), skewed_deck(8, -40.0, -50.0)];
    decks.push(deck(9, DeckUse::Gantry, &[(60.0, -20.0), (60.0, 10.0)]));
    let found = World::new(decks.clone()).overheads();
    assert_eq!(found.len(), 3);
    assert!(found.windows(2).all(|w| w[0].start_m <= w[1].start_m));
    decks.reverse();
    assert_eq!(World::new(decks).overheads(), found);
}
