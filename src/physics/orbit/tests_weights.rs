//! Weights of the usable sky and the cone of a panel against lattices of satellites, and their laws.
use super::Sky;
use super::cone::Cone;
use super::density::*;
use super::geometry::*;
use super::tests_kit::{COUNT_TOLERANCE, near, only, thousand, weights};
use super::weights::*;
use crate::physics::sky::mask::{AZIMUTH_BINS, SkyGrid, azimuth_deg};
use crate::profile::{Constellation, Link, Shell, Terminal};

#[test]
fn share_near_the_geostationary_arc() {
    // Latitude, share within 10 and within 18 degrees: Monte Carlo with 4e5 satellites in view
    // (0.001), derived here; half a hundredth leaves room for the cells cut by the exclusion.
    let rows = [
        (0.0, 0.166, 0.300),
        (30.0, 0.182, 0.325),
        (45.0, 0.134, 0.205),
        (50.0, 0.128, 0.207),
        (55.0, 0.173, 0.361),
        (60.0, 1.0, 1.0),
    ];
    for (latitude, within_10, within_18) in rows {
        for (exclusion_deg, share) in [(10.0, within_10), (18.0, within_18)] {
            let constellation = Constellation { geostationary_exclusion_deg: exclusion_deg, ..only(thousand()) };
            let left = expected_usable(&weights(latitude, &constellation, 25.0));
            let all = expected_above(&thousand(), latitude, 25.0);
            near(1.0 - left / all, share, 0.005, &format!("latitude {latitude}, {exclusion_deg} degrees"));
        }
    }
}

/// Shares by quadrant and within 10 and 18 degrees of the geostationary arc, by moving a fine lattice
/// of satellites (angle along the orbit x longitude) with vectors of its own.
fn brute_shares(latitude_deg: f64) -> ([f64; 4], f64, f64) {
    let (sin_l, cos_l) = latitude_deg.to_radians().sin_cos();
    let arc: Vec<[f64; 3]> = (-162..=162)
        .map(|k| {
            let (s, c) = (f64::from(k) * 0.5f64).to_radians().sin_cos();
            let p = [42_164.17 * s, -42_164.17 * c * sin_l, 42_164.17 * c * cos_l - 6378.137];
            let size = (p[0] * p[0] + p[1] * p[1] + p[2] * p[2]).sqrt();
            p.map(|x| x / size)
        })
        .filter(|p| p[2] > 0.0)
        .collect();
    let (mut quadrants, mut within_10, mut within_18, mut all) = ([0.0; 4], 0.0, 0.0, 0.0);
    for i in 0..4000 {
        let sin_lat = 53f64.to_radians().sin() * ((f64::from(i) + 0.5) / 4000.0 * std::f64::consts::TAU).sin();
        for j in -80..80 {
            let (s, c) = ((f64::from(j) + 0.5) * 0.2).to_radians().sin_cos();
            let level = 6921.0 * (1.0 - sin_lat * sin_lat).sqrt();
            let (x, y, z) = (level * c, level * s, 6921.0 * sin_lat);
            let v = [y, cos_l * z - sin_l * x, cos_l * x + sin_l * z - 6371.0];
            let range = (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]).sqrt();
            if v[2] < range * 25f64.to_radians().sin() {
                continue;
            }
            let quadrant = if v[1].abs() > v[0].abs() {
                if v[1] > 0.0 { 0 } else { 2 }
            } else if v[0] > 0.0 {
                1
            } else {
                3
            };
            quadrants[quadrant] += 1.0;
            let cos = arc.iter().map(|p| (p[0] * v[0] + p[1] * v[1] + p[2] * v[2]) / range).fold(-1.0, f64::max);
            within_10 += f64::from(cos > 10f64.to_radians().cos());
            within_18 += f64::from(cos > 18f64.to_radians().cos());
            all += 1.0;
        }
    }
    (quadrants.map(|q| q / all), within_10 / all, within_18 / all)
}

#[test]
fn shares_are_those_of_a_lattice_of_satellites() {
    // The lattice is 0.09 x 0.2 degrees over a circle of 8.5 degrees: it resolves shares to 0.002.
    for latitude in [-37.0, 0.0, 50.0, 55.0] {
        let (quadrants, within_10, within_18) = brute_shares(latitude);
        let got = quadrant_shares(&only(thousand()), latitude, 25.0);
        for k in 0..4 {
            near(got[k], quadrants[k], 2e-3, &format!("quadrant {k} at {latitude}"));
        }
        for (exclusion_deg, share) in [(10.0, within_10), (18.0, within_18)] {
            let constellation = Constellation { geostationary_exclusion_deg: exclusion_deg, ..only(thousand()) };
            let left = expected_usable(&weights(latitude, &constellation, 25.0));
            let all = expected_above(&thousand(), latitude, 25.0);
            near(1.0 - left / all, share, 3e-3, &format!("latitude {latitude}, {exclusion_deg} degrees"));
        }
    }
}

#[test]
fn weights_sum_to_the_usable_count_whatever_the_preference() {
    let constellation = Constellation::default();
    let grid = SkyGrid { floor_deg: 35.0 };
    for latitude in [-47.0, 0.0, 30.0, 53.0, 71.0] {
        let count = expected_count(&constellation, latitude, 35.0);
        let mut high = Vec::new();
        for elevation_preference in [0.0, 1.0, 4.0] {
            let link = Link { usable_share: 0.5, elevation_preference, ..Link::default() };
            let w = sky_weights(latitude, &constellation, &link, grid);
            // f32 cells: 2e-6 of the sum.
            near(expected_usable(&w), 0.5 * count, 2e-6 * count, "sum");
            high.push((0..AZIMUTH_BINS).map(|b| w.expected[grid.cell(b, grid.rows() - 4)]).sum::<f32>());
        }
        assert!(high[0] < high[1] && high[1] < high[2], "preference moves weight upwards: {high:?}");
    }
}

#[test]
fn hemispheres_mirror_and_shells_add() {
    let grid = SkyGrid { floor_deg: 35.0 };
    let constellation = Constellation { geostationary_exclusion_deg: 12.0, ..Constellation::default() };
    let (north, south) = (weights(47.0, &constellation, 35.0), weights(-47.0, &constellation, 35.0));
    for bin in 0..AZIMUTH_BINS {
        for row in 0..grid.rows() {
            let mirrored = (AZIMUTH_BINS * 3 / 2 - 1 - bin) % AZIMUTH_BINS;
            let (a, b) = (north.expected[grid.cell(bin, row)], south.expected[grid.cell(mirrored, row)]);
            // A node at the edge of the exclusion may fall to either side of it by rounding.
            assert!((a - b).abs() <= 2e-2 * a.max(b) + 1e-6, "bin {bin} row {row}: {a} {b}");
        }
    }
    let parts: Vec<_> = constellation
        .shells
        .iter()
        .map(|s| weights(47.0, &Constellation { geostationary_exclusion_deg: 12.0, ..only(*s) }, 35.0))
        .collect();
    for cell in 0..grid.cells() {
        let sum: f32 = parts.iter().map(|p| p.expected[cell]).sum();
        assert!((sum - north.expected[cell]).abs() < 1e-5, "cell {cell}");
    }
}

#[test]
fn nothing_beyond_inclination_plus_reach() {
    let limit = 53.0 + CircularOrbit::at_altitude(550.0).central_angle_deg(25.0);
    near(limit, 61.46, 0.01, "limit (derived here)");
    for latitude in [limit + 0.01, -limit - 0.01, 75.0, 90.0] {
        assert_eq!(expected_above(&thousand(), latitude, 25.0), 0.0, "{latitude}");
        assert!(weights(latitude, &only(thousand()), 25.0).expected.iter().all(|w| *w == 0.0));
    }
    assert!(expected_above(&thousand(), limit - 0.5, 25.0) > 0.0);
}

#[test]
fn odd_shells_and_places_give_numbers() {
    let odd = [
        Shell { inclination_deg: 0.0, ..thousand() },
        Shell { inclination_deg: 180.0, ..thousand() },
        Shell { inclination_deg: f64::NAN, ..thousand() },
        Shell { altitude_km: 1e-9, ..thousand() },
        Shell { altitude_km: -10.0, ..thousand() },
        Shell { altitude_km: f64::INFINITY, ..thousand() },
        Shell { altitude_km: f64::NAN, ..thousand() },
        Shell { planes: 0, ..thousand() },
        Shell { per_plane: 0, ..thousand() },
    ];
    let grid = SkyGrid { floor_deg: 25.0 };
    for shell in odd {
        for key in [-90, -53, 0, 1, 53, 90] {
            let constellation = Constellation { geostationary_exclusion_deg: 5.0, ..only(shell) };
            let sky = Sky::build(key, &constellation, &Link::default(), grid, 30);
            assert!(sky.weights.expected.iter().all(|w| w.is_finite() && *w >= 0.0), "{shell:?} at {key}");
            assert!(sky.timeline.sightings.iter().all(|s| s.elevation_deg >= 25.0), "{shell:?} at {key}");
        }
    }
    // All satellites over the equator: an observer there has the visible part of the ring, 2c/360 of it.
    let ring = expected_above(&odd[0], 0.0, 25.0);
    let reach_deg = CircularOrbit::at_altitude(550.0).central_angle_deg(25.0);
    near(ring, 1000.0 * reach_deg / 180.0, 1e-3, "equatorial ring");
    let retrograde = Shell { inclination_deg: 127.0, ..thousand() };
    near(expected_above(&retrograde, 45.0, 25.0), 11.4646, COUNT_TOLERANCE, "retrograde");
}

fn in_cone(terminal: &Terminal, heading_deg: f64, azimuth_deg: f64, elevation_deg: f64) -> bool {
    Cone::new(terminal).sees(heading_deg, azimuth_deg, elevation_deg)
}

#[test]
fn cone_of_a_flat_panel_is_a_lowest_elevation() {
    let terminal = Terminal::default();
    for heading in [0.0, 123.0] {
        assert!(in_cone(&terminal, heading, 77.0, 35.0) && in_cone(&terminal, heading, 0.0, 90.0));
        assert!(!in_cone(&terminal, heading, 77.0, 34.999));
    }
    let low = Terminal { lowest_elevation_deg: 40.0, ..terminal.clone() };
    assert!(!in_cone(&low, 0.0, 0.0, 39.0) && in_cone(&low, 0.0, 0.0, 41.0));
}

#[test]
fn cone_of_a_tilted_panel_turns_with_the_vehicle() {
    // Tilted 20 degrees to the right of the heading: along the tilt it reaches to 15 degrees of
    // elevation (held at 25), against it to 55, on the great circle through the normal.
    let terminal = Terminal { tilt_deg: 20.0, tilt_towards_deg: 90.0, ..Terminal::default() };
    for heading in [0.0, 90.0, 300.0] {
        let (with, against) = (heading + 90.0, heading + 270.0);
        assert!(in_cone(&terminal, heading, with, 25.5) && !in_cone(&terminal, heading, with, 24.5));
        assert!(in_cone(&terminal, heading, against, 55.5) && !in_cone(&terminal, heading, against, 54.5));
    }
}

#[test]
fn cone_weights_sum_to_one_and_follow_the_panel() {
    let grid = SkyGrid { floor_deg: 25.0 };
    let w = weights(45.0, &only(thousand()), 25.0);
    let flat = cone_weights(&w, grid, &Terminal::default(), 0.0);
    near(flat.iter().map(|w| f64::from(*w)).sum(), 1.0, 1e-5, "sum");
    assert!((0..AZIMUTH_BINS).all(|b| flat[grid.cell(b, 3)] == 0.0), "32.5..35 is below the cone");
    assert!(flat[grid.cell(0, 4)] > 0.0);
    let tilted = Terminal { tilt_deg: 25.0, ..Terminal::default() };
    let northern = |heading: f64| -> f32 {
        let c = cone_weights(&w, grid, &tilted, heading);
        (0..AZIMUTH_BINS).filter(|b| !(18..54).contains(b)).map(|b| c[grid.cell(b, 4)]).sum()
    };
    assert!(northern(0.0) > 4.0 * northern(180.0), "{} {}", northern(0.0), northern(180.0));
    let none = cone_weights(&weights(80.0, &only(thousand()), 25.0), grid, &tilted, 0.0);
    assert!(none.iter().all(|w| *w == 0.0));
}

#[test]
fn what_the_vehicle_blocks_takes_its_share_of_the_usable_sky() {
    let grid = SkyGrid { floor_deg: 25.0 };
    let w = weights(45.0, &only(thousand()), 25.0);
    let back = |from: f64, to: f64| crate::profile::BlockedSector {
        bearing_from_deg: from,
        bearing_to_deg: to,
        elevation_from_deg: 0.0,
        elevation_to_deg: 90.0,
    };
    let open = Terminal { scan_half_angle_deg: 65.0, ..Terminal::default() };
    let half = Terminal { blocked: vec![back(90.0, 270.0)], ..open.clone() };
    let whole = expected_in_cone(&w, grid, &open);
    near(whole, expected_usable(&w), 1e-6, "without a blocked sector");
    // Cells cut by the sector's edge are looked at in five points a side: a tenth of a cell at either edge.
    near(expected_in_cone(&w, grid, &half), whole / 2.0, 0.005 * whole, "half of the circle, over all headings");
    for heading in [0.0, 45.0, 180.0] {
        let c = cone_weights(&w, grid, &half, heading);
        near(c.iter().map(|w| f64::from(*w)).sum(), 1.0, 1e-5, "what is left is the whole");
        let behind = (0..AZIMUTH_BINS).filter(|b| (azimuth_deg(*b) - heading).to_radians().cos() < 0.0);
        assert!(behind.flat_map(|b| (0..grid.rows()).map(move |r| (b, r))).all(|(b, r)| c[grid.cell(b, r)] == 0.0));
    }
    let none = Terminal { blocked: vec![back(0.0, 360.0)], ..open };
    near(expected_in_cone(&w, grid, &none), 0.0, 0.0, "all blocked");
}
