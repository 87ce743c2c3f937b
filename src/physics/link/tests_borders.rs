//! Drives that stop only where something can change, against drives that stop at every border.
use super::crowns::{CrownOdds, DriveOdds};
use super::draw::Draw;
use super::drive::Drive;
use super::model::Stretch;
use super::name::DriveName;
use super::sky::LinkSky;
use super::stats::Outage;
use super::way::StrokeWay;
use crate::base::words::{OverheadKind, ValueFrom};
use crate::physics::orbit::model::{Sighting, Timeline};
use crate::physics::scene::overheads::overhead::Overhead;
use crate::physics::sky::leaves::LeafOdds;
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
    DriveName::all(profile, 3).map(|name| Drive::new(&way, name).outages()).collect()
}

/// Assumptions about the link, drawn.
fn profile(case: u64, key: Draw) -> Profile {
    let mut profile = Profile::default();
    profile.terminal.lowest_elevation_deg = 30.0;
    profile.terminal.scan_half_angle_deg = 60.0;
    profile.terminal.tilt_deg = if case.is_multiple_of(3) { 15.0 } else { 0.0 };
    profile.link.drives = 12;
    profile.link.usable_share = 0.2 + 0.8 * key.of(2).unit();
    profile.link.reselection_s = 3.0 * key.of(3).unit();
    profile.link.slot_s = 2.0 + 15.0 * key.of(4).unit();
    profile
}

#[test]
fn borders_that_are_passed_without_a_stop_change_nothing() {
    let (mut outages, mut dark) = (0, 0);
    for case in 0..60_u64 {
        let key = Draw::root(11).of(case);
        let stroke = road(key.of(1));
        let mut profile = profile(case, key);
        profile.link.awareness = key.of(6).unit();
        profile.link.hold_s = 0.0;
        profile.link.glimpse_s = 3.0 * key.of(7).unit();
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

/// Outages of 60 drawn roads as they were before there was a hold, blind slots and relations that differ from drive to drive: the
/// program of then, all of its drives of each case, start and end to the last bit, as one number. Its masks held probabilities in
/// 1/255.
const BEFORE: [u64; 60] = [
    0x6a27_89ad_8c66_3c03,
    0x2a74_f953_8ea7_b7eb,
    0x0145_04e8_a63b_474f,
    0x51b3_ef5a_1b8f_0887,
    0x4bfc_0bc5_8af5_cda9,
    0x07f9_67dc_0b7c_9b71,
    0xb40b_051f_5088_919b,
    0xbc17_b8dc_66db_111a,
    0x4e89_ae7a_9f1b_b92e,
    0x69bc_9df8_f202_5922,
    0x6117_5388_9013_793b,
    0x14ec_acfd_b6db_b586,
    0xf4e8_7b8f_f4d3_1bfa,
    0x8007_6b1d_a8d4_4ca4,
    0x12a6_c926_cc9b_22bf,
    0x19bf_d51f_4307_5ee7,
    0x9570_6940_7a63_ff10,
    0x1fce_f543_6f8c_b42c,
    0x6129_f5e1_98b3_8739,
    0x54b3_a7f8_00a0_7d3d,
    0x81a8_4761_c222_a723,
    0x436f_646d_8523_ebdd,
    0xc1ee_13bf_4e94_7f74,
    0x2486_5305_6293_b2b0,
    0x0f17_efc0_3c6d_e16e,
    0x67f7_b96f_da35_9890,
    0xdce8_3a4f_f18b_d208,
    0x6673_9ed8_c5d6_9fcd,
    0xd6a4_8d0e_eb3e_ab79,
    0xea9c_84fc_60c1_d04c,
    0xefae_6b58_d5f1_1a4a,
    0x62d7_1955_fec3_471b,
    0x7420_f350_2c2e_a2a9,
    0x9b4f_56a3_589c_7657,
    0xa081_a5bd_68d5_fd4c,
    0x37c3_d26d_ec1d_d349,
    0xf10d_7a81_d8b0_05f7,
    0xab5e_45b7_349b_f807,
    0x55ae_95a7_7e49_cec9,
    0x9288_9fdd_dd11_be94,
    0xc541_d8f2_640e_0e50,
    0x4f05_45bc_1083_0a34,
    0xe6c7_4e65_7002_ad08,
    0x4114_bba2_fd76_dd05,
    0x1b7c_ddab_715f_0e5c,
    0xdc53_d085_1039_90f6,
    0x5af8_9f23_7b4f_cd54,
    0x50a6_69d7_955b_b298,
    0x12e1_b28c_ea3c_18b3,
    0xce84_1224_da34_6cba,
    0xcf0f_1aff_241e_b0b3,
    0x9ca6_67d0_c535_16d2,
    0xc6bb_304f_b472_4f84,
    0xcccb_5b84_a86a_d509,
    0x4d1b_92a2_785e_9ad1,
    0xdbe0_e427_b6a2_903d,
    0xa052_e72c_a19f_6ac3,
    0xacc8_dc69_aa27_5b29,
    0x8b2b_520f_f506_c3a5,
    0xa76f_7aec_6400_19cf,
];

#[test]
fn without_the_new_rules_outages_are_bit_by_bit_what_they_were() {
    for (case, before) in (0_u64..).zip(BEFORE) {
        let key = Draw::root(11).of(case);
        let stroke = road(key.of(1));
        let mut profile = profile(case, key);
        (profile.link.awareness, profile.link.hold_s, profile.link.reacquire_s) = (1.0, 0.0, 0.0);
        profile.link.glimpse_s = 0.0;
        let mut sky = LinkSky::new(&timeline(key.of(5)), GRID, &profile);
        sky.odds = DriveOdds::new(vec![CrownOdds::new(LeafOdds::from_fn(|level| level as f64 / 255.0))]);
        let digest =
            driven(&stroke, &sky, &profile, false).iter().flatten().fold(0xcbf2_9ce4_8422_2325, |sum, outage| {
                let mix = |sum: u64, word: u64| (sum ^ word).wrapping_mul(0x0100_0000_01b3).rotate_left(29);
                mix(mix(sum, outage.start_s.to_bits()), outage.end_s.to_bits())
            });
        assert_eq!(digest, before, "case {case}");
    }
}
