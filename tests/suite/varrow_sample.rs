//! The sample island of Varrow holds what the demo and the other tests rely on, and is what its script makes.

use std::collections::{HashMap, HashSet};
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::Command;

use osmpbfreader::{NodeId, OsmObj, OsmPbfReader, Tags, Way};

use crate::need;

/// Metres per degree of latitude near 47 N, and of longitude there: radii of curvature of the ellipsoid of WGS 84 (NGA.STND.0036)
/// at 47 N, 111 170.8 and 76 056.0 m.
const METRES_PER_DEG_LAT: f64 = 111_171.0;
const METRES_PER_DEG_LON: f64 = 76_056.0;
const MAX_SAMPLE_BYTES: u64 = 3_000_000;
const FIRST_INVENTED_ID: i64 = 9_100_000_000;

/// East and north of 28 W 47 N in metres.
type Point = (f64, f64);

fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples")
}

struct Island {
    nodes: HashMap<NodeId, Point>,
    ways: Vec<Way>,
}

impl Island {
    fn read() -> Island {
        let file = File::open(samples().join("varrow.osm.pbf")).expect("the sample opens");
        let mut island = Island { nodes: HashMap::new(), ways: Vec::new() };
        for object in OsmPbfReader::new(file).iter() {
            match object.expect("the sample decodes") {
                OsmObj::Node(node) => {
                    let east_m = (node.lon() + 28.0) * METRES_PER_DEG_LON;
                    let north_m = (node.lat() - 47.0) * METRES_PER_DEG_LAT;
                    island.nodes.insert(node.id, (east_m, north_m));
                }
                OsmObj::Way(way) => island.ways.push(way),
                OsmObj::Relation(_) => {}
            }
        }
        island
    }

    fn points(&self, way: &Way) -> Vec<Point> {
        way.nodes.iter().map(|id| self.nodes[id]).collect()
    }

    fn length_m(&self, way: &Way) -> f64 {
        self.points(way).windows(2).map(|p| (p[1].0 - p[0].0).hypot(p[1].1 - p[0].1)).sum()
    }

    fn with<'a>(&'a self, key: &'a str, value: &'a str) -> impl Iterator<Item = &'a Way> {
        self.ways.iter().filter(move |way| is(&way.tags, key, value))
    }

    fn crosses(&self, one: &Way, two: &Way) -> bool {
        let (one, two) = (self.points(one), self.points(two));
        one.windows(2).any(|a| two.windows(2).any(|b| pieces_cross(a, b)))
    }

    /// Bridges (of roads, paths and rails) that pass over open carriageways of the highway.
    fn overpasses(&self) -> Vec<(&Way, Vec<&Way>)> {
        let below: Vec<&Way> = self
            .with("highway", "trunk")
            .filter(|way| !way.tags.contains_key("bridge") && !way.tags.contains_key("tunnel"))
            .collect();
        let decks =
            self.ways.iter().filter(|way| way.tags.contains_key("bridge") && !is(&way.tags, "highway", "trunk"));
        decks
            .map(|deck| (deck, below.iter().copied().filter(|road| self.crosses(deck, road)).collect::<Vec<_>>()))
            .filter(|(_, crossed)| !crossed.is_empty())
            .collect()
    }

    fn drivable(&self) -> Vec<&Way> {
        let roads = self.ways.iter().filter(|way| way.tags.contains_key("highway") && way.nodes.len() > 1);
        roads.filter(|way| !is(&way.tags, "highway", "footway") && !is(&way.tags, "highway", "rest_area")).collect()
    }

    /// Nodes reached from the start along one-way rules, or against them when `backward`.
    fn reached(&self, start: NodeId, backward: bool) -> HashSet<NodeId> {
        let mut next: HashMap<NodeId, Vec<NodeId>> = HashMap::new();
        for way in self.drivable() {
            let one_way = is(&way.tags, "oneway", "yes");
            for pair in way.nodes.windows(2) {
                let (from, to) = if backward { (pair[1], pair[0]) } else { (pair[0], pair[1]) };
                next.entry(from).or_default().push(to);
                if !one_way {
                    next.entry(to).or_default().push(from);
                }
            }
        }
        let (mut seen, mut open) = (HashSet::from([start]), vec![start]);
        while let Some(here) = open.pop() {
            for &there in next.get(&here).into_iter().flatten() {
                if seen.insert(there) {
                    open.push(there);
                }
            }
        }
        seen
    }
}

fn is(tags: &Tags, key: &str, value: &str) -> bool {
    tags.get(key).is_some_and(|v| v == value)
}

fn side(a: Point, b: Point, p: Point) -> f64 {
    (b.0 - a.0) * (p.1 - a.1) - (b.1 - a.1) * (p.0 - a.0)
}

fn pieces_cross(a: &[Point], b: &[Point]) -> bool {
    side(a[0], a[1], b[0]) * side(a[0], a[1], b[1]) < 0.0 && side(b[0], b[1], a[0]) * side(b[0], b[1], a[1]) < 0.0
}

fn inside(ring: &[Point], p: Point) -> bool {
    let hits = ring.windows(2).filter(|e| (e[0].1 > p.1) != (e[1].1 > p.1));
    hits.filter(|e| p.0 < e[0].0 + (p.1 - e[0].1) * (e[1].0 - e[0].0) / (e[1].1 - e[0].1)).count() % 2 == 1
}

#[test]
fn ids_are_invented_and_every_reference_is_there() {
    let island = Island::read();
    assert!(island.nodes.keys().all(|id| id.0 > FIRST_INVENTED_ID));
    assert!(island.ways.iter().all(|way| way.id.0 > FIRST_INVENTED_ID && way.nodes.len() > 1));
    assert!(island.ways.iter().flat_map(|way| &way.nodes).all(|id| island.nodes.contains_key(id)));
}

#[test]
fn the_files_stay_small() {
    let files = std::fs::read_dir(samples()).expect("data-samples is there");
    let total: u64 = files.map(|file| file.and_then(|f| f.metadata()).expect("readable").len()).sum();
    assert!(total < MAX_SAMPLE_BYTES, "{total} bytes");
}

#[test]
fn the_highway_is_long_and_has_bridges_of_every_kind_over_it() {
    let island = Island::read();
    let both_ways_m: f64 = island.with("highway", "trunk").map(|way| island.length_m(way)).sum();
    assert!(both_ways_m > 2.0 * 8_000.0, "{both_ways_m}");
    assert!(island.with("highway", "trunk").all(|w| is(&w.tags, "oneway", "yes") && is(&w.tags, "lanes", "2")));

    let overpasses = island.overpasses();
    let count = |key: &str, value: &str| overpasses.iter().filter(|(deck, _)| is(&deck.tags, key, value)).count();
    assert_eq!(count("highway", "secondary"), 1);
    assert_eq!(count("highway", "footway"), 1);
    assert_eq!(count("highway", "track"), 1);
    assert_eq!(count("railway", "narrow_gauge"), 1);
    assert_eq!(count("highway", "unclassified"), 2, "the twin deck");
    for (deck, roads) in &overpasses {
        assert_eq!(roads.len(), 2, "way {} crosses both carriageways", deck.id.0);
        assert!(is(&deck.tags, "layer", "1"));
        let shared = roads.iter().flat_map(|road| &road.nodes).filter(|id| deck.nodes.contains(id)).count();
        assert_eq!(shared, 0, "way {} must not join the highway", deck.id.0);
    }
    let posted =
        overpasses.iter().filter(|(_, roads)| roads.iter().all(|road| road.tags.contains_key("maxheight"))).count();
    assert!(posted >= 2 && posted < overpasses.len(), "{posted} of {}", overpasses.len());
}

#[test]
fn tunnels_and_the_gallery_have_their_lengths() {
    let island = Island::read();
    let lengths_m = |highway: &str, tunnel: &str| -> Vec<f64> {
        let tubes = island.with("tunnel", tunnel).filter(|way| is(&way.tags, "highway", highway));
        tubes.map(|way| island.length_m(way)).collect()
    };
    let highway = lengths_m("trunk", "yes");
    assert!(highway.len() == 2 && highway.iter().all(|m| (600.0..900.0).contains(m)), "{highway:?}");
    let pass = lengths_m("tertiary", "yes");
    assert!(pass.len() == 1 && (80.0..200.0).contains(&pass[0]), "{pass:?}");
    let gallery = lengths_m("tertiary", "avalanche_protector");
    assert!(gallery.len() == 1 && (150.0..300.0).contains(&gallery[0]), "{gallery:?}");
}

#[test]
fn woods_are_drawn_across_the_valley_road() {
    let island = Island::read();
    for (leaf_cycle, least_m) in [("deciduous", 1_000.0), ("evergreen", 1_000.0)] {
        let woods = island.with("leaf_cycle", leaf_cycle).filter(|way| way.nodes.first() == way.nodes.last());
        let rings: Vec<Vec<Point>> = woods.map(|way| island.points(way)).collect();
        let valley = island.with("name", "Sallow Valley Road").map(|way| island.points(way));
        let in_wood_m: f64 = valley
            .flat_map(|line| line.windows(2).map(|p| (p[0], p[1])).collect::<Vec<_>>())
            .filter(|(a, b)| rings.iter().any(|ring| inside(ring, *a) && inside(ring, *b)))
            .map(|(a, b)| (b.0 - a.0).hypot(b.1 - a.1))
            .sum();
        assert!(in_wood_m > least_m, "{leaf_cycle}: {in_wood_m} m");
    }
}

#[test]
fn the_forest_track_runs_three_kilometres_under_needles() {
    let island = Island::read();
    let woods: Vec<Vec<Point>> = island.with("leaf_type", "needleleaved").map(|way| island.points(way)).collect();
    let track: Vec<&Way> = island.with("name", "Lanternwood Ride").collect();
    assert!(track.iter().all(|way| is(&way.tags, "tracktype", "grade3")));
    let lines = track.iter().map(|way| island.points(way));
    let under_m: f64 = lines
        .flat_map(|line| line.windows(2).map(|p| (p[0], p[1])).collect::<Vec<_>>())
        .filter(|(a, b)| woods.iter().any(|ring| inside(ring, *a) && inside(ring, *b)))
        .map(|(a, b)| (b.0 - a.0).hypot(b.1 - a.1))
        .sum();
    assert!(under_m > 3_000.0, "{under_m} m");
}

#[test]
fn one_fuel_station_has_a_roof_and_one_has_none() {
    let island = Island::read();
    let roofs: Vec<Vec<Point>> = island.with("building", "roof").map(|way| island.points(way)).collect();
    let covered: Vec<Point> = island
        .with("covered", "yes")
        .filter(|w| is(&w.tags, "highway", "service"))
        .flat_map(|w| island.points(w))
        .collect();
    let stations: Vec<Vec<Point>> = island.with("amenity", "fuel").map(|way| island.points(way)).collect();
    assert_eq!(stations.len(), 2);
    let roofed: Vec<&Vec<Point>> =
        stations.iter().filter(|site| roofs.iter().any(|roof| inside(site, roof[0]))).collect();
    assert_eq!(roofed.len(), 1);
    assert!(covered.iter().any(|&p| inside(roofed[0], p)), "a covered lane runs under the roof");
    let roof_sides = roofs[0].windows(2).map(|p| (p[1].0 - p[0].0).hypot(p[1].1 - p[0].1)).collect::<Vec<_>>();
    assert!((roof_sides[0] - 24.0).abs() < 0.3 && (roof_sides[1] - 16.0).abs() < 0.3, "{roof_sides:?}");
}

#[test]
fn every_road_is_reached_from_the_town_and_leads_back() {
    let island = Island::read();
    let start = island.with("name", "High Street").next().expect("the town has a High Street").nodes[0];
    for backward in [false, true] {
        let reached = island.reached(start, backward);
        for way in island.drivable() {
            assert!(way.nodes.iter().all(|id| reached.contains(id)), "way {} (backward: {backward})", way.id.0);
        }
    }
}

#[test]
fn the_calendar_keeps_the_form_of_rfc_5545() {
    let text = std::fs::read_to_string(samples().join("varrow-meetings.ics")).expect("the calendar reads");
    // RFC 5545 section 3.1: lines end in CRLF and hold at most 75 octets.
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
    assert!(text.split("\r\n").all(|line| line.len() <= 75));
    assert_eq!(text.matches("BEGIN:VEVENT").count(), text.matches("END:VEVENT").count());
    for fact in
        ["RRULE:FREQ=WEEKLY", "BEGIN:VTIMEZONE", "CATEGORIES:must-not-drop", "CATEGORIES:casual", "CATEGORIES:messages"]
    {
        assert!(text.contains(fact), "{fact}");
    }
    let starts: Vec<&str> =
        text.lines().skip_while(|line| *line != "END:VTIMEZONE").filter(|line| line.starts_with("DTSTART")).collect();
    assert!(starts.iter().any(|s| s.ends_with('Z')), "one in UTC");
    assert!(starts.iter().any(|s| s.contains(";TZID=")), "one with a zone");
    assert!(starts.iter().any(|s| !s.ends_with('Z') && !s.contains(";TZID=")), "one floating");
}

#[test]
fn heavy_the_sample_is_what_the_plan_makes() {
    let Some(python) = need::program("python3", "python3") else { return };
    let Some(_) = need::program("gdal_translate", "gdal-bin") else { return };
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("scripts/make-varrow");
    let done = Command::new(python).arg(script).arg("--check").output().expect("python3 runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

/// Some readers take an empty list in a block for damage, tell of it in passing and hand out nothing.
#[test]
fn gdal_reads_every_way_of_the_sample() {
    let Some(program) = need::program("ogr2ogr", "gdal-bin") else { return };
    let map = samples().join("varrow.osm.pbf");
    let of = |layer: &str| -> HashSet<i64> {
        let mut command = Command::new(program);
        let done = command.args(["-f", "CSV", "/vsistdout/"]).arg(&map).arg(layer).output().expect("ogr2ogr runs");
        assert!(done.stderr.is_empty(), "{}", String::from_utf8_lossy(&done.stderr));
        let mut table = csv::Reader::from_reader(&done.stdout[..]);
        let heads = table.headers().unwrap().clone();
        let column = |name: &str| heads.iter().position(|head| head == name);
        // Of areas, those of relations have no way of their own.
        let id = column("osm_way_id").or_else(|| column("osm_id")).unwrap();
        table.records().filter_map(|row| row.unwrap()[id].parse().ok()).collect()
    };
    let found: HashSet<i64> = of("lines").union(&of("multipolygons")).copied().collect();
    let mut reader = OsmPbfReader::new(File::open(&map).unwrap());
    let tagged = |object: OsmObj| match object {
        // By its settings GDAL leaves out the coast.
        OsmObj::Way(way) if !way.tags.is_empty() && !way.tags.contains("natural", "coastline") => Some(way.id.0),
        _ => None,
    };
    let wanted: HashSet<i64> = reader.iter().filter_map(|object| tagged(object.unwrap())).collect();
    let missed: Vec<_> = wanted.difference(&found).collect();
    assert!(wanted.len() > 700 && missed.is_empty(), "{} of {}: {missed:?}", missed.len(), wanted.len());
}
