//! Shapes whose solid angle or mask is known in closed form.
//!
//! A wall with its top at `tan b = H / D` square off it stands up to `tan h = tan b cos p` at `p` off its normal. Between
//! azimuths it hides `asin(sin b sin p) - p sin e` of the sky above the elevation `e`, as far as its top is above `e` (derived
//! here, closed form); the mask itself is that of a street canyon in ITU-R P.681-11 section 4.4.
use std::f64::consts::TAU;

use waymask::map::extract::model::BarrierKind;
use waymask::physics::sky::mask::azimuth_deg;
use waymask::physics::sky::shares::hidden_share;

use super::support::{ANTENNA_M, GRID, World, square};

/// Far enough for an endless wall: the missing ends subtend less than a thousandth of the cone.
const ENDLESS_M: f64 = 4_000.0;
/// An end of a wall may miss one of the five azimuths of its bin: half a degree times its height. Stated per end, as a share
/// of the cone for walls that rise to 60 degrees.
const END_TOL: f64 = 1e-3;

fn floor() -> f64 {
    GRID.floor_deg.to_radians()
}

/// Sky hidden by a wall between two azimuths off its normal (radians), as a share of the cone.
fn wall(height_m: f64, distance_m: f64, from: f64, to: f64) -> f64 {
    let (b, e) = ((height_m / distance_m).atan(), floor());
    if b <= e {
        return 0.0;
    }
    let limit = (e.tan() / b.tan()).acos();
    let integral = |p: f64| (b.sin() * p.sin()).asin() - p * e.sin();
    let (from, to) = (from.clamp(-limit, limit), to.clamp(-limit, limit));
    (integral(to) - integral(from)).max(0.0) / (TAU * (1.0 - e.sin()))
}

fn found(world: &World) -> f64 {
    hidden_share(GRID, &world.solid_mask((0.0, 0.0), ANTENNA_M).0)
}

fn close(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() < tolerance, "got {got}, expected {want}");
}

#[test]
fn street_canyon_mask() {
    // ITU-R P.681-11 section 4.4: tan(theta) = (2 h / w) sin(phi), phi from the direction of the street, from its middle.
    for (h_m, w_m) in [(6.0, 20.0), (15.0, 20.0), (40.0, 18.0)] {
        let mut world = World::default();
        for x_m in [-w_m / 2.0, w_m / 2.0] {
            let line = [(x_m, -ENDLESS_M), (x_m, ENDLESS_M)];
            world.add_barrier(BarrierKind::Wall, &line, Some((h_m + ANTENNA_M) as f32));
        }
        let (horizon, _) = world.solid_mask((0.0, 0.0), ANTENNA_M);
        for (bin, h) in horizon.iter().enumerate() {
            // The street runs north: phi is the azimuth. A bin hides what its five azimuths hide on average.
            let sines: f64 = (0..5)
                .map(|k| (azimuth_deg(bin) - 2.0 + f64::from(k)).to_radians().sin().abs())
                .map(|sin_phi| (2.0 * h_m / w_m * sin_phi).atan().max(floor()).sin())
                .sum();
            let want = (sines / 5.0).asin().to_degrees();
            let got = f64::from(*h).max(GRID.floor_deg);
            assert!((got - want).abs() < 0.02, "{h_m} {w_m} {bin}: {got} {want}");
        }
    }
}

#[test]
fn share_behind_walls_seen_off_the_middle() {
    // A panel 5 m from one side of a street 20 m wide, 12 m of wall over the panel on both.
    let mut world = World::default();
    for x_m in [-5.0, 15.0] {
        world.add_barrier(BarrierKind::Wall, &[(x_m, -ENDLESS_M), (x_m, ENDLESS_M)], Some(12.0 + ANTENNA_M as f32));
    }
    let quarter = TAU / 4.0;
    let want = wall(12.0, 5.0, -quarter, quarter) + wall(12.0, 15.0, -quarter, quarter);
    close(found(&world), want, 2.0 * END_TOL);
}

#[test]
fn a_wall_straight_up_hides_half_of_the_cone() {
    let mut world = World::default();
    world.add_barrier(BarrierKind::Wall, &[(0.2, -ENDLESS_M), (0.2, ENDLESS_M)], Some(900.0));
    close(found(&world), 0.5, END_TOL);
}

#[test]
fn a_block_hides_what_its_faces_hide() {
    // Straight ahead only the front counts, however deep the block is.
    let (height_m, front_m, half_m) = (14.0_f64, 10.0_f64, 9.0_f64);
    let half = (half_m / front_m).atan();
    let want = wall(height_m, front_m, -half, half);
    for depth_m in [2.0, 40.0] {
        let mut world = World::default();
        let (near, far) = (front_m, front_m + depth_m);
        let block = [(-half_m, near), (half_m, near), (half_m, far), (-half_m, far)];
        world.add_building(&block, (height_m + ANTENNA_M) as f32);
        close(found(&world), want, 2.0 * END_TOL);
    }
    // To the side the flank shows as well: its normal is a right angle from the front's.
    let (near_x, far_x) = (6.0, 24.0);
    let mut world = World::default();
    world.add_building(&[(near_x, 10.0), (far_x, 10.0), (far_x, 40.0), (near_x, 40.0)], (height_m + ANTENNA_M) as f32);
    let front = wall(height_m, 10.0, (near_x / 10.0f64).atan(), (far_x / 10.0f64).atan());
    let flank = wall(height_m, near_x, (10.0 / near_x).atan(), (40.0 / near_x).atan());
    close(found(&world), front + flank, 3.0 * END_TOL);
}

#[test]
fn a_row_of_blocks_hides_the_street_less_its_gaps() {
    // Five blocks 14 m wide along a street, 10 m off, gaps of 5 m, one straight ahead; through each gap a flank shows.
    let (height_m, off_m, width_m, gap_m, depth_m) = (18.0, 10.0, 14.0, 5.0, 12.0);
    let mut world = World::default();
    let mut want = 0.0;
    for k in -2..=2 {
        let (from, to) =
            (f64::from(k) * (width_m + gap_m) - width_m / 2.0, f64::from(k) * (width_m + gap_m) + width_m / 2.0);
        let block = [(from, off_m), (to, off_m), (to, off_m + depth_m), (from, off_m + depth_m)];
        world.add_building(&block, (height_m + ANTENNA_M) as f32);
        want += wall(height_m, off_m, (from / off_m).atan(), (to / off_m).atan());
        if k != 0 {
            // The flank towards the middle of the row, from where the block before it ends in the view.
            let near = from.abs().min(to.abs());
            let before = near - gap_m;
            let seen_to = (off_m / before).atan().min(((off_m + depth_m) / near).atan());
            want += wall(height_m, near, (off_m / near).atan(), seen_to);
        }
    }
    close(found(&world), want, 2.0 * END_TOL);
    // The gaps do open the sky: an endless front would hide more.
    let endless = wall(height_m, off_m, -TAU / 4.0, TAU / 4.0);
    assert!(found(&world) < endless - 10.0 * END_TOL, "{} {endless}", found(&world));
}

#[test]
fn a_round_pit_hides_the_same_all_round() {
    // 72 corners on a circle: horizon atan(H / a), hidden (sin h - sin e) / (1 - sin e).
    let (radius_m, height_m) = (10.0f64, 12.0);
    let ring = |r: f64| (0..72).map(move |i| (TAU * f64::from(i) / 72.0).sin_cos()).map(move |(x, y)| (r * x, r * y));
    let (inner, outer): (Vec<_>, Vec<_>) = (ring(radius_m).collect(), ring(radius_m + 5.0).collect());
    let mut world = World::default();
    let area = world.area(&outer, &[&inner]);
    world.add_building(&square(0.0, 0.0, 1.0), (height_m + ANTENNA_M) as f32).area = area;
    let h = (height_m / radius_m).atan();
    close(found(&world), (h.sin() - floor().sin()) / (1.0 - floor().sin()), END_TOL);
}
