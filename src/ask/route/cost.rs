//! What a way costs, in whole milliseconds: sums and comparisons are exact, so equal ways are equal.
use std::ops::{Add, AddAssign};

/// Driving time and expected time without a link.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Totals {
    /// Driving time, milliseconds.
    pub time_ms: u64,
    /// Expected time without a link, milliseconds.
    pub outage_ms: u64,
}

impl Totals {
    /// From seconds as the layer stores them; what is not a time counts as 0.
    pub(crate) fn of_seconds(time_s: f64, outage_s: f64) -> Self {
        let ms = |s: f64| (s.max(0.0) * 1e3).round() as u64;
        Self { time_ms: ms(time_s), outage_ms: ms(outage_s) }
    }
    /// Driving time, seconds.
    pub fn time_s(self) -> f64 {
        self.time_ms as f64 / 1e3
    }
    /// Expected time without a link, seconds.
    pub fn outage_s(self) -> f64 {
        self.outage_ms as f64 / 1e3
    }
    /// At least as good in both and better in one.
    pub fn dominates(self, other: Self) -> bool {
        self != other && self.time_ms <= other.time_ms && self.outage_ms <= other.outage_ms
    }
}

impl Add for Totals {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { time_ms: self.time_ms + other.time_ms, outage_ms: self.outage_ms + other.outage_ms }
    }
}

impl AddAssign for Totals {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

/// What a millisecond of each counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Weights {
    /// Of driving.
    pub time: u64,
    /// Without a link.
    pub outage: u64,
}

impl Weights {
    /// Driving time alone; of equal ones the steadier way.
    pub const FASTEST: Self = Self { time: 1, outage: 0 };
    /// Time without a link alone; of equal ones the faster way.
    pub const STEADIEST: Self = Self { time: 0, outage: 1 };

    /// `time_s + k * outage_s`; `k` to a millionth.
    pub fn of_k(k: f64) -> Self {
        Self { time: 1_000_000, outage: (k.max(0.0) * 1e6).round() as u64 }
    }
    /// What makes two ways equal, the first faster, the second steadier.
    pub fn between(fast: Totals, steady: Totals) -> Self {
        Self { time: fast.outage_ms - steady.outage_ms, outage: steady.time_ms - fast.time_ms }
    }
    /// The weighted sum.
    pub fn sum(self, t: Totals) -> u128 {
        u128::from(self.time) * u128::from(t.time_ms) + u128::from(self.outage) * u128::from(t.outage_ms)
    }
    /// The weighted sum, and what decides between equal ones.
    pub fn cost(self, t: Totals) -> Cost {
        Cost { sum: self.sum(t), tie: if self.time == 0 { t.time_ms } else { t.outage_ms } }
    }
}

/// What a search makes as small as it can.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Cost {
    sum: u128,
    tie: u64,
}

impl Add for Cost {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { sum: self.sum + other.sum, tie: self.tie + other.tie }
    }
}
