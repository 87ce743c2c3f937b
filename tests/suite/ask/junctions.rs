//! Places exactly at junctions: whatever touches a junction, drives may begin and end on it.
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};

use waymask::ask::route::{Limits, route};
use waymask::base::geodesy::Position;
use waymask::layer::Layer;
use waymask::profile::Profile;

use crate::ask::driven::Draws;
use crate::ask::town::{Town, ask, asked, fastest_m, roads};
use crate::build::country;
use crate::build::kit::{Sketch, sample};

/// Pairs of junctions compared.
const PAIRS: usize = 60;

/// The least driving time between two nodes over rows of `edges`, milliseconds, by a plain search of its own: local edges come
/// first and last, others between them.
struct Plain {
    leaving: HashMap<i64, Vec<(i64, u64, bool)>>,
}

impl Plain {
    fn of(layer: &Layer) -> Self {
        let mut leaving = HashMap::<i64, Vec<(i64, u64, bool)>>::new();
        for e in layer.edges().map(Result::unwrap) {
            let ms = (e.time_s * 1e3).round() as u64;
            leaving.entry(e.from_node).or_default().push((e.to_node, ms, e.local));
        }
        Self { leaving }
    }
    fn least_ms(&self, from: i64, to: i64) -> Option<u64> {
        let mut best = HashMap::from([((from, 0_u8), 0_u64)]);
        let mut open = BinaryHeap::from([(Reverse(0_u64), from, 0_u8)]);
        while let Some((Reverse(ms), node, part)) = open.pop() {
            if node == to {
                return Some(ms);
            }
            if best[&(node, part)] < ms {
                continue;
            }
            for (next, more_ms, local) in self.leaving.get(&node).into_iter().flatten() {
                let after = match (part, local) {
                    (0, true) => 0,
                    (_, true) => 2,
                    (2, false) => continue,
                    (_, false) => 1,
                };
                let sum = ms + more_ms;
                if best.get(&(*next, after)).is_none_or(|b| sum < *b) {
                    best.insert((*next, after), sum);
                    open.push((Reverse(sum), *next, after));
                }
            }
        }
        None
    }
}

/// Compares the fastest ways between drawn junctions; how many pairs are joined, and how many ways are slower or faster than
/// the plain search finds, by more than the rounding of times of segments.
fn compared(layer: &Layer) -> (usize, Vec<String>) {
    let plain = Plain::of(layer);
    let nodes = layer.nodes().unwrap();
    let mut draws = Draws(20_260_101);
    let (mut joined, mut wrong) = (0, Vec::new());
    while joined < PAIRS {
        let mut pick = || &nodes[(draws.next() * nodes.len() as f64) as usize];
        let (a, b) = (pick(), pick());
        let Some(least_ms) = plain.least_ms(a.node_id, b.node_id).filter(|ms| *ms > 0) else { continue };
        joined += 1;
        let mut question = asked(vec![a.at, b.at]);
        question.limits = Limits { ways: 1, longer_ms: None };
        let found = route(layer, &question).unwrap();
        let (got_s, least_s) = (found.ways[0].time_s, least_ms as f64 / 1e3);
        if (got_s - least_s).abs() > 0.3 {
            wrong.push(format!("{} to {}: {got_s:.1} s, at least {least_s:.1} s", a.node_id, b.node_id));
        }
    }
    (joined, wrong)
}

#[test]
fn from_junctions_of_the_island_no_way_is_slower_than_the_best() {
    let mut profile = Profile::default();
    profile.link.drives = 4;
    let place = Sketch::at(47.0).build_with(profile, |o, _| o.extract = sample("varrow.osm.pbf"));
    assert_eq!(compared(&place.layer), (PAIRS, vec![]));
}

#[test]
fn heavy_from_junctions_of_a_country_no_way_is_slower_than_the_best() {
    let Some(layer) = country::andorra() else { return };
    assert_eq!(compared(&Layer::open(&layer).unwrap()), (PAIRS, vec![]));
}

#[test]
fn a_drive_may_leave_and_reach_a_junction_on_every_edge_that_touches_it() {
    let mut sketch = Sketch::at(47.0);
    let at: Vec<i64> = [(0.0, 0.0), (500.0, 0.0), (500.0, 500.0), (0.0, 500.0), (-1_000.0, 0.0)]
        .iter()
        .map(|(x, y)| sketch.node(*x, *y, &[]))
        .collect();
    // A block driven one way round, met first; and the street to the west.
    sketch.way(&[at[0], at[1], at[2], at[3], at[0]], &[roads("tertiary"), vec![("oneway", "yes")]].concat());
    sketch.way(&[at[0], at[4]], &roads("tertiary"));
    let town = Town { sketch, street: at };
    let place = town.build();
    let west = town.at(-400.0, 0.0);
    // Exactly there, and as typed to a metre.
    for junction in [town.at(0.0, 0.0), town.at(0.7, 0.4), town.at(-0.5, -0.6)] {
        for places in [[junction, west], [west, junction]] {
            let length_m = fastest_m(&place, &places);
            assert!((length_m - 400.0).abs() < 2.0, "{length_m} m");
        }
    }
    // Ten metres into the block it is one-way.
    let inside: Position = town.at(10.0, 0.0);
    assert!(fastest_m(&place, &[inside, west]) > 2_300.0);
    let found = ask(&place, &asked(vec![town.at(0.0, 0.0), west])).unwrap();
    assert_eq!(found.notes, [""; 0]);
}
