//! What must hold whatever the road.
use crate::link::kit::*;
use crate::link::oracle::random_road;
use waymask::physics::link::draw::Draw;
use waymask::physics::link::model::Stretch;
use waymask::physics::link::simulate::{outages, simulate};
use waymask::physics::link::stats::Outage;
use waymask::physics::orbit::model::Timeline;
use waymask::profile::Profile;

fn outage_s(found: &[Outage]) -> f64 {
    found.iter().map(Outage::length_s).sum()
}

/// A wood of many stations with gaps, decks across.
fn wood(stations: usize, seed: u64) -> Stretch {
    let mut s = stretch(10.0 * (stations - 1) as f64, 17.0, 40.0);
    s.masks = (0..stations)
        .map(|k| {
            let mut mask = s.masks[0].clone();
            let draw = |name: u64| Draw::root(seed).of(k as u64).of(name).unit();
            paint_canopy(&mut mask, 0..72, 30.0 + 50.0 * draw(1), leaves(0.98 * draw(2)));
            mask.solid_deg[(72.0 * draw(3)) as usize] = 70.0;
            mask
        })
        .collect();
    s.headings_deg = vec![40.0; stations];
    s.overheads = vec![deck(63.0, 12.0, 40.0), deck(290.0, 9.0, 40.0)];
    s
}

#[test]
fn splitting_a_stretch_keeps_every_outage() {
    let whole = wood(41, 3);
    let cut = 17;
    let cut_m = 10.0 * cut as f64;
    let (mut first, mut second) = (whole.clone(), whole.clone());
    first.length_m = cut_m;
    first.masks.truncate(cut + 1);
    first.overheads.truncate(1);
    second.length_m -= cut_m;
    second.masks.drain(..cut);
    second.overheads.remove(0);
    second.overheads.iter_mut().for_each(|o| {
        o.start_m -= cut_m;
        o.end_m -= cut_m;
    });
    let (one, two) = ([whole], [first, second]);
    let timeline = flying_timeline(1200, 15.0, 8);
    let mut seen = 0;
    for nth in 0..64 {
        let a = outages(&one, &timeline, GRID, &profile(), 4, nth);
        let b = outages(&two, &timeline, GRID, &profile(), 4, nth);
        assert_eq!(a.len(), b.len());
        for (a, b) in a.iter().zip(&b) {
            // Rounding of times added up stretch by stretch.
            assert!((a.start_s - b.start_s).abs() < 1e-9 && (a.end_s - b.end_s).abs() < 1e-9, "{a:?} {b:?}");
        }
        seen += a.len();
    }
    assert!(seen > 200, "{seen} outages compared");
    let total =
        |stroke: &[Stretch]| simulate(stroke, &timeline, GRID, &profile(), 4).iter().map(|s| s.outage_s).sum::<f64>();
    assert_near(total(&two), total(&one), 1e-9, "expected outage time");
}

#[test]
fn one_more_obstacle_never_gives_time_back_to_a_single_satellite() {
    // With one satellite in the sky the link is up exactly where it is open, so this is provable; with
    // more, an obstacle may by luck move a drive to a better one.
    let mut worse = 0;
    for case in 0..80_u64 {
        let key = Draw::root(5).of(case);
        let stroke = random_road(key, 0.2);
        let timeline = timeline(300, |second| {
            vec![sighting(1, (30.0 + 0.4 * second as f64) % 360.0, 30.0 + 40.0 * key.of(9).unit())]
        });
        let mut obstructed = stroke.clone();
        let stretch = &mut obstructed[0];
        match case % 4 {
            0 => stretch.overheads.push(deck(40.0, 10.0, f64::from(stretch.headings_deg[0]))),
            1 => stretch.masks.iter_mut().for_each(|m| m.terrain_deg.iter_mut().for_each(|h| *h += 8.0)),
            2 => stretch.masks.iter_mut().for_each(|m| m.solid_deg[10..40].iter_mut().for_each(|h| *h = h.max(45.0))),
            _ => stretch.masks.iter_mut().for_each(|m| m.canopy.iter_mut().for_each(|p| *p = p.saturating_add(12))),
        }
        for nth in 0..8 {
            let before = outage_s(&outages(&stroke, &timeline, GRID, &profile(), case, nth));
            let after = outage_s(&outages(&obstructed, &timeline, GRID, &profile(), case, nth));
            assert!(after >= before - 1e-9, "case {case}: {before} {after}");
            worse += usize::from(after > before + 1e-9);
        }
    }
    assert!(worse > 60, "the obstacles must matter: {worse}");
}

#[test]
fn drives_stand_alone_and_simulate_is_their_mean() {
    let stroke = [stretch(200.0, 20.0, 40.0), wood(31, 6), wood(12, 7)];
    let timeline = flying_timeline(1200, 15.0, 9);
    let profile = profile();
    let n = profile.link.drives;
    let backwards: Vec<_> = (0..n).rev().map(|r| outages(&stroke, &timeline, GRID, &profile, 3, r)).collect();
    let forwards: Vec<_> = (0..n).map(|r| outages(&stroke, &timeline, GRID, &profile, 3, r)).collect();
    assert!(backwards.iter().rev().eq(forwards.iter()));
    let total: f64 = simulate(&stroke, &timeline, GRID, &profile, 3).iter().map(|s| s.outage_s).sum();
    assert_near(
        total,
        backwards.iter().map(|drive| outage_s(drive)).sum::<f64>() / f64::from(n),
        1e-9,
        "mean outage time",
    );
    assert_eq!(simulate(&stroke, &timeline, GRID, &profile, 3), simulate(&stroke, &timeline, GRID, &profile, 3));
}

#[test]
fn draws_depend_on_stroke_and_seed() {
    let stroke = [wood(31, 6)];
    let timeline = flying_timeline(1200, 15.0, 9);
    let with = |key: u64, seed: u64| {
        let mut profile = profile();
        profile.link.seed = seed;
        simulate(&stroke, &timeline, GRID, &profile, key)
    };
    assert_ne!(with(1, 1), with(2, 1));
    assert_ne!(with(1, 1), with(1, 2));
}

#[test]
fn more_awareness_never_costs_time_where_nothing_changes_within_a_slot() {
    // Satellites that stand still over endless walls: a slot either begins on a satellite in open sky and stays there, or is lost for
    // one search.
    let sky: Vec<(f64, f64)> = (0..9).map(|k| (40.0 * f64::from(k) + 3.0, 30.0 + 6.0 * f64::from(k))).collect();
    let timeline = still_timeline(900, &sky);
    let mut fell = 0;
    for case in 0..30_u64 {
        let draw = |name: u64| Draw::root(51).of(case).of(name).unit();
        let road = painted(stretch(6000.0, 20.0, 0.0), |m| {
            let (from, wide) = ((72.0 * draw(1)) as usize, 10 + (50.0 * draw(2)) as usize);
            (from..from + wide).for_each(|bin| m.solid_deg[bin % 72] = (30.0 + 60.0 * draw(3)) as f32);
        });
        let time_s = |awareness: f64, nth: u32| {
            let mut profile = profile();
            (profile.link.awareness, profile.link.usable_share) = (awareness, 0.7);
            outage_s(&outages(std::slice::from_ref(&road), &timeline, GRID, &profile, case, nth))
        };
        for nth in 0..8 {
            let times_s = [0.0, 0.3, 0.6, 1.0].map(|awareness| time_s(awareness, nth));
            assert!(times_s.windows(2).all(|pair| pair[1] <= pair[0] + 1e-9), "case {case}: {times_s:?}");
            fell += usize::from(times_s[3] < times_s[0] - 1.0);
        }
    }
    assert!(fell > 100, "blindness must cost something: {fell}");
}

#[test]
fn a_longer_hold_or_reacquiring_contains_the_outages_of_a_shorter_one() {
    let stroke = [stretch(300.0, 20.0, 40.0), wood(41, 6), stretch(200.0, 20.0, 40.0), wood(61, 7)];
    let timeline = flying_timeline(1200, 12.0, 9);
    let mut joined = 0;
    for nth in 0..48 {
        let of = |hold_s: f64, reacquire_s: f64| {
            let mut profile = profile();
            (profile.link.hold_s, profile.link.reacquire_s, profile.link.reacquire_from_s) = (hold_s, reacquire_s, 3.0);
            outages(&stroke, &timeline, GRID, &profile, 3, nth)
        };
        let chain = [of(0.0, 0.0), of(1.0, 0.0), of(3.0, 0.0), of(3.0, 4.0), of(3.0, 9.0)];
        for pair in chain.windows(2) {
            let within = |o: &Outage| pair[1].iter().any(|m| m.start_s <= o.start_s && o.end_s <= m.end_s + 1e-9);
            assert!(pair[0].iter().all(within) && outage_s(&pair[1]) >= outage_s(&pair[0]) - 1e-9);
            assert!(pair[1].len() <= pair[0].len());
        }
        joined += chain[0].len() - chain[2].len();
    }
    assert!(joined > 200, "{joined}");
}

fn turned(stroke: &[Stretch], bins: usize) -> Vec<Stretch> {
    let turn_deg = 5.0 * bins as f32;
    let mut stroke = stroke.to_vec();
    for s in &mut stroke {
        s.headings_deg.iter_mut().for_each(|h| *h += turn_deg);
        for o in &mut s.overheads {
            o.heading_start_deg += f64::from(turn_deg);
            o.heading_end_deg += f64::from(turn_deg);
        }
        for m in &mut s.masks {
            m.terrain_deg.rotate_right(bins);
            m.solid_deg.rotate_right(bins);
            m.canopy.rotate_right(bins * GRID.rows());
        }
    }
    stroke
}

#[test]
fn turning_road_and_sky_together_changes_nothing() {
    // Azimuths in halves of a degree off the bin edges stay exact in f32; canopy there always blocks or never.
    let sky = |turn_deg: f64| -> Timeline {
        timeline(300, |second| {
            (0..8_u32)
                .map(|k| {
                    let azimuth_deg = f64::from(k) * 41.0 + 0.25 + 0.5 * (second / 2) as f64 + turn_deg;
                    sighting(k, azimuth_deg % 360.0, 28.0 + 7.0 * f64::from(k))
                })
                .collect()
        })
    };
    let mut profile: Profile = profile();
    profile.terminal.tilt_deg = 10.0;
    profile.terminal.tilt_towards_deg = 90.0;
    profile.terminal.scan_half_angle_deg = 45.0;
    let mut seen = 0;
    for case in 0..20_u64 {
        let stroke = random_road(Draw::root(31).of(case), 0.35);
        let turned_stroke = turned(&stroke, 7);
        for nth in 0..4 {
            let a = outages(&stroke, &sky(0.0), GRID, &profile, case, nth);
            let b = outages(&turned_stroke, &sky(35.0), GRID, &profile, case, nth);
            assert_eq!(a.len(), b.len(), "case {case}");
            // Headings are f32: 3e-5 degrees of a turn, micrometres of a shadow.
            assert!(
                a.iter().zip(&b).all(|(a, b)| (a.start_s - b.start_s).abs() < 1e-4 && (a.end_s - b.end_s).abs() < 1e-4)
            );
            seen += a.len();
        }
    }
    assert!(seen > 100, "{seen} outages compared");
}

#[test]
fn thinner_crowns_never_cost_more_outage_time() {
    // Crowns up to 60 degrees all round, clear sky above. Every draw is the same, so that only their density differs: a
    // link that flickers through thin crowns finds its way to the clear sky as one that dense crowns cut.
    let timeline = flying_timeline(3000, 12.0, 3);
    let mut profile = profile();
    profile.link.drives = 256;
    let outage_share = |share: u8| {
        let mut road = stretch(4000.0, 15.0, 0.0);
        road.masks.iter_mut().for_each(|mask| paint_canopy(mask, 0..72, 60.0, leaves(f64::from(share) / 255.0)));
        simulate(&[road], &timeline, GRID, &profile, 9)[0].outage_share
    };
    let shares: Vec<f64> = [0, 60, 125, 190, 230, 255].map(outage_share).to_vec();
    println!("outage shares by density of crowns: {shares:.4?}");
    assert!(shares[5] > 0.02, "{shares:?}");
    // Noise of 256 drives that share their draws.
    assert!(shares.windows(2).all(|w| w[1] > w[0] - 0.002), "{shares:?}");
}
