//! Facts of the trade (common practice, no source).
use crate::kit::*;
use waymask::link::drive::{breaks, simulate};
use waymask::link::rating::{Rating, rating};

#[test]
fn an_overpass_at_highway_speed_breaks_for_a_quarter_second_up_to_a_second() {
    let mut profile = profile();
    profile.link.replicates = 200;
    let tape = flying_tape(1200, 20.0, 4);
    for (width_m, speed_kmh) in [(12.0, 110.0), (12.0, 130.0), (14.0, 110.0), (14.0, 130.0)] {
        let mut under = stretch(250.0, speed_kmh / 3.6, 60.0);
        under.overheads = vec![deck(120.0, width_m, 60.0)];
        let open = || stretch(250.0, speed_kmh / 3.6, 60.0);
        let chain = [open(), open(), under, open(), open()];
        let s = simulate(&chain, &tape, GRID, &profile, 9);
        for figure in [s[2].break_p50_s, s[2].break_p95_s, s[2].longest_break_s] {
            assert!(
                (0.25..=1.0).contains(&figure),
                "{width_m} m at {speed_kmh} km/h: {:?}",
                s[2]
            );
        }
        assert!(
            (0..200).all(|r| breaks(&chain, &tape, GRID, &profile, 9, r).len() == 1),
            "one overpass, one break"
        );
        assert_eq!((s[0].down_s, s[4].down_s), (0.0, 0.0));
        let found = rating(
            s[2].break_p95_s,
            s[2].down_share,
            s[2].down_share_window,
            &profile.rating,
        );
        assert!(found <= Rating::Blips, "{found:?}");
    }
}

#[test]
fn trees_close_on_both_sides_break_from_a_blip_to_a_few_seconds() {
    // A road heading north with crowns to 60 degrees on both sides, dense but with gaps.
    let lane = painted(stretch(2000.0, 14.0, 0.0), |m| {
        paint_canopy(m, 4..32, 60.0, 200);
        paint_canopy(m, 40..68, 60.0, 200);
    });
    let mut profile = profile();
    profile.link.usable_share = 0.5;
    let s = simulate(&[lane], &flying_tape(3000, 20.0, 5), GRID, &profile, 2)[0];
    assert!(s.break_p50_s >= 0.2 && s.break_p50_s <= 5.0, "{s:?}");
    assert!(s.down_share > 0.005 && s.down_share < 0.5, "{s:?}");
}

#[test]
fn no_link_in_a_tunnel() {
    let mut road = stretch(1000.0, 22.0, 0.0);
    road.overheads = vec![waymask::scene::overhead::Overhead {
        left_m: 4.0,
        right_m: 4.0,
        left_closed: true,
        right_closed: true,
        ..deck(-100.0, 1200.0, 0.0)
    }];
    let s = simulate(&[road], &flying_tape(900, 20.0, 6), GRID, &profile(), 2)[0];
    assert_eq!(s.down_share, 1.0);
}
