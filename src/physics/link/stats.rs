//! From the outages of many drives to statistics per stretch.
use super::model::OutageStats;
use super::road::{Leg, StrokeRoad};

/// Time on a stretch below which an outage does not touch it, seconds: rounding at shared borders.
const TOUCH_S: f64 = 1e-6;

/// A span without a link, in seconds of driving since the start of the stroke.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outage {
    /// When the link is lost.
    pub start_s: f64,
    /// When it returns, or the end of the stroke.
    pub end_s: f64,
}

impl Outage {
    /// Length, seconds.
    pub fn length_s(&self) -> f64 {
        self.end_s - self.start_s
    }
}

/// Sums over drives, per stretch.
pub(super) struct DriveTally {
    drives: usize,
    outage_s: Vec<f64>,
    outages: Vec<u64>,
    /// Edges of blips, gaps and drops, seconds.
    edges_s: [f64; 3],
    /// Outages longer than these that begin here.
    beyond: Vec<[u64; 3]>,
    /// Longest outage that touches, seconds: all drives of the first stretch, then of the next.
    longest_s: Vec<f64>,
}

impl DriveTally {
    pub fn new(road: &StrokeRoad, drives: usize, edges_s: [f64; 3]) -> Self {
        let n = road.legs.len();
        Self {
            drives,
            outage_s: vec![0.0; n],
            outages: vec![0; n],
            edges_s,
            beyond: vec![[0; 3]; n],
            longest_s: vec![0.0; n * drives],
        }
    }

    /// Adds the outages of one drive, which must be in order.
    pub fn add(&mut self, road: &StrokeRoad, nth: usize, outages: &[Outage]) {
        let mut first = 0;
        for span in outages {
            while road.legs.get(first).is_some_and(|leg| leg.end_s <= span.start_s) {
                first += 1;
            }
            if let Some(beyond) = self.beyond.get_mut(first) {
                for (count, edge_s) in beyond.iter_mut().zip(self.edges_s) {
                    *count += u64::from(span.length_s() > edge_s);
                }
            }
            for (i, leg) in road.legs.iter().enumerate().skip(first).take_while(|(_, leg)| leg.start_s < span.end_s) {
                let on_leg_s = span.end_s.min(leg.end_s) - span.start_s.max(leg.start_s);
                self.outage_s[i] += on_leg_s;
                if on_leg_s > TOUCH_S {
                    self.outages[i] += 1;
                    let longest_s = &mut self.longest_s[i * self.drives + nth];
                    *longest_s = longest_s.max(span.length_s());
                }
            }
        }
    }

    /// The statistics, with the windowed outage share over `window_s` of driving.
    pub fn finish(mut self, road: &StrokeRoad, window_s: f64) -> Vec<OutageStats> {
        let drives = self.drives as f64;
        let shares: Vec<f64> = std::iter::zip(&road.legs, &self.outage_s)
            .map(|(leg, outage_s)| share(outage_s / drives, leg.duration_s()))
            .collect();
        let outage_time = OutageTime::new(&road.legs, &shares);
        let mut stats = Vec::with_capacity(road.legs.len());
        for (i, leg) in road.legs.iter().enumerate() {
            let longest_s = &mut self.longest_s[i * self.drives..(i + 1) * self.drives];
            longest_s.sort_by(f64::total_cmp);
            let driven_10km = drives * leg.length_m() / 10_000.0;
            stats.push(OutageStats {
                outage_share: shares[i],
                outage_s: self.outage_s[i] / drives,
                outage_share_window: outage_time.windowed(leg, window_s),
                outages_per_10km: if driven_10km > 0.0 { self.outages[i] as f64 / driven_10km } else { 0.0 },
                outage_p50_s: percentile(longest_s, 0.5),
                outage_p95_s: percentile(longest_s, 0.95),
                longest_outage_s: longest_s.iter().sum::<f64>() / drives,
                beyond: self.beyond[i].map(|count| count as f64 / drives),
            });
        }
        stats
    }
}

fn share(outage_s: f64, driven_s: f64) -> f64 {
    if driven_s > 0.0 { (outage_s / driven_s).clamp(0.0, 1.0) } else { 0.0 }
}

/// Nearest-rank percentile of sorted values: the smallest that at least the given share of them does
/// not exceed.
fn percentile(sorted: &[f64], rank: f64) -> f64 {
    // The small amount keeps 0.95 * 20 = 19.000000000000004 at rank 19.
    let nth = (rank * sorted.len() as f64 - 1e-9).ceil().max(1.0) as usize;
    sorted.get(nth - 1).copied().unwrap_or(0.0)
}

/// Expected outage time up to any moment of a stroke, assumed even within each stretch.
struct OutageTime<'a> {
    legs: &'a [Leg<'a>],
    shares: &'a [f64],
    /// Seconds without a link before each leg.
    before_s: Vec<f64>,
}

impl<'a> OutageTime<'a> {
    fn new(legs: &'a [Leg<'a>], shares: &'a [f64]) -> Self {
        let mut sum_s = 0.0;
        let mut before_s = Vec::with_capacity(legs.len());
        for (leg, share) in std::iter::zip(legs, shares) {
            before_s.push(sum_s);
            sum_s += share * leg.duration_s();
        }
        Self { legs, shares, before_s }
    }

    fn until_s(&self, time_s: f64) -> f64 {
        let i = self.legs.partition_point(|leg| leg.start_s <= time_s).saturating_sub(1);
        let Some(leg) = self.legs.get(i) else {
            return 0.0;
        };
        self.before_s[i] + self.shares[i] * (time_s.min(leg.end_s) - leg.start_s)
    }

    /// Outage share over a leg and as much before as behind it as makes up the window; where the stroke
    /// ends on one side, the other side gives the rest.
    fn windowed(&self, leg: &Leg, window_s: f64) -> f64 {
        let stroke_end_s = self.legs.last().map_or(0.0, |last| last.end_s);
        let margin_s = ((window_s - leg.duration_s()) / 2.0).max(0.0);
        let wanted_s = leg.duration_s() + 2.0 * margin_s;
        let from_s = (leg.start_s - margin_s).min(stroke_end_s - wanted_s).max(0.0);
        let to_s = (leg.end_s + margin_s).max(wanted_s).min(stroke_end_s);
        share(self.until_s(to_s) - self.until_s(from_s), to_s - from_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::link::model::Stretch;

    fn stretch(length_m: f64, speed_mps: f64) -> Stretch {
        Stretch { length_m, speed_mps, masks: vec![], headings_deg: vec![], overheads: vec![] }
    }

    fn stats(stroke: &[Stretch], drives: &[Vec<Outage>], window_s: f64) -> Vec<OutageStats> {
        let road = StrokeRoad::new(stroke, 25.0);
        let mut tally = DriveTally::new(&road, drives.len(), [0.5, 2.0, 5.0]);
        for (nth, outages) in drives.iter().enumerate() {
            tally.add(&road, nth, outages);
        }
        tally.finish(&road, window_s)
    }

    #[test]
    fn an_outage_belongs_whole_to_every_stretch_it_touches() {
        let stroke = vec![stretch(100.0, 10.0), stretch(100.0, 20.0), stretch(100.0, 10.0)];
        // Stretches take 0..10, 10..15 and 15..25 s.
        let drives = [vec![Outage { start_s: 2.0, end_s: 3.0 }, Outage { start_s: 9.0, end_s: 15.0 }], vec![]];
        let s = stats(&stroke, &drives, 0.0);
        assert_eq!([s[0].outage_s, s[1].outage_s, s[2].outage_s], [1.0, 2.5, 0.0]);
        assert_eq!([s[0].outage_share, s[1].outage_share, s[2].outage_share], [0.1, 0.5, 0.0]);
        assert_eq!([s[0].longest_outage_s, s[1].longest_outage_s, s[2].longest_outage_s], [3.0, 3.0, 0.0]);
        assert_eq!([s[0].outage_p50_s, s[0].outage_p95_s], [0.0, 6.0]);
        // Two outages in two drives of 100 m: one per 100 m.
        assert_eq!([s[0].outages_per_10km, s[1].outages_per_10km], [100.0, 50.0]);
        // Where they begin, however far they reach: one of 1 s and one of 6 s in two drives.
        assert_eq!([s[0].beyond, s[1].beyond], [[1.0, 0.5, 0.5], [0.0; 3]]);
    }

    #[test]
    fn the_window_reaches_to_both_sides_and_shifts_at_the_ends() {
        let stroke: Vec<_> = (0..10).map(|_| stretch(100.0, 10.0)).collect();
        let drives = [vec![Outage { start_s: 40.0, end_s: 50.0 }]];
        let s = stats(&stroke, &drives, 30.0);
        let expected = [0.0, 0.0, 0.0, 1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0, 0.0, 0.0, 0.0, 0.0];
        for (got, want) in s.iter().zip(expected) {
            assert!((got.outage_share_window - want).abs() < 1e-12, "{} {want}", got.outage_share_window);
        }
        let whole = stats(&stroke, &drives, 1e9);
        assert!(whole.iter().all(|s| (s.outage_share_window - 0.1).abs() < 1e-12));
        let half = stats(&stroke, &drives, 25.0);
        assert!((half[3].outage_share_window - 7.5 / 25.0).abs() < 1e-12, "half a neighbour counts half");
    }

    #[test]
    fn percentiles_are_nearest_rank() {
        let values: Vec<f64> = (1..=20).map(f64::from).collect();
        assert_eq!(percentile(&values, 0.95), 19.0);
        assert_eq!(percentile(&values, 0.5), 10.0);
        assert_eq!(percentile(&values[..1], 0.95), 1.0);
        assert_eq!(percentile(&[], 0.5), 0.0);
    }
}
