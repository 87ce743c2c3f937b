//! Places to stop of real extracts, checked on the raw map with other programs' and libraries' eyes.
use std::collections::{BTreeMap, HashMap};
use std::path::Path;
use std::process::Command;

use geo::{Contains, Coord, Distance, Euclidean, Intersects, Line, LineString, Point, Polygon};
use osmpbfreader::{OsmObj, OsmPbfReader, Tags};
use waymask::base::progress::Silent;
use waymask::base::words::StandsOn;
use waymask::build::{self, BuildOptions};
use waymask::layer::Layer;
use waymask::layer::model::StopRow;
use waymask::profile::Profile;

use crate::build::country::{self, ANDORRA};
use crate::need;

/// Kind by tags, in the order of precedence the program states.
fn kind_of(get: &dyn Fn(&str) -> Option<String>) -> Option<&'static str> {
    const RULES: [(&str, &str); 9] = [
        ("highway", "services"),
        ("highway", "rest_area"),
        ("amenity", "fuel"),
        ("tourism", "camp_site"),
        ("tourism", "camp_pitch"),
        ("tourism", "caravan_site"),
        ("tourism", "picnic_site"),
        ("tourism", "viewpoint"),
        ("amenity", "parking"),
    ];
    RULES.into_iter().find(|(key, value)| get(key).as_deref() == Some(*value)).map(|(_, value)| value)
}

/// Objects of an extract by kind as osmium finds them: nodes, closed ways and multipolygons nobody is shut out of.
fn by_osmium(extract: &Path) -> Option<BTreeMap<&'static str, usize>> {
    let filters = [
        "nwr/highway=services,rest_area",
        "nwr/amenity=fuel,parking",
        "nwr/tourism=camp_site,camp_pitch,caravan_site,picnic_site,viewpoint",
    ];
    let osmium = need::program("osmium", "osmium-tool")?;
    let output = Command::new(osmium)
        .args(["tags-filter", "--no-progress", "-R", "-f", "opl"])
        .arg(extract)
        .args(filters)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let mut found = BTreeMap::new();
    for line in String::from_utf8(output.stdout).unwrap().lines() {
        let field = |letter: char| line.split(' ').skip(1).find_map(|f| f.strip_prefix(letter)).unwrap_or("");
        let tags: HashMap<&str, &str> = field('T').split(',').filter_map(|t| t.split_once('=')).collect();
        let get = |key: &str| tags.get(key).map(|v| (*v).to_owned());
        let refs: Vec<&str> = field('N').split(',').collect();
        let drawn = match line.as_bytes()[0] {
            b'w' => refs.len() >= 4 && refs.first() == refs.last(),
            b'r' => get("type").as_deref() == Some("multipolygon"),
            _ => true,
        };
        // Nobody may enter: no place to stop.
        if drawn && get("access").as_deref() != Some("no") {
            *found.entry(kind_of(&get).unwrap()).or_default() += 1;
        }
    }
    Some(found)
}

#[test]
fn stops_of_andorra_by_kind_are_those_osmium_finds() {
    let Some(path) = need::data("andorra/andorra-2025.osm.pbf") else { return };
    let Some(expected) = by_osmium(&path) else { return };
    let extract = waymask::map::extract::read(&path, &Silent).unwrap();
    let mut objects: Vec<_> = extract.stops.iter().map(|s| (s.kind, s.object.name(), s.id)).collect();
    objects.sort();
    objects.dedup();
    let mut found = BTreeMap::new();
    objects.iter().for_each(|(kind, ..)| *found.entry(kind.name()).or_default() += 1);
    assert_eq!(found, expected);
    assert!(expected.values().sum::<usize>() > 500, "{expected:?}");
}

/// A line of the raw map and what it is.
struct Raw {
    line: Vec<(f64, f64)>,
    what: What,
}

#[derive(Clone, Copy, PartialEq)]
enum What {
    Building,
    Water,
    Rail,
    /// A road that is more than a service road, and the least half of its carriageway, metres.
    Road(f64),
}

/// What a way is that a panel must keep off.
fn what(tags: &Tags) -> Option<What> {
    let is = |key: &str, values: &[&str]| tags.get(key).is_some_and(|v| values.contains(&v.as_str()));
    let has = |key: &str| tags.get(key).is_some_and(|v| v != "no");
    let below = has("tunnel") || has("covered") || is("location", &["underground"]);
    let open_below = is("building", &["roof", "carport", "canopy", "bridge", "no", "proposed", "planned"])
        || is("wall", &["no"])
        || has("min_height")
        || has("building:min_level")
        || tags.get("layer").is_some_and(|l| l.starts_with('-'))
        // The roof of a station.
        || is("amenity", &["fuel", "bus_station"]);
    if tags.contains_key("building") && !open_below && !is("location", &["underground"]) {
        return Some(What::Building);
    }
    if (is("natural", &["water"]) || is("waterway", &["riverbank"])) && !below {
        return Some(What::Water);
    }
    if is("railway", &["rail", "light_rail", "tram", "narrow_gauge"]) && !below {
        return Some(What::Rail);
    }
    let gone = has("tunnel")
        || is("access", &["no"])
        || is("motor_vehicle", &["no"])
        || is("vehicle", &["no"])
        || is("motorcar", &["no"]);
    match tags.get("highway").map(|h| h.trim_end_matches("_link")) {
        _ if gone => None,
        Some("motorway" | "trunk") => Some(What::Road(3.0)),
        Some("primary" | "secondary") => Some(What::Road(2.5)),
        Some("tertiary" | "unclassified" | "residential" | "living_street") => Some(What::Road(1.5)),
        _ => None,
    }
}

/// Buildings, water, tracks and roads drawn as single ways.
fn raw(path: &Path) -> Vec<Raw> {
    let mut nodes = HashMap::new();
    let mut out = Vec::new();
    let mut reader = OsmPbfReader::new(std::fs::File::open(path).unwrap());
    for object in reader.iter() {
        match object.unwrap() {
            OsmObj::Node(n) => {
                nodes.insert(n.id, (n.lon(), n.lat()));
            }
            OsmObj::Way(w) => {
                let closed = w.nodes.len() >= 4 && w.nodes.first() == w.nodes.last();
                let area = |what: &What| matches!(what, What::Building | What::Water);
                let Some(what) = what(&w.tags).filter(|what| closed || !area(what)) else { continue };
                let line: Vec<_> = w.nodes.iter().filter_map(|id| nodes.get(id).copied()).collect();
                if line.len() == w.nodes.len() {
                    out.push(Raw { line, what });
                }
            }
            OsmObj::Relation(_) => {}
        }
    }
    out
}

/// Checks all places of a stop against what is drawn near it; returns how many they are.
fn check(stop: &StopRow, near: &[&Raw]) -> usize {
    let (lon, lat) = (stop.at.lon_deg(), stop.at.lat_deg());
    // Metres per degree at a latitude by a series for the ellipsoid of WGS 84; within 1.2 m of the radii of curvature (computed
    // from the axes in NGA.STND.0036).
    let phi = lat.to_radians();
    let (kx, ky) = (111_412.84 * phi.cos() - 93.5 * (3.0 * phi).cos(), 111_132.92 - 559.82 * (2.0 * phi).cos());
    let metres = |p: &(f64, f64)| Coord { x: (p.0 - lon) * kx, y: (p.1 - lat) * ky };
    let vehicle = Coord { x: 0.0, y: 0.0 };
    for raw in near.iter().filter(|_| [StandsOn::Aisle, StandsOn::Ground, StandsOn::Pitch].contains(&stop.stands_on)) {
        let line: LineString = raw.line.iter().map(metres).collect();
        let off_m = Euclidean.distance(&Point(vehicle), &line);
        match raw.what {
            What::Road(half_m) => assert!(off_m > half_m, "{stop:?} on {:?}", raw.line),
            What::Rail => assert!(off_m > 2.0, "{stop:?} on {:?}", raw.line),
            What::Building | What::Water => {
                assert!(!Polygon::new(line, vec![]).contains(&Point(vehicle)), "{stop:?} inside {:?}", raw.line);
            }
        }
    }
    for place in stop.places.iter().skip(1) {
        let (sin, cos) = place.bearing_deg.to_radians().sin_cos();
        let panel = Coord { x: place.distance_m * sin, y: place.distance_m * cos };
        let cable = Line::new(vehicle, panel);
        for raw in near {
            let line: LineString = raw.line.iter().map(metres).collect();
            let off_m = Euclidean.distance(&Point(panel), &line);
            match raw.what {
                What::Building | What::Water => {
                    let area = Polygon::new(line.clone(), vec![]);
                    assert!(!area.contains(&Point(panel)), "{place:?} of {stop:?} inside {:?}", raw.line);
                    assert!(!cable.intersects(&line), "cable to {place:?} of {stop:?} across {:?}", raw.line);
                }
                What::Rail => assert!(off_m > 2.0 && !cable.intersects(&line), "{place:?} of {stop:?}"),
                What::Road(half_m) => {
                    assert!(off_m > half_m, "{place:?} of {stop:?} is {off_m} m from {:?}", raw.line);
                    assert!(!cable.intersects(&line), "cable to {place:?} of {stop:?} across {:?}", raw.line);
                }
            }
        }
    }
    stop.places.len() - 1
}

/// Builds an extract and checks every place for a panel; at least `least` of them.
fn places_are_clear(extract: &str, least: usize) {
    let Some(path) = need::data(extract) else { return };
    let folder = tempfile::tempdir().unwrap();
    let layer = if extract == ANDORRA {
        Layer::open(&country::andorra().unwrap()).unwrap()
    } else {
        let mut profile = Profile::default();
        profile.link.drives = 4;
        let options = BuildOptions { profile, ..BuildOptions::new(path.clone(), folder.path().join("place.gpkg")) };
        build::build(&options, &Silent).unwrap();
        Layer::open(&options.output).unwrap()
    };
    let (stops, raw) = (layer.stops().unwrap(), raw(&path));
    let left_out: u64 = layer
        .record()
        .assumed
        .iter()
        .filter(|a| a.contains("left out"))
        .filter_map(|a| a.split_whitespace().find_map(|word| word.parse::<u64>().ok()))
        .sum();
    let all = waymask::map::extract::read(&path, &Silent).unwrap().stops.len();
    assert_eq!(stops.len() + left_out as usize, all);
    let mut checked = 0;
    for stop in &stops {
        let (lon, lat) = (stop.at.lon_deg(), stop.at.lat_deg());
        // A box of some 150 m and more, met by the box around the line.
        let near = |r: &&Raw| {
            let side = |get: fn(&(f64, f64)) -> f64, at: f64| {
                let (low, high) = r.line.iter().map(get).fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
                low - 0.003 < at && at < high + 0.003
            };
            side(|p| p.0, lon) && side(|p| p.1, lat)
        };
        checked += check(stop, &raw.iter().filter(near).collect::<Vec<_>>());
    }
    println!("{extract}: {checked} places of {} stops", stops.len());
    assert!(checked >= least, "{checked} places of {} stops", stops.len());
}

#[test]
fn heavy_no_panel_of_andorra_stands_on_a_road_in_water_or_in_a_building() {
    places_are_clear(ANDORRA, 200);
}

#[test]
fn heavy_no_panel_of_manhattan_stands_on_a_road_in_water_or_in_a_building() {
    places_are_clear("pbf_cases/manhattan.osm.pbf", 10);
}

#[test]
fn heavy_no_panel_of_bayreuth_stands_on_a_road_in_water_or_in_a_building() {
    places_are_clear("bayreuth/north-bayreuth.osm.pbf", 30);
}
