//! From places of points to stretches driven, with times, and to what was not matched.
use super::chains::{Between, Chain, Hop, between, gap, hop, limit_m};
use super::gaps::GapSearch;
use super::gather::TrackSpot;
use super::model::{JoinedGap, MatchOptions, Matched, Step, Unmatched};
use super::roads::{LaneCandidate, RoadGraph};
use super::routes::LaneSearch;
use crate::base::geodesy::distance_m;
use crate::base::index::GraphLaneIndex;

/// A stretch of a lane, metres in the direction driven.
#[derive(Debug, Clone, Copy)]
struct LaneStretch {
    lane: GraphLaneIndex,
    from_m: f64,
    to_m: f64,
}

/// One drive as it grows.
struct GrowingDrive {
    pieces: Vec<LaneStretch>,
    done_m: f64,
    /// Metres driven and the time there.
    anchors: Vec<(f64, f64)>,
}

impl GrowingDrive {
    fn add(&mut self, lane: GraphLaneIndex, from_m: f64, to_m: f64) {
        self.done_m += to_m - from_m;
        match self.pieces.last_mut() {
            Some(p) if p.lane == lane && p.to_m == from_m => p.to_m = to_m,
            _ => self.pieces.push(LaneStretch { lane, from_m, to_m }),
        }
    }
    /// Goes on at a place that nothing leads to.
    fn begin(&mut self, at: LaneCandidate) {
        self.pieces.push(LaneStretch { lane: at.lane, from_m: at.along_m, to_m: at.along_m });
    }
    /// Takes back what noise seemed to have driven too far, at most `most_m` besides the lane itself: a lane driven long ago
    /// is driven again, not gone back to.
    fn take_back(&mut self, to: LaneCandidate, most_m: f64) {
        let Some(at) = self.lately(to.lane, most_m) else {
            return self.begin(to);
        };
        while self.pieces.len() > at + 1 {
            self.done_m -= self.pieces.pop().map_or(0.0, |p| p.to_m - p.from_m);
        }
        let last = &mut self.pieces[at];
        let to_m = to.along_m.clamp(last.from_m, last.to_m);
        self.done_m -= last.to_m - to_m;
        last.to_m = to_m;
        while self.anchors.last().is_some_and(|a| a.0 > self.done_m) {
            self.anchors.pop();
        }
    }
    /// The last piece on a lane, if no more than `most_m` were driven since.
    fn lately(&self, lane: GraphLaneIndex, most_m: f64) -> Option<usize> {
        let mut since_m = 0.0;
        for (i, piece) in self.pieces.iter().enumerate().rev() {
            if piece.lane == lane {
                return Some(i);
            }
            since_m += piece.to_m - piece.from_m;
            if since_m > most_m {
                return None;
            }
        }
        None
    }
    /// The first of the points taken together lies half their extent before their mean, the last behind it: so a rest
    /// is a step in time, and a drive is not.
    fn anchor(&mut self, extent_m: f64, (first_s, last_s): (f64, f64)) {
        let least_m = self.anchors.last().map_or(f64::NEG_INFINITY, |a| a.0);
        let before_m = (self.done_m - 0.5 * extent_m).max(least_m);
        self.anchors.push((before_m, first_s));
        self.anchors.push(((self.done_m + 0.5 * extent_m).max(before_m), last_s));
    }
    fn end(&self) -> Option<LaneCandidate> {
        self.pieces.last().map(|p| LaneCandidate { lane: p.lane, along_m: p.to_m })
    }
    /// Time at a distance driven, seconds; linear between anchors.
    fn time_s(&self, at_m: f64) -> Option<f64> {
        let next = self.anchors.partition_point(|a| a.0 < at_m);
        let (a, b) = (self.anchors.get(next.saturating_sub(1))?, self.anchors.get(next).or(self.anchors.last())?);
        let t = if b.0 > a.0 { ((at_m - a.0) / (b.0 - a.0)).clamp(0.0, 1.0) } else { 0.0 };
        Some(a.1 + t * (b.1 - a.1))
    }
}

/// Stretches of all chains, and the rest of the track.
pub(super) fn steps(roads: &RoadGraph, points: &[TrackSpot], chains: &[Chain], options: &MatchOptions) -> Matched {
    let along_m = along(points);
    let (search, gaps) = (LaneSearch::new(roads), GapSearch::new(roads));
    let mut driver = Driver { search, gaps, points, along_m: &along_m, options, joined: Vec::new(), lost: Vec::new() };
    let mut steps = Vec::new();
    for (number, chain) in chains.iter().enumerate() {
        let drive = driver.drive(chain);
        let mut done_m = 0.0;
        for piece in drive.pieces.iter().filter(|p| p.to_m > p.from_m) {
            let lane = roads.lanes[piece.lane.at()];
            let end_m = done_m + piece.to_m - piece.from_m;
            steps.push(Step {
                segment_id: roads.ids[lane.road.at()],
                forward: lane.forward,
                from_m: piece.from_m,
                to_m: piece.to_m,
                drive: number as u32,
                enter_s: drive.time_s(done_m),
                leave_s: drive.time_s(end_m),
            });
            done_m = end_m;
        }
    }
    let (joined, mut unmatched) = (driver.joined, driver.lost);
    unmatched.extend(rest(points, &along_m, chains, options));
    unmatched.sort_by(|a, b| a.start_m.total_cmp(&b.start_m));
    let track_m = along_m.last().copied().unwrap_or(0.0);
    let off_road = |(point, place): &(usize, LaneCandidate)| roads.off_m(points[*point].at, place.lane);
    let off_road_m = chains.iter().flatten().map(off_road).collect();
    Matched { steps, unmatched, joined, off_road_m, track_m, used: points.len(), points: points.len() }
}

/// Metres from the start of a track to each point.
fn along(points: &[TrackSpot]) -> Vec<f64> {
    let mut done_m = 0.0;
    let mut out = Vec::with_capacity(points.len());
    for (i, p) in points.iter().enumerate() {
        // What lies between two pieces is not part of the track.
        done_m += if i == 0 || p.begins { 0.0 } else { distance_m(points[i - 1].at, p.at) };
        out.push(done_m);
    }
    out
}

/// What drives along a chain.
struct Driver<'a> {
    search: LaneSearch<'a>,
    gaps: GapSearch<'a>,
    points: &'a [TrackSpot],
    along_m: &'a [f64],
    options: &'a MatchOptions,
    /// Gaps driven over.
    joined: Vec<JoinedGap>,
    /// Gaps that were to be driven over and are not.
    lost: Vec<Unmatched>,
}

impl Driver<'_> {
    fn drive(&mut self, chain: &Chain) -> GrowingDrive {
        let mut drive = GrowingDrive { pieces: Vec::new(), done_m: 0.0, anchors: Vec::new() };
        let mut before: Option<usize> = None;
        for (point, place) in chain {
            let here = &self.points[*point];
            match (drive.end(), before) {
                (Some(from), Some(last)) => {
                    if between(self.points, last, *point, self.options) == Between::Gap {
                        self.go_across(&mut drive, (from, *place), (last, *point));
                    } else {
                        let apart_m = distance_m(self.points[last].at, here.at);
                        self.go_on(&mut drive, (from, *place), apart_m);
                    }
                }
                _ => drive.begin(*place),
            }
            before = Some(*point);
            if let Some(times_s) = here.times_s {
                drive.anchor(here.extent_m, times_s);
            }
        }
        drive
    }
    /// From one place to the next, whose points are so far apart.
    fn go_on(&mut self, drive: &mut GrowingDrive, (a, b): (LaneCandidate, LaneCandidate), apart_m: f64) {
        let (roads, sigma_m) = (self.search.roads, self.options.sigma_m);
        self.search.run(a.lane, a.along_m, limit_m(apart_m) + 8.0 * sigma_m);
        match hop(&self.search, a, b, 4.0 * sigma_m) {
            Some(Hop::Ahead(_)) => drive.add(a.lane, a.along_m, b.along_m),
            Some(Hop::Behind(_)) => drive.take_back(b, 8.0 * sigma_m),
            Some(Hop::Round(_)) => drive.add(b.lane, roads.length_m(a.lane) - a.along_m, b.along_m),
            Some(Hop::Over(_)) => {
                drive.add(a.lane, a.along_m, roads.length_m(a.lane));
                let path = self.search.path(a.lane, b.lane);
                for lane in &path[..path.len() - 1] {
                    drive.add(*lane, 0.0, roads.length_m(*lane));
                }
                drive.add(b.lane, 0.0, b.along_m);
            }
            // A place taken back is no longer where the search left from: begin anew there.
            None => drive.begin(b),
        }
    }
    /// From one place to the next over a gap between two points.
    fn go_across(&mut self, drive: &mut GrowingDrive, (a, b): (LaneCandidate, LaneCandidate), ends: (usize, usize)) {
        let span = gap(self.points, ends.0, ends.1);
        let (from, to, start_m) = (self.points[ends.0].at, self.points[ends.1].at, self.along_m[ends.0]);
        self.gaps.run(a, span);
        let Some(way) = self.gaps.way(a, b, span) else {
            // A place taken back is no longer the one the way was found from.
            let length_m = self.along_m[ends.1] - start_m;
            self.lost.push(Unmatched { from, to, start_m, length_m, bridged: false });
            return drive.begin(b);
        };
        way.parts.iter().for_each(|p| drive.add(p.lane, p.from_m, p.to_m));
        self.joined.push(JoinedGap {
            from,
            to,
            start_m,
            straight_m: span.apart_m,
            length_m: way.length_m,
            covered_m: way.covered_m,
            boarded_m: way.boarded_m,
            time_s: way.time_s,
            lasted_s: span.lasted_s,
        });
    }
}

/// Stretches between points that are not joined, or are joined over points that fit no road.
fn rest(points: &[TrackSpot], along_m: &[f64], chains: &[Chain], options: &MatchOptions) -> Vec<Unmatched> {
    let matched: Vec<(usize, usize)> =
        chains.iter().enumerate().flat_map(|(n, c)| c.iter().map(move |(point, _)| (*point, n))).collect();
    let stretch = |a: usize, b: usize, bridged| Unmatched {
        from: points[a].at,
        to: points[b].at,
        start_m: along_m[a],
        length_m: along_m[b] - along_m[a],
        bridged,
    };
    let Some(last) = points.len().checked_sub(1) else { return Vec::new() };
    let (Some(first), Some(end)) = (matched.first(), matched.last()) else { return vec![stretch(0, last, false)] };
    let mut out = Vec::new();
    if first.0 > 0 {
        out.push(stretch(0, first.0, false));
    }
    for pair in matched.windows(2) {
        let ((a, chain_a), (b, chain_b)) = (pair[0], pair[1]);
        let between_pieces = points[b].begins && b == a + 1;
        // Gaps driven over are told as such.
        let joined = chain_a == chain_b && between(points, a, b, options) == Between::Gap;
        if (chain_a != chain_b || b > a + 1) && !between_pieces && !joined {
            out.push(stretch(a, b, chain_a == chain_b));
        }
    }
    if end.0 < last {
        out.push(stretch(end.0, last, false));
    }
    out
}
