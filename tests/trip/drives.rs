//! Drives along known edges with seeded noise, matched, and measured as Newson and Krumm do (section 6 of the paper):
//! length erroneously added plus length missed, over the length of the correct route.
use std::collections::HashMap;

use waymask::geodesy::{LocalPlane, Point, Position, distance_m};
use waymask::layer::model::{EdgeRow, RoadRow};
use waymask::layer::{Bounds, Layer};
use waymask::pipeline::{self, BuildOptions};
use waymask::profile::Profile;
use waymask::progress::Silent;
use waymask::trip::matching::{Matched, Options, Roads, TrackPoint, matched};
use waymask::trip::track;

use crate::shared_data::shared;

/// SplitMix64 (S. Vigna, public domain): the same draws everywhere.
struct Draws(u64);

impl Draws {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
    fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.next()).ln()).sqrt() * (std::f64::consts::TAU * self.next()).cos()
    }
}

struct Place {
    rows: Vec<RoadRow>,
    edges: Vec<EdgeRow>,
}

fn built(extract: &str) -> Option<Place> {
    let extract = shared(extract)?;
    let folder = tempfile::tempdir().unwrap();
    let mut profile = Profile::default();
    profile.link.replicates = 20;
    let options = BuildOptions { profile, ..BuildOptions::new(extract, folder.path().join("place.gpkg")) };
    pipeline::build(&options, &Silent).unwrap();
    let layer = Layer::open(&options.output).unwrap();
    let (rows, edges) = layer.ways_in(&[Bounds::from_deg(-180.0, -90.0, 180.0, 90.0)]).unwrap();
    Some(Place { rows, edges })
}

/// Segment and direction, metres driven.
type Lengths = HashMap<(i64, bool), f64>;

impl Place {
    /// A drive of about `length_m` from a random edge, never turning round: its segments in order.
    fn drive(&self, draws: &mut Draws, length_m: f64) -> Vec<(usize, bool)> {
        let mut from: HashMap<i64, Vec<&EdgeRow>> = HashMap::new();
        self.edges.iter().for_each(|e| from.entry(e.from_node).or_default().push(e));
        loop {
            let mut edge = &self.edges[(draws.next() * self.edges.len() as f64) as usize];
            let (mut drive, mut done_m) = (Vec::new(), 0.0);
            let mut seen = std::collections::HashSet::new();
            while done_m < length_m && seen.insert(edge.to_node) {
                let of_edge = |r: &&(usize, &RoadRow)| {
                    (if edge.forward { r.1.edge_forward } else { r.1.edge_backward }) == Some(edge.edge_id)
                };
                let rows: Vec<(usize, &RoadRow)> = self.rows.iter().enumerate().collect();
                let mut parts: Vec<_> = rows.iter().filter(of_edge).collect();
                parts.sort_by_key(|r| r.1.part);
                if !edge.forward {
                    parts.reverse();
                }
                drive.extend(parts.iter().map(|r| (r.0, edge.forward)));
                done_m += edge.length_m;
                let back = |e: &&&EdgeRow| e.to_node != edge.from_node && !seen.contains(&e.to_node);
                let next: Vec<&&EdgeRow> = from.get(&edge.to_node).into_iter().flatten().filter(back).collect();
                let Some(e) = next.get((draws.next() * next.len() as f64) as usize) else { break };
                edge = e;
            }
            if done_m >= length_m {
                return drive;
            }
        }
    }
    fn line(&self, (row, forward): (usize, bool)) -> Vec<Position> {
        let line = self.rows[row].line.clone();
        if forward { line } else { line.into_iter().rev().collect() }
    }
    fn truth(&self, drive: &[(usize, bool)]) -> Lengths {
        let mut lengths = Lengths::new();
        for step in drive {
            let metres = waymask::geodesy::length_m(&self.line(*step));
            *lengths.entry((self.rows[step.0].segment_id, step.1)).or_default() += metres;
        }
        lengths
    }
    /// Points every `every_s` at `speed_mps`, scattered by noise.
    fn points(&self, drive: &[(usize, bool)], noise_m: f64, every_s: f64, draws: &mut Draws) -> Vec<TrackPoint> {
        let speed_mps = 15.0;
        let mut line: Vec<Position> = Vec::new();
        drive.iter().for_each(|s| line.extend(self.line(*s)));
        let (mut out, mut done_m, mut next_m) = (Vec::new(), 0.0, 0.0);
        let end = *line.last().unwrap();
        for pair in line.windows(2) {
            let step_m = distance_m(pair[0], pair[1]);
            let plane = LocalPlane::at_position(pair[0]);
            while next_m <= done_m + step_m && step_m > 0.0 {
                let at = plane.to_plane(pair[0]).towards(plane.to_plane(pair[1]), (next_m - done_m) / step_m);
                let at = Point::new(at.x_m + noise_m * draws.normal(), at.y_m + noise_m * draws.normal());
                out.push(TrackPoint { at: plane.to_position(at), time_s: Some(next_m / speed_mps) });
                next_m += every_s * speed_mps;
            }
            done_m += step_m;
        }
        out.push(TrackPoint { at: end, time_s: Some(done_m / speed_mps) });
        out
    }
}

/// Length on the right lanes over the length of the route, and the error measure of the paper.
fn measured(truth: &Lengths, found: &Matched) -> (f64, f64) {
    let mut got = Lengths::new();
    for s in &found.steps {
        *got.entry((s.segment_id, s.forward)).or_default() += s.length_m();
    }
    let all_m: f64 = truth.values().sum();
    let right_m: f64 = truth.iter().map(|(k, m)| m.min(got.get(k).copied().unwrap_or(0.0))).sum();
    let got_m: f64 = got.values().sum();
    (right_m / all_m, (all_m - right_m + got_m - right_m) / all_m)
}

/// Prints the table, returns the share of length on the right lanes at 10 m and 10 s.
fn table(extract: &str) -> Option<f64> {
    let place = built(extract)?;
    let roads = Roads::new(&place.rows, &place.edges);
    let mut wanted = 0.0;
    println!("{extract}: right length %, error of Newson and Krumm");
    for noise_m in [5.0, 10.0, 20.0] {
        for every_s in [1.0, 5.0, 10.0, 30.0] {
            let mut draws = Draws(7);
            let options = Options { sigma_m: noise_m, beta_m: noise_m, ..Options::default() };
            let (mut right, mut error) = (0.0, 0.0);
            let mut worst = (1.0, 0);
            const DRIVES: usize = 24;
            for number in 0..DRIVES {
                let drive = place.drive(&mut draws, 4_000.0);
                let points = place.points(&drive, noise_m, every_s, &mut draws);
                let (r, e) = measured(&place.truth(&drive), &matched(&roads, &points, &options));
                if r < worst.0 {
                    worst = (r, number);
                }
                right += r / DRIVES as f64;
                error += e / DRIVES as f64;
            }
            println!(
                "  {noise_m:4} m {every_s:4} s  {:6.2} %  {error:.4}  worst drive {} {:.2} %",
                100.0 * right,
                worst.1,
                100.0 * worst.0
            );
            if (noise_m, every_s) == (10.0, 10.0) {
                wanted = right;
            }
        }
    }
    Some(wanted)
}

#[test]
fn heavy_drives_in_a_mountain_country_are_found_again() {
    if let Some(right) = table("andorra/andorra-2025.osm.pbf") {
        assert!(right >= 0.98, "{right}");
    }
}

#[test]
fn heavy_drives_through_stacked_bridges_are_found_again() {
    if let Some(right) = table("pbf_cases/frankfurt-interchange.osm.pbf") {
        assert!(right >= 0.98, "{right}");
    }
}

#[test]
fn heavy_a_real_track_is_matched_whole_both_ways() {
    let (Some(place), Some(gpx)) =
        (built("andorra/andorra-2025.osm.pbf"), shared("tracks/andorra_for_map_matching.gpx"))
    else {
        return;
    };
    let track = track::read(&std::fs::read_to_string(gpx).unwrap()).unwrap();
    let roads = Roads::new(&place.rows, &place.edges);
    let there = matched(&roads, &track.pieces[0], &Options::default());
    let back = matched(&roads, &track.reversed().pieces[0], &Options::default());
    println!("{:.0} m of track, {:.0} m of road, {:.0} m back", there.track_m, there.length_m(), back.length_m());
    assert!(there.unmatched.is_empty() && back.unmatched.is_empty());
    assert!((there.length_m() / there.track_m - 1.0).abs() < 0.05, "a drive is about as long as its track");
    let two_way = |id: i64| place.rows.iter().any(|r| r.segment_id == id && r.edge_backward.is_some());
    let ways = |m: &Matched, turn: bool| -> Vec<(i64, bool)> {
        m.steps.iter().filter(|s| two_way(s.segment_id)).map(|s| (s.segment_id, s.forward != turn)).collect()
    };
    let mut reversed = ways(&back, true);
    reversed.reverse();
    assert_eq!(ways(&there, false), reversed);
}
