//! Expected satellites in view against a plain count of a moving Walker pattern 1000/40/1.
//!
//! The pattern is moved here by an implementation of its own, in inertial 3-D vectors with a turning
//! observer; nothing but the numbers of the shell is shared with the library.
use waymask::physics::orbit::density::expected_above;
use waymask::physics::orbit::timeline::shell_timeline;
use waymask::profile::{Constellation, Shell};

const R_KM: f64 = 6371.0;
const H_KM: f64 = 550.0;
const LATITUDES: [f64; 5] = [0.0, 30.0, 45.0, 50.0, 55.0];

fn shell() -> Shell {
    Shell { altitude_km: H_KM, inclination_deg: 53.0, planes: 40, per_plane: 25 }
}

/// Inertial positions, kilometres, at a time in seconds: Walker delta 1000/40/1, inclination 53.
fn positions(t_s: f64) -> Vec<[f64; 3]> {
    let r = R_KM + H_KM;
    // Period from Kepler's third law, GM = 398 600.44 km^3/s^2.
    let period_s = std::f64::consts::TAU * (r * r * r / 398_600.44).sqrt();
    let (si, ci) = 53f64.to_radians().sin_cos();
    let mut all = Vec::with_capacity(1000);
    for plane in 0..40 {
        let (so, co) = (f64::from(plane) * 9.0).to_radians().sin_cos();
        for k in 0..25 {
            let along_deg = f64::from(k) * 14.4 + f64::from(plane) * 0.36 + 360.0 * t_s / period_s;
            let (su, cu) = along_deg.to_radians().sin_cos();
            let (x, y, z) = (cu, su * ci, su * si);
            all.push([r * (co * x - so * y), r * (so * x + co * y), r * z]);
        }
    }
    all
}

/// Satellites above 25 degrees for an observer turned with the earth.
fn in_view(all: &[[f64; 3]], latitude_deg: f64, t_s: f64) -> usize {
    let turn = std::f64::consts::TAU * t_s / 86_164.1;
    let (sl, cl) = latitude_deg.to_radians().sin_cos();
    let up = [cl * turn.cos(), cl * turn.sin(), sl];
    let sin_floor = 25f64.to_radians().sin();
    all.iter()
        .filter(|p| {
            let v = [p[0] - R_KM * up[0], p[1] - R_KM * up[1], p[2] - R_KM * up[2]];
            let along = v[0] * up[0] + v[1] * up[1] + v[2] * up[2];
            along > sin_floor * (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]).sqrt()
        })
        .count()
}

#[test]
fn expected_count_is_the_time_mean_of_a_walker_pattern() {
    // Steps of 21.7 s over a day: every plane passes every phase several times.
    let samples = 4000;
    let mut sums = [0usize; 5];
    let mut least = [usize::MAX; 5];
    let mut most = [0usize; 5];
    for k in 0..samples {
        let t_s = f64::from(k) * 21.7;
        let all = positions(t_s);
        for (i, latitude) in LATITUDES.iter().enumerate() {
            let n = in_view(&all, *latitude, t_s);
            sums[i] += n;
            least[i] = least[i].min(n);
            most[i] = most[i].max(n);
        }
    }
    for (i, latitude) in LATITUDES.iter().enumerate() {
        let mean = sums[i] as f64 / f64::from(samples);
        let expected = expected_above(&shell(), *latitude, 25.0);
        assert!((mean / expected - 1.0).abs() < 0.01, "latitude {latitude}: counted {mean}, expected {expected}");
    }
    // Time means 4.354, 11.462, 8.728 and extremes at 0, 45, 55 of the same pattern, counted
    // independently before (derived here); sampling leaves 0.02.
    for (i, mean, low, high) in [(0, 4.354, 2, 8), (2, 11.462, 9, 14), (4, 8.728, 7, 10)] {
        let counted = sums[i] as f64 / f64::from(samples);
        assert!((counted - mean).abs() < 0.02, "{counted} {mean}");
        assert!(least[i] >= low && most[i] <= high, "{} {}", least[i], most[i]);
    }
}

#[test]
fn the_timeline_counts_what_the_walker_pattern_counts() {
    let constellation = Constellation { shells: vec![shell()], geostationary_exclusion_deg: 0.0 };
    for latitude in [0.0, 45.0, 55.0] {
        let timeline = shell_timeline(latitude, &constellation, 25.0, 4 * 3600);
        let mean = timeline.sightings.len() as f64 / timeline.seconds() as f64;
        let walker = (0..480)
            .map(|k| in_view(&positions(f64::from(k) * 30.0), latitude, f64::from(k) * 30.0))
            .sum::<usize>() as f64
            / 480.0;
        // Two phasings of one shell over the same four hours; each is within 1 % of the long run.
        assert!((mean / walker - 1.0).abs() < 0.02, "latitude {latitude}: timeline {mean}, walker {walker}");
    }
}
