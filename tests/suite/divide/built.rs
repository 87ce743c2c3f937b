//! Small maps made for what is hard about dividing.
use proptest::collection::vec;
use proptest::prelude::*;
use waymask::base::district::District;
use waymask::base::progress::Silent;
use waymask::map::divide::{Divided, ShareSizes, divide_by, read_bundle};
use waymask::map::extract::model::Backdrop;

use super::{SMALL, backdrop_of, compared, met, sums};
use crate::extract::Dir;
use crate::extract_builder::{Map, Obj, node, relation, way};

const ROAD: &[(&str, &str)] = &[("highway", "primary")];
const WOOD: &[(&str, &str)] = &[("natural", "wood")];
const WOODS: &[(&str, &str)] = &[("type", "multipolygon"), ("natural", "wood")];
const OLD_STYLE: &[(&str, &str)] = &[("type", "multipolygon")];

/// Divides in small shares and in one, which must give the same.
fn divided(map: &Map) -> Divided {
    let dir = Dir::new();
    let path = dir.file(&map.bytes());
    let all = compared(&path, &SMALL, &|_| true);
    let one = compared(&path, &ShareSizes::default(), &|_| true);
    assert_eq!(sums(&all), sums(&one));
    all
}

fn of(objects: &[Obj]) -> Divided {
    divided(&Map::of(objects))
}

fn names(divided: &Divided) -> Vec<String> {
    divided.districts.iter().map(|d| d.district.to_string()).collect()
}

/// A line of nodes from west to east, a hundredth of a degree apart.
fn line(first: i64, count: i64, lon: f64, lat: f64) -> Vec<Obj> {
    (0..count).map(|i| node(first + i, lon + i as f64 * 0.01, lat, &[])).collect()
}

fn refs(first: i64, count: i64) -> Vec<i64> {
    (first..first + count).collect()
}

/// A square ring as closed references, its nodes added to the objects.
fn square(objects: &mut Vec<Obj>, first: i64, west: f64, south: f64, side: f64) -> Vec<i64> {
    for (i, (x, y)) in [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)].into_iter().enumerate() {
        objects.push(node(first + i as i64, west + x * side, south + y * side, &[]));
    }
    vec![first, first + 1, first + 2, first + 3, first]
}

/// A wood across the line at 10.25 degrees with holes on both sides, in pieces; some ways are drawn twice.
fn woods() -> Vec<Obj> {
    let mut all = line(1, 60, 10.0, 46.1);
    all.push(way(1, &refs(1, 60), ROAD));
    let outer = square(&mut all, 100, 10.1, 46.05, 0.3);
    let (west, east) = (square(&mut all, 110, 10.15, 46.12, 0.02), square(&mut all, 120, 10.30, 46.12, 0.02));
    let lake = square(&mut all, 130, 10.2, 46.2, 0.01);
    all.extend([
        // An open piece of a ring, of which the relation says nothing more.
        way(50, &outer[..3], &[("building", "yes")]),
        way(51, &[outer[0], outer[3], outer[2]], WOOD),
        way(52, &west, WOOD),
        way(53, &east, &[("natural", "water")]),
        way(54, &lake, WOOD),
        relation(7, &[(50, "outer"), (51, "outer"), (52, "inner"), (53, "inner"), (99, "inner")], WOODS),
        // Old style: the outer way carries the tags, and the hole is tagged as it is.
        relation(8, &[(54, "outer"), (52, "inner")], OLD_STYLE),
        relation(9, &[(50, "outer")], WOODS),
    ]);
    all
}

#[test]
fn woods_with_holes_across_a_line() {
    let divided = of(&woods());
    assert_eq!(names(&divided), ["n4600e01000", "n4600e01025", "n4600e01050"]);
    assert_eq!(met(&divided.defects), [("missing_member", 1), ("open_ring", 1), ("stray_ring", 1)]);
}

#[test]
fn order_blocks_doubles_and_other_tags_do_not_matter() {
    let plain = woods();
    let want = sums(&of(&plain));
    let mut mixed = plain.clone();
    mixed.extend(plain.iter().cloned());
    mixed.reverse();
    mixed.push(way(1_000, &[1, 2], &[("power", "line")]));
    let mut map = Map::of(&mixed);
    (map.per_block, map.dense) = (7, false);
    assert_eq!(sums(&divided(&map)), want);
}

#[test]
fn doubled_ways_and_relations_that_differ_are_kept_as_in_memory() {
    let mut all = woods();
    all.extend([
        way(1, &refs(2, 20), ROAD),
        way(51, &[100, 102], WOOD),
        relation(7, &[(50, "outer"), (51, "outer")], WOODS),
        relation(9, &[(54, "outer")], WOODS),
        node(5, 10.04, 46.1001, &[]),
        node(6, 200.0, 46.0, &[("natural", "tree")]),
        node(7, 200.0, 46.0, &[]),
        node(9_999, 200.0, 46.0, &[]),
    ]);
    let turned: Vec<Obj> = all.iter().rev().cloned().collect();
    let (one, other) = (of(&all), of(&turned));
    assert_eq!(sums(&one), sums(&other));
    assert!(met(&one.defects).contains(&("bad_coordinate", 2)), "{:?}", one.defects);
}

#[test]
fn ids_of_any_size() {
    let ids = [i64::MIN + 1, -4_000_000_000, -1, 1, 12_345_678_901, i64::MAX / 2];
    let mut all: Vec<Obj> =
        ids.iter().enumerate().map(|(i, id)| node(*id, 10.2 + 0.02 * i as f64, 46.1, &[])).collect();
    // Steps between ids of a way must fit 64 bits in the file.
    all.extend([way(-5, &ids[1..], ROAD), way(i64::MIN / 2, &ids[..3], ROAD), way(i64::MAX / 4, &ids[3..], ROAD)]);
    assert_eq!(of(&all).counts.roads, 3);
}

#[test]
fn ways_of_which_nodes_are_missing_go_whole() {
    let mut all = line(1, 20, 10.0, 46.1);
    all.extend(line(31, 30, 10.3, 46.1));
    all.extend([
        way(1, &refs(1, 60), ROAD),
        way(2, &[20, 70, 71], ROAD),
        way(3, &[80, 81, 82, 80], WOOD),
        // Meets the far piece of the first way only.
        way(4, &[60, 90, 91], ROAD),
        node(90, 10.6, 46.3, &[]),
        node(91, 10.6, 46.4, &[]),
    ]);
    let divided = of(&all);
    assert!(met(&divided.defects).contains(&("missing_node", 3)), "{:?}", divided.defects);
}

#[test]
fn roads_across_180_degrees() {
    let mut all: Vec<Obj> = (0..40)
        .map(|i| {
            let lon = 179.8 + 0.01 * f64::from(i);
            node(i64::from(i) + 1, if lon > 180.0 { lon - 360.0 } else { lon }, -17.01, &[])
        })
        .collect();
    all.push(way(1, &refs(1, 40), ROAD));
    all.extend([node(100, 179.999, -17.0, &[("natural", "tree")]), node(101, -179.9, -16.99, &[("amenity", "fuel")])]);
    let divided = of(&all);
    assert_eq!(names(&divided), ["s1725e17975", "s1725w18000", "s1700w18000"]);
    assert!(divided.districts.iter().all(|d| read_bundle(&d.path).is_err()), "the folder is gone");
}

#[test]
fn a_chain_of_tunnels_is_followed_far_beyond() {
    let mut all = line(1, 100, 10.0, 46.1);
    let tunnel: &[(&str, &str)] = &[("highway", "primary"), ("tunnel", "yes")];
    all.push(way(1, &refs(1, 21), ROAD));
    // 60 km in four tunnels, one in pieces, then a ferry, then a road again.
    for i in 0..4 {
        all.push(way(10 + i, &refs(21 + 15 * i, 16), tunnel));
    }
    all.push(way(14, &[81, 500, 84, 85], &[("route", "ferry")]));
    all.push(way(20, &[81, 83, 84], ROAD));
    all.extend([way(21, &refs(85, 10), ROAD), way(22, &[81, 300, 301], ROAD)]);
    all.extend([node(300, 10.8, 46.2, &[]), node(301, 10.8, 46.3, &[])]);
    let divided = of(&all);
    assert!(
        divided.districts.iter().any(|d| d.district.to_string() == "n4600e01000" && d.counts.roads >= 7),
        "{divided:?}"
    );
}

#[test]
fn ways_that_meet_on_a_line() {
    let mut all = line(1, 6, 10.2, 46.1);
    all.push(node(200, 10.25, 46.25, &[]));
    all.extend([node(201, 10.0, 46.25, &[]), node(202, 10.5, 46.25, &[]), node(203, 10.25, 46.0, &[])]);
    all.extend([way(1, &[1, 2, 3, 4, 5, 6], ROAD), way(2, &[201, 200], ROAD), way(3, &[200, 202], ROAD)]);
    all.push(way(4, &[203, 200], ROAD));
    // Chains of short roads away from all lines and their surroundings, and at their edge.
    for i in 0..80 {
        let lon = 10.05 + 0.004 * f64::from(i as i32);
        all.push(node(1_000 + i, lon, 46.4, &[]));
        if i > 0 {
            all.push(way(100 + i, &[999 + i, 1_000 + i], ROAD));
        }
    }
    of(&all);
}

#[test]
fn only_wanted_districts_are_written() {
    let dir = Dir::new();
    let path = dir.file(&Map::of(&woods()).bytes());
    let wanted = |district: District| district.to_string() == "n4600e01050";
    let divided = compared(&path, &SMALL, &wanted);
    assert_eq!(names(&divided), ["n4600e01050"]);
    assert!(compared(&path, &SMALL, &|_| false).districts.is_empty());
}

const LAKE: &[(&str, &str)] = &[("natural", "water"), ("water", "lake"), ("name", "Mere")];
const COAST: &[(&str, &str)] = &[("natural", "coastline"), ("place", "island"), ("name", "Skerry")];

/// A road through three districts of one row, and around it what maps are drawn on.
fn scenery() -> Vec<Obj> {
    let mut all = line(1, 60, 10.0, 46.1);
    all.push(way(1, &refs(1, 60), ROAD));
    let lake = square(&mut all, 100, 10.1, 46.05, 0.3);
    let [holm, far, tarn, isle] =
        [(110, 10.15, 46.12, 0.02), (120, 10.1, 46.6, 0.02), (130, 10.51, 46.01, 0.0003), (140, 10.2, 46.235, 0.02)]
            .map(|(first, west, south, side)| square(&mut all, first, west, south, side));
    all.extend([
        way(50, &lake[..3], &[]),
        way(51, &[lake[0], lake[3], lake[2]], LAKE),
        way(52, &holm, LAKE),
        // Too far north for any district with roads, too small, and an island whose north is beyond a line.
        way(53, &far, LAKE),
        way(54, &tarn, LAKE),
        way(55, &isle, COAST),
        relation(7, &[(50, "outer"), (51, "outer"), (52, "inner")], &[("type", "multipolygon"), ("natural", "water")]),
        // Old style, and an island of which a way is not there.
        relation(8, &[(52, "outer")], OLD_STYLE),
        relation(
            9,
            &[(55, "outer"), (99, "outer")],
            &[("type", "multipolygon"), ("place", "island"), ("name", "Skerry")],
        ),
        way(60, &refs(1, 60), &[("waterway", "river"), ("name", "Brook")]),
        way(61, &refs(5, 3), &[("waterway", "canal"), ("tunnel", "yes")]),
        node(200, 10.3, 46.2, &[("place", "town"), ("name", "Ambry"), ("name:en", "Amber"), ("population", "12000")]),
        node(201, 10.3, 46.3, &[("place", "village"), ("name", "Beyond")]),
        node(202, 10.2, 46.2, &[("mountain_pass", "yes"), ("name", "Col")]),
        node(203, 10.2, 46.2, &[("place", "hamlet")]),
        node(204, 200.0, 46.2, &[("place", "hamlet"), ("name", "Nowhere")]),
    ]);
    all
}

#[test]
fn names_and_water_of_districts_with_roads_are_kept_in_an_order_of_their_own() {
    let divided = of(&scenery());
    assert_eq!(names(&divided), ["n4600e01000", "n4600e01025", "n4600e01050"]);
    // Only the node that is nowhere is worth a word, and the way that is not there not.
    assert_eq!(met(&divided.defects), [("bad_coordinate", 1)]);
    let dir = Dir::new();
    let path = dir.file(&Map::of(&scenery()).bytes());
    let work = tempfile::tempdir().unwrap();
    let kept = |wanted: &(dyn Fn(District) -> bool + Sync)| {
        let divided = divide_by(&path, work.path(), wanted, &Silent, &SMALL).unwrap();
        let told = |thing: &Backdrop| match thing {
            Backdrop::Place(place) => format!("{} {} {}", place.kind, place.object, place.id),
            Backdrop::Area(water) => format!("{} {}", water.kind, water.area.inners.len()),
            Backdrop::Line(water) => format!("{} {}", water.kind, water.line.len()),
        };
        backdrop_of(&divided.backdrop).iter().map(told).collect::<Vec<_>>()
    };
    assert_eq!(
        kept(&|_| true),
        ["island relation 9", "pass node 202", "town node 200", "water 1", "lake 0", "coastline 5", "river 2"],
    );
    // The lake in the hole is drawn once, by its relation in the old style.
    let eastern = kept(&|district| district.to_string() == "n4600e01050");
    assert_eq!(eastern, ["river 2"]);
}

#[test]
fn other_names_and_lakes_leave_bundles_as_they_are() {
    let plain = of(&scenery());
    let edited: Vec<Obj> = scenery()
        .into_iter()
        .map(|object| match object {
            Obj::Node { id: 200, lon_deg, lat_deg, .. } => {
                node(200, lon_deg, lat_deg, &[("place", "city"), ("name", "Ambry")])
            }
            other => other,
        })
        .filter(|object| !matches!(object, Obj::Node { id: 202, .. }))
        .collect();
    let edited = of(&edited);
    assert_eq!(sums(&edited).0, sums(&plain).0);
    assert_ne!(sums(&edited).1, sums(&plain).1);
}

#[test]
fn maps_without_roads_have_no_districts() {
    assert!(of(&[node(1, 10.0, 46.0, &[("natural", "tree")])]).districts.is_empty());
    assert!(of(&[]).districts.is_empty());
}

/// A map of anything: places on a few lines of districts, ways and relations between them, some of what they name not there.
fn anything() -> impl Strategy<Value = Vec<Obj>> {
    const KINDS: [&[(&str, &str)]; 12] = [
        ROAD,
        ROAD,
        &[("highway", "track"), ("lanes", "many")],
        &[("highway", "primary"), ("tunnel", "yes")],
        &[("route", "ferry")],
        WOOD,
        &[("building", "yes"), ("landuse", "orchard")],
        &[("barrier", "wall"), ("highway", "service"), ("bridge", "yes")],
        LAKE,
        COAST,
        &[("waterway", "river"), ("name", "Brook")],
        &[],
    ];
    let nodes = vec((0_i64..40, 0_i32..20, 0_i32..8, 0_u8..12), 20..60).prop_map(|nodes| {
        let tags: [&[(&str, &str)]; 12] = std::array::from_fn(|kind| match kind {
            0 => &[("natural", "tree"), ("height", "tall")][..],
            1 => &[("amenity", "fuel")],
            2 => &[("barrier", "toll_booth")],
            3 => &[("place", "village"), ("name", "Ambry"), ("population", "250")],
            _ => &[],
        });
        // Some steps of a way are too long for a road.
        let place = |x: i32, y: i32| (10.0 + 0.05 * f64::from(x), 46.0 + 0.0625 * f64::from(y));
        nodes
            .into_iter()
            .map(move |(id, x, y, kind)| {
                let (lon, lat) = if x == 19 && y == 7 { (200.0, 0.0) } else { place(x, y) };
                node(id * 1_500 - 9_000, lon, lat, tags[usize::from(kind)])
            })
            .collect::<Vec<_>>()
    });
    let ways = vec((0_i64..40, vec(0_i64..42, 1..7), 0_usize..12, any::<bool>()), 10..50).prop_map(|ways| {
        ways.into_iter()
            .map(|(id, mut refs, kind, closed)| {
                if closed && refs.len() > 2 {
                    refs.push(refs[0]);
                }
                let refs: Vec<i64> = refs.into_iter().map(|id| id * 1_500 - 9_000).collect();
                way(id - 3, &refs, KINDS[kind])
            })
            .collect::<Vec<_>>()
    });
    let relations = vec((0_i64..20, vec((0_i64..41, 0_u8..3), 0..6), 0_u8..5), 0..16).prop_map(|relations| {
        relations
            .into_iter()
            .map(|(id, members, kind)| {
                let members: Vec<(i64, &str)> = members
                    .into_iter()
                    .map(|(way, role)| (way - 3, if role == 0 { "inner" } else { "outer" }))
                    .collect();
                relation(
                    id,
                    &members,
                    [
                        WOODS,
                        OLD_STYLE,
                        &[("type", "multipolygon"), ("building", "yes")],
                        &[("type", "multipolygon"), ("natural", "water")],
                        &[("type", "multipolygon"), ("place", "island"), ("name", "Skerry")],
                    ][usize::from(kind)],
                )
            })
            .collect::<Vec<_>>()
    });
    (nodes, ways, relations)
        .prop_flat_map(|(nodes, ways, relations)| Just([nodes, ways, relations].concat()).prop_shuffle())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn anything_is_divided_as_in_memory(objects in anything(), per_block in 1_usize..30) {
        let mut map = Map::of(&objects);
        map.per_block = per_block;
        divided(&map);
    }
}
