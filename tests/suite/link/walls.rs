//! Endless walls under a moving constellation: what the sky alone says of the outages.
use crate::link::kit::*;
use waymask::physics::link::model::Stretch;
use waymask::physics::link::simulate::{outages, simulate};
use waymask::physics::orbit::model::Timeline;
use waymask::physics::orbit::timeline::shell_timeline;
use waymask::physics::orbit::weights::{cone_weights, expected_in_cone, sky_weights};
use waymask::physics::sky::leaves::LeafOdds;
use waymask::physics::sky::mask::{Mask, azimuth_deg};
use waymask::physics::sky::shares::{SeenThrough, shares};
use waymask::profile::{Profile, Shell};

const LATITUDE_DEG: f64 = 45.0;
const TIMELINE_S: u32 = 3 * 3600;

fn sky() -> (Profile, Timeline) {
    let mut profile = profile();
    profile.constellation.shells = vec![Shell { altitude_km: 550.0, inclination_deg: 53.0, planes: 40, per_plane: 30 }];
    profile.link.elevation_preference = 0.0;
    profile.link.drives = 64;
    let timeline = shell_timeline(LATITUDE_DEG, &profile.constellation, GRID.floor_deg, TIMELINE_S);
    (profile, timeline)
}

/// A road to the north between endless walls, or beside one to the east: `tan h = tan b |sin a|`.
fn walled(edge_deg: f64, both: bool) -> Stretch {
    painted(stretch(20_000.0, 20.0, 0.0), |m| {
        for bin in 0..72 {
            let across = azimuth_deg(bin).to_radians().sin();
            let seen = if both { across.abs() } else { across.max(0.0) };
            m.solid_deg[bin] = (edge_deg.to_radians().tan() * seen).atan().to_degrees() as f32;
        }
    })
}

/// Satellites in open sky at every second of a timeline.
fn open_counts(timeline: &Timeline, mask: &Mask) -> Vec<usize> {
    let odds = LeafOdds::of(&profile());
    let open = |s: &&waymask::physics::orbit::model::Sighting| {
        mask.blocked(GRID, &odds, f64::from(s.azimuth_deg), f64::from(s.elevation_deg)) < 0.5
    };
    (0..timeline.seconds()).map(|second| timeline.at(second).iter().filter(open).count()).collect()
}

#[test]
fn between_two_walls_the_link_is_down_while_no_satellite_stands_in_the_slit() {
    let (mut profile, timeline) = sky();
    let road = walled(75.0, true);
    let counts = open_counts(&timeline, &road.masks[0]);
    let mean = |of: &dyn Fn(usize) -> f64| counts.iter().map(|k| of(*k)).sum::<f64>() / counts.len() as f64;
    let n = mean(&|k| k as f64);
    for usable_share in [1.0, 0.5, 0.25] {
        profile.link.usable_share = usable_share;
        // What the timeline itself says: none of the k in the slit is usable.
        let own = mean(&|k| (1.0_f64 - usable_share).powi(k as i32));
        let poisson = (-usable_share * n).exp();
        let outage = |reselection_s: f64| {
            let mut profile = profile.clone();
            profile.link.reselection_s = reselection_s;
            simulate(std::slice::from_ref(&road), &timeline, GRID, &profile, 3)[0].outage_share
        };
        println!(
            "share {usable_share}: own {own:.4}, driven {:.4} {:.4}, Poisson {poisson:.4}",
            outage(0.0),
            outage(1.0)
        );
        // 64 drives of 1000 s, each a few tens of independent sights of the slit: a standard error near 0.01.
        assert_near(outage(0.0), own, 0.03, "without reselection the timeline's own count");
        assert!(own < poisson, "satellites on orbits stand more evenly than by chance: {own} {poisson}");
        // Each passage through the slit ends in at most one reselection.
        assert!(outage(1.0) >= outage(0.0) - 1e-9 && outage(1.0) < outage(0.0) + 0.1, "{usable_share}");
        if usable_share == 0.5 {
            assert!(own - 0.03 <= outage(1.0) && outage(1.0) <= poisson + 0.03, "{own} {} {poisson}", outage(1.0));
        }
    }
}

#[test]
fn the_open_share_between_walls_counts_the_satellites_in_the_slit() {
    // The closed form over cells against a count on the timeline; horizons cut cells, so a tenth.
    let (profile, timeline) = sky();
    for edge_deg in [60.0, 75.0] {
        let road = walled(edge_deg, true);
        let counts = open_counts(&timeline, &road.masks[0]);
        let counted = counts.iter().sum::<usize>() as f64 / counts.len() as f64;
        let weights = sky_weights(LATITUDE_DEG, &profile.constellation, &profile.link, GRID);
        let cone = cone_weights(&weights, GRID, &profile.terminal, 0.0);
        let open = shares(
            &SeenThrough { grid: GRID, odds: &LeafOdds::of(&profile), weights: &cone },
            &road.masks,
            road.length_m,
            &[],
        )
        .unwrap()
        .open;
        let expected = open * expected_in_cone(&weights, GRID, &profile.terminal);
        assert_near(counted, expected, 0.1 * expected, "satellites in the slit");
    }
}

#[test]
fn beside_one_wall_every_outage_is_one_reselection() {
    let (profile, timeline) = sky();
    let road = walled(85.0, false);
    assert!(open_counts(&timeline, &road.masks[0]).iter().all(|k| *k > 0), "the open half is never empty");
    let stroke = [stretch(100.0, 20.0, 0.0), road];
    let found: Vec<_> = (0..8).flat_map(|r| outages(&stroke, &timeline, GRID, &profile, 4, r)).collect();
    assert!(found.len() > 20, "{} outages", found.len());
    for outage in &found {
        // The served one may come out again before, at the wall's ragged edge of bins; the drive may end within one.
        assert!(outage.length_s() <= profile.link.reselection_s + 1e-9, "{outage:?}");
    }
    let whole = found.iter().filter(|outage| (outage.length_s() - profile.link.reselection_s).abs() < 1e-9).count();
    assert!(10 * whole > 9 * found.len(), "{whole} of {}", found.len());
}

#[test]
fn beyond_the_shells_there_is_no_link_at_all() {
    // i + central angle is 61.5 degrees for this shell and floor (closed form).
    let (profile, _) = sky();
    let outage = |latitude_deg: f64| {
        let timeline = shell_timeline(latitude_deg, &profile.constellation, GRID.floor_deg, 600);
        simulate(&[stretch(2000.0, 20.0, 0.0)], &timeline, GRID, &profile, 1)[0]
    };
    let (beyond, within) = (outage(62.0), outage(58.0));
    assert_eq!((beyond.outage_share, beyond.outage_p50_s), (1.0, 100.0));
    assert!(within.outage_share < 0.2, "{within:?}");
}
