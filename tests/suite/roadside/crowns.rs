//! The medians used for crowns against measurements they were not made from.
use waymask::physics::sky::foliage::{fitu_r_bare_db, leaf_db};

use crate::roadside::published::{frequency_factor, leaf_from_bare_db};

/// Leaves on the way through a whole crown, metres; assumed.
const CROWN_PATH_M: f64 = 10.0;
/// One standard deviation between crowns: rms 5 dB of 11 dB as a log-normal spread (Goldhirsh and Vogel 1998).
fn one_spread() -> f64 {
    (1.0 + (5.0_f64 / 11.0).powi(2)).ln().sqrt().exp()
}

#[test]
fn whole_crowns_lie_within_one_spread_of_measured_ones() {
    // Handbook: median 23 dB at 20 GHz; 11 dB at 1.6 GHz, brought to 12 GHz by P.681's frequency scaling.
    let at_12_ghz = 11.0 * frequency_factor(12.0) / frequency_factor(1.6);
    for (frequency_mhz, measured_db) in [(20_000.0, 23.0), (12_000.0, at_12_ghz)] {
        let ratio = leaf_db(frequency_mhz, CROWN_PATH_M) / measured_db;
        assert!((1.0 / one_spread()..one_spread()).contains(&ratio), "{frequency_mhz} MHz: {ratio}");
    }
}

#[test]
fn leaves_add_to_bare_crowns_what_the_seasonal_relation_says() {
    // The relation holds at 20 GHz for bare fades of 1 to 15 dB.
    for path_m in [2.0, 5.0, 10.0, 15.0, 20.0] {
        let bare_db = fitu_r_bare_db(20_000.0, path_m);
        assert!((1.0..15.0).contains(&bare_db));
        let ratio = leaf_db(20_000.0, path_m) / leaf_from_bare_db(bare_db);
        println!("{path_m} m: {ratio:.2}");
        assert!((1.0 / one_spread()..one_spread()).contains(&ratio), "{path_m} m: {ratio}");
    }
}

#[test]
fn the_default_spread_is_that_of_relations_and_crowns() {
    use waymask::physics::sky::foliage::{fitu_r_leaf_db, p833_slant_db, weissberger_db};
    let logs = [weissberger_db(12.0, 10.0), fitu_r_leaf_db(12e3, 10.0), p833_slant_db(12e3, 10.0, 45.0)].map(f64::ln);
    let mean = logs.iter().sum::<f64>() / 3.0;
    let between_relations = logs.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / 2.0;
    let canopy = waymask::profile::Profile::default().canopy;
    // Stored to two digits.
    assert!((canopy.between_ln - between_relations.sqrt()).abs() < 0.005, "{}", between_relations.sqrt());
    assert!((canopy.within_ln - one_spread().ln()).abs() < 0.005, "{}", one_spread().ln());
}

#[test]
fn heights_without_a_tag_are_nominal_clutter_heights() {
    // ITU-R P.452-17, nominal clutter heights: deciduous and mixed trees, coniferous trees, orchards and sparse trees.
    let profile = waymask::profile::Profile::default();
    let trees = &profile.canopy;
    let heights_m = [trees.broadleaved_height_m, trees.needleleaved_height_m, trees.orchard_height_m];
    assert_eq!(heights_m, [15.0, 20.0, 4.0]);
    assert_eq!(trees.crown_diameter_m, super::road::CROWN_DIAMETER_M);
}
