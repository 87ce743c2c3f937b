//! Blocking by metres of crown along a ray, and the step that a mask stores for the rays of a cell.
use super::foliage::{blocked_probability, exceeds_margin, leaf_share};
use super::leaves::median_db;
use crate::physics::scene::trees::crown::Foliage;
use crate::profile::CanopyProfile;

/// Steps per metre of the tables.
const PER_M: f32 = 32.0;
/// Longest path in the tables, metres; longer ones count as this long (35 dB in leaf).
const LONGEST_M: f32 = 64.0;

/// Margin and scatter at which rays are averaged: those of the default profile, whatever the profile, so that masks
/// depend on trees alone. Ray by ray attenuations differ from nothing to tens of decibels, and only what each of them blocks
/// has a mean that means anything.
const MEAN_AT: (f64, f64) = (5.0, 0.7);

/// Blocking probabilities by path length at [`MEAN_AT`], tabulated for one season.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BlockedTable {
    leaf: Vec<f32>,
    bare: Vec<f32>,
    leaf_shares: [f32; 4],
    /// Probability from which on each step is the nearest.
    from: [f32; 256],
    /// A step at or below the nearest, by probability: every cell of every mask asks for one.
    near: Vec<u8>,
}

/// Parts of the probabilities in `near`.
const NEAR: usize = 4096;

impl BlockedTable {
    /// Tables for a profile's trees.
    pub fn new(canopy: &CanopyProfile) -> Self {
        let table = |part: fn(f64) -> (f64, f64)| {
            let at = |i: usize| {
                let (leaf_m, bare_m) = part(i as f64 / f64::from(PER_M));
                blocked_probability(leaf_m, bare_m, MEAN_AT.0, MEAN_AT.1) as f32
            };
            (0..=(LONGEST_M * PER_M) as usize + 1).map(at).collect()
        };
        let leaf_shares = Foliage::ALL.map(|f| leaf_share(canopy.season, f));
        // Between two steps the middle of their logarithms decides; anything at all is the first.
        let from = std::array::from_fn(|step| match step {
            0 | 1 => f32::MIN_POSITIVE,
            _ => {
                let middle_db = (median_db(step as u8 - 1) * median_db(step as u8)).sqrt();
                exceeds_margin(middle_db, MEAN_AT.0, MEAN_AT.1) as f32
            }
        });
        let nearest = |probability: f32| (from.partition_point(|from| *from <= probability).max(1) - 1) as u8;
        let near = (0..=NEAR).map(|part| nearest(part as f32 / NEAR as f32)).collect();
        Self { leaf: table(|d| (d, 0.0)), bare: table(|d| (0.0, d)), leaf_shares, from, near }
    }
    /// Step of the median attenuation that blocks with a probability at [`MEAN_AT`].
    pub fn level(&self, probability: f32) -> u8 {
        if probability <= 0.0 {
            return 0;
        }
        // No path costs more than the longest in the tables.
        let part = (probability * NEAR as f32) as usize;
        let mut step = self.near[part.min(NEAR)];
        while step < u8::MAX && self.from[usize::from(step) + 1] <= probability {
            step += 1;
        }
        step
    }
    /// Share of a crown in leaf.
    pub(crate) fn leaf_share(&self, foliage: Foliage) -> f32 {
        self.leaf_shares[foliage as usize]
    }
    /// Probability 0..=1 that a path blocks, metres in leaf and bare.
    pub fn blocked(&self, leaf_m: f32, bare_m: f32) -> f32 {
        if bare_m <= 0.0 {
            lookup(&self.leaf, leaf_m)
        } else if leaf_m <= 0.0 {
            lookup(&self.bare, bare_m)
        } else {
            blocked_probability(f64::from(leaf_m), f64::from(bare_m), MEAN_AT.0, MEAN_AT.1) as f32
        }
    }
}

fn lookup(table: &[f32], path_m: f32) -> f32 {
    let at = path_m.clamp(0.0, LONGEST_M) * PER_M;
    let i = at as usize;
    table[i] + (at - i as f32) * (table[i + 1] - table[i])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::Profile;

    #[test]
    fn the_table_follows_the_formula() {
        let profile = Profile::default();
        let table = BlockedTable::new(&profile.canopy);
        for i in 1..2_000 {
            let d = f64::from(i) * 0.03;
            let want = blocked_probability(d, 0.0, MEAN_AT.0, MEAN_AT.1);
            // Straight lines between steps: half a stored step (1/255) off at most; where the curve lifts off from 0, one and a half.
            assert!(
                (f64::from(table.blocked(d as f32, 0.0)) - want).abs() < 0.002 + 0.004 * f64::from(u8::from(d < 0.2))
            );
        }
        assert_eq!(table.blocked(0.0, 0.0), 0.0);
        assert_eq!(table.blocked(1e6, 0.0), table.blocked(64.0, 0.0));
    }

    #[test]
    fn a_cell_gets_the_step_that_blocks_as_much_as_its_rays() {
        let table = BlockedTable::new(&Profile::default().canopy);
        assert_eq!((table.level(0.0), table.level(1e-12)), (0, 1));
        for k in 1..1000 {
            let probability = f64::from(k) / 1000.0;
            let back = exceeds_margin(median_db(table.level(probability as f32)), MEAN_AT.0, MEAN_AT.1);
            // Half a step of the attenuation, at the steepest: 0.048 / 0.7 of a density of 0.4.
            assert!((back - probability).abs() < 0.0285, "{probability} {back}");
        }
        // Steps are looked for from one nearby, and are those that a search among all finds.
        for k in 0..=100_000 {
            let probability = (k as f32 / 100_000.0).powi(3);
            let all = table.from.iter().filter(|from| **from <= probability).count().max(1) - 1;
            assert_eq!(usize::from(table.level(probability)), all, "{probability}");
        }
        // A ray's own attenuation comes back where all rays of the cell are alike.
        for path_m in [0.5, 2.0, 5.0, 10.0, 30.0] {
            let level = table.level(table.blocked(path_m, 0.0));
            let own = crate::physics::sky::foliage::attenuation_db(f64::from(path_m), 0.0);
            assert!((median_db(level) / own - 1.0).abs() < 0.055, "{path_m} m");
        }
    }
}
