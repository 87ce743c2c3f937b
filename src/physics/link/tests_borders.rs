//! Drives that stop only where something can change, against drives that stop at every border.
use super::draw::Draw;
use super::drive::{Drive, drive_key};
use super::model::Stretch;
use super::sky::LinkSky;
use super::stats::Outage;
use super::way::StrokeWay;
use crate::base::words::{OverheadKind, ValueFrom};
use crate::physics::orbit::model::{Sighting, Timeline};
use crate::physics::scene::overheads::overhead::Overhead;
use crate::physics::sky::mask::{AZIMUTH_BINS, Mask, SkyGrid};
use crate::profile::Profile;

const GRID: SkyGrid = SkyGrid { floor_deg: 30.0 };

/// Satellites that rise and set anew, each at its pace.
fn timeline(key: Draw) -> Timeline {
    let mut timeline = Timeline { latitude_deg: 45.0, sightings: vec![], starts: vec![0] };
    for second in 0..700_u32 {
        for satellite in 0..30 {
            let draw = |name: u64| key.of(u64::from(satellite)).of(name).unit();
            let phase = (f64::from(second) / (60.0 + 200.0 * draw(1)) + draw(2)).fract();
            if phase < 0.7 {
                let elevation_deg = (30.0 + 55.0 * (phase * std::f64::consts::PI / 0.7).sin() * draw(3)) as f32;
                let azimuth_deg = (360.0 * (draw(4) + 0.3 * phase)).rem_euclid(360.0) as f32;
                timeline.sightings.push(Sighting { satellite, azimuth_deg, elevation_deg });
            }
        }
        timeline.starts.push(timeline.sightings.len() as u32);
    }
    timeline
}

/// Something overhead: a tunnel between closed walls, or a deck.
fn overhead(draw: impl Fn(u64) -> f64, length_m: f64) -> Overhead {
    let is_tunnel = draw(1) < 0.5;
    let start_m = length_m * draw(2);
    Overhead {
        kind: if is_tunnel { OverheadKind::Tunnel } else { OverheadKind::RoadDeck },
        osm_id: 1,
        start_m,
        end_m: start_m + if is_tunnel { 20.0 + 300.0 * draw(3) } else { 4.0 + 20.0 * draw(3) },
        heading_start_deg: 70.0,
        heading_end_deg: if draw(4) < 0.3 { 120.0 } else { 70.0 },
        skew_deg: 60.0 * draw(5) - 30.0,
        left_m: 5.0,
        right_m: 8.0,
        left_closed: is_tunnel,
        right_closed: is_tunnel,
        clearance_m: 3.0,
        thickness_m: 2.0,
        underside_above_road_m: 5.0,
        underside_from: ValueFrom::Default,
        deck_width_m: 10.0,
    }
}

/// Stretches in the open, along walls, through woods and tunnels; the first is short and the second has no masks.
fn road(key: Draw) -> Vec<Stretch> {
    let stretch = |nth: u64| {
        let key = key.of(nth);
        let draw = |name: u64| key.of(name).unit();
        let stations = if nth == 1 { 0 } else { 2 + (40.0 * draw(1)) as u64 };
        let (woods, walls) = (draw(2) * draw(3), draw(4) * draw(5));
        let mask = |station: u64| {
            let key = key.of(100 + station);
            let draw = |name: u64| key.of(name).unit();
            let mut mask = Mask::open(GRID);
            let woody = draw(1) < 0.8 * woods.sqrt();
            for bin in 0..AZIMUTH_BINS {
                if draw(10 + bin as u64 / 9) < walls {
                    mask.terrain_deg[bin] = (30.0 + 60.0 * draw(30 + bin as u64 / 9)) as f32;
                }
                for cell in (0..GRID.rows()).map(|row| GRID.cell(bin, row)).filter(|_| woody) {
                    mask.canopy[cell] = (300.0 * draw(1000 + cell as u64)).min(255.0) as u8;
                }
            }
            mask
        };
        let length_m = if nth == 0 { 0.5 } else { 50.0 + 600.0 * draw(6) };
        Stretch {
            length_m,
            speed_mps: 2.0 + 30.0 * draw(7),
            masks: (0..stations).map(mask).collect(),
            headings_deg: (0..stations).map(|s| (70.0 + 10.0 * key.of(s).unit()) as f32).collect(),
            overheads: (0..(3.0 * draw(8)) as u64)
                .map(|k| overhead(|n| key.of(900 + k).of(n).unit(), length_m))
                .collect(),
        }
    };
    (0..5).map(stretch).collect()
}

/// Outages of drives that stop at every border or only where something can change.
fn driven(stroke: &[Stretch], sky: &LinkSky, profile: &Profile, every_border: bool) -> Vec<Vec<Outage>> {
    let mut way = StrokeWay::new(stroke, sky);
    way.every_border = every_border;
    let drives = profile.link.drives;
    (0..drives).map(|nth| Drive::new(&way, drive_key(profile, 3, nth), nth, drives).outages()).collect()
}

#[test]
fn borders_that_are_passed_without_a_stop_change_nothing() {
    let (mut outages, mut dark) = (0, 0);
    for case in 0..60_u64 {
        let key = Draw::root(11).of(case);
        let stroke = road(key.of(1));
        let mut profile = Profile::default();
        profile.terminal.lowest_elevation_deg = 30.0;
        profile.terminal.scan_half_angle_deg = 60.0;
        profile.terminal.tilt_deg = if case % 3 == 0 { 15.0 } else { 0.0 };
        profile.link.drives = 12;
        profile.link.usable_share = 0.2 + 0.8 * key.of(2).unit();
        profile.link.reselection_s = 3.0 * key.of(3).unit();
        profile.link.slot_s = 2.0 + 15.0 * key.of(4).unit();
        let sky = LinkSky::new(&timeline(key.of(5)), GRID, &profile);
        let stopping = driven(&stroke, &sky, &profile, true);
        assert_eq!(stopping, driven(&stroke, &sky, &profile, false), "case {case}");
        outages += stopping.iter().map(Vec::len).sum::<usize>();
        dark += StrokeWay::new(&stroke, &sky).road.dark.len();
    }
    assert!(outages > 5000 && dark > 20, "{outages} outages, {dark} dark spans");
}

#[test]
fn a_tunnel_is_dark_where_it_says_so() {
    let key = Draw::root(12);
    let mut found = 0;
    for case in 0..400_u64 {
        let overhead = overhead(|name| key.of(case).of(name).unit(), 100.0);
        let Some((from_m, to_m)) = overhead.dark_m(25.0) else { continue };
        found += 1;
        for k in 0..300 {
            let draw = |name: u64| key.of(case).of(100 + k).of(name).unit();
            let lane_m = from_m + (to_m - from_m) * [0.0, 1.0, draw(1)][k as usize % 3];
            let elevation_deg = if k % 2 == 0 { 25.0 } else { 25.0 + 65.0 * draw(2) };
            assert!(overhead.hides(lane_m, 360.0 * draw(3), elevation_deg), "{lane_m} {elevation_deg} {overhead:?}");
        }
    }
    assert!(found > 100, "{found}");
}

#[test]
fn a_shadow_is_the_same_with_tangents_kept() {
    use crate::physics::scene::overheads::overhead::sideways_per_height;
    let key = Draw::root(13);
    for case in 0..2000_u64 {
        let draw = |name: u64| key.of(case).of(name).unit();
        let (overhead, azimuth_deg, elevation_deg) = (overhead(draw, 100.0), 360.0 * draw(20), 95.0 * draw(21) - 2.0);
        let kept = sideways_per_height(elevation_deg)
            .and_then(|per_height| overhead.shadow_of(azimuth_deg, per_height, overhead.skew_tan()));
        assert_eq!(kept, overhead.shadow(azimuth_deg, elevation_deg));
        assert_eq!(sideways_per_height(elevation_deg).is_some(), elevation_deg > 0.0 && elevation_deg <= 90.0);
    }
}
