//! Real extracts whole and with their buildings or their trees taken away: whoever lost some nearby must say so.
//!
//! What stood near a road is found by plain loops over the corners of every outline, on a grid of their own.
use std::collections::HashMap;

use waymask::base::geodesy::{Position, distance_m};
use waymask::base::progress::Silent;
use waymask::base::words::RoadClass;
use waymask::map::extract;
use waymask::map::extract::model::{CanopyShape, Extract};
use waymask::map::neighbourhood::Neighbourhood;
use waymask::map::network::model::Network;
use waymask::profile::Profile;

use crate::need::data;
use crate::scene::support::network_of;

/// Closer than this to a road something counts as lost.
const LOST_WITHIN_M: f64 = 100.0;
/// At least this share of the road that lost something must say so.
const TOLD: f64 = 0.9;
/// At most this share of a region where everything is mapped may say that it is not.
const FALSE_ALARM: f64 = 0.02;
/// Outlines are filled in with points at most this far apart.
const STEP_M: f64 = 20.0;

struct Region {
    extract: Extract,
    network: Network,
    profile: Profile,
}

impl Region {
    fn read(name: &str) -> Option<Self> {
        let extract = extract::read(&data(name)?, &Silent).unwrap();
        let profile = Profile::default();
        let network = network_of(&extract.roads, &profile);
        Some(Self { extract, network, profile })
    }
    /// Kilometres of roads for which something holds, and all of them. Ferries have no roadside.
    fn km(&self, wanted: impl Fn(&[Position], Position) -> bool) -> (f64, f64) {
        let (mut some, mut all) = (0.0, 0.0);
        for segment in &self.network.segments {
            if matches!(self.extract.roads[segment.road.at()].class, RoadClass::Ferry | RoadClass::ShuttleTrain) {
                continue;
            }
            all += segment.length_m / 1000.0;
            if wanted(&segment.line, segment.middle()) {
                some += segment.length_m / 1000.0;
            }
        }
        (some, all)
    }
    fn around(&self, extract: &Extract) -> Neighbourhood {
        Neighbourhood::of(extract, &self.profile.surroundings)
    }
}

/// Points on a grid of about their distance, so that a loop need not look at all of them.
struct Points(HashMap<(i32, i32), Vec<Position>>);

impl Points {
    fn of(positions: impl Iterator<Item = Position>) -> Self {
        let mut cells: HashMap<(i32, i32), Vec<Position>> = HashMap::new();
        positions.for_each(|p| cells.entry(Self::cell(p)).or_default().push(p));
        Self(cells)
    }
    fn cell(p: Position) -> (i32, i32) {
        (p.lon_e7.div_euclid(20_000), p.lat_e7.div_euclid(20_000))
    }
    fn near(&self, line: &[Position]) -> bool {
        let close = |p: &Position| {
            let (x, y) = Self::cell(*p);
            let cells = (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (x + dx, y + dy)));
            cells.filter_map(|c| self.0.get(&c)).flatten().any(|q| distance_m(*p, *q) < LOST_WITHIN_M)
        };
        line.iter().any(close)
    }
}

/// Corners of a line and points between them.
fn filled(line: &[Position]) -> Vec<Position> {
    let mut out = line.to_vec();
    for pair in line.windows(2) {
        let steps = (distance_m(pair[0], pair[1]) / STEP_M) as i64;
        let between = |a: i32, b: i32, k: i64| (i64::from(a) + (i64::from(b) - i64::from(a)) * k / (steps + 1)) as i32;
        out.extend((1..=steps).map(|k| Position {
            lon_e7: between(pair[0].lon_e7, pair[1].lon_e7, k),
            lat_e7: between(pair[0].lat_e7, pair[1].lat_e7, k),
        }));
    }
    out
}

fn share((some, all): (f64, f64)) -> f64 {
    some / all
}

#[test]
fn andorra_without_buildings_says_so() {
    let Some(region) = Region::read("andorra/andorra-2025.osm.pbf") else { return };
    let lost = Points::of(region.extract.buildings.iter().flat_map(|b| filled(&b.area.outer)));
    let thinned = Extract { buildings: Vec::new(), ..region.extract.clone() };
    let told = region.around(&thinned);
    let (said, of) =
        (region.km(|line, at| lost.near(line) && !told.buildings_mapped(at)).0, region.km(|line, _| lost.near(line)).0);
    println!("buildings lost along {of:.1} km, told along {said:.1} km");
    assert!(of > 300.0 && said / of >= TOLD, "{said} of {of} km");
}

#[test]
fn andorra_without_trees_says_so() {
    let Some(region) = Region::read("andorra/andorra-2025.osm.pbf") else { return };
    let trees = region.extract.canopy.iter().flat_map(|c| match &c.shape {
        CanopyShape::Wood(area) | CanopyShape::Orchard(area) => {
            std::iter::once(&area.outer).chain(&area.inners).flat_map(|ring| filled(ring)).collect()
        }
        CanopyShape::Row(line) | CanopyShape::Hedge(line) => filled(line),
        CanopyShape::Tree(at) => vec![*at],
    });
    let lost = Points::of(trees);
    let thinned = Extract { canopy: Vec::new(), ..region.extract.clone() };
    let told = region.around(&thinned);
    let said = region.km(|line, at| lost.near(line) && !told.trees_mapped(at)).0;
    let of = region.km(|line, _| lost.near(line)).0;
    println!("trees lost along {of:.1} km, told along {said:.1} km");
    assert!(of > 300.0 && said / of >= TOLD, "{said} of {of} km");
}

#[test]
fn where_the_map_is_whole_little_is_called_unknown() {
    for (name, least_km) in [
        ("andorra/andorra-2025.osm.pbf", 800.0),
        ("bayreuth/north-bayreuth.osm.pbf", 250.0),
        ("pbf_cases/manhattan.osm.pbf", 20.0),
    ] {
        let Some(region) = Region::read(name) else { return };
        let around = region.around(&region.extract);
        let buildings = region.km(|_, at| !around.buildings_mapped(at));
        let trees = region.km(|_, at| !around.trees_mapped(at));
        println!("{name}: {:.1} km, buildings unknown {:.4}, trees {:.4}", buildings.1, share(buildings), share(trees));
        assert!(buildings.1 > least_km, "{name}: {} km", buildings.1);
        assert!(share(buildings) <= FALSE_ALARM, "{name}: buildings unknown along {buildings:?}");
        // Nobody has drawn a tree in that extract of Manhattan, and there are trees in its streets and squares.
        if !region.extract.canopy.is_empty() {
            assert!(share(trees) <= FALSE_ALARM, "{name}: trees unknown along {trees:?}");
        }
    }
}

#[test]
fn roads_alone_know_neither_buildings_nor_trees() {
    for name in ["pbf_cases/frankfurt-interchange.osm.pbf", "places/oslo-east.osm.pbf"] {
        let Some(region) = Region::read(name) else { return };
        let around = region.around(&region.extract);
        let (unknown, all) = region.km(|_, at| !around.buildings_mapped(at) && !around.trees_mapped(at));
        println!("{name}: {unknown:.2} of {all:.2} km");
        assert!(all > 100.0 && (unknown - all).abs() < 1e-9, "{name}: {unknown} of {all} km");
    }
}
