//! Horizons over shapes with a closed form, against a brute-force march, and laws.
use proptest::prelude::*;
use waymask::base::geodesy::Point;
use waymask::base::window::{Elevation, ElevationGrid, PlaneToPixel};
use waymask::physics::sky::horizon::{Hint, HorizonEye, HorizonQuery, TerrainPyramid, drop_m, elevation_angle_deg};
use waymask::physics::sky::mask::{AZIMUTH_BINS, azimuth_deg};

/// Takes curvature away: a refraction that bends rays along with the earth.
const FLAT: f64 = 1.0;
/// 32-bit floats hold degrees to about this.
const ROUNDING_DEG: f64 = 2e-5;

/// The search interpolates heights that are already corrected for curvature, at most `range^2 / 4R` too low
/// within a cell (derived here): 1.4e-4 m for 60 m, 4e-4 degrees from 20 m. The reference march interpolates
/// in 32-bit floats: 1e-5 m of 60 m, 3e-5 degrees.
const BRUTE_ROUNDING_DEG: f64 = 5e-4;

/// A square grid around the origin, `half` pixels to every side, heights from a function of metres east and north.
fn grid(half: usize, pixel_m: f64, z_m: impl Fn(f64, f64) -> f64) -> ElevationGrid {
    let side = 2 * half + 1;
    let h = half as f64;
    let at = |i: usize| z_m((((i % side) as f64) - h) * pixel_m, (h - ((i / side) as f64)) * pixel_m) as f32;
    let k = 1000.0 / pixel_m;
    let map = PlaneToPixel { column: [h, k, 0.0, 0.0, 0.0, 0.0], row: [h, 0.0, -k, 0.0, 0.0, 0.0] };
    ElevationGrid {
        columns: side,
        rows: side,
        values_m: (0..side * side).map(at).collect(),
        map,
        pixel_m,
        surface: false,
    }
}

fn pyramid(grid: ElevationGrid) -> TerrainPyramid {
    TerrainPyramid::new(Elevation { grids: vec![grid] })
}

fn eye(x_m: f64, y_m: f64, z_m: f64) -> HorizonEye {
    HorizonEye { at: Point::new(x_m, y_m), z_m }
}

fn query(refraction_k: f64) -> HorizonQuery {
    HorizonQuery { start_m: 0.5, max_m: 1e6, floor_deg: -90.0, refraction_k }
}

/// Whether all pixels of the cells a place lies in or on the border of are valid.
fn is_whole(g: &ElevationGrid, column: f64, row: f64) -> bool {
    let around =
        |x: f64, count: usize| (x - 1e-6).floor().max(0.0) as usize..=((x + 1e-6).ceil() as usize).min(count - 1);
    around(row, g.rows).all(|r| around(column, g.columns).all(|c| !g.values_m[r * g.columns + c].is_nan()))
}

/// Fine march over the whole cells of the surface: every crossing of a pixel line and 64 points between, exact angles.
fn brute_force_deg(g: &ElevationGrid, eye: &HorizonEye, azimuth_deg: f64, q: &HorizonQuery) -> f64 {
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    let reach_m = g.pixel_m * g.columns as f64 * 1.5;
    let mut stops = vec![q.start_m, reach_m.min(q.max_m)];
    for k in -(g.columns as i64)..=g.columns as i64 {
        let line_m = k as f64 * g.pixel_m;
        stops.extend([(line_m - eye.at.x_m) / sin, (line_m - eye.at.y_m) / cos]);
    }
    stops.retain(|t| t.is_finite() && *t >= q.start_m && *t <= reach_m.min(q.max_m));
    stops.sort_by(f64::total_cmp);
    let mut best = -90.0_f64;
    for pair in stops.windows(2) {
        for i in 0..=64 {
            let t = pair[0] + (pair[1] - pair[0]) * f64::from(i) / 64.0;
            let (column, row) = g.map.apply(eye.at.moved(azimuth_deg, t));
            // The outer half pixel of a raster has no neighbours to slope to; rays do not look at it.
            let inside = column >= -1e-9
                && row >= -1e-9
                && column <= (g.columns - 1) as f64 + 1e-9
                && row <= (g.rows - 1) as f64 + 1e-9;
            if let Some(z) = g.height_at_pixel_m(column, row).filter(|_| inside && is_whole(g, column, row)) {
                best = best.max(elevation_angle_deg(eye.z_m, f64::from(z), t, q.refraction_k));
            }
        }
    }
    best
}

fn assert_near(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance, "{what}: {found} instead of {expected}");
}

#[test]
fn drop_by_curvature_and_refraction() {
    // Derived: (1 - k) d^2 / 2R at 10 km with R = 6371 km.
    for (k, m) in [(0.0, 7.848), (0.13, 6.828), (0.25, 5.886)] {
        assert_near(drop_m(10_000.0, k), m, 1e-3, "drop");
    }
}

#[test]
fn a_summit_far_away_reads_the_exact_angle() {
    // Derived: spherical triangle with the radius stretched by refraction; flat would be 8.5308.
    let table = [(20_000.0, 0.0, 8.4375), (20_000.0, 0.13, 8.4497), (20_000.0, 0.25, 8.4608)];
    let far = [(50_000.0, 0.0, 3.2074), (50_000.0, 0.13, 3.2368), (50_000.0, 0.25, 3.2640)];
    for (d, k, deg) in table.into_iter().chain(far) {
        assert_near(elevation_angle_deg(1000.0, 4000.0, d, k), deg, 1e-3, "formula");
        let g = grid(520, 100.0, |x, y| if x == d && y == 0.0 { 4000.0 } else { 900.0 });
        let found = pyramid(g).horizon_and_distance(&eye(0.0, 0.0, 1000.0), 90.0, &query(k));
        assert_near(f64::from(found.0), deg, 1e-3, "search");
        assert_near(found.1.unwrap(), d, 1e-3, "distance");
    }
}

#[test]
fn a_plane_slope_of_45_degrees_reads_35_26439_on_the_diagonal() {
    // GRASS r.horizon's manual tests a hillock of 45 degrees so: atan(cos 45) = 35.26439 degrees.
    let p = pyramid(grid(200, 10.0, |x, _| x));
    for azimuth in [45.0, 135.0] {
        let found = p.horizon_deg(&eye(0.0, 0.0, 0.0), azimuth, &query(FLAT));
        assert_near(f64::from(found), 35.26439, 1e-4, "diagonal");
    }
    assert_near(f64::from(p.horizon_deg(&eye(0.0, 0.0, 0.0), 90.0, &query(FLAT))), 45.0, 1e-4, "fall line");
}

#[test]
fn a_wall_on_the_east_reads_tan_beta_cos_psi_there_and_nothing_elsewhere() {
    // Closed form: tan h = tan(beta) cos(psi), psi off the face's normal; beta 45 degrees.
    let p = pyramid(grid(500, 1.0, |x, _| if x >= 100.0 { 100.0 } else { 0.0 }));
    let e = eye(0.0, 0.0, 0.0);
    for (azimuth, deg) in [(90.0, 45.0), (60.0, 40.8934), (120.0, 40.8934), (30.0, 26.5651), (150.0, 26.5651)] {
        assert_near(f64::from(p.horizon_deg(&e, azimuth, &query(FLAT))), deg, 1e-3, "wall");
    }
    for azimuth in [0.0, 180.0, 225.0, 270.0, 315.0] {
        assert_near(f64::from(p.horizon_deg(&e, azimuth, &query(FLAT))), 0.0, 1e-3, "west of the wall");
    }
}

#[test]
fn a_round_pit_from_its_centre_and_off_it() {
    // Closed form: h = atan(H / rho), rho from the eye to the rim; a = 100 m.
    let pit = |pixel_m: f64, height_m: f64| {
        pyramid(grid((130.0 / pixel_m) as usize, pixel_m, move |x, y| if x.hypot(y) >= 100.0 { height_m } else { 0.0 }))
    };
    // The rim is drawn in pixels: one pixel's diagonal at 50 m or more, times d(atan) / d(rho).
    let tolerance = (0.2_f64 * std::f64::consts::SQRT_2 / 50.0 / 2.0).to_degrees();
    for (height_m, deg) in [(100.0, 45.0), (46.630_766, 25.0)] {
        for azimuth in [2.5, 47.5, 92.5, 200.0] {
            let found = pit(0.2, height_m).horizon_deg(&eye(0.0, 0.0, 0.0), azimuth, &query(FLAT));
            assert_near(f64::from(found), deg, tolerance, "centre");
        }
    }
    for (azimuth, deg) in [(90.0, 45.0), (0.0, 30.0), (180.0, 30.0), (270.0, 18.4349)] {
        let found = pit(0.2, 50.0).horizon_deg(&eye(50.0, 0.0, 0.0), azimuth, &query(FLAT));
        assert_near(f64::from(found), deg, tolerance, "off centre");
    }
}

/// Sky fraction by solid angle, irradiance share of a level surface, and positive openness in degrees, from
/// horizons of equally spaced azimuths (definitions of Zaksek et al. 2011, Dozier and Frew 1990, Yokoyama et al. 2002).
fn fractions(p: &TerrainPyramid, e: &HorizonEye) -> [f64; 3] {
    const AZIMUTHS: usize = 720;
    let mut sums = [0.0; 3];
    for i in 0..AZIMUTHS {
        let azimuth = (i as f64 + 0.5) * 360.0 / AZIMUTHS as f64;
        let h = f64::from(p.horizon_deg(e, azimuth, &query(FLAT)));
        let (sin, cos) = h.to_radians().sin_cos();
        for (sum, part) in sums.iter_mut().zip([1.0 - sin, cos * cos, 90.0 - h]) {
            *sum += part / AZIMUTHS as f64;
        }
    }
    sums
}

#[test]
fn three_sky_fractions_of_walls_canyons_and_pits() {
    // Closed forms: wall 1 - b/pi, (1 + cos b)/2; canyon 1 - (b1 + b2)/pi, (cos b1 + cos b2)/2; pit 1 - sin h,
    // cos^2 h; openness and the pit off its centre by quadrature of the exact horizon.
    let canyon = |east_deg: f64, west_deg: f64| {
        let (east_m, west_m) = (10.0 * east_deg.to_radians().tan(), 10.0 * west_deg.to_radians().tan());
        pyramid(grid(1000, 1.0, move |x, _| {
            if x >= 10.0 {
                east_m
            } else if x <= -10.0 {
                west_m
            } else {
                0.0
            }
        }))
    };
    let long = [
        ((45.0, 0.0), [0.75, 0.853_553, 74.5837]),
        ((71.5651, 0.0), [0.602_416, 0.658_114, 61.7964]),
        ((45.0, 45.0), [0.5, std::f64::consts::FRAC_1_SQRT_2, 59.1675]),
        ((60.0, 20.0), [0.555_556, 0.719_846, 61.5930]),
    ];
    // The walls end after a kilometre, where they stand half a degree high over half a degree of azimuth.
    for ((east, west), want) in long {
        let found = fractions(&canyon(east, west), &eye(0.0, 0.0, 0.0));
        for ((found, want), tolerance) in found.into_iter().zip(want).zip([1e-4, 1e-4, 1e-2]) {
            assert_near(found, want, tolerance, &format!("walls of {east} and {west} degrees"));
        }
    }
    let pit = |height_m: f64| pyramid(grid(650, 0.2, move |x, y| if x.hypot(y) >= 100.0 { height_m } else { 0.0 }));
    // The rim is drawn in pixels of 0.2 m of at least 50 m.
    let round = [
        (100.0, 0.0, [0.292_893, 0.5, 45.0]),
        (46.630_766, 0.0, [0.577_382, 0.821_394, 65.0]),
        (50.0, 50.0, [0.493_734, 0.723_607, 59.1019]),
    ];
    for (height_m, x_m, want) in round {
        let found = fractions(&pit(height_m), &eye(x_m, 0.0, 0.0));
        for ((found, want), tolerance) in found.into_iter().zip(want).zip([1e-3, 1e-3, 0.06]) {
            assert_near(found, want, tolerance, &format!("pit {height_m} m deep, {x_m} m off its centre"));
        }
    }
}

#[test]
fn a_cone_fades_out_at_its_tangents() {
    // Closed form: tan h = (H / a) sin(psi_t - |psi|), sin psi_t = a / D; H 300, a 500, D 1000 m.
    let p = pyramid(grid(400, 4.0, |x, y| 300.0 * (1.0 - (x - 1000.0).hypot(y) / 500.0).max(0.0)));
    // A 4 m pixel cuts the cone's foot by a pixel: 0.6 * 4 m over 866 m.
    let tolerance = (0.6_f64 * 4.0 / 866.0).to_degrees() / 2.0;
    for (psi, deg) in [(0.0, 16.6992), (10.0, 11.5968), (20.0, 5.9481), (29.0, 0.5999), (31.0, 0.0)] {
        for azimuth in [90.0 + psi, 90.0 - psi] {
            let found = p.horizon_deg(&eye(0.0, 0.0, 0.0), azimuth, &query(FLAT));
            assert_near(f64::from(found), deg, tolerance, "cone");
        }
    }
}

#[test]
fn a_block_ends_at_its_corners() {
    // Closed form: as the wall up to atan(W / 2D) = 36.8699 degrees; H 10, D 20, W 30 m; corner 21.8014.
    let p = pyramid(grid(300, 0.1, |x, y| if x >= 20.0 - 1e-9 && y.abs() <= 15.0 + 1e-9 { 10.0 } else { 0.0 }));
    let e = eye(0.0, 0.0, 0.0);
    assert_near(f64::from(p.horizon_deg(&e, 90.0, &query(FLAT))), 26.5651, 1e-3, "centre");
    assert_near(f64::from(p.horizon_deg(&e, 90.0 - 36.8699, &query(FLAT))), 21.8014, 1e-2, "corner");
    // Half a degree past the corner the ray only meets the slope of one pixel beside the block: nothing.
    assert_near(f64::from(p.horizon_deg(&e, 90.0 - 38.0, &query(FLAT))), 0.0, 1e-3, "beside it");
}

#[test]
fn voids_hide_nothing_and_show_nothing() {
    let values = |x: f64, _: f64| {
        if (20.0..80.0).contains(&x) {
            f64::NAN
        } else if x >= 100.0 {
            100.0
        } else {
            0.0
        }
    };
    let p = pyramid(grid(150, 1.0, values));
    assert_near(f64::from(p.horizon_deg(&eye(0.0, 0.0, 0.0), 90.0, &query(FLAT))), 45.0, 1e-3, "behind a void");
    let p = pyramid(grid(20, 1.0, |_, _| f64::NAN));
    let below = HorizonQuery { floor_deg: -7.0, ..query(FLAT) };
    assert_eq!(p.horizon_and_distance(&eye(0.0, 0.0, 0.0), 10.0, &below), (-7.0, None));
    assert_eq!(TerrainPyramid::new(Elevation::default()).horizon_deg(&eye(0.0, 0.0, 0.0), 1.0, &query(0.0)), -90.0);
}

#[test]
fn start_and_end_of_the_search_are_kept() {
    let p = pyramid(grid(150, 1.0, |x, _| {
        if x == 20.0 {
            30.0
        } else if x == 100.0 {
            50.0
        } else {
            0.0
        }
    }));
    let e = eye(0.0, 0.0, 0.0);
    let deg = |start_m, max_m| {
        f64::from(p.horizon_deg(&e, 90.0, &HorizonQuery { start_m, max_m, ..query(FLAT) })).to_radians().tan()
    };
    assert_near(deg(1.0, 1e4), 1.5, 1e-5, "both");
    assert_near(deg(21.0, 1e4), 0.5, 1e-5, "far one");
    assert_near(deg(21.0, 99.0), 0.0, 1e-5, "none");
}

#[test]
fn every_shape_equals_the_brute_force_march() {
    let shapes: [(&str, ElevationGrid); 5] = [
        ("ridge", grid(60, 10.0, |x, y| 80.0 * (-((x - 200.0 + 0.3 * y) / 40.0).powi(2)).exp())),
        ("saddle", grid(60, 10.0, |x, y| (x * x - y * y) / 2000.0)),
        ("pit", grid(60, 10.0, |x, y| if x.hypot(y) > 300.0 { 150.0 } else { 0.0 })),
        ("cone", grid(60, 10.0, |x, y| 200.0 * (1.0 - (x - 250.0).hypot(y) / 200.0).max(0.0))),
        ("steps", grid(60, 10.0, |x, y| 15.0 * ((x / 70.0).floor() + (y / 90.0).floor()).abs())),
    ];
    for (name, g) in shapes {
        let p = pyramid(g.clone());
        for (x, y, up) in [(3.0, -4.0, 2.0), (-151.0, 77.0, 30.0), (0.0, 0.0, -5.0)] {
            let e = eye(x, y, f64::from(g.height_m(Point::new(x, y)).unwrap()) + up);
            let found = p.horizons_deg(&e, &query(0.13), &mut Hint::default());
            for (bin, deg) in found.into_iter().map(f64::from).enumerate() {
                let brute = brute_force_deg(&g, &e, azimuth_deg(bin), &query(0.13));
                // Sixty-four points between two pixel lines leave this much of a smooth top unseen.
                assert_near(deg, brute, 2e-3, name);
                assert!(deg >= brute - BRUTE_ROUNDING_DEG, "{name} {bin}: below brute force");
            }
        }
    }
}

fn rough(side_values: &[f32]) -> ElevationGrid {
    let mut g = grid(16, 30.0, |_, _| 0.0);
    g.values_m.copy_from_slice(&side_values[..33 * 33]);
    g
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn random_terrain_equals_the_brute_force_march(
        values in prop::collection::vec(0.0f32..60.0, 33 * 33),
        (x, y, up) in (-200.0..200.0, -200.0..200.0, -20.0..80.0),
    ) {
        let g = rough(&values);
        let e = eye(x, y, f64::from(g.height_m(Point::new(x, y)).unwrap()) + up);
        let q = HorizonQuery { start_m: 20.0, ..query(0.0) };
        let found = pyramid(g.clone()).horizons_deg(&e, &q, &mut Hint::default());
        for bin in (0..AZIMUTH_BINS).step_by(3) {
            let brute = brute_force_deg(&g, &e, azimuth_deg(bin), &q);
            prop_assert!(f64::from(found[bin]) >= brute - BRUTE_ROUNDING_DEG, "{} below {brute}", found[bin]);
            prop_assert!(f64::from(found[bin]) <= brute + 0.02, "{} above {brute}", found[bin]);
        }
    }

    #[test]
    fn random_starts_and_ends_equal_the_brute_force_march(
        values in prop::collection::vec(0.0f32..60.0, 33 * 33),
        (x, y, z) in (-900.0..900.0, -900.0..900.0, -20.0..140.0),
        (start_m, length_m) in (20.0..400.0, 5.0..700.0),
    ) {
        // The grid ends at 480 m: some eyes look into it from outside, some rays end within a cell.
        let g = rough(&values);
        let e = eye(x, y, z);
        let q = HorizonQuery { start_m, max_m: start_m + length_m, ..query(0.13) };
        let found = pyramid(g.clone()).horizons_deg(&e, &q, &mut Hint::default());
        for (bin, deg) in found.into_iter().map(f64::from).enumerate() {
            let brute = brute_force_deg(&g, &e, azimuth_deg(bin), &q);
            prop_assert!(deg >= brute - BRUTE_ROUNDING_DEG, "{deg} below {brute}");
            // A ray that meets the grid for less than the march's tolerance is seen by one of them only.
            prop_assert!(brute == -90.0 || deg <= brute + 0.02, "{deg} above {brute}");
        }
    }

    #[test]
    fn among_voids_no_whole_cell_is_missed_and_hints_change_nothing(
        values in prop::collection::vec(prop_oneof![3 => 0.0f32..60.0, 1 => Just(f32::NAN)], 33 * 33),
        (x, y, z) in (-200.0..200.0, -200.0..200.0, -20.0..80.0),
        (other_x, other_y) in (-200.0..200.0, -200.0..200.0),
    ) {
        let g = rough(&values);
        let p = pyramid(g.clone());
        let q = HorizonQuery { start_m: 20.0, ..query(0.0) };
        let plain = p.horizons_deg(&eye(x, y, z), &q, &mut Hint::default());
        let mut hint = Hint::default();
        p.horizons_deg(&eye(other_x, other_y, z), &q, &mut hint);
        let hinted = p.horizons_deg(&eye(x, y, z), &q, &mut hint);
        for bin in 0..AZIMUTH_BINS {
            prop_assert!((plain[bin] - hinted[bin]).abs() <= ROUNDING_DEG as f32, "{} {}", plain[bin], hinted[bin]);
            let brute = brute_force_deg(&g, &eye(x, y, z), azimuth_deg(bin), &q);
            prop_assert!(f64::from(plain[bin]) >= brute - BRUTE_ROUNDING_DEG, "{} below {brute}", plain[bin]);
        }
    }

    #[test]
    fn raising_a_pixel_lowers_no_horizon(
        values in prop::collection::vec(0.0f32..60.0, 33 * 33),
        pixel in 0usize..33 * 33,
        rise in 0.0f32..200.0,
        (x, y, z) in (-200.0..200.0, -200.0..200.0, 0.0..80.0),
    ) {
        let before = pyramid(rough(&values)).horizons_deg(&eye(x, y, z), &query(0.0), &mut Hint::default());
        let mut raised = values.clone();
        raised[pixel] += rise;
        let after = pyramid(rough(&raised)).horizons_deg(&eye(x, y, z), &query(0.0), &mut Hint::default());
        for (b, a) in before.iter().zip(after) {
            prop_assert!(f64::from(a) >= f64::from(*b) - ROUNDING_DEG, "{b} became {a}");
        }
    }

    #[test]
    fn hints_and_floors_change_no_answer(
        values in prop::collection::vec(0.0f32..60.0, 33 * 33),
        (x, y, z) in (-200.0..200.0, -200.0..200.0, 0.0..80.0),
        (other_x, other_y, floor_deg) in (-200.0..200.0, -200.0..200.0, -30.0..30.0),
    ) {
        let p = pyramid(rough(&values));
        let plain = p.horizons_deg(&eye(x, y, z), &query(0.0), &mut Hint::default());
        let mut hint = Hint::default();
        p.horizons_deg(&eye(other_x, other_y, z), &query(0.0), &mut hint);
        let hinted = p.horizons_deg(&eye(x, y, z), &query(0.0), &mut hint);
        let floored = p.horizons_deg(&eye(x, y, z), &HorizonQuery { floor_deg, ..query(0.0) }, &mut Hint::default());
        for bin in 0..AZIMUTH_BINS {
            prop_assert!((plain[bin] - hinted[bin]).abs() <= ROUNDING_DEG as f32, "{} {}", plain[bin], hinted[bin]);
            let expected = f64::from(plain[bin]).max(floor_deg);
            prop_assert!((f64::from(floored[bin]) - expected).abs() <= ROUNDING_DEG, "{} {expected}", floored[bin]);
        }
    }
}
