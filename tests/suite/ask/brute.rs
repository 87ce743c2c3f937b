//! Small graphs, all of whose ways can be listed.
use proptest::prelude::*;
use waymask::ask::route::{Directions, EdgeTable, Limits, RouteNetwork, RouteRules, Totals, Weights, ways};
use waymask::base::index::JunctionIndex;
use waymask::base::words::RoadAccess;
use waymask::layer::model::EdgeRow;
use waymask::map::network::local::{JunctionPair, local};

const ALL: RouteRules = RouteRules { unpaved: true, boarded: true, private: true, height_m: 3.0 };
const NODES: i64 = 6;

#[derive(Debug, Clone)]
struct Small {
    from: i64,
    to: i64,
    time_ms: u32,
    outage_ms: u32,
    open: bool,
}

fn small() -> impl Strategy<Value = Vec<Small>> {
    // Few distinct costs, so that ties and parallel edges of equal cost happen.
    let edge = (0..NODES, 0..NODES, 1..8_u32, 0..6_u32, prop::bool::weighted(0.8));
    prop::collection::vec(
        edge.prop_map(|(from, to, time_ms, outage_ms, open)| Small { from, to, time_ms, outage_ms, open }),
        4..18,
    )
}

fn table(edges: &[Small]) -> EdgeTable {
    let mut table = EdgeTable::default();
    let junction = |node: i64| JunctionIndex::new(node as usize);
    let pairs = edges.iter().map(|e| JunctionPair { from: junction(e.from), to: junction(e.to), open: e.open });
    for ((id, e), local) in (1..).zip(edges).zip(local(NODES as usize, &pairs.collect::<Vec<_>>(), None)) {
        table.add(&EdgeRow {
            local,
            edge_id: id,
            from_node: e.from,
            to_node: e.to,
            forward: true,
            time_s: f64::from(e.time_ms) / 1e3,
            outage_s: f64::from(e.outage_ms) / 1e3,
            access: if e.open { RoadAccess::Open } else { RoadAccess::Destination },
            ..EdgeRow::default()
        });
    }
    table
}

/// All ways without a node twice; `local` tells the edges that serve only the ends, in which the others form one unbroken
/// stretch.
struct Listing<'a> {
    edges: &'a [Small],
    local: &'a [bool],
    to: i64,
    found: Vec<Totals>,
}

impl Listing<'_> {
    /// Goes on from a node: part of the drive (0 before the stretch, 1 on it, 2 after it), nodes seen, cost so far.
    fn go(&mut self, at: i64, part: u8, seen: u32, sum: Totals) {
        if at == self.to {
            return self.found.push(sum);
        }
        let ahead = self.edges.iter().zip(self.local).filter(|(e, _)| e.from == at && seen & (1 << e.to) == 0);
        for (e, local) in ahead {
            let next = match (part, local) {
                (0, true) => 0,
                (_, true) => 2,
                (2, false) => continue,
                (_, false) => 1,
            };
            let cost = Totals { time_ms: e.time_ms.into(), outage_ms: e.outage_ms.into() };
            self.go(e.to, next, seen | (1 << e.to), sum + cost);
        }
    }
}

fn all(edges: &[Small], local: &[bool], from: i64, to: i64) -> Vec<Totals> {
    let mut listing = Listing { edges, local, to, found: Vec::new() };
    listing.go(from, 0, 1 << from, Totals::default());
    listing.found
}

/// Corners of the lower convex hull of costs, by the definition: those that are the only best for some weights.
fn corners(all: &[Totals]) -> Vec<Totals> {
    let mut front: Vec<Totals> = all.iter().copied().filter(|t| !all.iter().any(|o| o.dominates(*t))).collect();
    front.sort_by_key(|t| t.time_ms);
    front.dedup();
    let below = |a: Totals, b: Totals, p: Totals| {
        let w = Weights::between(a, b);
        w.sum(p) < w.sum(a)
    };
    let inner = |p: &Totals| {
        let (left, right) =
            (front.iter().filter(|a| a.time_ms < p.time_ms), front.iter().filter(|b| b.time_ms > p.time_ms));
        left.into_iter().all(|a| right.clone().all(|b| below(*a, *b, *p)))
    };
    front.iter().copied().filter(inner).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn ways_are_the_corners_of_the_hull_of_all_ways(edges in small(), wanted in 1..9_usize) {
        // Where every road is open no way is shut out, whichever edges are found to serve only the ends.
        let edges: Vec<Small> = edges.into_iter().map(|e| Small { open: true, ..e }).collect();
        let table = table(&edges);
        let network = RouteNetwork::new(&table, &ALL, Directions::Kept);
        let (Some(from), Some(to)) = (table.node(0), table.node(1)) else { return Ok(()) };
        let every = all(&edges, &vec![false; edges.len()], 0, 1);
        let want = corners(&every);
        let search = |limits| ways(limits, |w| network.between(from, to, w).map(|t| (t, ())));
        let found: Vec<Totals> = search(Limits { ways: 99, longer_ms: None }).into_iter().map(|w| w.0).collect();
        prop_assert_eq!(&found, &want);
        let few: Vec<Totals> = search(Limits { ways: wanted, longer_ms: None }).into_iter().map(|w| w.0).collect();
        prop_assert_eq!(few.len(), wanted.min(want.len()));
        prop_assert_eq!(few.first(), want.first());
        if wanted > 1 && !want.is_empty() {
            prop_assert_eq!(few.last(), want.last());
            let limit = want[want.len() / 2].time_ms;
            let limited = search(Limits { ways: 2, longer_ms: Some(limit - want[0].time_ms) });
            prop_assert_eq!(limited.last().map(|w| w.0), Some(want[want.len() / 2]));
        }
        for way in &few {
            prop_assert!(!every.iter().any(|o| o.dominates(*way)), "{:?} is dominated", way);
        }
    }

    #[test]
    fn local_edges_serve_only_the_ends(edges in small()) {
        let table = table(&edges);
        let network = RouteNetwork::new(&table, &ALL, Directions::Kept);
        let (Some(from), Some(to)) = (table.node(0), table.node(1)) else { return Ok(()) };
        let local = network.local();
        prop_assert!(edges.iter().zip(local).all(|(e, local)| e.open || *local));
        let every = all(&edges, local, 0, 1);
        for weights in [Weights::FASTEST, Weights::STEADIEST, Weights::of_k(1.5)] {
            let best = every.iter().copied().map(|t| weights.cost(t)).min();
            prop_assert_eq!(network.between(from, to, weights).map(|t| weights.cost(t)), best);
        }
    }
}
