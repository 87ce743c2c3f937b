//! From metres of foliage to the probability that a link is blocked.
//!
//! Pure published relations, decibels from metres, and the step from there to a probability. In leaf three relations
//! hold at 12 GHz; they differ by a factor of five over 5 m of leaves and of three over 10 m, and the median taken is
//! their geometric mean. Without leaves there is one. Trees scatter around the median, so the answer is a probability
//! and no field of decibels. [`super::canopy`] compares the result with measured roads.
use crate::physics::scene::trees::crown::Foliage;
use crate::profile::Season;

/// Frequency of the downlink, MHz: the middle of the 10.7-12.7 GHz band, rounded up; assumed.
pub(crate) const FREQUENCY_MHZ: f64 = 12_000.0;

/// Elevation for which the slant relation is taken, degrees: from 25 to 90 degrees it moves by 6 %.
const MIDDLE_ELEVATION_DEG: f64 = 45.0;

/// FITU-R in leaf, decibels: `0.39 f^0.39 d^0.25`, fitted at 11.2 and 20 GHz (M. O. Al-Nuaimi and R. B. L. Stephens, IEE
/// Proceedings Microwaves, Antennas and Propagation 145, 1998; compared with papers and programs that reprint it, not with
/// the article).
pub fn fitu_r_leaf_db(frequency_mhz: f64, path_m: f64) -> f64 {
    0.39 * frequency_mhz.powf(0.39) * path_m.powf(0.25)
}

/// FITU-R without leaves, decibels: `0.37 f^0.18 d^0.59`, same source; no reprint of this one was found, it is from memory.
pub fn fitu_r_bare_db(frequency_mhz: f64, path_m: f64) -> f64 {
    0.37 * frequency_mhz.powf(0.18) * path_m.powf(0.59)
}

/// Where Weissberger's relation changes its form, metres.
const WEISSBERGER_STEP_M: f64 = 14.0;

/// Weissberger's modified exponential decay, decibels, dense dry trees in leaf, 0.23-95 GHz, up to 400 m (M. A.
/// Weissberger, ECAC-TR-81-101, 1982, as reprinted by J. S. Seybold, Introduction to RF Propagation, Wiley 2005, and in
/// Wikipedia, Weissberger's model). It steps down by 0.05 dB at 14 m.
pub fn weissberger_db(frequency_ghz: f64, path_m: f64) -> f64 {
    let f = frequency_ghz.powf(0.284);
    if path_m > WEISSBERGER_STEP_M { 1.33 * f * path_m.powf(0.588) } else { 0.45 * f * path_m }
}

/// Slant path through foliage, decibels (ITU-R P.833-10, pine woodland in Austria: A 0.25, B 0.39, C 0.25,
/// E 0, G 0.05); elevation in degrees.
pub fn p833_slant_db(frequency_mhz: f64, path_m: f64, elevation_deg: f64) -> f64 {
    0.25 * frequency_mhz.powf(0.39) * path_m.powf(0.25) * elevation_deg.powf(0.05)
}

/// Median attenuation in leaf, decibels: the geometric mean of Weissberger, FITU-R and ITU-R P.833-10.
///
/// None of them is better founded than the others; FITU-R alone, the highest, gives 33 dB for 10 m of leaves at 20 GHz,
/// where whole crowns have been measured at 23 dB in the median (Goldhirsh and Vogel 1998); the mean gives 21 dB.
pub fn leaf_db(frequency_mhz: f64, path_m: f64) -> f64 {
    let frequency_ghz = frequency_mhz / 1000.0;
    // More leaves never block less: the step down at 14 m is filled in.
    let weissberger =
        weissberger_db(frequency_ghz, path_m).max(weissberger_db(frequency_ghz, path_m.min(WEISSBERGER_STEP_M)));
    let p833 = p833_slant_db(frequency_mhz, path_m, MIDDLE_ELEVATION_DEG);
    (weissberger * fitu_r_leaf_db(frequency_mhz, path_m) * p833).cbrt()
}

/// Share of a crown that is in leaf in a season.
pub(crate) fn leaf_share(season: Season, foliage: Foliage) -> f32 {
    match (foliage, season) {
        (Foliage::Leafless, _) => 0.0,
        (Foliage::Evergreen, _) | (_, Season::LeafOn) => 1.0,
        (Foliage::Mixed, Season::LeafOff) => 0.5,
        (Foliage::Deciduous, Season::LeafOff) => 0.0,
    }
}

/// Median attenuation of a path in leaf or bare, decibels. Below one metre it is drawn straight to 0:
/// the power laws have no meaning there.
fn path_db(path_m: f64, law: fn(f64, f64) -> f64) -> f64 {
    if path_m <= 0.0 {
        0.0
    } else if path_m < 1.0 {
        path_m * law(FREQUENCY_MHZ, 1.0)
    } else {
        law(FREQUENCY_MHZ, path_m)
    }
}

/// Median attenuation of a path of which a part is in leaf and the rest bare, decibels.
///
/// The bare part adds what the bare law adds to a path that is already as long as the leafy part, and never
/// more than leaves would (derived here: the laws are not additive; this keeps both ends and never falls
/// when either part grows).
pub(crate) fn attenuation_db(leaf_m: f64, bare_m: f64) -> f64 {
    let all_m = leaf_m + bare_m;
    let bare = |d| path_db(d, fitu_r_bare_db);
    let leaf = |d| path_db(d, leaf_db);
    (leaf(leaf_m) + bare(all_m) - bare(leaf_m)).min(leaf(all_m).max(bare(all_m)))
}

/// Probability that an attenuation whose logarithm scatters with `spread_ln` around its median exceeds
/// a margin.
pub(crate) fn exceeds_margin(median_db: f64, margin_db: f64, spread_ln: f64) -> f64 {
    if median_db <= 0.0 {
        return 0.0;
    }
    if margin_db <= 0.0 {
        return 1.0;
    }
    let over = (median_db / margin_db).ln();
    if spread_ln <= 0.0 { if over > 0.0 { 1.0 } else { 0.0 } } else { normal_cdf(over / spread_ln) }
}

/// Probability 0..=1 that a path blocks; `leaf_m` of it in leaf, `bare_m` bare, metres.
pub fn blocked_probability(leaf_m: f64, bare_m: f64, margin_db: f64, spread_ln: f64) -> f64 {
    exceeds_margin(attenuation_db(leaf_m, bare_m), margin_db, spread_ln)
}

/// Normal distribution function (Abramowitz and Stegun 7.1.26, error below 1.5e-7).
fn normal_cdf(z: f64) -> f64 {
    let x = z.abs() / std::f64::consts::SQRT_2;
    let t = 1.0 / (1.0 + 0.327_591_1 * x);
    let poly =
        t * (0.254_829_592 + t * (-0.284_496_736 + t * (1.421_413_741 + t * (-1.453_152_027 + t * 1.061_405_429))));
    let erfc = poly * (-x * x).exp();
    if z > 0.0 { 1.0 - erfc / 2.0 } else { erfc / 2.0 }
}

/// Quantile of the normal distribution, by halving the interval in which it lies; a share outside 0..1 is an end of it.
pub(crate) fn normal_quantile(share: f64) -> f64 {
    let (mut low, mut high) = (-8.0, 8.0);
    while high - low > 1e-9 {
        let middle = (low + high) / 2.0;
        if normal_cdf(middle) < share { low = middle } else { high = middle }
    }
    (low + high) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The published relations are checked to the digits the reference rows were computed with.
    const DB: f64 = 1e-3;

    #[test]
    fn published_relations_at_12_ghz() {
        // Rows derived from the formulas of ITU-R P.833-10, Weissberger and FITU-R.
        for (angle, want) in [(25.0, 20.357), (40.0, 20.841), (60.0, 21.268)] {
            assert!((p833_slant_db(12_000.0, 10.0, angle) - want).abs() < DB);
        }
        let weissberger =
            [(5.0, 4.5569), (10.0, 9.1138), (14.0, 12.7593), (20.0, 15.680), (50.0, 26.874), (400.0, 91.275)];
        for (d, want) in weissberger {
            assert!((weissberger_db(12.0, d) - want).abs() < DB, "{d} m: {}", weissberger_db(12.0, d));
        }
        assert!((weissberger_db(12.0, 14.0 + 1e-9) - 12.714).abs() < DB);
        for (d, leaf, bare) in [(5.0, 22.735, 5.186), (10.0, 27.036, 7.806), (20.0, 32.152, 11.751)] {
            assert!((fitu_r_leaf_db(12_000.0, d) - leaf).abs() < DB);
            assert!((fitu_r_bare_db(12_000.0, d) - bare).abs() < DB);
        }
    }

    #[test]
    fn the_median_in_leaf_is_the_geometric_mean_of_three_relations() {
        for (d, weissberger, fitu_r) in [(5.0, 4.5569, 22.735), (10.0, 9.1138, 27.036), (20.0, 15.680, 32.152)] {
            let p833 = 0.25 * 12_000_f64.powf(0.39) * f64::powf(d, 0.25) * 45_f64.powf(0.05);
            assert!((leaf_db(12_000.0, d) - (weissberger * fitu_r * p833).powf(1.0 / 3.0)).abs() < DB);
        }
        // Weissberger steps down at 14 m, the median does not.
        let lengths: Vec<f64> = (1..4000).map(|i| f64::from(i) * 0.01).collect();
        assert!(lengths.windows(2).all(|d| leaf_db(12_000.0, d[0]) <= leaf_db(12_000.0, d[1])));
    }

    #[test]
    fn normal_distribution_against_table_values() {
        // Standard normal table.
        for (z, p) in [(0.0, 0.5), (1.0, 0.841_345), (-1.96, 0.024_998), (3.0, 0.998_650)] {
            assert!((normal_cdf(z) - p).abs() < 1e-6);
        }
    }

    #[test]
    fn half_of_the_paths_at_the_margin_block_and_none_without_trees() {
        assert_eq!(blocked_probability(0.0, 0.0, 5.0, 0.7), 0.0);
        let at_margin = 5.0 / leaf_db(FREQUENCY_MHZ, 1.0);
        assert!((blocked_probability(at_margin, 0.0, 5.0, 0.7) - 0.5).abs() < 1e-6);
        // Ten metres of crown in leaf block, five probably, bare ones are marginal: all three relations say so.
        assert!(blocked_probability(10.0, 0.0, 5.0, 0.7) > 0.95);
        assert!((0.8..0.95).contains(&blocked_probability(5.0, 0.0, 5.0, 0.7)));
        let bare = blocked_probability(0.0, 5.0, 5.0, 0.7);
        assert!((0.4..0.7).contains(&bare), "{bare}");
        assert_eq!(blocked_probability(1.0, 0.0, 5.0, 0.0), 1.0);
        assert_eq!(blocked_probability(0.1, 0.0, 5.0, 0.0), 0.0);
    }

    #[test]
    fn more_path_and_more_leaves_never_block_less() {
        let lengths = [0.0, 0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 60.0, 200.0];
        for leaf in lengths {
            for bare in lengths {
                let a = attenuation_db(leaf, bare);
                assert!(attenuation_db(leaf + 0.5, bare) >= a - 1e-9, "{leaf} {bare}");
                assert!(attenuation_db(leaf, bare + 0.5) >= a - 1e-9, "{leaf} {bare}");
                assert!(a <= attenuation_db(leaf + bare, 0.0).max(attenuation_db(0.0, leaf + bare)) + 1e-9);
            }
        }
    }

    #[test]
    fn only_leaves_that_fall_follow_the_season() {
        for (foliage, on, off) in [
            (Foliage::Evergreen, 1.0, 1.0),
            (Foliage::Mixed, 1.0, 0.5),
            (Foliage::Deciduous, 1.0, 0.0),
            (Foliage::Leafless, 0.0, 0.0),
        ] {
            assert_eq!((leaf_share(Season::LeafOn, foliage), leaf_share(Season::LeafOff, foliage)), (on, off));
        }
    }
}
