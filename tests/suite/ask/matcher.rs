//! The matcher on small networks of which the answer is known.
use waymask::ask::matching::{MatchOptions, Matched, RoadGraph, TrackPoint, matched};
use waymask::base::geodesy::Position;

use crate::ask::driven::Draws;
use crate::ask::network::Network;

fn on(network: &Network, points: &[TrackPoint], noise_m: f64) -> Matched {
    let options = MatchOptions::of_noise(noise_m);
    matched(&RoadGraph::new(&network.rows, &network.edges), points, &options)
}

/// Share of the length driven on one segment in node order.
fn share(found: &Matched, segment_id: i64) -> f64 {
    let on_it = found.steps.iter().filter(|s| s.segment_id == segment_id && s.forward).map(|s| s.length_m());
    on_it.sum::<f64>() / found.length_m()
}

#[test]
fn a_bridge_over_the_road_is_not_taken_for_the_road() {
    let mut n = Network::at(8.0, 50.0);
    let below = n.road((1, 2), &[(-1_000.0, 0.0), (0.0, 0.0), (1_000.0, 0.0)], true);
    // Crosses at ten degrees without a junction: for 200 m it is nearer than the noise.
    n.road((3, 4), &[(-1_000.0, -176.0), (0.0, 0.0), (1_000.0, 176.0)], true);
    for (seed, step_m) in (0..20).zip([10.0, 50.0, 150.0].into_iter().cycle()) {
        let found = on(&n, &n.track(&[(-1_000.0, 0.0), (1_000.0, 0.0)], step_m, 10.0, seed), 10.0);
        assert!(share(&found, below) > 0.999, "seed {seed}: {:?}", found.steps);
        assert!((found.length_m() - 2_000.0).abs() < 160.0, "{}", found.length_m());
    }
}

#[test]
fn a_service_road_beside_a_motorway_is_left_alone() {
    // Fifteen metres beside it for three kilometres, joined at both ends: 10 m of noise.
    let mut n = Network::at(8.0, 50.0);
    n.road((0, 1), &[(-300.0, 0.0), (0.0, 0.0)], false);
    let motorway = n.road((1, 2), &[(0.0, 0.0), (3_000.0, 0.0)], false);
    n.road((1, 2), &[(0.0, 0.0), (15.0, 15.0), (2_985.0, 15.0), (3_000.0, 0.0)], true);
    n.road((2, 3), &[(3_000.0, 0.0), (3_300.0, 0.0)], false);
    for seed in 0..20 {
        let points = n.track(&[(-300.0, 0.0), (3_300.0, 0.0)], 75.0, 10.0, seed);
        assert!((share(&on(&n, &points, 10.0), motorway) - 3_000.0 / 3_600.0).abs() < 0.02, "seed {seed}");
    }
}

#[test]
fn a_gap_of_a_kilometre_and_noise_of_20_m_are_survived() {
    let mut n = Network::at(8.0, 50.0);
    let road = n.road((1, 2), &[(0.0, 0.0), (2_500.0, 200.0), (5_000.0, 0.0)], true);
    for k in 0..20 {
        let x = 250.0 * f64::from(k);
        n.road((100 + i64::from(k), 200 + i64::from(k)), &[(x, -400.0), (x, 400.0)], true);
    }
    for seed in 0..10 {
        let all = n.track(&[(0.0, 0.0), (2_500.0, 200.0), (5_000.0, 0.0)], 20.0, 20.0, seed);
        // 51 of its points are lost: 1 040 m.
        let kept: Vec<TrackPoint> = [&all[..100], &all[151..]].concat();
        let found = on(&n, &kept, 20.0);
        assert!(found.steps.iter().all(|s| s.drive == 0) && found.unmatched.is_empty(), "{:?}", found.unmatched);
        assert!(share(&found, road) > 0.98, "seed {seed}: {}", share(&found, road));
        // Spurs into the twenty side roads: noise carries points over to them.
        assert!((found.length_m() - 5_016.0).abs() < 250.0, "seed {seed}: {}", found.length_m());
    }
}

#[test]
fn a_drive_goes_on_over_the_antimeridian() {
    let mut n = Network::at(180.0, -16.8);
    let road = n.road((1, 2), &[(-800.0, 0.0), (-300.0, 20.0), (300.0, 0.0), (800.0, 0.0)], true);
    assert!(n.rows[0].line[0].lon_e7 > 0 && n.rows[0].line[3].lon_e7 < 0);
    let line = [(-800.0, 0.0), (-300.0, 20.0), (300.0, 0.0), (800.0, 0.0)];
    let found = on(&n, &n.track(&line, 40.0, 0.0, 1), 10.0);
    assert!(found.unmatched.is_empty() && share(&found, road) == 1.0, "{found:?}");
    assert!((found.length_m() - 1_600.0).abs() < 45.0, "{}", found.length_m());
}

#[test]
fn a_track_turned_round_takes_the_same_two_way_roads() {
    let mut n = Network::at(8.0, 50.0);
    for (i, (a, b)) in [((0.0, 0.0), (500.0, 0.0)), ((500.0, 0.0), (500.0, 600.0)), ((500.0, 600.0), (0.0, 700.0))]
        .into_iter()
        .enumerate()
    {
        n.road((i as i64, i as i64 + 1), &[a, b], true);
    }
    n.road((1, 9), &[(500.0, 0.0), (1_000.0, 0.0)], true);
    let line = [(0.0, 0.0), (500.0, 0.0), (500.0, 600.0), (0.0, 700.0)];
    for seed in 0..10 {
        let mut points = n.track(&line, 30.0, 5.0, seed);
        let there = on(&n, &points, 5.0);
        points.reverse();
        let back = on(&n, &points, 5.0);
        let ways = |m: &Matched| m.steps.iter().map(|s| (s.segment_id, s.forward)).collect::<Vec<_>>();
        let turned: Vec<(i64, bool)> = ways(&back).into_iter().rev().map(|(id, f)| (id, !f)).collect();
        assert_eq!(ways(&there), turned, "seed {seed}");
        assert!((there.length_m() - back.length_m()).abs() < 1.0);
    }
}

#[test]
fn times_tell_when_each_road_is_entered_and_left() {
    let mut n = Network::at(8.0, 50.0);
    n.road((1, 2), &[(0.0, 0.0), (1_000.0, 0.0)], true);
    n.road((2, 3), &[(1_000.0, 0.0), (2_000.0, 0.0)], true);
    n.road((3, 4), &[(2_000.0, 0.0), (3_000.0, 0.0)], true);
    // 20 m/s, a point a second, and a rest of ten minutes at 1500 m with 5 m of noise.
    let mut draws = Draws(5);
    let mut points = n.track(&[(0.0, 0.0), (3_000.0, 0.0)], 20.0, 0.0, 1);
    points.iter_mut().enumerate().for_each(|(i, p)| p.time_s = Some(1e9 + i as f64));
    let mut rest: Vec<TrackPoint> = (1..=600)
        .map(|s| TrackPoint {
            at: n.position((1_500.0 + 5.0 * draws.normal(), 5.0 * draws.normal())),
            time_s: Some(1e9 + 75.0 + f64::from(s)),
        })
        .collect();
    let mut after = points.split_off(76);
    after.iter_mut().for_each(|p| p.time_s = p.time_s.map(|t| t + 600.0));
    points.append(&mut rest);
    points.append(&mut after);
    let found = on(&n, &points, 5.0);
    let times: Vec<[f64; 2]> =
        found.steps.iter().map(|s| [s.enter_s.unwrap() - 1e9, s.leave_s.unwrap() - 1e9]).collect();
    let wanted = [[0.0, 50.0], [50.0, 700.0], [700.0, 750.0]];
    assert_eq!(times.len(), 3, "the rest is not a turning: {:?}", found.steps);
    for (got, want) in times.iter().zip(wanted) {
        assert!((got[0] - want[0]).abs() < 2.0 && (got[1] - want[1]).abs() < 2.0, "{times:?}");
    }
    let without: Vec<TrackPoint> = points.iter().map(|p| TrackPoint { time_s: None, ..*p }).collect();
    assert!(on(&n, &without, 5.0).steps.iter().all(|s| s.enter_s.is_none() && s.leave_s.is_none()));
}

#[test]
fn empty_and_absurd_tracks_have_an_answer_too() {
    let mut n = Network::at(8.0, 50.0);
    n.road((1, 2), &[(0.0, 0.0), (1_000.0, 0.0)], true);
    let at = |lon: f64, lat: f64| TrackPoint { at: Position::from_deg(lon, lat), time_s: None };
    let here = TrackPoint { at: n.position((500.0, 0.0)), time_s: None };
    assert_eq!(on(&n, &[], 10.0), Matched::default());
    assert!(on(&n, &[here], 10.0).length_m() < 1.0);
    let still = on(&n, &[here; 1_000], 10.0);
    assert!(still.length_m() < 1.0 && still.unmatched.is_empty(), "{still:?}");
    assert_eq!(on(&n, &[at(0.0, 90.0), at(180.0, 90.0), at(0.0, -90.0)], 10.0).steps, []);
    // Jumps to and fro: each place is a drive of no length, and the jumps are told.
    let jumps = on(&n, &[here, at(20.0, 50.0), here, at(20.0, 50.0), here], 10.0);
    assert!(jumps.length_m() < 1.0 && !jumps.unmatched.is_empty(), "{jumps:?}");
    let told: f64 = jumps.unmatched.iter().map(|u| u.length_m).sum();
    assert!((told / jumps.track_m - 1.0).abs() < 1e-9, "{told} of {}", jumps.track_m);
    assert_eq!(matched(&RoadGraph::new(&[], &[]), &[here, at(8.1, 50.0)], &MatchOptions::default()).steps, []);
}
