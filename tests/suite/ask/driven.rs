//! Drives made along known segments of a built layer, with seeded noise, and how well they were found again.
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap, HashSet};

use waymask::ask::matching::{Matched, TrackPoint};
use waymask::base::geodesy::{LocalPlane, Point, Position, distance_m};
use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions};
use waymask::layer::model::{EdgeRow, RoadRow};
use waymask::layer::{Bounds, Layer};
use waymask::profile::Profile;

use crate::build::country;
use crate::need;

/// SplitMix64 (S. Vigna, public domain): the same draws everywhere.
pub struct Draws(pub u64);

impl Draws {
    pub fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
    pub fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.next()).ln()).sqrt() * (std::f64::consts::TAU * self.next()).cos()
    }
}

/// How points are scattered.
#[derive(Clone, Copy)]
pub struct Scatter {
    /// Standard deviation of each axis, metres.
    pub noise_m: f64,
    /// Seconds between points.
    pub every_s: f64,
    /// Time in which the error forgets itself (a first-order Gauss-Markov process), seconds; 0: every point by itself.
    pub memory_s: f64,
}

/// The roads of a built extract.
pub struct Place {
    pub rows: Vec<RoadRow>,
    pub edges: Vec<EdgeRow>,
    leaving: HashMap<i64, Vec<usize>>,
    /// Rows of each edge, in node order.
    parts: HashMap<i64, Vec<usize>>,
}

pub const SPEED_MPS: f64 = 15.0;

/// Builds an extract of the shared data, where it is there.
pub fn built(extract: &str) -> Option<Place> {
    if extract == country::ANDORRA {
        return Some(Place::of(&Layer::open(&country::andorra()?).unwrap()));
    }
    let extract = need::data(extract)?;
    let folder = tempfile::tempdir().unwrap();
    let mut profile = Profile::default();
    profile.link.drives = 20;
    let options = BuildOptions { profile, ..BuildOptions::new(extract, folder.path().join("place.gpkg")) };
    build::build(&options, &Silent).unwrap();
    Some(Place::of(&Layer::open(&options.output).unwrap()))
}

/// Segment and direction, metres driven.
pub type Lengths = HashMap<(i64, bool), f64>;

impl Place {
    /// All roads of a layer.
    pub fn of(layer: &Layer) -> Self {
        let (rows, edges) = layer.ways_in(&[Bounds::from_deg(-180.0, -90.0, 180.0, 90.0)]).unwrap();
        let (mut leaving, mut parts) = (HashMap::<i64, Vec<usize>>::new(), HashMap::<i64, Vec<usize>>::new());
        edges.iter().enumerate().for_each(|(i, e)| leaving.entry(e.from_node).or_default().push(i));
        for (i, row) in rows.iter().enumerate() {
            [row.edge_forward, row.edge_backward]
                .into_iter()
                .flatten()
                .for_each(|e| parts.entry(e).or_default().push(i));
        }
        parts.values_mut().for_each(|p| p.sort_by_key(|i| rows[*i].part));
        Self { rows, edges, leaving, parts }
    }
    /// A drive of at least `length_m` from a random edge that takes any way on at every junction and meets none twice:
    /// rows and directions in order. Nobody drives so; it is the harder test.
    pub fn wandering(&self, draws: &mut Draws, length_m: f64) -> Vec<(usize, bool)> {
        loop {
            let mut at = (draws.next() * self.edges.len() as f64) as usize;
            let mut edge = &self.edges[at];
            let (mut drive, mut done_m, mut seen) = (Vec::new(), 0.0, HashSet::from([edge.from_node]));
            while done_m < length_m && seen.insert(edge.to_node) {
                drive.extend(self.rows_of(at));
                done_m += edge.length_m;
                let ways = self.leaving.get(&edge.to_node).into_iter().flatten();
                let next: Vec<usize> = ways.copied().filter(|e| !seen.contains(&self.edges[*e].to_node)).collect();
                let Some(e) = next.get((draws.next() * next.len() as f64) as usize) else { break };
                (at, edge) = (*e, &self.edges[*e]);
            }
            if done_m >= length_m {
                return drive;
            }
        }
    }
    /// The fastest drive from a random edge to a random junction 4 to 8 km away, by the driving times of the layer.
    pub fn fastest(&self, draws: &mut Draws) -> Vec<(usize, bool)> {
        loop {
            let first = (draws.next() * self.edges.len() as f64) as usize;
            let before = self.fastest_from(first);
            let mut reached: Vec<usize> = before.keys().copied().collect();
            reached.sort_unstable();
            if reached.is_empty() {
                // A loop leads nowhere else.
                continue;
            }
            for _ in 0..20 {
                let path = self.path(&before, reached[(draws.next() * reached.len() as f64) as usize]);
                if (4_000.0..8_000.0).contains(&path.iter().map(|e| self.edges[*e].length_m).sum::<f64>()) {
                    return path.iter().flat_map(|e| self.rows_of(*e)).collect();
                }
            }
        }
    }
    /// The edge before every edge that is reached, on the fastest drive; the first has itself.
    fn fastest_from(&self, first: usize) -> HashMap<usize, usize> {
        let mut before = HashMap::new();
        let mut seen = HashSet::from([self.edges[first].from_node]);
        let mut open = BinaryHeap::from([(Reverse(0_u64), first, first)]);
        while let Some((Reverse(ms), edge, from)) = open.pop() {
            // Reached up to the end of each edge: a junction is left once, by the fastest way to it.
            let end = self.edges[edge].to_node;
            if !seen.insert(end) {
                continue;
            }
            before.insert(edge, from);
            let ms = ms + (1e3 * self.edges[edge].time_s) as u64;
            let next = self.leaving.get(&end).into_iter().flatten();
            open.extend(
                next.filter(|e| self.edges[**e].to_node != self.edges[edge].from_node).map(|e| (Reverse(ms), *e, edge)),
            );
        }
        before
    }
    fn path(&self, before: &HashMap<usize, usize>, last: usize) -> Vec<usize> {
        let mut path = vec![last];
        while before[&path[path.len() - 1]] != path[path.len() - 1] {
            path.push(before[&path[path.len() - 1]]);
        }
        path.reverse();
        path
    }
    fn rows_of(&self, edge: usize) -> Vec<(usize, bool)> {
        let edge = &self.edges[edge];
        let mut parts: Vec<_> = self.parts[&edge.edge_id].iter().map(|r| (*r, edge.forward)).collect();
        if !edge.forward {
            parts.reverse();
        }
        parts
    }
    /// Positions of a row in the direction driven.
    pub fn line(&self, (row, forward): (usize, bool)) -> Vec<Position> {
        let line = self.rows[row].line.clone();
        if forward { line } else { line.into_iter().rev().collect() }
    }
    /// Metres of every lane of a drive.
    pub fn truth(&self, drive: &[(usize, bool)]) -> Lengths {
        let mut lengths = Lengths::new();
        for step in drive {
            let metres = waymask::base::geodesy::length_m(&self.line(*step));
            *lengths.entry((self.rows[step.0].segment_id, step.1)).or_default() += metres;
        }
        lengths
    }
    /// Two-way segments driven, and how; `turn` names the other direction.
    pub fn two_way(&self, found: &Matched, turn: bool) -> Vec<(i64, bool)> {
        let both = |id: i64| self.rows.iter().any(|r| r.segment_id == id && r.edge_backward.is_some());
        found.steps.iter().filter(|s| both(s.segment_id)).map(|s| (s.segment_id, s.forward != turn)).collect()
    }
    /// Points of a drive at [`SPEED_MPS`], scattered; the last is where the drive ends.
    pub fn points(&self, drive: &[(usize, bool)], scatter: Scatter, draws: &mut Draws) -> Vec<TrackPoint> {
        let mut line: Vec<Position> = Vec::new();
        drive.iter().for_each(|s| line.extend(self.line(*s)));
        let (mut places, mut done_m, mut next_m) = (Vec::new(), 0.0, 0.0);
        for pair in line.windows(2) {
            let step_m = distance_m(pair[0], pair[1]);
            let plane = LocalPlane::at_position(pair[0]);
            while next_m <= done_m + step_m && step_m > 0.0 {
                let at = plane.to_plane(pair[0]).towards(plane.to_plane(pair[1]), (next_m - done_m) / step_m);
                places.push((plane.to_position(at), next_m / SPEED_MPS));
                next_m += scatter.every_s * SPEED_MPS;
            }
            done_m += step_m;
        }
        places.push((*line.last().unwrap(), done_m / SPEED_MPS));
        let kept = if scatter.memory_s > 0.0 { (-scatter.every_s / scatter.memory_s).exp() } else { 0.0 };
        let mut error = [draws.normal(), draws.normal()];
        let scattered = |(at, time_s): (Position, f64)| {
            let (x_m, y_m) = (scatter.noise_m * error[0], scatter.noise_m * error[1]);
            error = error.map(|e| kept * e + (1.0 - kept * kept).sqrt() * draws.normal());
            TrackPoint { at: LocalPlane::at_position(at).to_position(Point::new(x_m, y_m)), time_s: Some(time_s) }
        };
        places.into_iter().map(scattered).collect()
    }
}

/// Length on the right lanes over the length of the route, and the error measure of Newson and Krumm (2009,
/// section 6.2): length erroneously added plus length missed, over the length of the correct route.
pub fn measured(truth: &Lengths, found: &Matched) -> (f64, f64) {
    let mut got = Lengths::new();
    for s in &found.steps {
        *got.entry((s.segment_id, s.forward)).or_default() += s.length_m();
    }
    let all_m: f64 = truth.values().sum();
    let right_m: f64 = truth.iter().map(|(k, m)| m.min(got.get(k).copied().unwrap_or(0.0))).sum();
    let got_m: f64 = got.values().sum();
    (right_m / all_m, (all_m - right_m + got_m - right_m) / all_m)
}
