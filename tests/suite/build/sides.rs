//! Which side of the road a wall stands on decides, in the direction the satellites say.
use waymask::profile::{Profile, Shell};

use crate::build::kit::Sketch;

/// One 53 degree shell: at 45 N the northern quadrant holds 42 % of the satellites above 25 degrees
/// and the southern 16 % (closed form derived here, checked by Monte Carlo).
fn profile() -> Profile {
    let mut profile = Profile::default();
    profile.constellation.shells = vec![Shell { altitude_km: 550.0, inclination_deg: 53.0, planes: 20, per_plane: 30 }];
    profile.terminal.lowest_elevation_deg = 25.0;
    profile.terminal.scan_half_angle_deg = 65.0;
    profile
}

/// A two-lane road from west to east with a long building on one side, 12 m from its middle.
fn road_with_wall(north: bool) -> (f64, f64, f64) {
    let mut sketch = Sketch::at(45.0);
    let (road, _) = sketch.line(
        &[(-1500.0, 0.0), (1500.0, 0.0)],
        &[("highway", "secondary"), ("lanes", "1"), ("oneway", "yes"), ("maxspeed", "60"), ("width", "4")],
    );
    let (low, high) = if north { (6.0, 16.0) } else { (-16.0, -6.0) };
    sketch.area([-2500.0, low, 2500.0, high], &[("building", "yes"), ("height", "28")]);
    let place = sketch.build(profile());
    let rows = place.of_way(road);
    let mean = |f: &dyn Fn(&waymask::layer::model::SegmentRow) -> f64| {
        rows.iter().map(|r| f(r)).sum::<f64>() / rows.len() as f64
    };
    (mean(&|r| r.open_share), mean(&|r| r.outage_share), mean(&|r| f64::from(r.rating.code())))
}

#[test]
fn a_wall_on_the_north_side_is_worse_than_one_on_the_south_at_45_n() {
    let (open_n, outage_n, rating_n) = road_with_wall(true);
    let (open_s, outage_s, rating_s) = road_with_wall(false);
    println!(
        "north: open {open_n:.3} down {outage_n:.4} rating {rating_n:.2}; south: open {open_s:.3} down {outage_s:.4} rating {rating_s:.2}"
    );
    assert!(open_n < open_s - 0.15, "open share {open_n} {open_s}");
    assert!(outage_n > outage_s, "outage share {outage_n} {outage_s}");
    // Means over the road: its single worst segment is a matter of luck on both sides.
    assert!(rating_n > rating_s + 0.25, "mean ratings {rating_n} {rating_s}");
}
