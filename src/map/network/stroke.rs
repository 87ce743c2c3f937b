//! Joins edges into strokes: what a driver who stays on the same road drives without stopping.
use super::continuation::{end_key, successors};
use super::model::{LaneStep, Network, Stroke};
use crate::base::district::District;
use crate::base::index::{EdgeIndex, SegmentIndex};
use crate::base::words::Direction;
use crate::map::district::bundle::{RUN_M, goes_on};
use crate::map::extract::model::Road;

/// The last segment of a run may begin this much farther away, metres.
const ROOM_M: f64 = 500.0;
/// Heights of a road are smoothed over no more than this, metres; the widest that a profile may ask for.
const SMOOTHED_M: f64 = 1_000.0;

/// The strokes of a network: every edge is in one of them, in the order it is driven, or in several where it crosses the
/// lines of districts. Their order is that of way, part and direction of what they begin with.
///
/// A stroke ends at the lines of districts: what is beyond is driven too, and counted there ([`Stroke::run_in`]).
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
        let mut steps: Vec<LaneStep> = Vec::new();
        let mut at = Some(start);
        while let Some(i) = at.filter(|i| !done[i.at()]) {
            done[i.at()] = true;
            let edge = &network.edges[i.at()];
            steps.extend(edge.segments.iter().map(|s| (*s, edge.direction)));
            at = next[i.at()];
        }
        // A road that ends where it begins is driven round and round.
        let closed = at == Some(start);
        RoadChain { network, roads, steps, closed }.cut(&mut out);
    }
    let key = |stroke: &Stroke| stroke.steps.first().map(|step| name(network, roads, step));
    out.sort_by_key(key);
    out
}

fn name(network: &Network, roads: &[Road], (segment, direction): &LaneStep) -> (i64, u32, Direction) {
    let segment = &network.segments[segment.at()];
    (roads[segment.road.at()].id, segment.part, *direction)
}

/// The district of a segment is that of its first place in the order of its way.
pub fn district_of(network: &Network, segment: SegmentIndex) -> District {
    District::of(network.segments[segment.at()].line[0])
}

/// Segments driven one after another, through any number of districts.
struct RoadChain<'a> {
    network: &'a Network,
    roads: &'a [Road],
    steps: Vec<LaneStep>,
    /// Whether the first follows the last.
    closed: bool,
}

impl RoadChain<'_> {
    fn district(&self, at: usize) -> District {
        district_of(self.network, self.steps[at].0)
    }

    /// Adds one stroke for each run of steps in one district.
    fn cut(mut self, out: &mut Vec<Stroke>) {
        let n = self.steps.len();
        let changes = |at: usize| self.district((at + n - 1) % n) != self.district(at);
        let Some(first) = (0..n).find(|at| changes(*at)).filter(|_| self.closed) else {
            let from = (1..n).filter(|at| self.district(at - 1) != self.district(*at));
            let borders: Vec<usize> = [0].into_iter().chain(from).chain([n]).collect();
            out.extend(borders.windows(2).filter(|w| w[0] < w[1]).map(|w| self.stroke(w[0], w[1])));
            return;
        };
        // Begins on a line, so that no stroke runs through where the round was opened.
        self.steps.rotate_left(first);
        let from = (1..n).filter(|at| self.district(at - 1) != self.district(*at));
        let borders: Vec<usize> = [0].into_iter().chain(from).chain([n]).collect();
        out.extend(borders.windows(2).map(|w| self.stroke(w[0], w[1])));
    }

    /// The stroke of steps `from..to`, with what is driven before and after it.
    fn stroke(&self, from: usize, to: usize) -> Stroke {
        let n = self.steps.len();
        let own = self.district(from);
        let round = self.closed && to - from < n;
        let before = (0..from).rev().chain((to..n).rev().filter(|_| round));
        let after = (to..n).chain((0..from).filter(|_| round));
        let (run_in, lead) = self.run(own, before);
        let (run_out, tail) = self.run(own, after);
        let reversed = |steps: Vec<LaneStep>| steps.into_iter().rev().collect();
        Stroke { steps: self.steps[from..to].to_vec(), run_in: reversed(run_in), run_out, lead: reversed(lead), tail }
    }

    /// The road beyond a line, nearest first: tunnels, roofs and ferries whole, and some way of what lies open near the
    /// district; then what its height is smoothed over.
    fn run(&self, own: District, places: impl Iterator<Item = usize>) -> (Vec<LaneStep>, Vec<LaneStep>) {
        let near = own.reach(RUN_M + ROOM_M);
        let (mut open_m, mut beyond_m) = (0.0, 0.0);
        let (mut run, mut beyond) = (Vec::new(), Vec::new());
        for step in places.map(|at| self.steps[at]) {
            let segment = &self.network.segments[step.0.at()];
            let covered = goes_on(&self.roads[segment.road.at()]);
            let drives_on = beyond.is_empty() && (covered || open_m < RUN_M && near.holds(segment.line[0]));
            if drives_on {
                open_m += if covered { 0.0 } else { segment.length_m };
                run.push(step);
                continue;
            }
            // The road on a bridge or in a tunnel runs from one end of it to the other.
            let spans = segment.bridge || segment.tunnel.is_some();
            if beyond_m >= SMOOTHED_M && !spans {
                break;
            }
            beyond_m += segment.length_m;
            beyond.push(step);
        }
        (run, beyond)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

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
        assert!(n.strokes.contains(&Stroke::of(vec![(first, Direction::Forward), (second, Direction::Forward)])));
        assert!(n.strokes.contains(&Stroke::of(vec![(second, Direction::Backward), (first, Direction::Backward)])));
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

    type Named = (i64, u32, Direction);

    fn names<'s>(n: &Network, roads: &[Road], steps: impl IntoIterator<Item = &'s LaneStep>) -> Vec<Named> {
        steps.into_iter().map(|step| name(n, roads, step)).collect()
    }

    /// Ways of 1 km along a parallel through several districts, one way, those from `first` to `last` tunnels.
    fn long_road(first: i64, last: i64) -> Vec<Road> {
        let x_m = |k: i64| 1_000.0 * k as f64;
        let road = |k: i64| {
            let mut road = road_along(k, RoadClass::Primary, &[(k, x_m(k), 0.0), (k + 1, x_m(k + 1), 0.0)]);
            road.tunnel = (first..=last).contains(&k).then_some(crate::map::extract::model::TunnelKind::Tunnel);
            road.oneway = crate::map::extract::model::Oneway::Forward;
            road
        };
        (0..60).map(road).collect()
    }

    #[test]
    fn a_stroke_ends_at_the_line_of_a_district_and_knows_what_is_driven_beyond() {
        let roads = long_road(100, 100);
        let n = with_strokes(&roads);
        assert_eq!(n.strokes.len(), 4, "60 km from the middle of one, 19 km each");
        for (stroke, before, after) in
            [(0, None, Some(1)), (1, Some(0), Some(2)), (2, Some(1), Some(3)), (3, Some(2), None)]
        {
            let of = &n.strokes[stroke];
            let districts: BTreeSet<District> = of.steps.iter().map(|(s, _)| district_of(&n, *s)).collect();
            assert_eq!(districts.len(), 1);
            let run = |other: Option<usize>, last: bool| -> Vec<LaneStep> {
                let Some(steps) = other.map(|other| &n.strokes[other].steps) else { return Vec::new() };
                let mut open_m = 0.0;
                let within = |step: &&LaneStep| {
                    let before_m = open_m;
                    open_m += n.segments[step.0.at()].length_m;
                    before_m < RUN_M
                };
                if last {
                    let nearest = steps.iter().rev().take_while(within).count();
                    steps[steps.len() - nearest..].to_vec()
                } else {
                    steps.iter().take_while(within).copied().collect()
                }
            };
            assert_eq!((&of.run_in, &of.run_out), (&run(before, true), &run(after, false)), "stroke {stroke}");
        }
        let own: Vec<LaneStep> = n.strokes.iter().flat_map(|s| s.steps.clone()).collect();
        assert_eq!(own.len(), n.segments.len(), "every segment once");
    }

    #[test]
    fn a_tunnel_is_followed_to_its_end_on_both_sides_of_a_line() {
        // The first line lies in way 9; ways 2 to 19 are one tunnel, 17 ways on one side and on the other.
        let roads = long_road(2, 19);
        let n = with_strokes(&roads);
        let ways = |steps: &[LaneStep]| names(&n, &roads, steps).iter().map(|name| name.0).collect::<BTreeSet<_>>();
        let (first, second) = (&n.strokes[0], &n.strokes[1]);
        let beyond = ways(&first.run_out);
        assert!(beyond.contains(&19) && beyond.contains(&10), "{beyond:?}");
        // Behind the far mouth, more than 3 km from the district, the road is another district's affair.
        assert!(!beyond.contains(&21), "{beyond:?}");
        assert_eq!(ways(&second.run_in), (2..=9).collect(), "all of the tunnel; the open road before it lies too far");
        assert!(ways(&second.lead).contains(&1), "but the height of the road may depend on it");
    }

    /// Roads of a grid with side roads, tunnels and a ring road, over several districts.
    fn many_roads() -> Vec<Road> {
        let mut state = 7_u64;
        let mut random = move |n: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % n
        };
        let at = |i: i64, j: i64| (100 * i + j, 2_300.0 * i as f64, 1_700.0 * j as f64);
        let mut roads = Vec::new();
        for i in 0..14 {
            for j in 0..14 {
                for (a, b) in [(at(i, j), at(i + 1, j)), (at(i, j), at(i, j + 1))] {
                    if random(5) == 0 {
                        continue;
                    }
                    let id = 1_000 - roads.len() as i64;
                    let class = [RoadClass::Primary, RoadClass::Tertiary, RoadClass::Track][random(3) as usize];
                    // A node of its own between the two, so that a way bends.
                    let between = (20_000 + id, (a.1 + b.1) / 2.0 + random(300) as f64, (a.2 + b.2) / 2.0);
                    let mut road = road_along(id, class, &[a, between, b]);
                    road.name = (random(3) > 0).then(|| format!("Road {}", random(4)).into());
                    road.tunnel = (random(4) == 0).then_some(crate::map::extract::model::TunnelKind::Tunnel);
                    road.oneway = match random(4) {
                        0 => crate::map::extract::model::Oneway::Forward,
                        1 => crate::map::extract::model::Oneway::Backward,
                        _ => crate::map::extract::model::Oneway::Both,
                    };
                    roads.push(road);
                }
            }
        }
        roads.sort_by_key(|road| road.id);
        roads
    }

    #[test]
    fn a_bundle_gives_the_strokes_of_its_district_as_the_whole_does() {
        use crate::map::district::bundle::{MapIndex, districts};
        use crate::map::extract::model::Extract;
        let roads = many_roads();
        let told = |n: &Network, roads: &[Road], district: District| {
            let own = n.strokes.iter().filter(|s| district_of(n, s.steps[0].0) == district);
            own.map(|s| [&s.run_in, &s.steps, &s.run_out].map(|steps| names(n, roads, steps))).collect::<Vec<_>>()
        };
        let whole = with_strokes(&roads);
        let extract = Extract { roads: roads.clone(), ..Extract::default() };
        let index = MapIndex::of(&extract);
        let (mut lanes, mut runs) = (0, 0);
        for district in districts(&extract).into_iter().map(|d| d.district) {
            let bundle = index.bundle(district);
            let part = with_strokes(&bundle.roads);
            let want = told(&whole, &roads, district);
            assert_eq!(told(&part, &bundle.roads, district), want, "{district}");
            lanes += want.iter().map(|s| s[1].len()).sum::<usize>();
            runs += want.iter().map(|s| s[0].len() + s[2].len()).sum::<usize>();
        }
        let all: usize = whole.edges.iter().map(|e| e.segments.len()).sum();
        assert_eq!(lanes, all);
        assert!(runs > 300, "{runs}");
    }
}
