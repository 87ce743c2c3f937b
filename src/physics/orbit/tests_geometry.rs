//! Orbits over a sphere and the geostationary arc against published figures and closed forms.
use super::geometry::*;
use super::latitude_key;
use super::tests_kit::near;

/// Kilometres per millisecond of light in vacuum (SI definition).
const LIGHT_KM_MS: f64 = 299.792_458;

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
fn keys_are_whole_degrees() {
    assert_eq!([latitude_key(42.4), latitude_key(-42.6), latitude_key(95.0), latitude_key(-0.2)], [42, -43, 90, 0]);
}
