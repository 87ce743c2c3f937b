//! Expected satellites per direction against closed forms, printed figures and brute force.
use super::density::*;
use super::geometry::*;
use super::tests_kit::{COUNT_TOLERANCE, near, only, thousand};
use crate::physics::sky::mask::SkyGrid;
use crate::profile::{Constellation, Shell};

#[test]
fn latitude_law() {
    // Derived here from lat = asin(sin i sin u), u uniform.
    for (latitude, density) in [(0.0, 0.398_567), (30.0, 0.442_656), (50.0, 0.906_057), (53.0, 0.0), (60.0, 0.0)] {
        near(latitude_density(53.0, latitude), density, 1e-5, "density");
        near(latitude_density(127.0, -latitude), density, 1e-5, "retrograde, south");
    }
    near(2.0 * (1.0 - latitude_cdf(53.0, 40.0)), 0.404_484, 1e-5, "beyond 40");
    near(2.0 * (1.0 - latitude_cdf(53.0, 50.0)), 0.182_498, 1e-5, "beyond 50");
}

#[test]
fn expected_counts_by_latitude() {
    let at_25 = [
        (0.0, 4.3540),
        (20.0, 4.8294),
        (30.0, 5.6294),
        (40.0, 7.6227),
        (45.0, 11.4646),
        (50.0, 12.1692),
        (53.0, 10.4680),
        (55.0, 8.7245),
        (60.0, 2.3881),
        (62.0, 0.0),
        (90.0, 0.0),
    ];
    let at_40 = [
        (0.0, 1.6158),
        (20.0, 1.7896),
        (30.0, 2.0782),
        (40.0, 2.7573),
        (45.0, 3.6211),
        (50.0, 6.0232),
        (53.0, 4.9413),
        (55.0, 3.4338),
        (60.0, 0.0),
        (62.0, 0.0),
    ];
    for (floor_deg, rows) in [(25.0, &at_25[..]), (40.0, &at_40[..])] {
        for (latitude, count) in rows {
            near(expected_above(&thousand(), *latitude, floor_deg), *count, COUNT_TOLERANCE, "count");
            near(expected_above(&thousand(), -latitude, floor_deg), *count, COUNT_TOLERANCE, "count, south");
        }
    }
}

#[test]
fn polar_shell_over_the_pole_is_the_closed_form() {
    // i = 90: latitude is uniform along the orbit, so a cap of half-angle c around the pole holds c/180.
    let shell = Shell { inclination_deg: 90.0, ..thousand() };
    let cap_deg = CircularOrbit::at_altitude(550.0).central_angle_deg(25.0);
    for latitude in [90.0, -90.0] {
        near(expected_above(&shell, latitude, 25.0), 1000.0 * cap_deg / 180.0, 1e-9, "cap");
    }
    near(expected_above(&shell, 90.0, -90.0), 1000.0, 1e-6, "the whole sphere");
    near(expected_above(&thousand(), 20.0, -90.0), 1000.0, 1e-6, "the whole sphere");
}

#[test]
fn density_of_single_directions() {
    // Closed form at the equator's zenith: N (h/r)^2 / (2 pi^2 sin i).
    near(density_per_sr(&thousand(), 0.0, SkyDirection::new(0.0, 90.0)), 0.400_599, 1e-5, "zenith at 0");
    // Derived here, latitude 45: azimuth, elevation, satellites per steradian.
    let rows = [
        (0.0, 90.0, 0.8618),
        (0.0, 60.0, 1.5387),
        (0.0, 40.0, 4.4758),
        (180.0, 60.0, 1.0942),
        (180.0, 40.0, 2.0630),
        (180.0, 25.0, 4.5474),
        (90.0, 40.0, 2.6117),
        (90.0, 25.0, 6.2781),
    ];
    for (azimuth, elevation, density) in rows {
        near(density_per_sr(&thousand(), 45.0, SkyDirection::new(azimuth, elevation)), density, 5e-4, "density");
    }
    assert_eq!(density_per_sr(&thousand(), 45.0, SkyDirection::new(0.0, 25.0)), 0.0, "north of the shell's edge");
}

#[test]
fn quadrants() {
    // Derived here by Monte Carlo, elevation 25: north, east, south, west (latitude 50: 3.4 million
    // satellites in view, so 0.0002).
    let rows = [
        (0.0, [0.2507, 0.2493, 0.2507, 0.2493]),
        (30.0, [0.2781, 0.2474, 0.2270, 0.2474]),
        (45.0, [0.4215, 0.2092, 0.1602, 0.2092]),
        (50.0, [0.1392, 0.3330, 0.1948, 0.3330]),
        (53.0, [0.0, 0.3476, 0.3048, 0.3476]),
        (58.0, [0.0, 0.0938, 0.8124, 0.0938]),
    ];
    for (latitude, shares) in rows {
        let got = quadrant_shares(&only(thousand()), latitude, 25.0);
        for k in 0..4 {
            near(got[k], shares[k], 2e-3, "share");
        }
    }
    assert_eq!(quadrant_shares(&only(thousand()), 70.0, 25.0), [0.0; 4]);
}

#[test]
fn cells_add_up_to_the_one_dimensional_count_before_they_are_scaled() {
    // Two integrals over different variables; 5e-4 is what 12 x 12 nodes leave of a logarithm where
    // a ring touches the shell's edge.
    for inclination_deg in [0.0, 1.0, 53.0, 90.0, 97.6] {
        let shell = Shell { inclination_deg, ..thousand() };
        for latitude in [-90.0, -53.0, -20.0, 0.0, 1.0, 30.0, 45.0, 50.0, 52.9, 53.0, 58.0, 61.0, 85.0, 90.0] {
            for floor_deg in [25.0, 40.0] {
                let cells = ShellField::new(&shell, latitude, 0.0, None).cells(SkyGrid { floor_deg });
                let sum: f64 = cells.iter().map(|c| c.all).sum();
                let count = expected_above(&shell, latitude, floor_deg);
                near(sum, count, 5e-4 * count + 1e-9, &format!("i {inclination_deg} latitude {latitude}"));
            }
        }
    }
}

#[test]
fn a_cell_holds_the_integral_of_the_density() {
    // Brute force over one smooth cell, azimuth 90..95, elevation 42.5..45, at 30 N.
    let grid = SkyGrid { floor_deg: 25.0 };
    let cells = cell_counts(&only(thousand()), 30.0, 0.0, grid);
    let n = 40;
    let mut sum = 0.0;
    for i in 0..n {
        let elevation = 42.5 + 2.5 * (f64::from(i) + 0.5) / f64::from(n);
        for j in 0..n {
            let azimuth = 90.0 + 5.0 * (f64::from(j) + 0.5) / f64::from(n);
            sum +=
                density_per_sr(&thousand(), 30.0, SkyDirection::new(azimuth, elevation)) * elevation.to_radians().cos();
        }
    }
    sum *= (2.5f64 / f64::from(n)).to_radians() * (5.0f64 / f64::from(n)).to_radians();
    let got = cells[grid.cell(18, 7)].all;
    near(got / sum, 1.0, 1e-3, "cell over brute force");
}

#[test]
fn the_default_shells_show_as_many_as_really_fly() {
    // Expected above 35 degrees of elevation, computed apart (one-dimensional integral over the latitude law) from shells of the public
    // element sets of 11 August 2026, largest network of low satellites: 550 km, 53 degrees, 5053 satellites; 490, 43, 3625; 570, 70,
    // 710; 560, 97.6, 1370.
    let flying = [
        (0.0, 23.0),
        (10.0, 23.6),
        (20.0, 25.7),
        (30.0, 30.7),
        (40.0, 48.3),
        (46.0, 44.6),
        (50.0, 44.9),
        (53.0, 38.9),
        (57.0, 21.4),
        (60.0, 9.1),
        (62.0, 10.1),
        (65.0, 12.9),
        (70.0, 13.9),
        (75.0, 13.8),
        (80.0, 18.9),
    ];
    for (latitude_deg, count) in flying {
        for latitude_deg in [latitude_deg, -latitude_deg] {
            let ours = expected_count(&Constellation::default(), latitude_deg, 35.0);
            assert!((ours / count - 1.0).abs() < 0.15, "{latitude_deg}: {ours} of {count}");
        }
    }
}
