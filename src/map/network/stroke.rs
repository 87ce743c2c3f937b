//! Joins edges into strokes: what a driver who stays on the same road drives without stopping.
use super::continuation::{end_key, successors};
use super::model::{Network, Stroke};
use crate::base::index::{EdgeIndex, SegmentIndex};
use crate::map::extract::model::Road;

/// Longest stroke, metres, so that one simulated drive needs bounded memory.
const LONGEST_M: f64 = 30_000.0;

/// The strokes of a network: every edge is in exactly one, in the order it is driven. Their order is that of way, part and
/// direction of what they begin with; strokes that nothing continues into come first.
pub fn strokes(network: &Network, roads: &[Road]) -> Vec<Stroke> {
    let next = successors(network, roads);
    let mut has_before = vec![false; next.len()];
    for j in next.iter().flatten() {
        has_before[j.at()] = true;
    }
    // Beginnings first; what is left then are loops, opened at their lowest way and part.
    let mut starts: Vec<EdgeIndex> = EdgeIndex::numbered(&network.edges).map(|(i, _)| i).collect();
    starts.sort_by_key(|i| {
        let edge = &network.edges[i.at()];
        let parts = edge.segments.iter().map(|s| end_key(network, roads, edge, *s));
        (has_before[i.at()], parts.min())
    });
    let mut done = vec![false; next.len()];
    let mut out = Vec::new();
    for start in starts {
        let mut road = Vec::new();
        let mut at = Some(start);
        while let Some(i) = at.filter(|i| !done[i.at()]) {
            done[i.at()] = true;
            road.push(i);
            at = next[i.at()];
        }
        cut_long(network, roads, &road, &mut out);
    }
    out
}

/// Adds the strokes of edges driven one after another, cut where they grow too long: at the last junction that is not under
/// a tunnel or roof, since nobody is back on the link there and the mouth of a tunnel must not seem to be at the cut.
fn cut_long(network: &Network, roads: &[Road], mut road: &[EdgeIndex], out: &mut Vec<Stroke>) {
    let covered = |segment: SegmentIndex| {
        let segment = &network.segments[segment.at()];
        segment.tunnel.is_some() || roads[segment.road.at()].covered
    };
    let edge = |i: &EdgeIndex| &network.edges[i.at()];
    let open = |pair: &[EdgeIndex]| {
        let (before, after) = (&edge(&pair[0]).segments, &edge(&pair[1]).segments);
        ![before.last(), after.first()].into_iter().flatten().any(|s| covered(*s))
    };
    while !road.is_empty() {
        let mut length_m = 0.0;
        let within = road.iter().take_while(|i| {
            length_m += edge(i).length_m;
            length_m <= LONGEST_M
        });
        let most = within.count().max(1);
        let whole = most == road.len();
        let in_the_open = (1..=most).rev().find(|n| whole || open(&road[n - 1..=*n]));
        let (stroke, rest) = road.split_at(in_the_open.unwrap_or(most));
        let steps = |i: &EdgeIndex| edge(i).segments.iter().map(|s| (*s, edge(i).direction)).collect::<Vec<_>>();
        out.push(Stroke { steps: stroke.iter().flat_map(steps).collect() });
        road = rest;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::{Direction, RoadClass};
    use crate::map::network::test_roads::{build_anywhere, road_along};

    fn with_strokes(roads: &[Road]) -> Network {
        build_anywhere(roads)
    }

    #[test]
    fn a_stroke_runs_straight_through_a_junction_and_side_roads_begin_their_own() {
        let mut roads = vec![
            road_along(1, RoadClass::Primary, &[(1, 0.0, 0.0), (2, 100.0, 0.0)]),
            road_along(2, RoadClass::Primary, &[(2, 100.0, 0.0), (3, 200.0, 5.0)]),
            road_along(3, RoadClass::Primary, &[(2, 100.0, 0.0), (4, 100.0, 80.0)]),
        ];
        roads[0].reference = Some("V1".into());
        roads[1].reference = Some("V1".into());
        let n = with_strokes(&roads);
        assert_eq!(n.strokes.len(), 4, "{:?}", n.strokes);
        let [first, second] = [0, 1].map(SegmentIndex::new);
        assert!(n.strokes.contains(&Stroke { steps: vec![(first, Direction::Forward), (second, Direction::Forward)] }));
        assert!(
            n.strokes.contains(&Stroke { steps: vec![(second, Direction::Backward), (first, Direction::Backward)] })
        );
    }

    #[test]
    fn every_direction_of_every_segment_is_in_one_stroke_even_on_loops() {
        let mut ring = road_along(
            1,
            RoadClass::Tertiary,
            &[(1, 0.0, 0.0), (2, 90.0, 90.0), (3, 180.0, 0.0), (4, 90.0, -90.0), (1, 0.0, 0.0)],
        );
        ring.oneway = crate::map::extract::model::Oneway::Forward;
        ring.roundabout = true;
        let roads = vec![ring, road_along(2, RoadClass::Tertiary, &[(3, 180.0, 0.0), (5, 900.0, 0.0)])];
        let n = with_strokes(&roads);
        let mut seen: Vec<_> = n.strokes.iter().flat_map(|c| c.steps.clone()).collect();
        seen.sort();
        let mut want: Vec<_> = n.edges.iter().flat_map(|e| e.segments.iter().map(|s| (*s, e.direction))).collect();
        want.sort();
        assert_eq!(seen, want);
    }

    /// Strokes by what does not change with the file.
    fn named(roads: &[Road]) -> Vec<Vec<(i64, u32, Direction)>> {
        let n = with_strokes(roads);
        let name = |(s, d): &(SegmentIndex, Direction)| {
            let segment = &n.segments[s.at()];
            (roads[segment.road.at()].id, segment.part, *d)
        };
        n.strokes.iter().map(|stroke| stroke.steps.iter().map(name).collect()).collect()
    }

    #[test]
    fn a_road_of_changing_class_is_one_stroke_whatever_the_order_of_the_file() {
        use RoadClass::{Residential, Service, Track, Unclassified};
        let x_m = |k: i64| 400.0 * k as f64;
        let class = |k: i64| [Track, Unclassified, Service, Residential][k as usize % 4];
        let mut roads: Vec<Road> =
            (0..12).map(|k| road_along(40 - k, class(k), &[(k, x_m(k), 0.0), (k + 1, x_m(k + 1), 0.0)])).collect();
        // A side road at every other junction, and a ring by itself.
        for k in (1..12).step_by(2) {
            roads.push(road_along(100 + k, Track, &[(k, x_m(k), 0.0), (200 + k, x_m(k) + 80.0, 300.0)]));
        }
        let corner = [(900, 0.0, 900.0), (901, 90.0, 900.0), (902, 90.0, 990.0), (903, 0.0, 990.0)];
        for (k, id) in [(0, 72), (1, 71), (2, 74), (3, 73)] {
            let mut side = road_along(id, Track, &[corner[k], corner[(k + 1) % 4]]);
            (side.name, side.oneway) = (Some("Ring".into()), crate::map::extract::model::Oneway::Forward);
            roads.push(side);
        }
        let got = named(&roads);
        let long: Vec<usize> = got.iter().map(Vec::len).filter(|n| *n > 4).collect();
        assert_eq!(long, [24, 24], "12 ways of two segments each, both directions");
        let ring = got.iter().find(|s| s[0].0 == 71).map(|s| s.iter().map(|step| step.0).collect::<Vec<_>>());
        assert_eq!(ring, Some(vec![71, 74, 73, 72]), "a loop begins at its lowest way");
        roads.reverse();
        assert_eq!(named(&roads), got);
        roads.rotate_left(5);
        assert_eq!(named(&roads), got);
    }

    #[test]
    fn a_long_road_is_cut_at_the_last_open_junction() {
        // Ways of 1 km, of which those from `first` to `last` are tunnels; 30 km end before way 30.
        let cut_at = |first: i64, last: i64| {
            let x_m = |k: i64| 1_000.0 * k as f64;
            let roads: Vec<Road> = (0..40)
                .map(|k| {
                    let mut road = road_along(k, RoadClass::Primary, &[(k, x_m(k), 0.0), (k + 1, x_m(k + 1), 0.0)]);
                    road.tunnel = (first..=last).contains(&k).then_some(crate::map::extract::model::TunnelKind::Tunnel);
                    road.oneway = crate::map::extract::model::Oneway::Forward;
                    road
                })
                .collect();
            named(&roads).iter().map(|stroke| stroke[0].0).collect::<Vec<_>>()
        };
        let cut = cut_at(50, 50)[1];
        assert!((29..=30).contains(&cut), "{cut}");
        assert_eq!(cut_at(27, 31), [0, 26]);
        assert_eq!(cut_at(27, cut - 1), [0, 26]);
        assert_eq!(cut_at(cut, 33), [0, cut - 1]);
        assert_eq!(cut_at(0, 39), [0, cut], "nowhere open");
    }
}
