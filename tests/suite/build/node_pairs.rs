//! Tables by pairs of nodes and by ways, compared with the raw map by plain loops.
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fs::File;
use std::path::{Path, PathBuf};

use geo::{Distance, Geodesic};
use osmpbfreader::{NodeId, OsmObj, OsmPbfReader};
use waymask::ask::by_map::{NodePair, WayDrive, node_pairs, way_drives};
use waymask::ask::rerate::{NewLayer, RerateQuestion, Wanted, rerate};
use waymask::base::progress::Silent;
use waymask::base::words::Rating;
use waymask::build::{self, BuildOptions, MergeOptions};
use waymask::layer::model::SegmentRow;
use waymask::layer::{JoinedLayer, Layer};
use waymask::map::district::region::Region;
use waymask::profile::Profile;

use crate::build::country;
use crate::build::kit::{Sketch, sample};
use crate::extract_builder::{node, way};
use crate::need;

fn few_drives(extract: PathBuf, output: PathBuf) -> BuildOptions {
    let mut profile = Profile::default();
    profile.link.drives = 4;
    BuildOptions { profile, ..BuildOptions::new(extract, output) }
}

/// All pairs, and how many the rim leaves out.
fn pairs(layer: &Path, outage_weight: f64) -> (Vec<NodePair>, u64) {
    let mut found = Vec::new();
    let take = &mut |pair| {
        found.push(pair);
        Ok(())
    };
    let left_out = node_pairs(&Layer::open(layer).unwrap(), outage_weight, take).unwrap();
    (found, left_out)
}

fn ways(layer: &Path, outage_weight: f64) -> Vec<WayDrive> {
    let mut found = Vec::new();
    let take = &mut |way| {
        found.push(way);
        Ok(())
    };
    way_drives(&Layer::open(layer).unwrap(), outage_weight, take).unwrap();
    found
}

/// Places of all nodes, and nodes and `oneway` of all ways.
type RawMap = (HashMap<i64, geo::Point>, BTreeMap<i64, (Vec<NodeId>, Option<String>)>);

fn raw(extract: &Path) -> RawMap {
    let (mut places, mut ways) = (HashMap::new(), BTreeMap::new());
    for object in OsmPbfReader::new(File::open(extract).unwrap()).iter() {
        match object.unwrap() {
            OsmObj::Node(n) => drop(places.insert(n.id.0, geo::Point::new(n.lon(), n.lat()))),
            OsmObj::Way(w) => drop(ways.insert(w.id.0, (w.nodes, w.tags.get("oneway").map(ToString::to_string)))),
            OsmObj::Relation(_) => {}
        }
    }
    (places, ways)
}

/// What one direction of a segment adds up: time, outage, and its rating.
fn figures(row: &SegmentRow, forward: bool) -> Option<(f64, f64, Rating)> {
    let driven = if forward { row.driven.forward } else { row.driven.backward };
    driven.map(|d| (d.time_s, d.outage_s, d.rating))
}

/// Every pair of a layer against its map; how many there are, and how many of them lie on several segments.
fn compare(layer: &Path, extract: &Path) -> (usize, usize) {
    const K: f64 = 2.0;
    let (places, mapped) = raw(extract);
    let mut segments: BTreeMap<i64, Vec<SegmentRow>> = BTreeMap::new();
    for row in Layer::open(layer).unwrap().segments_by_key().unwrap() {
        let row = row.unwrap();
        segments.entry(row.way_id).or_default().push(row);
    }
    let (all, left_out) = pairs(layer, K);
    assert_eq!(left_out, 0, "a whole layer has no rim");
    let mut found: BTreeMap<(i64, bool), Vec<NodePair>> = BTreeMap::new();
    for pair in &all {
        found.entry((pair.way_id, pair.forward)).or_default().push(*pair);
    }
    let mut drives: BTreeMap<(i64, bool), WayDrive> =
        ways(layer, K).into_iter().map(|way| ((way.way_id, way.forward), way)).collect();
    let mut divided = 0;
    for (way_id, rows) in &segments {
        let (nodes, oneway) = &mapped[way_id];
        let follow: Vec<(i64, i64)> = nodes.windows(2).map(|w| (w[0].0, w[1].0)).collect();
        let follow = follow.into_iter().filter(|(a, b)| a != b && [a, b].iter().all(|n| places.contains_key(n)));
        let follow: Vec<(i64, i64)> = follow.collect();
        for forward in [true, false] {
            let driven = rows.iter().any(|row| figures(row, forward).is_some());
            let against = if forward { "-1" } else { "yes" };
            assert!(!driven || oneway.as_deref() != Some(against), "way {way_id}: {forward} against {oneway:?}");
            let pairs = found.remove(&(*way_id, forward)).unwrap_or_default();
            let ends: Vec<(i64, i64)> = pairs.iter().map(|p| (p.from_node, p.to_node)).collect();
            let turned = |(a, b): &(i64, i64)| if forward { (*a, *b) } else { (*b, *a) };
            let wanted: Vec<(i64, i64)> = follow.iter().filter(|_| driven).map(turned).collect();
            assert_eq!(ends, wanted, "way {way_id}, forward {forward}");
            if !driven {
                continue;
            }
            for pair in &pairs {
                let length_m = Geodesic.distance(places[&pair.from_node], places[&pair.to_node]);
                // Segments keep their length to the centimetre, and a pair may lie on several.
                let near_m = 0.01 + 1e-4 * length_m;
                assert!((pair.length_m - length_m).abs() < near_m, "{pair:?}: {length_m} m on the map");
                if pair.length_m > 0.0 && pair.time_s > 0.0 {
                    let time_s = 3.6 * pair.length_m / pair.speed_kmh;
                    assert!((time_s - pair.time_s - K * pair.outage_s).abs() < 1e-9 * (1.0 + time_s), "{pair:?}");
                }
                assert!(pair.speed_kmh > 0.0 && pair.speed_kmh < 400.0, "{pair:?}");
            }
            divided += divides(&pairs, rows, forward);
            let drive = drives.remove(&(*way_id, forward)).unwrap();
            let sum = |of: fn(&NodePair) -> f64| pairs.iter().map(of).sum::<f64>();
            let sums = [sum(|p| p.length_m), sum(|p| p.time_s), sum(|p| p.outage_s)];
            let whole = [drive.length_m, drive.time_s, drive.outage_s];
            assert!(sums.iter().zip(whole).all(|(a, b)| (a - b).abs() < 1e-6), "way {way_id}: {sums:?} {whole:?}");
            assert_eq!(Some(drive.rating), pairs.iter().map(|p| p.rating).max(), "way {way_id}");
            let kmh = 3.6 * whole[0] / (whole[1] + K * whole[2]);
            assert!((drive.speed_kmh - kmh).abs() < 1e-9 * kmh, "{drive:?}");
        }
    }
    assert!(found.is_empty() && drives.is_empty(), "of ways that the layer does not have");
    check_sums(layer, &all);
    (all.len(), divided)
}

/// Segments and pairs one after another along a way, each from where to where: a pair has of every segment what lies in both.
fn divides(pairs: &[NodePair], rows: &[SegmentRow], forward: bool) -> usize {
    let mut ends_m = 0.0;
    let spans: Vec<(f64, f64, &SegmentRow)> = rows
        .iter()
        .map(|row| {
            let begins_m = ends_m;
            ends_m += row.length_m;
            (begins_m, ends_m, row)
        })
        .collect();
    let (mut at_m, mut divided) = (0.0, 0);
    for pair in pairs {
        let (from_m, to_m) = (at_m, at_m + pair.length_m);
        at_m = to_m;
        let (mut time_s, mut outage_s) = (0.0, 0.0);
        let (mut surely, mut maybe) = (Rating::Steady, Rating::Steady);
        let mut met = 0;
        for (begins_m, ends_m, row) in &spans {
            let both_m = to_m.min(*ends_m) - from_m.max(*begins_m);
            let Some((time, outage, rating)) = figures(row, forward).filter(|_| both_m > -1e-4) else { continue };
            maybe = maybe.max(rating);
            if both_m > 0.0 {
                time_s += time * both_m / row.length_m;
                outage_s += outage * both_m / row.length_m;
            }
            if both_m > 1e-4 {
                surely = surely.max(rating);
                met += 1;
            }
        }
        assert!((pair.time_s - time_s).abs() < 1e-5 && (pair.outage_s - outage_s).abs() < 1e-5, "{pair:?}: {time_s}");
        assert!((surely..=maybe).contains(&pair.rating), "{pair:?}: {surely} to {maybe}");
        divided += usize::from(met > 1);
    }
    divided
}

/// All pairs together are the table of segments, as another program adds it up.
fn check_sums(layer: &Path, pairs: &[NodePair]) {
    let file = rusqlite::Connection::open(layer).unwrap();
    for (forward, name) in [(true, "forward"), (false, "backward")] {
        let sql = format!(
            "SELECT sum(length_m), sum(time_{name}_s), sum(outage_{name}_s) FROM segments WHERE edge_{name} IS NOT NULL"
        );
        let stored: [f64; 3] = file.query_row(&sql, [], |r| Ok([r.get(0)?, r.get(1)?, r.get(2)?])).unwrap();
        let of =
            |figure: fn(&NodePair) -> f64| -> f64 { pairs.iter().filter(|p| p.forward == forward).map(figure).sum() };
        let found = [of(|p| p.length_m), of(|p| p.time_s), of(|p| p.outage_s)];
        assert!(stored.iter().zip(found).all(|(a, b)| (a - b).abs() < 1e-9 * a + 1e-6), "{name}: {stored:?} {found:?}");
    }
    let rows = |table: &str| file.query_row(&format!("SELECT count(*) FROM {table}"), [], |r| r.get::<_, i64>(0));
    assert_eq!(rows("way_nodes").unwrap(), rows("segments").unwrap());
}

#[test]
fn pairs_on_the_island_are_those_of_its_map() {
    let folder = tempfile::tempdir().unwrap();
    let own = few_drives(sample("varrow.osm.pbf"), folder.path().join("island.gpkg"));
    let options = BuildOptions { elevation: vec![sample("varrow-elevation.tif")], ..own };
    build::build(&options, &Silent).unwrap();
    let (all, divided) = compare(&options.output, &options.extract);
    assert!(all > 4_000 && divided > 300, "{all} pairs, {divided} on several segments");

    // Rated again, the nodes are the same and the figures are those of the new layer.
    let again = folder.path().join("again.gpkg");
    let output = Some(NewLayer { path: again.clone(), overwrite: false });
    let wanted = Wanted::Values(vec!["vehicle.speed_factor=0.8".to_owned()]);
    let question = RerateQuestion { wanted, output, threads: Some(1) };
    rerate(&Layer::open(&options.output).unwrap(), &question, &Silent).unwrap();
    assert_eq!(compare(&again, &options.extract), (all, divided));
}

#[test]
fn heavy_pairs_of_a_country_are_those_of_its_map() {
    let (Some(layer), Some(extract)) = (country::andorra(), need::data(country::ANDORRA)) else { return };
    let (all, divided) = compare(&layer, &extract);
    println!("{all} pairs, {divided} on several segments");
    assert!(all > 80_000 && divided > 1_000, "{all} pairs, {divided} on several segments");
}

/// Ways as maps have them, though seldom: ids below zero, nodes at one place, named twice in a row or missing, ways that
/// meet themselves or are driven against their order, cuts just at a node.
#[test]
fn pairs_of_odd_ways_are_those_of_the_map() {
    let mut s = Sketch::around(47.125, -28.125);
    let street = [("highway", "tertiary")];
    let at = |s: &mut Sketch, places: &[(f64, f64)]| -> Vec<i64> {
        places.iter().map(|(x, y)| s.node(*x, *y, &[])).collect()
    };
    let mut gap = at(&mut s, &[(0.0, 0.0), (300.0, 0.0), (300.0, 0.0), (300.0, 40.0), (300.0, 100.0), (300.0, 900.0)]);
    let (before, after) = (gap[3], gap[4]);
    gap.insert(4, 777_777);
    let gap = s.way(&gap, &street);
    let loops = at(&mut s, &[(1_000.0, 0.0), (1_200.0, 0.0), (1_200.0, 90.0), (1_000.0, -300.0)]);
    s.way(&[loops[0], loops[1], loops[2], loops[0], loops[3]], &street);
    let back = at(&mut s, &[(2_000.0, 0.0), (2_250.0, 0.0), (2_500.0, 0.0), (3_700.0, 0.0)]);
    s.way(&[back[0], back[1], back[1], back[2], back[3]], &[("highway", "primary"), ("oneway", "-1")]);
    let one = at(&mut s, &[(0.0, 2_000.0), (10.0, 2_000.0), (1_900.0, 2_000.0)]);
    s.way(&one, &[("highway", "primary"), ("oneway", "yes")]);
    let (lon, lat) = s.plane.to_lon_lat(waymask::base::geodesy::Point::new(0.0, -2_000.0));
    let old = [(-9_000_000_000_000_i64, 0.0), (i64::from(i32::MIN), 0.004), (-3, 0.0041), (-2, 0.0041)];
    for (id, north_deg) in old {
        s.objects.push(node(id, lon, lat - north_deg, &[]));
    }
    s.objects.push(way(-5, &old.map(|(id, _)| id), &street));

    let place = s.build_with(few_drives(PathBuf::new(), PathBuf::new()).profile, |_, _| {});
    let (all, divided) = compare(&place.path, &place.path.with_file_name("place.osm.pbf"));
    // Of the way with a gap 4 pairs, of the one that meets itself 4, of old ids 3, each in both directions; one-way 3 and 2.
    assert_eq!(all, 2 * (4 + 4 + 3) + 3 + 2);
    assert!(divided > 10, "{divided} on several segments");
    let (rows, _) = pairs(&place.path, 0.0);
    let gone = |p: &&NodePair| p.way_id == gap && [p.from_node, p.to_node].iter().all(|n| [before, after].contains(n));
    assert_eq!(rows.iter().find(gone), None, "a node between them is missing");
    let short = rows.iter().find(|p| p.forward && p.from_node == -3).unwrap();
    assert_eq!((short.to_node, short.length_m, short.time_s), (-2, 0.0, 0.0));
    assert!(short.speed_kmh > 10.0, "{short:?}");
}

/// Ways of 1 km with no node between their ends, so that lines of districts cut pairs.
#[test]
fn a_part_of_a_region_has_the_pairs_of_the_whole_that_lie_in_it() {
    let mut s = Sketch::around(47.125, -28.125);
    let nodes: Vec<i64> = (0..=30).map(|k| s.node(-15_000.0 + 1_000.0 * f64::from(k), 0.0, &[])).collect();
    for ends in nodes.windows(2) {
        s.way(ends, &[("highway", "secondary")]);
    }
    let home = tempfile::tempdir().unwrap();
    let at = |name: &str| home.path().join(name);
    let whole = BuildOptions { work: Some(at("work")), ..few_drives(s.write(home.path()), at("whole.gpkg")) };
    build::build(&whole, &Silent).unwrap();
    compare(&whole.output, &whole.extract);
    let merged = |name: &str, region, how| {
        let (folders, output) = (vec![at("work")], at(name));
        build::merge(&MergeOptions { folders, output, overwrite: false, region, how }, &Silent).unwrap();
        at(name)
    };
    let (all, _) = pairs(&whole.output, 1.0);
    let slim = merged("slim.gpkg", Region::Whole, JoinedLayer::WithoutMasks);
    assert_eq!(pairs(&slim, 1.0), (all.clone(), 0));

    let part = merged("part.gpkg", Region::bounds(-28.2, 47.1, -28.1, 47.2).unwrap(), JoinedLayer::Whole);
    let rim =
        Layer::open(&part).unwrap().nodes().unwrap().iter().filter(|n| n.node_id < -4_000_000_000_000_000).count();
    assert!(rim > 0, "the rim has nodes of its own");
    let (found, left_out) = pairs(&part, 1.0);
    assert_eq!(left_out, 2, "one on either side");
    let key = |p: &NodePair| (p.from_node, p.to_node, p.way_id, p.forward);
    let by_key: BTreeMap<_, _> = all.iter().map(|p| (key(p), p)).collect();
    assert!(found.iter().all(|p| by_key.get(&key(p)) == Some(&p)), "figures of the whole");
    let there: BTreeSet<i64> = found.iter().flat_map(|p| [p.from_node, p.to_node]).collect();
    assert!(there.iter().all(|id| nodes.contains(id)) && found.len() > 30 && found.len() < all.len(), "{there:?}");

    // A way that the rim cuts has the figures of a piece, and says so.
    let ways = |layer: &Path| {
        let mut rows: Vec<WayDrive> = Vec::new();
        let take = &mut |way| {
            rows.push(way);
            Ok(())
        };
        let cut = way_drives(&Layer::open(layer).unwrap(), 0.0, take).unwrap();
        (rows, cut)
    };
    let ((of_whole, none), (of_part, cut)) = (ways(&whole.output), ways(&part));
    assert!(none == 0 && cut > 0, "{none} {cut}");
    for way in &of_part {
        let twin = of_whole.iter().find(|w| (w.way_id, w.forward) == (way.way_id, way.forward)).unwrap();
        assert_eq!(way.whole, (way.length_m - twin.length_m).abs() < 1e-6, "{way:?} of {twin:?}");
    }
    // Its table may not take the place of what the work folder holds.
    let error = build::check_outside(&at("work/plan.json"), &at("work")).unwrap_err().to_string();
    assert!(error.contains("lies in the work folder"), "{error}");
    assert!(build::check_outside(&at("work/bundles/pairs.csv"), &at("work")).is_err());
    assert!(build::check_outside(&at("pairs.csv"), &at("work")).is_ok());
}

#[test]
fn nodes_that_are_damaged_are_told() {
    let mut s = Sketch::at(47.0);
    s.line(&[(0.0, 0.0), (40.0, 0.0), (700.0, 100.0), (700.0, 120.0)], &[("highway", "tertiary")]);
    let place = s.build_with(few_drives(PathBuf::new(), PathBuf::new()).profile, |_, _| {});
    let path = place.path.with_file_name("spoiled.gpkg");
    for (spoil, part) in [
        ("DELETE FROM way_nodes WHERE fid = 1", "table way_nodes, segment_id 1: there is no row for this segment"),
        ("UPDATE way_nodes SET packed = x'00'", "column packed: ends early"),
        ("UPDATE way_nodes SET packed = x'ffffffffffffffffff7f'", "column packed: holds a number of more than 64 bits"),
        ("UPDATE way_nodes SET packed = x'0002020202'", "column packed: tells of 4 vertices of a line that has"),
        ("UPDATE way_nodes SET segment_id = segment_id + 1 WHERE fid = (SELECT max(fid) FROM way_nodes)", "no row for"),
    ] {
        std::fs::copy(&place.path, &path).unwrap();
        rusqlite::Connection::open(&path).unwrap().execute_batch(spoil).unwrap();
        let error = node_pairs(&Layer::open(&path).unwrap(), 0.0, &mut |_| Ok(())).unwrap_err().to_string();
        assert!(error.contains(part) && error.contains("spoiled.gpkg"), "{spoil}: {error}");
    }
}
