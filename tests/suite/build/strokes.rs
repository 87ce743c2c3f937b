//! A road is driven through in one go, however the map cuts it into ways.
use waymask::profile::Profile;

use crate::build::kit::{Place, Sketch};

/// Length of the wood road, metres, and its speed, km/h.
const LENGTH_M: f64 = 4_800.0;
const SPEED_KMH: f64 = 20.0;

/// Crowns closed over roads of every class, and no signal through them.
fn dense() -> Profile {
    let mut profile = Profile::default();
    profile.vehicle.speed_factor = 1.0;
    profile.link.drives = 20;
    profile.link.margin_db = 0.2;
    let clear = &mut profile.roadside;
    for clear_m in [&mut clear.clear_unclassified_m, &mut clear.clear_service_m, &mut clear.clear_track_m] {
        *clear_m = 0.0;
    }
    profile
}

/// A road without name or reference through a wood, in ways of `way_m` that change their class, with side roads at some of
/// their ends.
fn wood_road(way_m: f64, side_roads: bool) -> Place {
    let mut s = Sketch::at(47.0);
    let count = (LENGTH_M / way_m).round() as usize;
    let nodes: Vec<i64> = (0..=count).map(|k| s.node(way_m * k as f64, 0.0, &[])).collect();
    for (k, ends) in nodes.windows(2).enumerate() {
        let class = ["track", "unclassified", "service"][k % 3];
        s.way(ends, &[("highway", class), ("width", "3"), ("lanes", "1"), ("maxspeed", "20"), ("surface", "asphalt")]);
    }
    if side_roads {
        for k in (1..count).step_by(2) {
            let far = s.node(way_m * k as f64 + 90.0, 60.0, &[]);
            s.way(&[nodes[k], far], &[("highway", "track"), ("width", "3"), ("lanes", "1")]);
        }
    }
    let wood = [("natural", "wood"), ("leaf_type", "needleleaved"), ("leaf_cycle", "evergreen"), ("height", "30")];
    s.area([-400.0, -400.0, LENGTH_M + 400.0, 400.0], &wood);
    s.build(dense())
}

/// The 95th percentile outages of all directions of the road itself, and the longest of the mean longest ones, seconds.
fn outages_s(place: &Place) -> (Vec<f64>, f64) {
    let on_it = |row: &&waymask::layer::model::SegmentRow| {
        let plane = Sketch::at(47.0).plane;
        row.line.iter().all(|p| plane.to_plane(*p).y_m.abs() < 1.0)
    };
    let rows: Vec<_> = place.rows.iter().filter(on_it).collect();
    let driven = rows.iter().flat_map(|r| [&r.driven.forward, &r.driven.backward]);
    let p95_s = driven.map(|d| d.as_ref().unwrap().outage_p95_s).collect();
    (p95_s, rows.iter().map(|r| r.longest_outage_s).fold(0.0, f64::max))
}

/// Whoever drives through has no link from end to end: length over speed, 864 s.
#[test]
fn a_wood_road_cut_into_ways_of_changing_class_keeps_the_outage_of_the_whole() {
    let dark_s = LENGTH_M / (SPEED_KMH / 3.6);
    for (way_m, side_roads) in [(LENGTH_M, false), (400.0, false), (400.0, true)] {
        let (p95_s, longest_s) = outages_s(&wood_road(way_m, side_roads));
        println!("ways of {way_m} m, side roads {side_roads}: {:?}, longest {longest_s}", p95_s.first());
        assert!(p95_s.len() >= 2 * 20, "{}", p95_s.len());
        for outage_s in p95_s.into_iter().chain([longest_s]) {
            assert!((outage_s - dark_s).abs() < 0.01 * dark_s, "{way_m} {side_roads}: {outage_s} s, not {dark_s}");
        }
    }
}

/// Each outage begins once, however many segments it spans: what begins adds up to one a drive.
#[test]
fn an_outage_over_many_segments_begins_once() {
    let place = wood_road(400.0, false);
    let forward = place.rows.iter().filter_map(|r| r.driven.forward.as_ref());
    let begun: f64 = forward.map(|d| d.beyond_drops).sum();
    assert!((begun - 1.0).abs() < 1e-6, "{begun}");
}
