//! Facts of the trade (common practice, no source).
use crate::link::kit::*;
use waymask::base::words::Rating;
use waymask::physics::link::rating::rating;
use waymask::physics::link::simulate::{outages, simulate};
use waymask::physics::orbit::timeline::shell_timeline;
use waymask::physics::sky::mask::azimuth_deg;
use waymask::profile::Shell;

#[test]
fn an_overpass_at_highway_speed_outages_for_a_quarter_to_half_a_second() {
    let mut profile = profile();
    profile.link.drives = 200;
    let timeline = flying_timeline(1200, 20.0, 4);
    for (width_m, speed_kmh, most_s) in [
        (8.0, 110.0, 0.4),
        (8.0, 130.0, 0.35),
        (12.0, 110.0, 0.5),
        (12.0, 130.0, 0.45),
        (14.0, 110.0, 0.6),
        (14.0, 130.0, 0.5),
    ] {
        let mut under = stretch(250.0, speed_kmh / 3.6, 60.0);
        under.overheads = vec![deck(120.0, width_m, 60.0)];
        let open = || stretch(250.0, speed_kmh / 3.6, 60.0);
        let stroke = [open(), open(), under, open(), open()];
        let s = simulate(&stroke, &timeline, GRID, &profile, 9);
        for figure in [s[2].outage_p50_s, s[2].outage_p95_s, s[2].longest_outage_s] {
            assert!((0.2..=most_s).contains(&figure), "{width_m} m at {speed_kmh} km/h: {:?}", s[2]);
        }
        assert!(
            (0..200).all(|r| outages(&stroke, &timeline, GRID, &profile, 9, r).len() == 1),
            "one overpass, one outage"
        );
        assert_eq!((s[0].outage_s, s[4].outage_s), (0.0, 0.0));
        let found = rating(s[2].outage_p95_s, s[2].outage_share, s[2].outage_share_window, &profile.rating);
        assert!(found <= Rating::Blips, "{found:?}");
    }
}

#[test]
fn trees_close_on_both_sides_cut_the_link_from_a_blip_to_a_few_seconds() {
    // A road heading north with crowns to 60 degrees on both sides, dense but with gaps.
    let lane = painted(stretch(2000.0, 14.0, 0.0), |m| {
        paint_canopy(m, 4..32, 60.0, leaves(0.784));
        paint_canopy(m, 40..68, 60.0, leaves(0.784));
    });
    let mut profile = profile();
    profile.link.usable_share = 0.5;
    let s = simulate(&[lane], &flying_timeline(3000, 20.0, 5), GRID, &profile, 2)[0];
    assert!(s.outage_p50_s >= 0.2 && s.outage_p50_s <= 5.0, "{s:?}");
    assert!(s.outage_share > 0.005 && s.outage_share < 0.5, "{s:?}");
}

#[test]
fn no_link_in_a_tunnel() {
    let mut road = stretch(1000.0, 22.0, 0.0);
    road.overheads = vec![waymask::physics::scene::overheads::overhead::Overhead {
        left_m: 4.0,
        right_m: 4.0,
        left_closed: true,
        right_closed: true,
        ..deck(-100.0, 1200.0, 0.0)
    }];
    let s = simulate(&[road], &flying_timeline(900, 20.0, 6), GRID, &profile(), 2)[0];
    assert_eq!(s.outage_share, 1.0);
}

#[test]
fn dense_forest_over_a_narrow_road_is_dark_for_half_a_minute_to_a_minute() {
    // Crowns leave a ragged slit of sky: closed below 68 degrees, half open above.
    let forest = painted(stretch(3000.0, 10.0, 0.0), |m| {
        paint_canopy(m, 0..72, 91.0, leaves(0.5));
        paint_canopy(m, 0..72, 68.0, 255);
    });
    let timeline = flying_timeline(3600, 20.0, 7);
    let found = (0..64).flat_map(|r| outages(std::slice::from_ref(&forest), &timeline, GRID, &profile(), 2, r));
    let mut lengths: Vec<f64> = found.map(|outage| outage.length_s()).filter(|&s| s > 5.0).collect();
    lengths.sort_by(f64::total_cmp);
    let median_s = lengths[lengths.len() / 2];
    assert!((20.0..=70.0).contains(&median_s), "median of {} long outages: {median_s}", lengths.len());
}

#[test]
fn a_wall_costs_more_on_the_side_where_the_satellites_are() {
    // A road heading east at 45 N, wall to 60 degrees on one side. Under a shell inclined by 53
    // degrees most satellites stand to the north, under one by 43 degrees to the south.
    let walled = |to_north: bool| {
        painted(stretch(10_000.0, 20.0, 90.0), |m| {
            for bin in 0..72 {
                let north = azimuth_deg(bin).to_radians().cos();
                let off_face = if to_north { north } else { -north };
                m.solid_deg[bin] = (3_f64.sqrt() * off_face).atan().to_degrees() as f32;
            }
        })
    };
    let mut profile = profile();
    profile.link.drives = 128;
    for (inclination_deg, north_is_worse) in [(53.0, true), (43.0, false)] {
        let shell = Shell { altitude_km: 550.0, inclination_deg, planes: 40, per_plane: 30 };
        profile.constellation.shells = vec![shell];
        let timeline = shell_timeline(45.0, &profile.constellation, GRID.floor_deg, 5400);
        let outage = |to_north: bool| simulate(&[walled(to_north)], &timeline, GRID, &profile, 3)[0].outage_share;
        let (worse, better) = (outage(north_is_worse), outage(!north_is_worse));
        assert!(worse > 1.3 * better && worse > 0.0, "inclination {inclination_deg}: {worse} {better}");
    }
}
