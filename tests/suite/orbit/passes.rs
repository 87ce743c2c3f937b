//! Passes and views compared with a plain stepper.
use jiff::Timestamp;
use waymask::physics::orbit::elements::passes::{Pass, in_view, passes};
use waymask::physics::orbit::elements::satellite::{Satellite, prepare};
use waymask::physics::orbit::elements::track::{SatelliteTrack, after};
use waymask::physics::orbit::frames::{Observer, length};

use crate::elements_writer::*;

const START: &str = "2026-07-01T00:00:00Z";

fn fleet(patterns: &[Pattern]) -> Vec<Satellite> {
    let sets = patterns.iter().flat_map(|p| p.elements(10_000, time("2026-06-30T06:00:00Z")));
    let (ready, refused) = prepare(sets);
    assert!(refused.is_empty());
    ready
}

/// Elevation by SGP4 itself.
fn elevation_deg(satellite: &Satellite, observer: &Observer, t: Timestamp) -> f64 {
    observer.look(satellite.earth_fixed(t).unwrap().0).0.elevation_deg
}

#[test]
fn tracks_keep_within_metres_of_sgp4() {
    let mut sets = fleet(&[Pattern::new(350.0, 97.0, 1, 1), Pattern::new(1200.0, 53.0, 1, 1)]);
    let mut eccentric = circular(9, 550.0, 63.4, time("2026-06-30T06:00:00Z"));
    (eccentric.eccentricity, eccentric.mean_motion_rev_day) = (0.7, 2.0);
    sets.push(Satellite::new(eccentric).unwrap());
    for (satellite, tolerance_km) in sets.iter().zip([0.008, 0.005, 0.03]) {
        let track = SatelliteTrack::new(satellite, time(START), 86_400.0).unwrap();
        for k in 0..8_000 {
            let t = f64::from(k) * 10.7;
            let exact = satellite.earth_fixed(after(time(START), t)).unwrap().0;
            let got = track.position_km(t);
            let off = length([0, 1, 2].map(|i| got[i] - exact[i]));
            assert!(off < tolerance_km, "{off} km at {t} s");
        }
    }
}

#[test]
fn passes_are_those_of_a_plain_stepper() {
    let satellites = fleet(&[Pattern::new(550.0, 53.0, 5, 4), Pattern::new(1200.0, 87.9, 3, 2)]);
    let observer = Observer::at(42.5, 1.5, 1_000.0);
    let (start, seconds, floor_deg) = (time(START), 6.0 * 3600.0, 25.0);
    let (found, failed) = passes(&satellites, &observer, start, seconds, floor_deg);
    assert!(failed.is_empty());
    assert!(found.windows(2).all(|w| w[0].rise.time <= w[1].rise.time));
    // Oracle: SGP4 at every second; whoever is above the floor is in a pass, and the other way round.
    let mut up = 0u32;
    for (k, satellite) in satellites.iter().enumerate() {
        let own: Vec<&Pass> = found.iter().filter(|p| p.satellite == k).collect();
        assert!(own.windows(2).all(|w| w[0].set.time < w[1].rise.time));
        for second in 0..=seconds as u32 {
            let t = after(start, f64::from(second));
            let elevation = elevation_deg(satellite, &observer, t);
            let inside = own.iter().any(|p| p.rise.time <= t && t <= p.set.time);
            // Metres of the track's curve: 0.001 degrees.
            if (elevation - floor_deg).abs() > 0.002 {
                assert_eq!(inside, elevation > floor_deg, "satellite {k} at {second} s: {elevation}");
            }
            up += u32::from(inside);
        }
        for p in own {
            let highest = (0..=seconds as u32)
                .map(|s| after(start, f64::from(s)))
                .filter(|t| p.rise.time <= *t && *t <= p.set.time)
                .map(|t| elevation_deg(satellite, &observer, t))
                .fold(f64::MIN, f64::max);
            // Within half a second of the peak at most 0.1 degrees are lost.
            assert!(
                p.peak.direction.elevation_deg >= highest - 0.002 && p.peak.direction.elevation_deg <= highest + 0.1
            );
            for edge in [p.rise, p.set] {
                let at_floor = (edge.direction.elevation_deg - floor_deg).abs() < 0.01;
                assert!(at_floor || p.up_before || p.up_after, "{edge:?}");
            }
        }
    }
    assert!(found.len() > 20 && up > 1_000, "{} passes, {up} s", found.len());
}

#[test]
fn a_grazing_pass_between_two_looks_is_found() {
    // Set the floor just under each peak: passes of seconds, which no minute grid would meet.
    let satellites = fleet(&[Pattern::new(550.0, 53.0, 1, 1)]);
    let observer = Observer::at(42.5, 1.5, 0.0);
    let (all, _) = passes(&satellites, &observer, time(START), 86_400.0, 10.0);
    assert!(all.len() >= 3);
    for pass in all {
        let floor_deg = pass.peak.direction.elevation_deg - 1e-3;
        let (again, _) = passes(&satellites, &observer, time(START), 86_400.0, floor_deg);
        let met = again.iter().find(|p| p.peak.time.duration_since(pass.peak.time).as_secs_f64().abs() < 1.0);
        let short = met.unwrap_or_else(|| panic!("lost {pass:?}"));
        assert!(short.set.time.duration_since(short.rise.time).as_secs_f64() < 20.0);
    }
}

#[test]
fn one_that_never_sets_is_one_pass() {
    // Over the equator as slow as the earth turns: in view all day, with peaks and valleys of its own.
    let mut set = circular(7, 550.0, 5.0, time("2026-06-30T06:00:00Z"));
    set.mean_motion_rev_day = 1.002_738;
    let satellite = Satellite::new(set).unwrap();
    let below = satellite.earth_fixed(time(START)).unwrap().0;
    let longitude_deg = below[1].atan2(below[0]).to_degrees();
    let observer = Observer::at(10.0, longitude_deg, 0.0);
    let (found, _) = passes(&[satellite], &observer, time(START), 86_400.0, 25.0);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].up_before && found[0].up_after);
    assert_eq!((found[0].rise.time, found[0].set.time), (time(START), time("2026-07-02T00:00:00Z")));
}

#[test]
fn views_are_ordered_and_agree_with_passes() {
    let satellites = fleet(&[Pattern::new(550.0, 53.0, 20, 20)]);
    let observer = Observer::at(42.5, 1.5, 1_000.0);
    let (found, _) = passes(&satellites, &observer, time(START), 1_800.0, 25.0);
    for minutes in [0.0, 7.0, 29.0] {
        let t = after(time(START), 60.0 * minutes);
        let (seen, failed) = in_view(&satellites, &observer, t, 25.0);
        assert!(failed.is_empty() && !seen.is_empty());
        assert!(seen.windows(2).all(|w| w[0].direction.elevation_deg >= w[1].direction.elevation_deg));
        let mut now: Vec<usize> = seen.iter().map(|s| s.satellite).collect();
        now.sort_unstable();
        let mut passing: Vec<usize> =
            found.iter().filter(|p| p.rise.time <= t && t <= p.set.time).map(|p| p.satellite).collect();
        passing.sort_unstable();
        assert_eq!(now, passing);
    }
}

#[test]
fn who_does_not_reach_the_time_is_said() {
    let mut set = circular(7, 300.0, 53.0, time("2026-06-30T06:00:00Z"));
    set.bstar = 0.01;
    let satellites = [Satellite::new(set).unwrap(), fleet(&[Pattern::new(550.0, 53.0, 1, 1)])[0].clone()];
    let observer = Observer::at(42.5, 1.5, 0.0);
    let late = time("2026-12-01T00:00:00Z");
    let (_, failed) = passes(&satellites, &observer, late, 3_600.0, 25.0);
    assert_eq!(failed.iter().map(|f| f.0).collect::<Vec<_>>(), [0]);
    assert_eq!(in_view(&satellites, &observer, late, 25.0).1.len(), 1);
}
