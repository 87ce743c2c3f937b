//! Median attenuation by foliage as one byte, and the probability that it blocks a link.
//!
//! A mask stores what leaves cost in the median, which depends on trees alone. Whether a link gets through depends on its
//! margin and on how far trees scatter: a [`LeafOdds`] turns bytes into probabilities for one margin and one scatter. So masks
//! answer any margin as a new build would.
use super::foliage::{exceeds_margin, normal_quantile};
use crate::profile::Profile;

/// Smallest attenuation told apart from none at all, dB: at the lowest margin that makes sense it blocks nothing.
const SMALLEST_DB: f64 = 0.25;
/// From one step to the next the attenuation grows by this factor: its rounding moves a probability by at most 0.05, by half of that on average.
const STEP: f64 = 1.1;
/// A probability this near to 0 or 1 counts as certain: what shows once in a thousand gaps serves nobody.
const CERTAIN: f64 = 0.001;

/// Step of a median attenuation, dB; 0 where there are no leaves.
pub fn level(median_db: f64) -> u8 {
    if median_db > 0.0 {
        // Casting saturates.
        (1.0 + ((median_db / SMALLEST_DB).ln() / STEP.ln()).round().max(0.0)) as u8
    } else {
        0
    }
}

/// Median attenuation of a step, dB.
pub fn median_db(level: u8) -> f64 {
    if level == 0 { 0.0 } else { SMALLEST_DB * STEP.powi(i32::from(level) - 1) }
}

/// Probability that leaves block, by step of their median attenuation.
#[derive(Debug, Clone, PartialEq)]
pub struct LeafOdds {
    blocked: [f64; 256],
}

impl LeafOdds {
    /// For a margin, dB, and a scatter of the logarithm of attenuation around its median.
    pub fn new(margin_db: f64, scatter_ln: f64) -> Self {
        Self { blocked: std::array::from_fn(|step| exceeds_margin(median_db(step as u8), margin_db, scatter_ln)) }
    }

    /// Over all drives: relations and crowns both scatter.
    pub fn of(profile: &Profile) -> Self {
        let canopy = &profile.canopy;
        Self::new(profile.link.margin_db, canopy.between_ln.hypot(canopy.within_ln))
    }

    /// For the drive that meets the relation at a share, 0..1, of the drives in order of what leaves cost: what differs
    /// between published relations is the same all along a road.
    pub fn of_drive(profile: &Profile, share: f64) -> Self {
        let canopy = &profile.canopy;
        let shift = (canopy.between_ln * normal_quantile(share)).exp();
        let odds = Self::new(profile.link.margin_db / shift, canopy.within_ln);
        Self { blocked: odds.blocked.map(settled) }
    }

    /// Of probabilities by step.
    pub fn from_fn(of: impl FnMut(usize) -> f64) -> Self {
        Self { blocked: std::array::from_fn(of) }
    }

    /// Probability that leaves of a step block.
    pub fn blocked(&self, level: u8) -> f64 {
        self.blocked[usize::from(level)]
    }
}

fn settled(probability: f64) -> f64 {
    match probability {
        p if p < CERTAIN => 0.0,
        p if p > 1.0 - CERTAIN => 1.0,
        p => p,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_keep_a_median_within_five_percent() {
        assert_eq!((level(0.0), level(-1.0), level(f64::NAN), level(1e-9)), (0, 0, 0, 1));
        assert_eq!(level(f64::INFINITY), 255);
        for k in 0..500 {
            let db = 0.25 * 1.0113_f64.powi(k);
            assert!((median_db(level(db)) / db - 1.0).abs() < 0.0501, "{db}");
        }
        for step in 1..=255 {
            assert_eq!(level(median_db(step)), step);
        }
    }

    #[test]
    fn the_mean_over_drives_is_what_all_of_them_scatter() {
        // A normal spread of means around normal scatter is normal, variances added.
        let profile = Profile::default();
        let all = LeafOdds::of(&profile);
        for step in [10, 20, 28, 32, 36, 40, 48] {
            let n = 4000;
            let of = |k: i32| LeafOdds::of_drive(&profile, (f64::from(k) + 0.5) / f64::from(n)).blocked(step);
            let mean = (0..n).map(of).sum::<f64>() / f64::from(n);
            assert!((mean - all.blocked(step)).abs() < 1e-3, "{step}: {mean} {}", all.blocked(step));
        }
    }

    #[test]
    fn no_leaves_never_block_and_a_larger_margin_blocks_less() {
        let (small, large) = (LeafOdds::new(5.0, 0.7), LeafOdds::new(8.0, 0.7));
        assert_eq!((small.blocked(0), LeafOdds::of_drive(&Profile::default(), 0.99).blocked(0)), (0.0, 0.0));
        assert!((1..=255).all(|s| large.blocked(s) <= small.blocked(s) && small.blocked(s - 1) <= small.blocked(s)));
        // Half of what costs as much as the margin blocks.
        assert!((small.blocked(level(5.0)) - 0.5).abs() < 0.03);
    }
}
