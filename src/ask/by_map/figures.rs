//! Figures of a stretch of road in one direction, added up.
use crate::base::words::Rating;
use crate::layer::model::{Driven, SegmentRow};

/// What segments and shares of segments add up to.
#[derive(Debug, Clone, Copy)]
pub(super) struct DriveSum {
    pub length_m: f64,
    pub time_s: f64,
    pub outage_s: f64,
    /// Of the length, where a cause could not be known.
    pub not_known_m: f64,
    /// The worst.
    pub rating: Rating,
    /// Speed of the first segment: that of a stretch too short to have one.
    first_kmh: f64,
}

impl DriveSum {
    /// A share of a segment; a second without a link counts as `outage_weight` seconds of driving.
    pub fn of(row: &SegmentRow, driven: &Driven, share: f64, outage_weight: f64) -> Self {
        let [length_m, time_s, outage_s] = [row.length_m, driven.time_s, driven.outage_s];
        let first_kmh = speed_kmh([length_m, time_s, outage_s], outage_weight).unwrap_or(row.speed_kmh);
        let [length_m, time_s, outage_s] = [length_m, time_s, outage_s].map(|figure| figure * share);
        let not_known_m = if driven.rating_worst.is_none() { length_m } else { 0.0 };
        Self { length_m, time_s, outage_s, not_known_m, rating: driven.rating, first_kmh }
    }
    /// With what follows.
    pub fn and(self, other: Self) -> Self {
        Self {
            length_m: self.length_m + other.length_m,
            time_s: self.time_s + other.time_s,
            outage_s: self.outage_s + other.outage_s,
            not_known_m: self.not_known_m + other.not_known_m,
            rating: self.rating.max(other.rating),
            first_kmh: self.first_kmh,
        }
    }
    /// The speed at which driving takes `time_s + outage_weight * outage_s`.
    pub fn speed_kmh(&self, outage_weight: f64) -> f64 {
        speed_kmh([self.length_m, self.time_s, self.outage_s], outage_weight).unwrap_or(self.first_kmh)
    }
}

/// Nothing where length or time are less than the layer keeps.
fn speed_kmh([length_m, time_s, outage_s]: [f64; 3], outage_weight: f64) -> Option<f64> {
    (length_m > 0.0 && time_s > 0.0).then(|| 3.6 * length_m / (time_s + outage_weight * outage_s))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn segment(length_m: f64) -> SegmentRow {
        SegmentRow { length_m, speed_kmh: 50.0, ..SegmentRow::default() }
    }

    #[test]
    fn the_speed_is_that_of_the_time_asked_for() {
        let driven = Driven { time_s: 10.0, outage_s: 4.0, rating: Rating::Gaps, ..Driven::default() };
        for (outage_weight, kmh) in [(0.0, 36.0), (1.0, 360.0 / 14.0), (2.5, 18.0)] {
            let half = DriveSum::of(&segment(100.0), &driven, 0.5, outage_weight);
            assert_eq!((half.length_m, half.time_s, half.outage_s, half.not_known_m), (50.0, 5.0, 2.0, 50.0));
            assert!((half.speed_kmh(outage_weight) - kmh).abs() < 1e-9);
            let rating_worst = Some(Rating::Gaps);
            let other = Driven { time_s: 5.0, rating: Rating::Blips, rating_worst, ..Driven::default() };
            let both = half.and(DriveSum::of(&segment(100.0), &other, 1.0, outage_weight));
            assert!((both.speed_kmh(outage_weight) - 3.6 * 150.0 / (10.0 + outage_weight * 2.0)).abs() < 1e-9);
            assert_eq!((both.rating, both.not_known_m), (Rating::Gaps, 50.0));
        }
    }

    #[test]
    fn what_is_too_short_has_the_speed_of_its_segment() {
        let driven = Driven { time_s: 10.0, outage_s: 5.0, ..Driven::default() };
        assert_eq!(DriveSum::of(&segment(100.0), &driven, 0.0, 2.0).speed_kmh(2.0), 18.0);
        assert_eq!(DriveSum::of(&segment(0.0), &Driven::default(), 1.0, 2.0).speed_kmh(2.0), 50.0);
        assert_eq!(DriveSum::of(&segment(0.01), &Driven::default(), 1.0, 0.0).speed_kmh(0.0), 50.0);
    }
}
