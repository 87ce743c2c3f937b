//! Reading small map files built here, byte by byte: geometry, order, and every kind of broken file.
//! File format: OpenStreetMap wiki, "PBF Format".

use std::path::PathBuf;

use waymask::base::defect::Defect;
use waymask::base::progress::Silent;
use waymask::base::words::{MapObject, RoadClass, StopKind};
use waymask::map::extract::model::{BarredBy, BarredShape, CanopyShape, DeckShape, DeckUse, Extract, Shelter};
use waymask::map::extract::read;

use crate::extract_builder;
use crate::extract_builder::{Compression, Map, Obj, node, relation, way};

/// A place to write a map file, removed at the end of the test.
pub(crate) struct Dir(tempfile::TempDir);

impl Dir {
    pub fn new() -> Self {
        Self(tempfile::tempdir().expect("a temporary folder"))
    }
    pub fn file(&self, bytes: &[u8]) -> PathBuf {
        let path = self.0.path().join("map.osm.pbf");
        std::fs::write(&path, bytes).expect("written");
        path
    }
    pub fn read(&self, bytes: &[u8]) -> Result<Extract, String> {
        read(&self.file(bytes), &Silent).map_err(|e| e.to_string())
    }
}

fn extract_of(objects: &[Obj]) -> Extract {
    Dir::new().read(&Map::of(objects).bytes()).expect("a valid map")
}

pub(crate) fn error_of(bytes: &[u8]) -> String {
    Dir::new().read(bytes).expect_err("a broken map")
}

/// Nodes on a grid: id = 10 * column + row + 1, one thousandth of a degree apart.
pub(crate) fn grid() -> Vec<Obj> {
    (0..100).map(|i| node(i + 1, f64::from(i as i32 / 10) * 1e-3, f64::from(i as i32 % 10) * 1e-3, &[])).collect()
}

fn with_grid(objects: &[Obj]) -> Extract {
    let mut all = grid();
    all.extend_from_slice(objects);
    extract_of(&all)
}

const WOOD: &[(&str, &str)] = &[("natural", "wood")];
const WOOD_RELATION: &[(&str, &str)] = &[("type", "multipolygon"), ("natural", "wood"), ("leaf_type", "needleleaved")];
/// A square around the grid and one inside it, as closed node lists.
const OUTER: &[i64] = &[1, 91, 100, 10, 1];
const INNER: &[i64] = &[34, 64, 67, 37, 34];

#[test]
fn a_road_with_its_tags_and_nodes() {
    let e = with_grid(&[way(
        7,
        &[1, 11, 11, 21],
        &[("highway", "trunk_link"), ("lanes", "2"), ("maxspeed", "30 mph"), ("name", "A"), ("oneway", "-1")],
    )]);
    assert_eq!(e.roads.len(), 1);
    let road = &e.roads[0];
    assert_eq!((road.id, road.class, road.link, road.lanes), (7, RoadClass::Trunk, true, Some(2)));
    assert_eq!(road.nodes.iter().map(|n| n.id).collect::<Vec<_>>(), [1, 11, 21], "a repeated node is dropped");
    assert_eq!((road.nodes[1].at.lon_e7, road.nodes[1].at.lat_e7), (10_000, 0));
    assert_eq!((e.info.nodes, e.info.ways, e.info.relations), (100, 1, 0));
    assert!(e.defects.is_empty(), "{:?}", e.defects);
}

#[test]
fn blocks_of_other_types_are_passed_over_and_counted_by_type() {
    let mut bytes = Map::of(&grid()).bytes();
    let blob = extract_builder::zlib_blob(b"?", Some(usize::MAX));
    for kind in ["OSMSurprise", "OSMSurprise", "OSMHeader", &"x".repeat(100)] {
        bytes.extend(extract_builder::frame(kind, &blob));
    }
    let e = Dir::new().read(&bytes).expect("a map with more in it");
    assert_eq!((e.info.nodes, e.defects.count(Defect::UnknownBlock)), (100, 4));
    let (_, tally) = e.defects.iter().next().unwrap();
    let long = format!("1 of type `{}`", "x".repeat(40));
    assert_eq!(tally.examples, ["1 of type `OSMHeader`", "2 of type `OSMSurprise`", &long]);
}

#[test]
fn missing_nodes_split_a_road_and_are_counted_once_a_way() {
    let e = with_grid(&[
        way(7, &[1, 11, 901, 21, 31, 902, 41], &[("highway", "primary"), ("bridge", "yes")]),
        way(8, &[901, 902], &[("highway", "primary")]),
    ]);
    let pieces: Vec<Vec<i64>> = e.roads.iter().map(|r| r.nodes.iter().map(|n| n.id).collect()).collect();
    assert_eq!(pieces, [vec![1, 11], vec![21, 31]]);
    assert!(e.roads.iter().all(|r| r.id == 7));
    let ends: Vec<_> = e.decks.iter().map(|d| (d.carries, d.end_nodes)).collect();
    assert_eq!(ends, [(DeckUse::Road(RoadClass::Primary), [1, 11]), (DeckUse::Road(RoadClass::Primary), [21, 31])]);
    assert_eq!((e.defects.count(Defect::MissingNode), e.defects.count(Defect::ShortWay)), (2, 1));
}

fn only_wood(e: &Extract) -> &waymask::map::extract::model::Area {
    assert_eq!(e.canopy.len(), 1, "{:?}", e.canopy);
    match &e.canopy[0].shape {
        CanopyShape::Wood(area) => area,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_split_outer_ring_with_a_hole() {
    let e = with_grid(&[
        way(1, &[10, 1, 91], &[]),
        way(2, &[10, 100, 91], &[]),
        way(3, INNER, &[("natural", "water")]),
        relation(5, &[(1, "outer"), (2, "outer"), (3, "inner")], WOOD_RELATION),
    ]);
    let area = only_wood(&e);
    assert_eq!((area.outer.len(), area.inners.len(), area.inners[0].len()), (5, 1, 5));
    assert_eq!(area.outer.first(), area.outer.last());
    assert_eq!(e.canopy[0].id, 5);
    assert!(e.defects.is_empty(), "{:?}", e.defects);
}

#[test]
fn an_outer_way_that_says_the_same_is_not_drawn_twice() {
    let e = with_grid(&[way(1, OUTER, WOOD), relation(5, &[(1, "outer")], WOOD_RELATION)]);
    assert_eq!(only_wood(&e).outer.len(), 5);
    // A wood drawn by a relation whose outer way is a building is both.
    let e = with_grid(&[way(1, OUTER, &[("building", "yes")]), relation(5, &[(1, "outer")], WOOD_RELATION)]);
    assert_eq!((e.canopy.len(), e.buildings.len()), (1, 1));
    // A wood inside the hole of a wood is a wood of its own.
    let e = with_grid(&[
        way(1, OUTER, &[]),
        way(2, INNER, WOOD),
        relation(5, &[(1, "outer"), (2, "inner")], WOOD_RELATION),
    ]);
    assert_eq!(e.canopy.iter().map(|c| c.id).collect::<Vec<_>>(), [2, 5]);
}

#[test]
fn an_untagged_relation_takes_the_tags_of_its_outer_way() {
    let untagged = &[("type", "multipolygon"), ("source", "survey")];
    let e =
        with_grid(&[way(1, OUTER, WOOD), way(2, INNER, WOOD), relation(5, &[(1, "outer"), (2, "inner")], untagged)]);
    assert_eq!(only_wood(&e).inners.len(), 1, "the inner way tagged alike is a hole only");
    let split = [way(1, &[10, 1, 91], WOOD), way(2, &[10, 100, 91], WOOD), relation(5, &[(1, ""), (2, "")], untagged)];
    assert_eq!(only_wood(&with_grid(&split)).outer.len(), 5);
}

#[test]
fn open_rings_missing_members_and_stray_holes_are_counted() {
    let e = with_grid(&[
        way(1, &[10, 1, 91], &[]),
        way(3, OUTER, &[]),
        way(4, &[101, 102, 103, 101], &[]),
        node(101, 1.0, 1.0, &[]),
        node(102, 1.1, 1.0, &[]),
        node(103, 1.1, 1.1, &[]),
        relation(5, &[(1, "outer"), (2, "outer")], WOOD_RELATION),
        relation(6, &[(3, "outer"), (4, "inner")], WOOD_RELATION),
        way(9, &[1, 2, 3], &[("building", "yes")]),
    ]);
    assert_eq!(e.canopy.iter().map(|c| c.id).collect::<Vec<_>>(), [6]);
    let count = |d| e.defects.count(d);
    assert_eq!((count(Defect::OpenRing), count(Defect::MissingMember), count(Defect::StrayRing)), (2, 1, 1));
}

#[test]
fn boundaries_and_other_relations_are_ignored() {
    let e = with_grid(&[
        way(1, OUTER, &[]),
        relation(5, &[(1, "outer")], &[("type", "boundary"), ("natural", "wood")]),
        relation(6, &[(1, "outer")], &[("type", "multipolygon"), ("landuse", "military")]),
    ]);
    assert_eq!(e, Extract { info: e.info.clone(), ..Extract::default() });
    assert_eq!(e.info.relations, 2);
}

#[test]
fn stops_are_nodes_ways_and_relations() {
    let camp = &[("type", "multipolygon"), ("tourism", "camp_site"), ("name", "C")];
    let e = with_grid(&[
        node(200, 0.5, 0.5, &[("amenity", "fuel")]),
        way(1, OUTER, &[]),
        way(2, INNER, &[("amenity", "fuel"), ("covered", "yes")]),
        relation(5, &[(1, "outer"), (2, "inner")], camp),
    ]);
    let kinds: Vec<_> = e.stops.iter().map(|s| (s.object, s.id, s.kind, s.shelter, s.outline.is_some())).collect();
    assert_eq!(
        kinds,
        [
            (MapObject::Way, 2, StopKind::Fuel, Shelter::Covered, true),
            (MapObject::Relation, 5, StopKind::CampSite, Shelter::Untold, true),
            (MapObject::Node, 200, StopKind::Fuel, Shelter::Untold, false)
        ]
    );
    assert!(e.buildings.iter().all(|b| b.roof_only) && e.buildings.len() == 1);
    let at = e.stops[1].at;
    let hole = 30_000..=60_000;
    assert!(!(hole.contains(&at.lon_e7) && hole.contains(&at.lat_e7)), "{at:?} lies in the hole");
}

#[test]
fn water_with_an_island_and_lines_of_water_are_barred_ground() {
    let e = with_grid(&[
        way(1, OUTER, &[("waterway", "river")]),
        way(2, INNER, &[]),
        relation(5, &[(1, "outer"), (2, "inner")], &[("type", "multipolygon"), ("natural", "water")]),
    ]);
    let told: Vec<_> = e.barred.iter().map(|b| (b.id, b.by)).collect();
    assert_eq!(told, [(1, BarredBy::Water), (5, BarredBy::Water)]);
    assert!(matches!(&e.barred[0].shape, BarredShape::Line(line) if line.len() == 5 && e.barred[0].waterway.is_some()));
    assert!(matches!(&e.barred[1].shape, BarredShape::Area(area) if area.inners.len() == 1));
}

#[test]
fn bridge_outlines_are_decks_and_not_buildings() {
    let e = with_grid(&[
        way(1, OUTER, &[("man_made", "bridge"), ("layer", "1")]),
        way(2, INNER, &[("building", "bridge"), ("min_height", "6")]),
    ]);
    assert!(e.buildings.is_empty());
    assert!(e.decks.iter().all(|d| d.carries == DeckUse::Structure && matches!(d.shape, DeckShape::Outline(_))));
    assert_eq!(e.decks.iter().map(|d| (d.layer, d.min_height_m)).collect::<Vec<_>>(), [(1, None), (0, Some(6.0))]);
}

#[test]
fn coordinates_off_the_earth_are_counted_and_left_out() {
    let e = extract_of(&[
        node(1, 0.0, 0.0, &[]),
        node(2, 0.001, 0.0, &[]),
        node(3, 200.0, 0.0, &[]),
        way(7, &[1, 2, 3], &[("highway", "primary")]),
    ]);
    assert_eq!(e.roads[0].nodes.len(), 2);
    assert_eq!((e.defects.count(Defect::BadCoordinate), e.defects.count(Defect::MissingNode)), (1, 1));
}

/// A map with something of everything, trouble included.
pub(crate) fn mixed() -> Vec<Obj> {
    let mut all = grid();
    for id in 1..20 {
        let base = id * 4;
        let width = if id % 3 == 0 { "narrow" } else { "4" };
        all.push(way(
            id,
            &[base, base + 1, 500 + id % 2, base + 2, base + 3],
            &[("highway", "track"), ("width", width), ("bridge", "yes")],
        ));
        all.push(node(1000 + id, 0.1, 0.1, &[("natural", "tree"), ("height", if id % 2 == 0 { "" } else { "9" })]));
    }
    all.push(node(500, 0.0005, 0.0, &[]));
    all.push(way(30, &[10, 1, 91], WOOD));
    all.push(way(31, &[10, 100, 91], &[]));
    all.push(way(32, INNER, &[("building", "yes"), ("height", "12;14")]));
    all.push(relation(40, &[(30, "outer"), (31, "outer"), (32, "inner"), (33, "inner")], WOOD_RELATION));
    all.push(relation(41, &[(30, "outer")], &[("type", "multipolygon")]));
    all
}

#[test]
fn order_block_size_encoding_and_threads_change_nothing() {
    let plain = |mut e: Extract| {
        e.info.sha256.clear();
        (e.info.bytes, e.info.blocks) = (0, 0);
        e
    };
    let expected = plain(extract_of(&mixed()));
    assert_eq!(expected.roads.len(), 19 + 10, "ways over the missing node 501 come in two pieces");
    assert!(expected.defects.count(Defect::BadLength) > 3, "more defects than examples");
    for seed in 1_u64..6 {
        let mut objects = mixed();
        // A linear congruential generator (Knuth, MMIX constants) is shuffle enough.
        let mut state = seed;
        for i in (1..objects.len()).rev() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            objects.swap(i, (state >> 33) as usize % (i + 1));
        }
        let mut map = Map::of(&objects);
        map.per_block = 1 + seed as usize * 3;
        map.dense = seed % 2 == 0;
        map.compression = if seed % 2 == 0 { Compression::Raw } else { Compression::Zlib };
        let pool = rayon::ThreadPoolBuilder::new().num_threads(seed as usize).build().expect("threads");
        let got = pool.install(|| Dir::new().read(&map.bytes())).expect("a valid map");
        assert_eq!(plain(got), expected, "seed {seed}");
    }
}
