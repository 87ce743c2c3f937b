//! Roofs, passages, galleries and tunnels over constructed roads.
use super::kit::{ANTENNA_M, TOLERANCE_M, World, close, flat, line, plane, road, roof, segment, skewed_deck, stations};
use waymask::base::words::{Direction, OverheadKind, RoadClass, ValueFrom};
use waymask::map::extract::model::*;
use waymask::map::network::model::*;
use waymask::physics::scene::overheads::cell::CellOverheads;
use waymask::physics::scene::overheads::covers::{CoverTag, LaneOf, cover_runs, cover_tag};
use waymask::physics::scene::overheads::decks::DeckIndex;

#[test]
fn a_fuel_station_roof_covers_the_lane_inside_its_footprint() {
    let mut world = World::new(Vec::new());
    world.extract.buildings = vec![roof(30, &[(-10.0, -6.0), (15.0, -6.0), (15.0, 12.0), (-10.0, 12.0)])];
    let found = world.overheads();
    assert_eq!(found.len(), 1);
    let o = &found[0];
    assert_eq!((o.kind, o.osm_id), (OverheadKind::Roof, 30));
    close(o.start_m, 90.0, TOLERANCE_M);
    close(o.end_m, 115.0, TOLERANCE_M);
    close(o.left_m, 12.0, TOLERANCE_M);
    close(o.right_m, 6.0, TOLERANCE_M);
    assert_eq!(o.underside_from, ValueFrom::Default);
    world.extract.buildings[0].height_m = Some(6.5);
    close(world.overheads()[0].underside_above_road_m, 5.5, 1e-6);
    world.extract.buildings[0].min_height_m = Some(5.0);
    close(world.overheads()[0].underside_above_road_m, 5.0, 1e-6);
    // Closed to the ground: not a roof over the road, whatever the tags of the road.
    world.extract.buildings[0].roof_only = false;
    world.extract.buildings[0].min_height_m = Some(1.0);
    assert_eq!(world.overheads(), []);
}

#[test]
fn storeys_over_a_passage_are_as_thick_as_they_are_high() {
    let mut world = World::new(Vec::new());
    let mut part = roof(31, &[(-10.0, -6.0), (15.0, -6.0), (15.0, 12.0), (-10.0, 12.0)]);
    (part.part, part.roof_only, part.layer, part.min_height_m) = (true, false, 0, Some(5.0));
    let mut thickness_m = |height_m, levels| {
        let part = Building { height_m, levels, ..part.clone() };
        world.extract.buildings = vec![part];
        world.overheads()[0].thickness_m
    };
    close(thickness_m(Some(40.0), None), 35.0, 1e-6);
    close(thickness_m(None, Some(6.0)), 13.0, 1e-6);
    // Untagged: one storey.
    close(thickness_m(None, None), 3.0, 1e-6);
}

#[test]
fn a_toll_booth_of_a_motorway_has_a_roof() {
    let mut world = World::new(Vec::new());
    let at = world.road.nodes[0].at;
    let kinds = |world: &World| {
        let found = world.on(Direction::Forward, (-100.0, 0.0), (100.0, 0.0), flat);
        found.iter().map(|o| (o.kind, o.osm_id, o.underside_from)).collect::<Vec<_>>()
    };
    // A node of the road, in the middle of the lane looked at.
    world.road.nodes.insert(1, RoadNode { id: 900, at: line(&[(20.0, 0.0)])[0] });
    world.extract.toll_booths = vec![TollBooth { id: 900, at: world.road.nodes[1].at }, TollBooth { id: 901, at }];
    world.extract.roads = vec![world.road.clone()];
    assert_eq!(kinds(&world), [(OverheadKind::Roof, 900, ValueFrom::Default)], "901 is on no road");
    let found = world.overheads();
    close(found[0].start_m, 114.0, TOLERANCE_M);
    close(found[0].end_m, 126.0, TOLERANCE_M);
    // The plaza's own roof is drawn: the booth adds none.
    world.extract.buildings = vec![roof(30, &[(5.0, -20.0), (35.0, -20.0), (35.0, 20.0), (5.0, 20.0)])];
    assert_eq!(kinds(&world), [(OverheadKind::Roof, 30, ValueFrom::Default)]);
    world.extract.buildings.clear();
    world.extract.roads[0].class = RoadClass::Service;
    assert_eq!(kinds(&world), [], "the barrier of a car park");
}

#[test]
fn covered_counts_once() {
    let mut world = World::new(Vec::new());
    world.road.covered = true;
    let found = world.overheads();
    assert_eq!((found.len(), found[0].kind, found[0].osm_id), (1, OverheadKind::Roof, 1));
    assert_eq!((found[0].left_closed, found[0].left_m), (false, 6.0));
    // The roof that was meant is drawn.
    world.extract.buildings = vec![roof(30, &[(-80.0, -6.0), (80.0, -6.0), (80.0, 12.0), (-80.0, 12.0)])];
    assert_eq!(world.overheads().iter().map(|o| o.osm_id).collect::<Vec<_>>(), [30]);
    // A short way below a tagged covered because of it.
    world.extract.buildings.clear();
    world.extract.decks = vec![skewed_deck(7, 0.0, 0.0)];
    let found = world.on(Direction::Forward, (-8.0, 0.0), (8.0, 0.0), flat);
    assert_eq!(found.iter().map(|o| o.kind).collect::<Vec<_>>(), [OverheadKind::RoadDeck]);
}

#[test]
fn gallery_sides_swap_when_driven_backward() {
    let mut world = World::new(Vec::new());
    world.road.tunnel = Some(TunnelKind::Gallery { open_left: true, open_right: false });
    let o = &world.overheads()[0];
    assert_eq!((o.kind, o.left_closed, o.right_closed), (OverheadKind::Gallery, false, true));
    let o = &world.on(Direction::Backward, (100.0, 0.0), (-100.0, 0.0), flat)[0];
    assert_eq!((o.left_closed, o.right_closed), (true, false));
}

#[test]
fn three_tunnel_pieces_are_one_prism_seen_from_every_piece() {
    let mut tunnel = road(1, RoadClass::Primary, &[(-100.0, 0.0), (100.0, 0.0)]);
    tunnel.tunnel = Some(TunnelKind::Tunnel);
    let open = road(2, RoadClass::Primary, &[(-200.0, 0.0), (-100.0, 0.0)]);
    let index = DeckIndex::new(&Extract::default());
    let cell = CellOverheads::new(&index, plane(), [8.5, 49.9], [8.7, 50.1], ANTENNA_M);
    // Open 100 m, tunnel 80 + 70 + 50 m, open 100 m.
    let bounds = [-200.0, -100.0, -20.0, 50.0, 100.0, 200.0];
    let roads = [&open, &tunnel, &tunnel, &tunnel, &open];
    let segments: Vec<Segment> =
        roads.iter().zip(bounds.windows(2)).map(|(r, w)| Segment { length_m: w[1] - w[0], ..segment(r) }).collect();
    let tags: Vec<(Option<CoverTag>, f64)> =
        roads.iter().zip(&segments).map(|(r, s)| (cover_tag(r, s, Direction::Forward), s.length_m)).collect();
    let runs = cover_runs(&tags);
    assert_eq!(runs, [(0.0, 0.0), (0.0, 120.0), (80.0, 50.0), (150.0, 0.0), (0.0, 0.0)]);
    let stations: Vec<Vec<Station>> = bounds.windows(2).map(|w| stations((w[0], 0.0), (w[1], 0.0), None)).collect();
    let lanes: Vec<LaneOf> = (0..5)
        .map(|i| LaneOf {
            road: roads[i],
            segment: &segments[i],
            direction: Direction::Forward,
            stations: &stations[i],
            cover_before_m: runs[i].0,
            cover_after_m: runs[i].1,
        })
        .collect();
    for i in 0..5 {
        let before: Vec<LaneOf> = lanes[..i].iter().rev().copied().collect();
        let found = cell.along(&lanes[i], &before, &lanes[i + 1..], &flat);
        assert_eq!(found.len(), 1, "piece {i}");
        close(found[0].start_m, -100.0 - bounds[i], 1e-6);
        close(found[0].end_m, 100.0 - bounds[i], 1e-6);
    }
}
