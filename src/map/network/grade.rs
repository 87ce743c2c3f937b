//! The road's own height: from the ground under it, straight over bridges and through tunnels, smoothed.
use super::model::{LaneStep, Network};
use crate::base::words::Direction;

/// Heights at the stations of every segment, in node order, metres; NaN without elevation.
pub type Heights = Vec<Vec<f32>>;

/// Makes the road's height from the ground's: consecutive bridge and tunnel pieces run straight
/// between the ground at their two ends, then noise of the elevation source is smoothed along each
/// stroke over `smoothing_m` (triangular weights). Voids stay voids and do not spread.
pub fn road_heights(network: &Network, ground_z_m: &Heights, smoothing_m: f64) -> Heights {
    let mut out: Heights = network.segments.iter().map(|_| Vec::new()).collect();
    // Heights belong to the middle of the road. Who drives in the order of the way decides; others where nobody does. So nothing
    // depends on the order of strokes.
    for decides in [true, false] {
        for stroke in &network.strokes {
            let leads = |(s, d): &LaneStep| out[s.at()].is_empty() && (*d == Direction::Forward) == decides;
            if !stroke.in_sight().any(leads) {
                continue;
            }
            let steps: Vec<LaneStep> = stroke.in_sight().copied().collect();
            let mut profile = StrokeProfile::new(network, ground_z_m, &steps);
            profile.span_structures();
            profile.smooth(smoothing_m);
            profile.write(&mut out, &steps, decides);
        }
    }
    out
}

/// Heights of one stroke, station by station.
struct StrokeProfile {
    along_m: Vec<f64>,
    z_m: Vec<f64>,
    /// On a bridge or in a tunnel: the ground there is not the road.
    structure: Vec<bool>,
    /// Number of stations of each step.
    counts: Vec<usize>,
}

impl StrokeProfile {
    fn new(network: &Network, ground_z_m: &Heights, steps: &[LaneStep]) -> Self {
        let mut p = Self { along_m: vec![], z_m: vec![], structure: vec![], counts: vec![] };
        let mut start_m = 0.0;
        for (id, direction) in steps {
            let segment = &network.segments[id.at()];
            let ground = &ground_z_m[id.at()];
            let n = ground.len();
            p.counts.push(n);
            for i in 0..n {
                let from = if *direction == Direction::Forward { i } else { n - 1 - i };
                p.along_m.push(start_m + segment.length_m * i as f64 / (n.max(2) - 1) as f64);
                p.z_m.push(f64::from(ground[from]));
                // The two ends of a structure stand on the ground.
                p.structure.push(segment.bridge || segment.tunnel.is_some());
            }
            start_m += segment.length_m;
        }
        p.free_ends();
        p
    }

    /// The outermost station of each run of structure pieces shares its place with the road beside
    /// it; at the ends of the stroke it is all there is, so it keeps the ground's height.
    fn free_ends(&mut self) {
        let n = self.structure.len();
        if n > 0 {
            self.structure[0] = false;
            self.structure[n - 1] = false;
        }
    }

    /// Straight lines over every run of structure stations that has ground at both ends.
    fn span_structures(&mut self) {
        let mut i = 0;
        while i < self.z_m.len() {
            if !self.structure[i] {
                i += 1;
                continue;
            }
            let end = (i..self.z_m.len()).find(|j| !self.structure[*j]).unwrap_or(self.z_m.len() - 1);
            let (before, after) = (i - 1, end);
            let (z0, z1) = (self.z_m[before], self.z_m[after]);
            let (s0, s1) = (self.along_m[before], self.along_m[after]);
            for j in i..end {
                let t = if s1 > s0 { (self.along_m[j] - s0) / (s1 - s0) } else { 0.0 };
                self.z_m[j] = z0 + t * (z1 - z0);
            }
            i = end;
        }
    }

    /// Triangular smoothing over `2 x half` metres; the window shrinks towards the stroke's ends so
    /// that a steady grade stays as it is.
    fn smooth(&mut self, smoothing_m: f64) {
        let half_m = smoothing_m / 2.0;
        let (Some(first), Some(last)) = (self.along_m.first().copied(), self.along_m.last().copied()) else {
            return;
        };
        let raw = self.z_m.clone();
        let mut low = 0;
        for i in 0..raw.len() {
            let at_m = self.along_m[i];
            let reach_m = half_m.min(at_m - first).min(last - at_m);
            if raw[i].is_nan() || reach_m <= 0.0 {
                continue;
            }
            while self.along_m[low] < at_m - half_m {
                low += 1;
            }
            let (mut sum, mut weights) = (0.0, 0.0);
            let reached = |j: &usize| self.along_m[*j] <= at_m + reach_m;
            for j in (low..raw.len()).take_while(reached) {
                let off_m = (self.along_m[j] - at_m).abs();
                if off_m < reach_m && !raw[j].is_nan() {
                    let w = (1.0 - off_m / reach_m) * self.seam_weight(j);
                    sum += w * raw[j];
                    weights += w;
                }
            }
            self.z_m[i] = sum / weights;
        }
    }

    /// Two segments that meet both have a station there: each counts half.
    fn seam_weight(&self, i: usize) -> f64 {
        let here_m = self.along_m[i];
        let twin = |j: Option<usize>| j.and_then(|j| self.along_m.get(j)).is_some_and(|m| (m - here_m).abs() < 1e-6);
        if twin(i.checked_sub(1)) || twin(Some(i + 1)) { 0.5 } else { 1.0 }
    }

    /// Writes the heights of segments that have none yet and are driven in the order of their way, or against it.
    fn write(&self, out: &mut Heights, steps: &[LaneStep], forward: bool) {
        let mut at = 0;
        for ((id, direction), n) in steps.iter().zip(&self.counts) {
            let slot = &mut out[id.at()];
            if slot.is_empty() && (*direction == Direction::Forward) == forward {
                slot.extend(self.z_m[at..at + n].iter().map(|z| *z as f32));
                if *direction == Direction::Backward {
                    slot.reverse();
                }
            }
            at += n;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::RoadClass;
    use crate::map::extract::model::{Road, TunnelKind};
    use crate::map::network::test_roads::{build_anywhere, road_along};

    fn network(roads: &[Road]) -> Network {
        build_anywhere(roads)
    }

    /// Ground under every station by a function of x, metres.
    fn ground(n: &Network, z: impl Fn(f64) -> f64) -> Heights {
        let plane = crate::map::network::test_roads::plane();
        n.segments
            .iter()
            .map(|s| {
                let line: Vec<_> = s.line.iter().map(|p| plane.to_plane(*p)).collect();
                super::super::station::spaced(&line, s.stations).iter().map(|p| z(p.at.x_m) as f32).collect()
            })
            .collect()
    }

    #[test]
    fn a_bridge_of_two_pieces_and_a_tunnel_run_straight_between_their_ends() {
        let mut roads = vec![
            road_along(1, RoadClass::Primary, &[(1, 0.0, 0.0), (2, 200.0, 0.0)]),
            road_along(2, RoadClass::Primary, &[(2, 200.0, 0.0), (3, 250.0, 0.0)]),
            road_along(3, RoadClass::Primary, &[(3, 250.0, 0.0), (4, 300.0, 0.0)]),
            road_along(4, RoadClass::Primary, &[(4, 300.0, 0.0), (5, 500.0, 0.0)]),
            road_along(5, RoadClass::Primary, &[(5, 500.0, 0.0), (6, 600.0, 0.0)]),
            road_along(6, RoadClass::Primary, &[(6, 600.0, 0.0), (7, 800.0, 0.0)]),
        ];
        for r in &mut roads {
            r.reference = Some("V1".into());
        }
        (roads[1].bridge, roads[2].bridge) = (true, true);
        roads[4].tunnel = Some(TunnelKind::Tunnel);
        let n = network(&roads);
        // A valley 40 m deep under the bridge, a hill 60 m high over the tunnel, a road at 100 m.
        let z = ground(&n, |x| match x {
            x if x > 200.5 && x < 299.5 => 60.0,
            x if x > 500.5 && x < 599.5 => 160.0,
            _ => 100.0,
        });
        let road_z = road_heights(&n, &z, 1.0);
        for (segment, zs) in road_z.iter().enumerate() {
            for z in zs {
                assert!((z - 100.0).abs() < 1e-3, "segment {segment}: {zs:?}");
            }
        }
    }

    #[test]
    fn a_steady_grade_survives_smoothing_and_noise_does_not() {
        let n = network(&[road_along(1, RoadClass::Primary, &[(1, 0.0, 0.0), (2, 1000.0, 0.0)])]);
        let clean = ground(&n, |x| 0.05 * x);
        for (a, b) in clean.iter().flatten().zip(road_heights(&n, &clean, 120.0).iter().flatten()) {
            // Stations of neighbouring segments are not exactly equally spaced: a metre along at 5 %.
            assert!((a - b).abs() < 0.05, "{a} {b}");
        }
        let noisy = ground(&n, |x| if ((x / 10.0).round() as i64) % 2 == 0 { 10.0 } else { -10.0 });
        let smooth = road_heights(&n, &noisy, 120.0);
        assert!(smooth[1].iter().all(|z| z.abs() < 3.0), "{:?}", smooth[1]);
    }

    #[test]
    fn voids_stay_voids_and_do_not_spread() {
        let n = network(&[road_along(1, RoadClass::Primary, &[(1, 0.0, 0.0), (2, 200.0, 0.0)])]);
        let z = ground(&n, |x| if (95.0..105.0).contains(&x) { f64::NAN } else { 7.0 });
        let road_z = road_heights(&n, &z, 120.0);
        assert!(road_z[0][10].is_nan());
        assert!(road_z[0].iter().filter(|z| z.is_nan()).count() == 1);
        assert!(road_z[0].iter().all(|z| z.is_nan() || (z - 7.0).abs() < 1e-4));
    }
}
