//! Who continues whom where ways meet.
//!
//! The ways that meet at a node decide alone: nothing depends on what else is in the extract, on the order of its file or on
//! how long a road has been driven.
use std::collections::HashMap;

use super::model::{Edge, Network};
use crate::base::geodesy::{LocalPlane, turn_deg};
use crate::base::index::{EdgeIndex, SegmentIndex};
use crate::base::words::{Direction, RoadClass};
use crate::map::extract::model::Road;

/// One road goes on in another at turns below this, degrees.
const STRAIGHT_ON_DEG: f64 = 45.0;
/// The same road goes on at turns up to this, degrees (hairpins have nodes of their own).
const SHARPEST_DEG: f64 = 100.0;
/// The same road rather goes on in its own class: another one counts like a turn of as many degrees.
const OTHER_CLASS_DEG: f64 = 60.0;

/// Turns in thousandths of a degree: finer differences are rounding, by which one direction must not pair otherwise than
/// the other.
const STEPS_PER_DEG: f64 = 1000.0;

/// How badly one edge continues another: the smaller, the better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Misfit {
    /// The same road comes first.
    other_road: bool,
    /// Then what is the better road at its lesser end: a track that meets a main road in its bend takes nothing from it,
    /// however straight it runs on. Links yield to all.
    lesser: (bool, RoadClass),
    /// Then the straighter.
    turn_steps: i64,
}

/// An end of an edge by what does not change with the file: way, part and direction.
type EndKey = (i64, u32, Direction);

/// An edge that could continue another at a node.
struct Pair {
    misfit: Misfit,
    /// The two ends without and with their directions: of equal pairs both directions choose the same.
    ends: [(i64, u32); 2],
    keys: [EndKey; 2],
    from: EdgeIndex,
    to: EdgeIndex,
}

/// For every edge the one that continues it. At each node the best pair goes on, then the best of what is left: each is the
/// other's best of what the node still offers.
pub(super) fn successors(network: &Network, roads: &[Road]) -> Vec<Option<EdgeIndex>> {
    let headings: Vec<(f64, f64)> = network.edges.iter().map(|e| headings_deg(network, e)).collect();
    let mut meeting: HashMap<i64, (Vec<EdgeIndex>, Vec<EdgeIndex>)> = HashMap::new();
    for (i, edge) in EdgeIndex::numbered(&network.edges) {
        meeting.entry(edge.to_node).or_default().0.push(i);
        meeting.entry(edge.from_node).or_default().1.push(i);
    }
    let mut next = vec![None; network.edges.len()];
    let mut taken = vec![false; network.edges.len()];
    for (arriving, leaving) in meeting.values() {
        let all = arriving.iter().flat_map(|i| leaving.iter().map(move |j| (*i, *j)));
        let mut pairs: Vec<Pair> = all
            .filter_map(|(i, j)| pair(network, roads, (i, j), turn_deg(headings[i.at()].1, headings[j.at()].0)))
            .collect();
        pairs.sort_unstable_by_key(|p| (p.misfit, p.ends, p.keys));
        for p in pairs {
            if next[p.from.at()].is_none() && !taken[p.to.at()] {
                next[p.from.at()] = Some(p.to);
                taken[p.to.at()] = true;
            }
        }
    }
    next
}

/// Heading of an edge at its start and at its end, degrees.
fn headings_deg(network: &Network, edge: &Edge) -> (f64, f64) {
    let of = |segment: SegmentIndex, last: bool| {
        let line = &network.segments[segment.at()].line;
        let at_end = last == (edge.direction == Direction::Forward);
        let (a, b) = if at_end { (line[line.len() - 2], line[line.len() - 1]) } else { (line[0], line[1]) };
        let plane = LocalPlane::at_position(a);
        let (a, b) = (plane.to_plane(a), plane.to_plane(b));
        match edge.direction {
            Direction::Forward => a.azimuth_deg(b),
            Direction::Backward => b.azimuth_deg(a),
        }
    };
    (of(first(edge), false), of(last(edge), true))
}

fn first(edge: &Edge) -> SegmentIndex {
    edge.segments[0]
}

fn last(edge: &Edge) -> SegmentIndex {
    edge.segments[edge.segments.len() - 1]
}

/// Way, part and direction of an edge at one of its segments.
pub(super) fn end_key(network: &Network, roads: &[Road], edge: &Edge, segment: SegmentIndex) -> EndKey {
    (roads[edge.road.at()].id, network.segments[segment.at()].part, edge.direction)
}

/// The pair, if the second edge may continue the first.
fn pair(network: &Network, roads: &[Road], (from, to): (EdgeIndex, EdgeIndex), turn_deg: f64) -> Option<Pair> {
    let [a, b] = [from, to].map(|e| &network.edges[e.at()]);
    let back = last(a) == first(b) && a.direction != b.direction;
    let misfit = misfit(&roads[a.road.at()], &roads[b.road.at()], turn_deg.abs()).filter(|_| !back)?;
    let keys = [end_key(network, roads, a, last(a)), end_key(network, roads, b, first(b))];
    let mut ends = keys.map(|(way, part, _)| (way, part));
    ends.sort_unstable();
    Some(Pair { misfit, ends, keys, from, to })
}

/// How badly one road continues another at a turn; `None` if it does not.
fn misfit(a: &Road, b: &Road, turn_deg: f64) -> Option<Misfit> {
    let alike = |x: &Option<Box<str>>, y: &Option<Box<str>>| x.is_some() && x == y;
    let same_road = a.id == b.id || alike(&a.reference, &b.reference) || alike(&a.name, &b.name);
    let same_class = (a.class, a.link) == (b.class, b.link);
    // Who boards a ferry stops before it.
    let boards = (a.class.is_boarded() || b.class.is_boarded()) && a.class != b.class;
    let goes_on = if same_road { turn_deg <= SHARPEST_DEG } else { turn_deg < STRAIGHT_ON_DEG };
    if boards || !goes_on {
        return None;
    }
    let steps = |deg: f64| (deg * STEPS_PER_DEG).round() as i64;
    let turn_steps = steps(turn_deg);
    Some(match same_road {
        true => Misfit {
            other_road: false,
            lesser: (false, RoadClass::ALL[0]),
            turn_steps: turn_steps + if same_class { 0 } else { steps(OTHER_CLASS_DEG) },
        },
        false => Misfit { other_road: true, lesser: (a.link, a.class).max((b.link, b.class)), turn_steps },
    })
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::base::geodesy::Point;
    use crate::map::extract::model::Oneway;
    use crate::map::network::test_roads::{cut_anywhere, road_along};

    /// Who goes on in whom, by way and direction.
    type Joined = BTreeSet<((i64, Direction), (i64, Direction))>;

    fn joined(roads: &[Road]) -> Joined {
        let network = cut_anywhere(roads);
        let name = |i: usize| (roads[network.edges[i].road.at()].id, network.edges[i].direction);
        let next = successors(&network, roads);
        let pairs = next.iter().enumerate().filter_map(|(i, j)| j.map(|j| (name(i), name(j.at()))));
        pairs.collect()
    }

    /// A road of a class from a node that all share to a bearing, in degrees.
    fn arm(id: i64, class: RoadClass, bearing_deg: f64) -> Road {
        let far = Point::default().moved(bearing_deg, 100.0);
        road_along(id, class, &[(1, 0.0, 0.0), (100 + id, far.x_m, far.y_m)])
    }

    /// Both directions through the node, from arm to arm.
    fn through(pairs: &[(i64, i64)]) -> Joined {
        let both = pairs.iter().flat_map(|(a, b)| [(*a, *b), (*b, *a)]);
        both.map(|(a, b)| ((a, Direction::Backward), (b, Direction::Forward))).collect()
    }

    #[test]
    fn a_road_goes_on_where_class_name_and_reference_change() {
        let mut roads = [arm(1, RoadClass::Track, 270.0), arm(2, RoadClass::Unclassified, 100.0)];
        assert_eq!(joined(&roads), through(&[(1, 2)]));
        (roads[0].name, roads[1].reference) = (Some("Wood Lane".into()), Some("V 7".into()));
        assert_eq!(joined(&roads), through(&[(1, 2)]));
        for (bearing_deg, goes_on) in [(134.0, true), (136.0, false)] {
            roads[1] = arm(2, RoadClass::Unclassified, bearing_deg);
            assert_eq!(!joined(&roads).is_empty(), goes_on, "{bearing_deg}");
        }
        roads[1] = Road { name: Some("Wood Lane".into()), ..arm(2, RoadClass::Unclassified, 185.0) };
        assert_eq!(joined(&roads), through(&[(1, 2)]), "85 degrees: the same road");
        roads[1] = Road { name: Some("Wood Lane".into()), ..arm(2, RoadClass::Unclassified, 195.0) };
        assert_eq!(joined(&roads), through(&[]), "105 degrees: the same road");
    }

    #[test]
    fn a_side_road_takes_nothing_from_the_road_it_meets() {
        use RoadClass::{Residential, Secondary, Track, Unclassified};
        // The straightest of three goes on; the third begins and ends there.
        let three = |classes: [RoadClass; 3], bearings_deg: [f64; 3]| {
            let roads: Vec<Road> = (0..3).map(|k| arm(k as i64 + 1, classes[k], bearings_deg[k])).collect();
            joined(&roads)
        };
        assert_eq!(three([Track, Unclassified, Track], [270.0, 92.0, 130.0]), through(&[(1, 2)]));
        assert_eq!(three([Residential, Unclassified, Track], [270.0, 120.0, 95.0]), through(&[(1, 2)]));
        assert_eq!(three([Secondary, Secondary, Track], [270.0, 120.0, 91.0]), through(&[(1, 2)]));
        assert_eq!(three([Track, Track, Track], [270.0, 90.0, 60.0]), through(&[(1, 2)]));
        // The main road keeps its name around the corner, whatever runs on straight.
        let named = |id, bearing_deg| Road { name: Some("Main Road".into()), ..arm(id, Secondary, bearing_deg) };
        assert_eq!(joined(&[named(1, 270.0), named(2, 180.0), arm(3, Secondary, 90.0)]), through(&[(1, 2)]));
        // A slip road that joins at a smaller angle than the road bends.
        let slip = Road { link: true, oneway: Oneway::Backward, ..arm(3, RoadClass::Trunk, 268.0) };
        let bent = [arm(1, RoadClass::Trunk, 260.0), arm(2, RoadClass::Trunk, 90.0), slip];
        assert_eq!(joined(&bent), through(&[(1, 2)]));
        // What the first pair leaves, the second may have.
        let cross = [arm(1, Unclassified, 270.0), arm(2, Track, 80.0), arm(3, Residential, 0.0), arm(4, Track, 190.0)];
        assert_eq!(joined(&cross), through(&[(1, 2), (3, 4)]));
    }

    #[test]
    fn nobody_turns_back_and_nobody_drives_onto_a_ferry() {
        let hairpin = road_along(1, RoadClass::Track, &[(1, 0.0, 0.0), (2, 100.0, 0.0), (1, 0.0, 0.0)]);
        let network = cut_anywhere(std::slice::from_ref(&hairpin));
        let next = successors(&network, &[hairpin]);
        for (i, j) in next.iter().enumerate().filter_map(|(i, j)| j.map(|j| (i, j))) {
            assert_ne!(network.edges[i].segments.last(), network.edges[j.at()].segments.first());
        }
        let ferry = |class, name: Option<&str>| Road { name: name.map(Into::into), ..arm(2, class, 90.0) };
        let quay = Road { name: Some("Lake Road".into()), ..arm(1, RoadClass::Primary, 270.0) };
        for class in [RoadClass::Ferry, RoadClass::ShuttleTrain] {
            assert_eq!(joined(&[quay.clone(), ferry(class, Some("Lake Road"))]), through(&[]));
        }
        assert_eq!(joined(&[arm(1, RoadClass::ShuttleTrain, 270.0), ferry(RoadClass::Ferry, None)]), through(&[]));
        assert_eq!(joined(&[arm(1, RoadClass::Ferry, 270.0), ferry(RoadClass::Ferry, None)]), through(&[(1, 2)]));
    }

    /// Rounds of plain loops: in each, those that are each other's straightest join. Arms of one class.
    fn mutually_straightest(bearings_deg: &[f64]) -> Joined {
        let turn = |a: usize, b: usize| turn_deg(bearings_deg[a] + 180.0, bearings_deg[b]).abs();
        let mut free: Vec<usize> = (0..bearings_deg.len()).collect();
        let mut pairs = Vec::new();
        loop {
            let straightest = |a: usize, free: &[usize]| {
                let others = free.iter().copied().filter(|b| *b != a && turn(a, *b) < 45.0);
                others.min_by(|x, y| turn(a, *x).total_cmp(&turn(a, *y)))
            };
            let mutual = |a: &usize| straightest(*a, &free).filter(|b| straightest(*b, &free) == Some(*a));
            let Some((a, b)) = free.iter().find_map(|a| Some((*a, mutual(a)?))) else { break };
            pairs.push((a as i64 + 1, b as i64 + 1));
            free.retain(|k| *k != a && *k != b);
        }
        through(&pairs)
    }

    #[test]
    fn at_any_crossing_the_mutually_straightest_go_on() {
        let mut state = 1_u64;
        let mut random = |n: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % n
        };
        let mut joins = [0; 4];
        for _ in 0..300 {
            let bearings_deg: Vec<f64> = (0..2 + random(5)).map(|_| random(36_000) as f64 / 100.0).collect();
            let mut roads: Vec<Road> =
                (1..).zip(&bearings_deg).map(|(id, deg)| arm(id, RoadClass::Tertiary, *deg)).collect();
            let want = mutually_straightest(&bearings_deg);
            assert_eq!(joined(&roads), want, "{bearings_deg:?}");
            roads.reverse();
            assert_eq!(joined(&roads), want, "the order of the file: {bearings_deg:?}");
            joins[want.len() / 2] += 1;
        }
        assert!(joins[..3].iter().all(|n| *n > 20), "{joins:?}");
    }

    #[test]
    fn equal_pairs_are_told_apart_by_ids_alike_in_both_directions() {
        // A fork of two equal arms: the lower way goes on, from either side and in any order.
        for order in [[0, 1, 2], [2, 1, 0], [1, 2, 0]] {
            let roads = [(7, 270.0), (9, 70.0), (8, 110.0)].map(|(id, deg)| arm(id, RoadClass::Track, deg));
            assert_eq!(joined(&order.map(|k| roads[k].clone())), through(&[(7, 8)]));
        }
    }
}
