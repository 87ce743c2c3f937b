//! Geometry, density and weights against published figures, closed forms and laws.
use super::cone::Cone;
use super::density::*;
use super::geometry::*;
use super::model::SkyWeights;
use super::weights::*;
use super::{Sky, latitude_key};
use crate::physics::sky::mask::{AZIMUTH_BINS, SkyGrid, azimuth_deg};
use crate::profile::{Constellation, Link, Shell, Terminal};

/// Kilometres per millisecond of light in vacuum (SI definition).
const LIGHT_KM_MS: f64 = 299.792_458;
/// Values printed to four decimals, computed by an independent one-dimensional integral and
/// confirmed by Monte Carlo with 4e6 satellites (derived here).
const COUNT_TOLERANCE: f64 = 1e-3;

fn near(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!((got - want).abs() <= tolerance, "{what}: got {got}, want {want} within {tolerance}");
}

/// A thousand satellites at 550 km, 53 degrees.
fn thousand() -> Shell {
    Shell { altitude_km: 550.0, inclination_deg: 53.0, planes: 40, per_plane: 25 }
}

fn only(shell: Shell) -> Constellation {
    Constellation { shells: vec![shell], geostationary_exclusion_deg: 0.0 }
}

/// Everything usable, no preference: weights are plain expected counts.
fn plain_link() -> Link {
    Link { usable_share: 1.0, elevation_preference: 0.0, ..Link::default() }
}

fn weights(latitude_deg: f64, constellation: &Constellation, floor_deg: f64) -> SkyWeights {
    sky_weights(latitude_deg, constellation, &plain_link(), SkyGrid { floor_deg })
}

#[test]
fn slant_ranges_and_round_trips_are_the_published_ones() {
    // 3GPP TR 38.821 reference cases, minimum elevation 10 degrees: 40 581, 1 932 and 3 131 km; round
    // trips over user and feeder link 541.46, 25.77 and 41.77 ms. More digits: derived here, R = 6371 km.
    let cases =
        [(600.0, 1932.0, 1931.635, 25.77), (1200.0, 3131.0, 3130.942, 41.77), (35_786.0, 40_581.0, 40_581.179, 541.46)];
    for (altitude_km, published_km, exact_km, round_trip_ms) in cases {
        let range_km = CircularOrbit::at_altitude(altitude_km).slant_range_km(10.0);
        near(range_km, published_km, 0.5, "published range");
        near(range_km, exact_km, 0.01, "range");
        near(4.0 * range_km / LIGHT_KM_MS, round_trip_ms, 0.01, "round trip");
    }
    near(CircularOrbit::at_altitude(600.0).slant_range_km(10.0) / LIGHT_KM_MS, 6.4432, 1e-3, "one way");
}

#[test]
fn angles_and_footprints_of_low_orbits() {
    // Altitude, elevation, range km, central and nadir angle, footprint km, share of the sphere %
    // (textbook formulas, R = 6371 km, derived here).
    let full = [
        (550.0, 25.0, 1123.277, 8.4585, 56.5415, 940.55, 0.5439),
        (550.0, 40.0, 812.066, 5.1569, 44.8431, 573.42, 0.2024),
        (600.0, 25.0, 1213.233, 9.0754, 55.9246, 1009.14, 0.6259),
        (600.0, 10.0, 1931.635, 15.8361, 64.1639, 1760.89, 1.8977),
    ];
    for (altitude_km, elevation_deg, range_km, central, nadir, footprint_km, share) in full {
        let orbit = CircularOrbit::at_altitude(altitude_km);
        near(orbit.slant_range_km(elevation_deg), range_km, 0.01, "range");
        near(orbit.central_angle_deg(elevation_deg), central, 1e-4, "central angle");
        near(orbit.nadir_angle_deg(elevation_deg), nadir, 1e-4, "nadir angle");
        near(orbit.footprint_radius_km(elevation_deg), footprint_km, 0.01, "footprint");
        near(100.0 * orbit.sphere_share(elevation_deg), share, 1e-4, "share");
        near(orbit.elevation_deg(orbit.central_angle_deg(elevation_deg).to_radians()), elevation_deg, 1e-9, "inverse");
    }
    let short = [
        (550.0, 30.0, 992.778, 7.1361),
        (550.0, 20.0, 1293.552, 10.1154),
        (550.0, 10.0, 1815.079, 14.9676),
        (550.0, 0.0, 2703.812, 22.9961),
        (1200.0, 25.0, 2204.433, 15.3009),
        (1200.0, 10.0, 3130.942, 24.0329),
    ];
    for (altitude_km, elevation_deg, range_km, central) in short {
        let orbit = CircularOrbit::at_altitude(altitude_km);
        near(orbit.slant_range_km(elevation_deg), range_km, 0.01, "range");
        near(orbit.central_angle_deg(elevation_deg), central, 1e-4, "central angle");
    }
    // Ground distances of a satellite 200 km up, satobs.org SeeSat-L, May 2001.
    for (elevation_deg, ground_km) in [(0.0, 1576.0), (5.0, 1113.0), (10.0, 810.0), (85.0, 17.0)] {
        near(CircularOrbit::at_altitude(200.0).footprint_radius_km(elevation_deg), ground_km, 1.0, "ground");
    }
}

#[test]
fn geostationary_motion_is_the_earths_rotation() {
    // The definition of the orbit; 1e-6 is the rounding of the radius to ten metres.
    near(CircularOrbit::GEOSTATIONARY.mean_motion_rad_s() / EARTH_ROTATION_RAD_S, 1.0, 1e-6, "turns per day");
}

#[test]
fn geostationary_directions() {
    // Latitude 45 and peak elevations by latitude: derived here, r = 42 164.17 km, R = 6378.137 km.
    let geo = CircularOrbit::GEOSTATIONARY;
    let at_45 = [(0.0, 180.0, 38.17), (20.0, 152.76, 34.48), (40.0, 130.12, 24.91), (60.0, 112.21, 12.20)];
    for (longitude, azimuth, elevation) in at_45 {
        let (d, _) = geo.above_equator(45.0, longitude);
        near(d.azimuth_deg, azimuth, 0.01, "azimuth");
        near(d.elevation_deg, elevation, 0.01, "elevation");
    }
    let peaks = [
        (20.0, 66.55),
        (30.0, 55.03),
        (40.0, 43.72),
        (45.0, 38.17),
        (50.0, 32.69),
        (55.0, 27.27),
        (60.0, 21.93),
        (65.0, 16.67),
        (70.0, 11.47),
    ];
    for (latitude, peak) in peaks {
        near(geo.above_equator(latitude, 0.0).0.elevation_deg, peak, 0.01, "peak");
        near(geo.above_equator(-latitude, 0.0).0.azimuth_deg, 0.0, 1e-9, "seen from the south it stands north");
    }
    // Worked look-angle example on tutorialsweb.com (its printed elevation 18.86 is a slip: 19.844).
    let (d, range_km) = geo.above_equator(-20.0, 60.0);
    near(d.azimuth_deg, 78.83, 0.02, "azimuth");
    near(d.elevation_deg, 19.844, 0.01, "elevation");
    near(range_km, 39_571.0, 2.0, "range");
    // Textbook example quoted there, R = 6371 km and r = 42 164 km: 37 214 km, 48 degrees.
    let (d, range_km) = CircularOrbit { earth_radius_km: 6371.0, radius_km: 42_164.0 }.above_equator(35.0, 10.0);
    near(range_km, 37_214.0, 2.0, "range");
    near(d.elevation_deg, 47.969, 0.01, "elevation");
    near(d.azimuth_deg, 162.912, 0.01, "azimuth");
}

#[test]
fn distance_to_the_geostationary_arc() {
    let arc = GeostationaryArc::at(45.0);
    near(arc.distance_deg(SkyDirection::new(0.0, 90.0)).unwrap(), 51.83, 0.05, "zenith, 90 - 38.17");
    for longitude in [-70.3, -33.3, 0.4, 12.5, 59.9] {
        let on = CircularOrbit::GEOSTATIONARY.above_equator(45.0, longitude).0;
        near(arc.distance_deg(on).unwrap(), 0.0, 0.003, "a point of the arc");
    }
    // Brute force: a point of the arc every 0.01 degrees of longitude.
    for (azimuth, elevation) in [(20.0, 40.0), (95.0, 30.0), (180.0, 60.0), (233.0, 12.0), (300.0, 5.0)] {
        let d = SkyDirection::new(azimuth, elevation);
        let brute = (-9000..=9000)
            .map(|k| CircularOrbit::GEOSTATIONARY.above_equator(45.0, f64::from(k) * 0.01).0)
            .filter(|p| p.elevation_deg >= 0.0)
            .map(|p| p.angle_deg(d))
            .fold(f64::MAX, f64::min);
        near(arc.distance_deg(d).unwrap(), brute, 0.01, "brute force");
    }
    assert!(GeostationaryArc::at(81.2).distance_deg(SkyDirection::new(0.0, 90.0)).is_some());
    for latitude in [81.4, -81.4, 90.0, -90.0] {
        assert!(GeostationaryArc::at(latitude).distance_deg(SkyDirection::new(0.0, 90.0)).is_none(), "{latitude}");
    }
}

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

#[test]
fn keys_are_whole_degrees() {
    assert_eq!([latitude_key(42.4), latitude_key(-42.6), latitude_key(95.0), latitude_key(-0.2)], [42, -43, 90, 0]);
}
