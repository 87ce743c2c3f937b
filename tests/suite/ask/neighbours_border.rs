//! Layers of extracts that end at a border: each holds the ways that cross it whole, but only its own roads beside them.
use std::collections::BTreeMap;

use waymask::ask::corridor::CorridorQuestion;
use waymask::ask::neighbours::{JoinedLayers, joined};
use waymask::ask::track::read;
use waymask::base::progress::Silent;
use waymask::base::words::Rating;
use waymask::build::{self, BuildOptions};
use waymask::layer::Layer;

use crate::build::kit::Sketch;
use crate::extract_builder::{Map, Obj};

/// A road over the border at x = 0 with a side road on either side, and a wood along it on the eastern one.
struct BorderMap {
    sketch: Sketch,
    main: i64,
    side: [i64; 2],
    exits: [i64; 2],
    ends: [i64; 2],
    wood: Vec<i64>,
}

fn border() -> BorderMap {
    let mut sketch = Sketch::around(47.1, -27.9);
    let road = [("highway", "secondary"), ("name", "Border Road")];
    let points: Vec<(f64, f64)> =
        [-1_900.0, -1_310.0, -700.0, -60.0, 550.0, 1_230.0, 1_900.0].map(|x| (x, 0.0)).to_vec();
    let (main, nodes) = sketch.line(&points, &road);
    let mut side = |at: usize, x: f64, y: f64| {
        let end = sketch.node(x, y, &[]);
        (sketch.way(&[nodes[at], end], &[("highway", "residential")]), end)
    };
    let (west, west_end) = side(2, -700.0, 420.0);
    let (east, east_end) = side(4, 550.0, -380.0);
    // A roundabout with an exit on either side.
    let corner = |k: u32| {
        let turn = f64::from(k) * std::f64::consts::FRAC_PI_4;
        (35.0 * turn.cos(), 900.0 + 35.0 * turn.sin())
    };
    let mut ring: Vec<i64> = (0..8).map(|k| sketch.node(corner(k).0, corner(k).1, &[])).collect();
    ring.push(ring[0]);
    sketch.way(&ring, &[("highway", "tertiary"), ("junction", "roundabout")]);
    let mut exit = |at: usize, x: f64| {
        let end = sketch.node(x, 900.0, &[]);
        sketch.way(&[ring[at], end], &[("highway", "tertiary")])
    };
    let exits = [exit(3, -500.0), exit(6, 500.0)];
    let wood = sketch.area([200.0, -60.0, 1_800.0, 60.0], &[("natural", "wood"), ("height", "25")]);
    BorderMap { sketch, main, side: [west, east], exits, ends: [west_end, east_end], wood: vec![wood] }
}

/// The layer of what is left of a map without some ways.
fn layer_without(map: &BorderMap, left_out: &[i64], folder: &std::path::Path, name: &str) -> Layer {
    let kept: Vec<Obj> = map
        .sketch
        .objects
        .iter()
        .filter(|o| !matches!(o, Obj::Way { id, .. } if left_out.contains(id)))
        .cloned()
        .collect();
    let extract = folder.join(format!("{name}.osm.pbf"));
    std::fs::write(&extract, Map::of(&kept).bytes()).unwrap();
    let mut options = BuildOptions::new(extract, folder.join(format!("{name}.gpkg")));
    options.profile.link.drives = 16;
    build::build(&options, &Silent).unwrap();
    Layer::open(&options.output).unwrap()
}

fn edges(layer: &Layer) -> BTreeMap<(i64, i64, i64), f64> {
    layer.edges().map(|e| e.unwrap()).map(|e| ((e.way_id, e.from_node, e.to_node), e.time_s)).collect()
}

#[test]
fn a_road_over_the_border_has_the_junctions_of_both_sides_and_the_worse_of_two_ratings() {
    let map = border();
    let folder = tempfile::tempdir().unwrap();
    let whole = layer_without(&map, &[], folder.path(), "whole");
    let west = layer_without(&map, &[&map.wood[..], &[map.side[1], map.exits[1]]].concat(), folder.path(), "west");
    let east = layer_without(&map, &[map.side[0], map.exits[0]], folder.path(), "east");
    let ratings = |layer: &Layer| layer.segments().unwrap().into_iter().map(|s| s.rating).max().unwrap();
    assert_eq!((ratings(&west), ratings(&east)), (Rating::Steady, Rating::Drops), "the wood is in one of them");
    for turned in [false, true] {
        let mut layers: Vec<Layer> =
            ["west", "east"].iter().map(|n| Layer::open(&folder.path().join(format!("{n}.gpkg"))).unwrap()).collect();
        if turned {
            layers.reverse();
        }
        let JoinedLayers { layer, told, .. } = joined(layers, None, folder.path()).unwrap();
        assert!(told.iter().any(|t| t.contains("are rated differently in them: the worse rating counts")), "{told:?}");
        let (here, there) = (edges(&layer), edges(&whole));
        assert_eq!(here.keys().collect::<Vec<_>>(), there.keys().collect::<Vec<_>>());
        for (edge, time_s) in &here {
            assert!((time_s - there[edge]).abs() < 0.02 * there[edge] + 0.01, "{edge:?}: {time_s} {}", there[edge]);
        }
        // Every metre of the road once, no gap, and no cut without its neighbour.
        let rows: Vec<_> = layer.segments().unwrap().into_iter().filter(|s| s.way_id == map.main).collect();
        let sum_m: f64 = rows.iter().map(|s| s.length_m).sum();
        assert!((sum_m - 3_800.0).abs() < 1.0, "{sum_m}");
        let mut in_order = rows.clone();
        in_order.sort_by_key(|s| s.part);
        assert!(in_order.windows(2).all(|w| w[0].line.last() == w[1].line.first() && w[0].part + 1 == w[1].part));
        // Nothing is better than the side that knows of the wood says.
        let plane = map.sketch.plane;
        let outage = |layer: &Layer| -> f64 {
            let rows = layer.segments().unwrap();
            let driven = rows.iter().filter(|s| s.way_id == map.main).filter_map(|s| s.driven.forward);
            driven.map(|d| d.outage_s).sum()
        };
        let [joined_s, east_s] = [&layer, &east].map(outage);
        assert!(joined_s > 3.0 && joined_s >= east_s - 0.05, "{joined_s} s, {east_s} s in the layer of the wood");
        // A drive from one side road to the other, which neither layer holds.
        let at = |x, y| {
            let (lon, lat) = plane.to_lon_lat(waymask::base::geodesy::Point::new(x, y));
            format!("{lat:.6},{lon:.6}")
        };
        let track = [at(-700.0, 400.0), at(-700.0, 0.0), at(0.0, 0.0), at(550.0, 0.0), at(550.0, -360.0)].join(" ");
        let question = CorridorQuestion { track: read(&track).unwrap(), ..CorridorQuestion::default() };
        let driven = waymask::ask::corridor(&layer, &question).unwrap();
        assert!(driven.unmatched_m < 1.0 && (driven.length_m - 2_010.0).abs() < 30.0, "{driven:?}");
        assert!(waymask::ask::corridor(&west, &question).unwrap().unmatched_m > 300.0);
        let nodes: Vec<i64> = layer.nodes().unwrap().iter().map(|n| n.node_id).collect();
        assert!(map.ends.iter().all(|end| nodes.contains(end)) && nodes.iter().all(|n| *n > 0), "{nodes:?}");
    }
}

#[test]
fn layers_without_a_common_node_are_said_to_be_apart() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str, x: f64, first: i64| {
        let mut sketch = Sketch::around(47.1, -27.9);
        sketch.line(&[(x, 0.0), (x + 900.0, 0.0)], &[("highway", "secondary")]);
        // The same numbers in both would be the same nodes.
        for object in &mut sketch.objects {
            match object {
                Obj::Node { id, .. } | Obj::Relation { id, .. } => *id += first,
                Obj::Way { id, refs, .. } => {
                    *id += first;
                    refs.iter_mut().for_each(|r| *r += first);
                }
            }
        }
        let map = BorderMap { sketch, main: 0, side: [0; 2], exits: [0; 2], ends: [0; 2], wood: Vec::new() };
        layer_without(&map, &[], folder.path(), name)
    };
    let (a, b) = (place("a", 0.0, 0), place("b", 1_000.0, 1_000));
    let JoinedLayers { layer, told, .. } = joined(vec![a, b], None, folder.path()).unwrap();
    let said = told.iter().find(|t| t.contains("no road joins")).unwrap();
    assert!(said.contains("b.gpkg with") && said.ends_with("what lies between them is not known"), "{said}");
    // The 100 m between them are not closed.
    let plane = waymask::base::geodesy::LocalPlane::at(-27.9, 47.1);
    let at = |x| {
        let (lon, lat) = plane.to_lon_lat(waymask::base::geodesy::Point::new(x, 0.0));
        format!("{lat:.6},{lon:.6}")
    };
    let track = (0..=19).map(|i| at(f64::from(i) * 100.0)).collect::<Vec<_>>().join(" ");
    let question = CorridorQuestion { track: read(&track).unwrap(), ..CorridorQuestion::default() };
    let driven = waymask::ask::corridor(&layer, &question).unwrap();
    assert!((driven.unmatched_m - 100.0).abs() < 60.0, "{}", driven.unmatched_m);
    // In reach of a track on one side only, the answer is the same.
    drop(layer);
    let open = |n: &str| Layer::open(&folder.path().join(n)).unwrap();
    let track = read(&format!("{} {}", at(0.0), at(800.0))).unwrap();
    let boxes = waymask::ask::neighbours::reach_along(&track, 0.0);
    let few = joined(vec![open("a.gpkg"), open("b.gpkg")], Some(&boxes), folder.path()).unwrap();
    assert!(few.told.iter().any(|t| t.contains("no road joins")), "{:?}", few.told);
}

#[test]
fn a_road_that_two_maps_draw_differently_is_taken_from_one_and_said() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str, y: f64| {
        let mut sketch = Sketch::around(47.1, -27.9);
        sketch.line(&[(0.0, 0.0), (400.0, 0.0), (800.0, y), (1_300.0, 0.0)], &[("highway", "secondary")]);
        let map = BorderMap { sketch, main: 0, side: [0; 2], exits: [0; 2], ends: [0; 2], wood: Vec::new() };
        layer_without(&map, &[], folder.path(), name)
    };
    let (a, b) = (place("a", 0.0), place("b", 90.0));
    let longer_m: f64 = b.segments().unwrap().iter().map(|s| s.length_m).sum();
    let JoinedLayers { layer, told, .. } = joined(vec![a, b], None, folder.path()).unwrap();
    assert!(told.iter().any(|t| t.starts_with("1 road is drawn differently in two layers")), "{told:?}");
    let sum_m: f64 = layer.segments().unwrap().iter().map(|s| s.length_m).sum();
    assert!((sum_m - longer_m).abs() < 0.1 && sum_m > 1_315.0, "{sum_m}, {longer_m}");
}
