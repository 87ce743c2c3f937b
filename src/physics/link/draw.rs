//! Random numbers by name instead of by order: a draw is a hash of what it is for.
//!
//! So a satellite's fortune does not depend on how many draws came before it, and two runs that
//! differ by one obstacle share all other draws. Mixing is the output function of SplitMix64
//! (Steele, Lea and Flood 2014, "Fast splittable pseudorandom number generators").

/// A point in the tree of draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Draw(u64);

/// The odd number nearest to 2^64 over the golden ratio.
const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;

fn mix(word: u64) -> u64 {
    let z = (word ^ (word >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

impl Draw {
    /// The root of all draws of a seed.
    pub fn root(seed: u64) -> Self {
        Self(mix(seed.wrapping_add(GOLDEN)))
    }
    /// The branch of a name under this one.
    #[must_use]
    pub fn of(self, name: u64) -> Self {
        Self(mix(self.0.wrapping_mul(GOLDEN) ^ mix(name.wrapping_add(GOLDEN))))
    }
    /// A number evenly spread in 0..1, never 1.
    pub fn unit(self) -> f64 {
        // 53 bits are what an f64 holds.
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn siblings_are_evenly_spread_and_unrelated() {
        let key = Draw::root(7).of(3);
        let n = 20_000_u64;
        let units: Vec<f64> = (0..n).map(|i| key.of(i).unit()).collect();
        let mean = units.iter().sum::<f64>() / n as f64;
        let lagged = units.windows(2).map(|w| (w[0] - 0.5) * (w[1] - 0.5)).sum::<f64>() / n as f64;
        // Four standard errors: 1/sqrt(12 n) and 1/(12 sqrt n).
        assert!((mean - 0.5).abs() < 4.0 / (12.0 * n as f64).sqrt(), "{mean}");
        assert!(lagged.abs() < 4.0 / (12.0 * (n as f64).sqrt()), "{lagged}");
    }

    #[test]
    fn the_order_of_names_matters() {
        let root = Draw::root(1);
        assert_ne!(root.of(1).of(2), root.of(2).of(1));
        assert_ne!(Draw::root(1).of(0), Draw::root(0).of(1));
    }
}
