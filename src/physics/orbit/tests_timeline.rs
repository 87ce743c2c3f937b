//! Timelines against themselves, the closed form and laws.
use super::density::{expected_count, quadrant_shares};
use super::geometry::{CircularOrbit, GeostationaryArc, SkyDirection};
use super::model::Timeline;
use super::timeline::shell_timeline;
use crate::profile::{Constellation, Shell};

fn thousand() -> Constellation {
    let shell = Shell { altitude_km: 550.0, inclination_deg: 53.0, planes: 40, per_plane: 25 };
    Constellation { shells: vec![shell], geostationary_exclusion_deg: 0.0 }
}

/// Sightings per second in the quadrants around north, east, south, west.
fn quadrant_means(timeline: &Timeline) -> [f64; 4] {
    let mut counts = [0.0; 4];
    for s in &timeline.sightings {
        counts[((s.azimuth_deg + 45.0) / 90.0) as usize % 4] += 1.0 / timeline.seconds() as f64;
    }
    counts
}

#[test]
fn leaving_satellites_alone_loses_no_sighting() {
    // Oracle: a timeline down to the nadir visits every satellite every second.
    let whole = shell_timeline(47.0, &Constellation::default(), -90.0, 240);
    assert_eq!(whole.sightings.len(), 240 * (70 * 70 + 50 * 70 + 25 * 30 + 30 * 45));
    let timeline = shell_timeline(47.0, &Constellation::default(), 30.0, 240);
    for second in 0..240 {
        let seen: Vec<_> = whole.at(second).iter().filter(|s| s.elevation_deg >= 30.0).copied().collect();
        assert!(!seen.is_empty());
        assert_eq!(timeline.at(second), &seen[..], "second {second}");
    }
}

#[test]
fn satellites_within_a_second_are_in_order_and_once() {
    let timeline = shell_timeline(-33.0, &Constellation::default(), 25.0, 600);
    assert_eq!(timeline.seconds(), 600);
    for second in 0..600 {
        assert!(timeline.at(second).windows(2).all(|w| w[0].satellite < w[1].satellite), "second {second}");
    }
    assert!(timeline.sightings.iter().all(|s| s.satellite < 10_500 && (0.0..360.0).contains(&s.azimuth_deg)));
    assert!(timeline.sightings.iter().any(|s| s.satellite >= 9150), "the last shell is on the timeline");
    assert_eq!(timeline.at(0), timeline.at(600), "a timeline starts over");
    assert_eq!(
        timeline,
        shell_timeline(-33.0, &Constellation::default(), 25.0, 600),
        "and is made the same every time"
    );
}

#[test]
fn satellites_move_as_fast_as_their_orbit() {
    // At the zenith a satellite at height h crosses at v/h less the ground's own speed: for 550 km and
    // 7.59 km/s about 0.79 degrees per second (vis-viva, derived here); nowhere faster.
    let orbit = CircularOrbit::at_altitude(550.0);
    let bound_deg = (orbit.mean_motion_rad_s() * orbit.radius_km / 550.0).to_degrees() * 1.07;
    let timeline = shell_timeline(20.0, &thousand(), 25.0, 3600);
    let mut fastest: f64 = 0.0;
    for second in 1..timeline.seconds() {
        for now in timeline.at(second) {
            if let Some(before) = timeline.at(second - 1).iter().find(|s| s.satellite == now.satellite) {
                let a = SkyDirection::new(f64::from(before.azimuth_deg), f64::from(before.elevation_deg));
                let b = SkyDirection::new(f64::from(now.azimuth_deg), f64::from(now.elevation_deg));
                fastest = fastest.max(a.angle_deg(b));
            }
        }
    }
    assert!(fastest < bound_deg && fastest > 0.9 * bound_deg / 1.07, "{fastest} {bound_deg}");
}

#[test]
fn eastward_orbits_move_east_and_retrograde_ones_west() {
    for (inclination_deg, eastward) in [(53.0, true), (127.0, false)] {
        let mut constellation = thousand();
        constellation.shells[0].inclination_deg = inclination_deg;
        let timeline = shell_timeline(52.0, &constellation, 25.0, 60);
        // South of an observer near the shell's edge every satellite runs nearly along the parallel.
        let pairs: Vec<_> = timeline
            .at(0)
            .iter()
            .filter_map(|a| Some((a, timeline.at(5).iter().find(|b| b.satellite == a.satellite)?)))
            .filter(|(a, _)| (120.0..240.0).contains(&a.azimuth_deg))
            .collect();
        assert!(!pairs.is_empty());
        assert!(pairs.iter().all(|(a, b)| (b.azimuth_deg < a.azimuth_deg) == eastward), "{pairs:?}");
    }
}

#[test]
fn the_turning_earth_lengthens_eastward_passes() {
    // Closed form: over the equator an equatorial satellite is in view for twice the central angle
    // over mean motion less rotation, a retrograde one over their sum.
    let reach_rad = 8.4585f64.to_radians();
    let (motion, rotation) = (std::f64::consts::TAU / 5730.1, std::f64::consts::TAU / 86_164.1);
    for (inclination_deg, rate) in [(0.0, motion - rotation), (180.0, motion + rotation)] {
        let shell = Shell { altitude_km: 550.0, inclination_deg, planes: 1, per_plane: 1 };
        let timeline =
            shell_timeline(0.0, &Constellation { shells: vec![shell], geostationary_exclusion_deg: 0.0 }, 25.0, 9000);
        // The first pass is cut by the start of the timeline; the second, an hour and a half on, is whole.
        let in_view = (1000..9000).filter(|second| !timeline.at(*second).is_empty()).count();
        let want = 2.0 * reach_rad / rate;
        assert!((in_view as f64 - want).abs() <= 1.5, "inclination {inclination_deg}: {in_view} s, closed form {want}");
    }
}

#[test]
fn long_run_mean_per_quadrant_is_the_closed_form() {
    for (constellation, latitude, floor_deg) in
        [(thousand(), 45.0, 25.0), (thousand(), -30.0, 25.0), (Constellation::default(), 47.0, 35.0)]
    {
        let timeline = shell_timeline(latitude, &constellation, floor_deg, 6 * 3600);
        let expected = expected_count(&constellation, latitude, floor_deg);
        let shares = quadrant_shares(&constellation, latitude, floor_deg);
        for (k, mean) in quadrant_means(&timeline).into_iter().enumerate() {
            let want = expected * shares[k];
            assert!((mean / want - 1.0).abs() < 0.03, "quadrant {k} at {latitude}: {mean}, closed form {want}");
        }
    }
}

#[test]
fn nothing_near_the_geostationary_arc() {
    let open = shell_timeline(45.0, &thousand(), 25.0, 900);
    let constellation = Constellation { geostationary_exclusion_deg: 18.0, ..thousand() };
    let timeline = shell_timeline(45.0, &constellation, 25.0, 900);
    let arc = GeostationaryArc::at(45.0);
    let away = |azimuth: f32, elevation: f32| {
        arc.distance_deg(SkyDirection::new(f64::from(azimuth), f64::from(elevation))).unwrap()
    };
    assert!(timeline.sightings.iter().all(|s| away(s.azimuth_deg, s.elevation_deg) >= 18.0));
    let kept = open.sightings.iter().filter(|s| away(s.azimuth_deg, s.elevation_deg) >= 18.0).count();
    assert_eq!(timeline.sightings.len(), kept);
    assert!(kept < open.sightings.len());
}

#[test]
fn an_empty_timeline_still_has_a_second() {
    assert_eq!(shell_timeline(45.0, &Constellation { shells: Vec::new(), ..thousand() }, 25.0, 0).at(7), &[]);
    assert!(shell_timeline(90.0, &thousand(), 25.0, 100).sightings.is_empty());
}
