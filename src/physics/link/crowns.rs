//! What crowns do to one drive, and which drive meets which relation between leaves and decibels.
use super::draw::Draw;
use crate::physics::sky::leaves::LeafOdds;
use crate::profile::Profile;

/// How crowns block on one drive, by step of their attenuation.
#[derive(Debug, Clone)]
pub(super) struct CrownOdds {
    blocked: LeafOdds,
    dimness: [u8; 256],
}

impl CrownOdds {
    pub fn new(blocked: LeafOdds) -> Self {
        let eighths = |level: usize| (blocked.blocked(level as u8) * 255.0).round() as u8 / 32;
        Self { dimness: std::array::from_fn(eighths), blocked }
    }
    /// Probability that crowns hide what stands behind them, anew at every gap length.
    pub fn blocked(&self, level: u8) -> f64 {
        self.blocked.blocked(level)
    }
    /// The same in eighths.
    pub fn dimness(&self, level: u8) -> u8 {
        self.dimness[usize::from(level)]
    }
}

/// What a step of attenuation is on all drives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum LevelKind {
    /// Hides nothing.
    Open,
    /// Hides some of what stands behind it, on some drives.
    Gaps,
    /// Hides all of it.
    Shut,
}

/// The odds of all drives in order of what leaves cost, from least to most.
#[derive(Debug, Clone)]
pub(super) struct DriveOdds {
    strata: Vec<CrownOdds>,
    kinds: [LevelKind; 256],
}

impl DriveOdds {
    /// One stratum per drive of a profile; one for all where the relations are not spread.
    pub fn of(profile: &Profile) -> Self {
        let count = if profile.canopy.between_ln > 0.0 { profile.link.drives.max(1) } else { 1 };
        let share = |k: u32| (f64::from(k) + 0.5) / f64::from(count);
        Self::new((0..count).map(|k| CrownOdds::new(LeafOdds::of_drive(profile, share(k)))).collect())
    }
    /// Of strata, at least one.
    pub fn new(strata: Vec<CrownOdds>) -> Self {
        let kind = |level: usize| {
            let all = |p: f64| strata.iter().all(|odds| odds.blocked(level as u8) == p);
            match () {
                () if all(0.0) => LevelKind::Open,
                () if all(1.0) => LevelKind::Shut,
                () => LevelKind::Gaps,
            }
        };
        Self { kinds: std::array::from_fn(kind), strata }
    }
    /// What a step is on all drives.
    pub fn kind(&self, level: u8) -> LevelKind {
        self.kinds[usize::from(level)]
    }
    /// Those of a stratum.
    pub fn stratum(&self, stratum: u32) -> &CrownOdds {
        &self.strata[stratum as usize % self.strata.len()]
    }
}

/// The stratum of every drive of a stroke: each is met once, in an order that has nothing to do with when drives start. Drives of
/// even number meet even strata, so that either half of them meets leaves of every kind.
pub(super) fn strata(stroke: Draw, drives: u32) -> Vec<u32> {
    /// No drive has this number.
    const STRATA: u64 = u64::MAX;
    let key = stroke.of(STRATA);
    let mut out = vec![0; drives as usize];
    for parity in 0..2.min(drives) {
        let numbers = || (parity..drives).step_by(2);
        let mut shuffled: Vec<(f64, u32)> = numbers().map(|k| (key.of(u64::from(k)).unit(), k)).collect();
        shuffled.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for (nth, (_, stratum)) in numbers().zip(shuffled) {
            out[nth as usize] = stratum;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stratum_is_met_once_and_each_half_meets_its_own() {
        for drives in [1, 2, 3, 64, 255] {
            let met = strata(Draw::root(3), drives);
            let mut sorted = met.clone();
            sorted.sort_unstable();
            assert_eq!(sorted, (0..drives).collect::<Vec<_>>());
            assert!(met.iter().enumerate().all(|(nth, stratum)| nth as u32 % 2 == stratum % 2));
        }
        assert_ne!(strata(Draw::root(3), 64), strata(Draw::root(4), 64));
        // The order of drives along the timeline says nothing of the stratum.
        let n = 4096;
        let met = strata(Draw::root(5), n);
        let middle = f64::from(n - 1) / 2.0;
        let product = |(nth, stratum): (usize, &u32)| (nth as f64 - middle) * (f64::from(*stratum) - middle);
        let correlation = met.iter().enumerate().map(product).sum::<f64>() / (f64::from(n).powi(3) / 12.0);
        assert!(correlation.abs() < 4.0 / f64::from(n).sqrt(), "{correlation}");
    }

    #[test]
    fn drives_in_order_block_more_and_more() {
        let profile = Profile::default();
        let odds = DriveOdds::of(&profile);
        for level in 1..=255 {
            let by_stratum: Vec<f64> = (0..profile.link.drives).map(|k| odds.stratum(k).blocked(level)).collect();
            assert!(by_stratum.is_sorted());
        }
        assert_eq!((odds.kind(0), odds.kind(255), odds.kind(36)), (LevelKind::Open, LevelKind::Shut, LevelKind::Gaps));
    }
}
