//! Shadows of prisms over the lane: closed forms of a deck passage, and a 3-D ray test.
use crate::link::kit::{assert_near, deck};
use waymask::physics::link::draw::Draw;
use waymask::physics::scene::overheads::overhead::{Overhead, open_share};

/// Speed of the check values, metres per second.
const SPEED_MPS: f64 = 30.0;

fn thick(width_m: f64, clearance_m: f64, thickness_m: f64) -> Overhead {
    Overhead { clearance_m, thickness_m, ..deck(0.0, width_m, 20.0) }
}

/// Directions of the cone's edge every half degree, where shadows are longest, and the zenith.
fn rim(floor_deg: f64) -> impl Iterator<Item = (f64, f64)> {
    (0..720).map(move |i| (f64::from(i) * 0.5, floor_deg)).chain([(0.0, 90.0)])
}

/// Length of lane with the whole cone hidden, and with anything of it hidden, metres.
fn full_and_any_m(o: &Overhead, floor_deg: f64) -> (f64, f64) {
    let shadows: Vec<_> = rim(floor_deg).map(|(az, el)| o.shadow(az, el)).collect();
    let seen = || shadows.iter().flatten();
    let (last_from, first_to) =
        (seen().map(|s| s.0).fold(f64::MIN, f64::max), seen().map(|s| s.1).fold(f64::MAX, f64::min));
    let (first_from, last_to) =
        (seen().map(|s| s.0).fold(f64::MAX, f64::min), seen().map(|s| s.1).fold(f64::MIN, f64::max));
    let full = if shadows.iter().all(Option::is_some) { (first_to - last_from).max(0.0) } else { 0.0 };
    (full, last_to - first_from)
}

/// Solid angle above `floor` behind an endless wall of height `h` at distance `d`: closed form
/// 2 [asin(sin b sin m) - m sin floor], b = atan(h / d), cos m = tan floor / tan b.
fn wall_sr(d: f64, h: f64, floor_deg: f64) -> f64 {
    let floor = floor_deg.to_radians();
    let b = h.atan2(d);
    if b <= floor {
        return 0.0;
    }
    let m = (floor.tan() / b.tan()).acos();
    2.0 * ((b.sin() * m.sin()).asin() - m * floor.sin())
}

/// Open share of the cone `x` metres behind the near edge of an endless deck, closed form.
fn deck_open_share(x: f64, width: f64, clearance: f64, thickness: f64, floor_deg: f64) -> f64 {
    let cone = std::f64::consts::TAU * (1.0 - floor_deg.to_radians().sin());
    let outside = (-x).max(x - width);
    if outside <= 0.0 {
        return (wall_sr(x, clearance, floor_deg) + wall_sr(width - x, clearance, floor_deg)) / cone;
    }
    let hidden = wall_sr(outside, clearance + thickness, floor_deg) - wall_sr(outside + width, clearance, floor_deg);
    1.0 - hidden / cone
}

#[test]
fn lengths_hidden_match_the_closed_form_table() {
    // Widths 12, 25, 40 m; underside 4.9 m, antenna 2 m; seconds at 30 m/s. Derived in closed form:
    // full max(0, w - 2r), anything w + 2 (clearance + thickness) / tan floor, r = clearance / tan floor.
    let table = [
        (20.0, [0.0, 0.3022, 0.8022], [0.9312, 1.3645, 1.8645], [1.2242, 1.6576, 2.1576]),
        (25.0, [0.0, 0.4187, 0.9187], [0.8146, 1.2479, 1.7479], [1.0434, 1.4767, 1.9767]),
        (30.0, [0.0651, 0.4985, 0.9985], [0.7349, 1.1682, 1.6682], [0.9196, 1.3529, 1.8529]),
        (35.0, [0.1239, 0.5572, 1.0572], [0.6761, 1.1094, 1.6094], [0.8284, 1.2618, 1.7618]),
        (40.0, [0.1696, 0.6029, 1.1029], [0.6304, 1.0637, 1.5637], [0.7575, 1.1909, 1.6909]),
    ];
    for (floor_deg, full_s, any_thin_s, any_thick_s) in table {
        for (i, width_m) in [12.0, 25.0, 40.0].into_iter().enumerate() {
            let (full, any) = full_and_any_m(&thick(width_m, 2.9, 0.0), floor_deg);
            assert_near(full / SPEED_MPS, full_s[i], 1e-4, "full, thin");
            assert_near(any / SPEED_MPS, any_thin_s[i], 1e-4, "any, thin");
            let (full, any) = full_and_any_m(&thick(width_m, 2.9, 1.6), floor_deg);
            assert_near(full / SPEED_MPS, full_s[i], 1e-4, "full, thick");
            assert_near(any / SPEED_MPS, any_thick_s[i], 1e-4, "any, thick");
        }
    }
}

#[test]
fn lengths_hidden_at_25_degrees_in_metres() {
    // Closed forms as above; 2r = 12.4381 m.
    for (width_m, full_m, thin_m, thick_m) in
        [(12.0, 0.0, 24.4381, 31.3006), (25.0, 12.5619, 37.4381, 44.3006), (40.0, 27.5619, 52.4381, 59.3006)]
    {
        let (full, any) = full_and_any_m(&thick(width_m, 2.9, 0.0), 25.0);
        assert_near(full, full_m, 1e-4, "full");
        assert_near(any, thin_m, 1e-4, "any, thin");
        assert_near(full_and_any_m(&thick(width_m, 2.9, 1.6), 25.0).1, thick_m, 1e-4, "any, thick");
    }
}

#[test]
fn clearance_and_antenna_height_change_the_full_block() {
    // (underside, antenna) above the road, metres, and seconds of full block for 12, 25 and 40 m.
    let rows = [
        (4.3, 2.0, [0.0712, 0.5045, 1.0045]),
        (4.5, 2.0, [0.0426, 0.4759, 0.9759]),
        (5.3, 2.0, [0.0, 0.3615, 0.8615]),
        (4.9, 3.0, [0.1284, 0.5617, 1.0617]),
        (6.5, 2.0, [0.0, 0.19, 0.69]),
    ];
    for (underside_m, antenna_m, full_s) in rows {
        for (width_m, want) in [12.0, 25.0, 40.0].into_iter().zip(full_s) {
            let (full, _) = full_and_any_m(&thick(width_m, underside_m - antenna_m, 1.6), 25.0);
            assert_near(full / SPEED_MPS, want, 1e-4, "full block");
        }
    }
}

#[test]
fn skew_stretches_every_length_by_its_secant() {
    // A deck 25 m across, turned by 30 degrees either way: 14.5052 m full, 43.2298 m any, thin.
    for skew_deg in [30.0, -30.0] {
        let along_m = 25.0 / 30_f64.to_radians().cos();
        let o = Overhead { skew_deg, end_m: along_m, ..thick(along_m, 2.9, 0.0) };
        let (full, any) = full_and_any_m(&o, 25.0);
        assert_near(full, 14.5052, 1e-4, "full");
        assert_near(any, 43.2298, 1e-4, "any");
    }
}

#[test]
fn tunnels_of_three_lengths() {
    // Endlessly wide mouths: L - 2r over 30 m/s.
    for (length_m, full_s) in [(50.0, 1.2521), (100.0, 2.9187), (500.0, 16.2521)] {
        assert_near(full_and_any_m(&thick(length_m, 2.9, 1.6), 25.0).0 / SPEED_MPS, full_s, 1e-4, "tunnel");
        let walled =
            Overhead { left_m: 4.0, right_m: 3.0, left_closed: true, right_closed: true, ..thick(length_m, 2.9, 1.6) };
        let (full, _) = full_and_any_m(&walled, 25.0);
        // Rays along the road reach through the mouth as before, so walls change nothing there.
        assert_near(full / SPEED_MPS, full_s, 1e-4, "walled tunnel");
    }
}

#[test]
fn open_share_matches_closed_form_and_its_published_digits() {
    // Thin deck 25 m wide: before the edge, on it, under it; steps of 800: grid error below 2e-5.
    for (x, want) in [(-3.0, 0.887839), (0.0, 0.5), (3.0, 0.112161), (6.0, 0.001229)] {
        assert_near(deck_open_share(x, 25.0, 2.9, 0.0, 25.0), want, 1e-6, "closed form, thin");
        assert_near(open_share(&[thick(25.0, 2.9, 0.0)], x, 25.0, 800), want, 1e-4, "thin");
    }
    for (x, want) in [(-8.0, 0.985159), (-3.0, 0.789459)] {
        assert_near(open_share(&[thick(25.0, 2.9, 1.6)], x, 25.0, 800), want, 1e-4, "thick");
    }
    assert_near(open_share(&[thick(12.0, 2.9, 1.6)], 6.0, 25.0, 1600), 0.002458, 1e-5, "12 m deck, middle");
}

#[test]
fn times_below_an_open_share() {
    // Seconds at 30 m/s with an open share below 5, 10, 25, 50 and 90 %, thick deck, floor 25 degrees.
    let table = [
        (12.0, [0.1275, 0.1885, 0.2928, 0.4, 0.7282]),
        (25.0, [0.5608, 0.6218, 0.7262, 0.8333, 1.1615]),
        (40.0, [1.0608, 1.1218, 1.2262, 1.3333, 1.6615]),
    ];
    for (width_m, times_s) in table {
        for (share, time_s) in [0.05, 0.1, 0.25, 0.5, 0.9].into_iter().zip(times_s) {
            let x = width_m / 2.0 + time_s * SPEED_MPS / 2.0;
            // A unit of the last digit of the time is 1.5 mm, at most 4e-4 of open share there.
            assert_near(deck_open_share(x, width_m, 2.9, 1.6, 25.0), share, 4e-4, "closed form");
            assert_near(open_share(&[thick(width_m, 2.9, 1.6)], x, 25.0, 400), share, 5e-4, "integrated");
        }
    }
}

#[test]
fn the_whole_cone_opens_between_two_decks_only_over_a_wide_gap() {
    // The whole cone is open somewhere only if the gap exceeds 2 (dz + t) / tan floor = 19.3006 m.
    for (gap_m, opens) in [(19.2, false), (19.4, true)] {
        let decks =
            [thick(12.0, 2.9, 1.6), Overhead { start_m: 12.0 + gap_m, end_m: 24.0 + gap_m, ..thick(12.0, 2.9, 1.6) }];
        let middle_m = 12.0 + gap_m / 2.0;
        let hidden = rim(25.0).any(|(az, el)| decks.iter().any(|d| d.hides(middle_m, az + 20.0, el)));
        assert_eq!(hidden, !opens, "gap {gap_m}");
        assert!(!decks.iter().any(|d| d.hides(middle_m, 0.0, 90.0)), "straight up is open in any gap");
    }
}

/// Whether a ray meets a prism, in world coordinates (east, north, up), independent of lane maths:
/// the ray is clipped by the planes of the prism; walls are met at one point of their plane.
pub fn ray_hits(o: &Overhead, lane_m: f64, azimuth_deg: f64, elevation_deg: f64) -> bool {
    let unit = |az: f64| [az.to_radians().sin(), az.to_radians().cos(), 0.0];
    let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let heading = o.heading_start_deg;
    let lane = unit(heading);
    let at = |m: f64| [lane[0] * m, lane[1] * m, 0.0];
    let level = unit(azimuth_deg);
    let (sin, cos) = elevation_deg.to_radians().sin_cos();
    let (from, ray) = (at(lane_m), [level[0] * cos, level[1] * cos, sin]);
    let (edge, side) = (unit(heading + o.skew_deg), unit(heading + 90.0));
    let ends = (dot(edge, at(o.start_m)), dot(edge, at(o.end_m)));
    let slabs = [
        (edge, ends.0, ends.1),
        (side, -o.left_m, o.right_m),
        ([0.0, 0.0, 1.0], o.clearance_m, o.clearance_m + o.thickness_m),
    ];
    let (mut enter, mut leave) = (0.0_f64, f64::INFINITY);
    for (normal, low, high) in slabs {
        let (position, rate) = (dot(normal, from), dot(normal, ray));
        if rate.abs() < 1e-12 {
            if position < low || position > high {
                leave = -1.0;
            }
            continue;
        }
        let (a, b) = ((low - position) / rate, (high - position) / rate);
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    let meets_wall = |closed: bool, across_m: f64| {
        let t = across_m / dot(side, ray);
        let along = dot(edge, from) + t * dot(edge, ray);
        closed && t > 0.0 && t * sin <= o.clearance_m && along >= ends.0 && along <= ends.1
    };
    enter <= leave || meets_wall(o.left_closed, -o.left_m) || meets_wall(o.right_closed, o.right_m)
}

pub fn random_prism(draw: impl Fn(u64) -> f64) -> Overhead {
    let start_m = 40.0 * draw(1) - 20.0;
    let heading_deg = 360.0 * draw(2);
    let side = |u: f64| if u < 0.2 { f64::INFINITY } else { 30.0 * u };
    Overhead {
        end_m: start_m + 0.5 + 40.0 * draw(3),
        heading_start_deg: heading_deg,
        heading_end_deg: heading_deg,
        skew_deg: 120.0 * draw(4) - 60.0,
        left_m: side(draw(5)),
        right_m: side(draw(6)),
        left_closed: draw(7) < 0.4,
        right_closed: draw(8) < 0.4,
        clearance_m: 0.5 + 6.0 * draw(9),
        thickness_m: if draw(10) < 0.2 { 0.0 } else { 3.0 * draw(10) },
        ..deck(start_m, 1.0, heading_deg)
    }
}

#[test]
fn shadows_agree_with_a_ray_test_in_space() {
    let (mut hits, mut misses) = (0, 0);
    for case in 0..40_000_u64 {
        let key = Draw::root(11).of(case);
        let draw = |name: u64| key.of(name).unit();
        let o = random_prism(draw);
        let (azimuth_deg, elevation_deg) = (360.0 * draw(20), 5.0 + 84.0 * draw(21));
        let shadow = o.shadow(azimuth_deg, elevation_deg);
        let lane_m = 160.0 * draw(22) - 80.0;
        // Within a micrometre of a border either answer is right.
        if shadow.is_some_and(|(a, b)| (lane_m - a).abs() < 1e-6 || (lane_m - b).abs() < 1e-6) {
            continue;
        }
        let hit = ray_hits(&o, lane_m, azimuth_deg, elevation_deg);
        assert_eq!(
            o.hides(lane_m, azimuth_deg, elevation_deg),
            hit,
            "{o:?} at {lane_m} towards {azimuth_deg} {elevation_deg}"
        );
        if hit {
            hits += 1
        } else {
            misses += 1
        }
        if let Some((from_m, to_m)) = shadow {
            for (inside, outside) in [(from_m + 1e-4, from_m - 1e-4), (to_m - 1e-4, to_m + 1e-4)] {
                assert!(to_m - from_m < 1e-3 || ray_hits(&o, inside, azimuth_deg, elevation_deg), "{o:?}");
                assert!(!ray_hits(&o, outside, azimuth_deg, elevation_deg), "{o:?}");
            }
        }
    }
    assert!(hits > 3000 && misses > 3000, "both outcomes must occur: {hits} {misses}");
}

#[test]
fn a_gallery_is_dark_on_its_closed_side_only() {
    // Heading north, wall on the right (east), open to the west; 3 m to either side.
    let gallery = Overhead { left_m: 3.0, right_m: 3.0, right_closed: true, ..deck(0.0, 200.0, 0.0) };
    assert!(gallery.hides(100.0, 90.0, 26.0), "through the wall");
    assert!(!gallery.hides(100.0, 270.0, 26.0), "under the open edge: 3 m away the ray is 1.5 m up");
    assert!(gallery.hides(100.0, 270.0, 50.0), "through the roof");
}

#[test]
fn a_beam_beside_the_lane_hides_only_what_is_above_it() {
    // From 5 to 8 m right of a lane heading north.
    let beside = Overhead { left_m: -5.0, right_m: 8.0, ..deck(0.0, 10.0, 0.0) };
    assert!(!beside.hides(5.0, 0.0, 90.0) && !beside.hides(5.0, 270.0, 30.0));
    assert!(beside.hides(5.0, 90.0, 30.0), "6.5 m away the ray is 3.75 m up");
    assert!(!beside.hides(5.0, 90.0, 60.0), "5 m away the ray is already 8.7 m up");
}

#[test]
fn a_bent_tunnel_opens_along_the_heading_of_either_mouth() {
    // Enters heading north, leaves heading east.
    let bent = Overhead {
        heading_end_deg: 90.0,
        left_m: 4.0,
        right_m: 4.0,
        left_closed: true,
        right_closed: true,
        ..deck(0.0, 300.0, 0.0)
    };
    let reach_m = 2.9 / 30_f64.to_radians().tan();
    let ahead = bent.shadow(90.0, 30.0).expect("over the lane");
    assert_near(ahead.1, 300.0 - reach_m, 1e-9, "looking out of the far mouth");
    let back = bent.shadow(180.0, 30.0).expect("over the lane");
    assert_near(back.0, reach_m, 1e-9, "looking back out of the near mouth");
}

#[test]
fn directions_below_the_horizon_have_no_shadow() {
    let o = deck(0.0, 12.0, 0.0);
    for elevation_deg in [0.0, -5.0, 91.0, f64::NAN, f64::INFINITY] {
        assert_eq!(o.shadow(0.0, elevation_deg), None);
    }
    assert_eq!(o.shadow(123.0, 90.0).map(|(a, b)| (a.abs() < 1e-9, (b - 12.0).abs() < 1e-9)), Some((true, true)));
}
