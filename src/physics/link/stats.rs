//! From the outages of many drives to statistics per stretch.
use super::model::{OutageStats, RatedFigures};
use super::road::{Leg, StrokeRoad};

/// An outage counts for a stretch of which it takes this long, seconds,
const COUNTS_S: f64 = 0.5;
/// or this share of the driving time there, or of its own length. Else it is the end of what lies beyond, and the road before a tunnel
/// would be as dark as the tunnel.
const COUNTS_SHARE: f64 = 0.1;
const COUNTS_OWN_SHARE: f64 = 0.5;

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
    /// Of drives of even and of odd number.
    outage_s: [Vec<f64>; 2],
    outages: Vec<u64>,
    /// Edges of blips, gaps and drops, seconds.
    edges_s: [f64; 3],
    /// Outages longer than these that begin here.
    beyond: Vec<[u64; 3]>,
    /// Outages that run at its start with more than these left.
    running: Vec<[u64; 3]>,
    /// Outages that go on into the next stretch.
    go_on: Vec<u64>,
    /// Longest outage that counts here, seconds: all drives of the first stretch, then of the next.
    longest_s: Vec<f64>,
}

impl DriveTally {
    pub fn new(road: &StrokeRoad, drives: usize, edges_s: [f64; 3]) -> Self {
        let n = road.legs.len();
        Self {
            drives,
            outage_s: [vec![0.0; n], vec![0.0; n]],
            outages: vec![0; n],
            edges_s,
            beyond: vec![[0; 3]; n],
            running: vec![[0; 3]; n],
            go_on: vec![0; n],
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
                self.outages[first] += 1;
                for (count, edge_s) in beyond.iter_mut().zip(self.edges_s) {
                    *count += u64::from(span.length_s() > edge_s);
                }
            }
            for (i, leg) in road.legs.iter().enumerate().skip(first).take_while(|(_, leg)| leg.start_s < span.end_s) {
                let on_leg_s = span.end_s.min(leg.end_s) - span.start_s.max(leg.start_s);
                if i > first {
                    for (count, edge_s) in self.running[i].iter_mut().zip(self.edges_s) {
                        *count += u64::from(span.end_s - leg.start_s > edge_s);
                    }
                }
                self.outage_s[nth % 2][i] += on_leg_s;
                self.go_on[i] += u64::from(span.end_s > leg.end_s);
                if on_leg_s >= counts_from_s(leg, span) {
                    let longest_s = &mut self.longest_s[i * self.drives + nth];
                    *longest_s = longest_s.max(span.length_s());
                }
            }
        }
    }

    /// The statistics, with the windowed outage share over `window_s` of driving.
    pub fn finish(mut self, road: &StrokeRoad, window_s: f64) -> Vec<OutageStats> {
        let drives = self.drives as f64;
        let outage_s: Vec<f64> = std::iter::zip(&self.outage_s[0], &self.outage_s[1]).map(|(a, b)| a + b).collect();
        let shares_of = |outage_s: &[f64], drives: f64| -> Vec<f64> {
            let of_leg = |(leg, outage_s): (&Leg, &f64)| share(outage_s / drives, leg.duration_s());
            std::iter::zip(&road.legs, outage_s).map(of_leg).collect()
        };
        let shares = shares_of(&outage_s, drives);
        let half_drives = [self.drives.div_ceil(2) as f64, (self.drives / 2).max(1) as f64];
        let half_shares = [0, 1].map(|half| shares_of(&self.outage_s[half], half_drives[half]));
        let outage_time = OutageTime::new(&road.legs, &shares);
        let half_time = half_shares.each_ref().map(|shares| OutageTime::new(&road.legs, shares));
        let mut stats = Vec::with_capacity(road.legs.len());
        let mut of_half_s = Vec::with_capacity(self.drives);
        for (i, leg) in road.legs.iter().enumerate() {
            let longest_s = &mut self.longest_s[i * self.drives..(i + 1) * self.drives];
            let halves = [0, 1].map(|half| {
                of_half_s.clear();
                of_half_s.extend(longest_s.iter().skip(half).step_by(2));
                of_half_s.sort_by(f64::total_cmp);
                RatedFigures {
                    outage_p95_s: percentile(&of_half_s, 0.95),
                    outage_share: half_shares[half][i],
                    outage_share_window: half_time[half].windowed(leg, window_s),
                }
            });
            longest_s.sort_by(f64::total_cmp);
            let driven_10km = drives * leg.length_m() / 10_000.0;
            stats.push(OutageStats {
                outage_share: shares[i],
                outage_s: outage_s[i] / drives,
                outage_share_window: outage_time.windowed(leg, window_s),
                outages_per_10km: if driven_10km > 0.0 { self.outages[i] as f64 / driven_10km } else { 0.0 },
                outage_p50_s: percentile(longest_s, 0.5),
                outage_p95_s: percentile(longest_s, 0.95),
                longest_outage_s: longest_s.iter().sum::<f64>() / drives,
                beyond: self.beyond[i].map(|count| count as f64 / drives),
                running: self.running[i].map(|count| count as f64 / drives),
                goes_on: self.go_on[i] as f64 / drives,
                halves,
            });
        }
        stats
    }
}

/// From what time on a leg an outage counts there, seconds.
fn counts_from_s(leg: &Leg, outage: &Outage) -> f64 {
    COUNTS_S.min(COUNTS_SHARE * leg.duration_s()).min(COUNTS_OWN_SHARE * outage.length_s())
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
    fn an_outage_counts_whole_on_every_stretch_it_takes_a_part_of() {
        let stroke = vec![stretch(100.0, 10.0), stretch(100.0, 20.0), stretch(100.0, 10.0)];
        // Stretches take 0..10, 10..15 and 15..25 s.
        let drives = [vec![Outage { start_s: 2.0, end_s: 3.0 }, Outage { start_s: 9.0, end_s: 15.0 }], vec![]];
        let s = stats(&stroke, &drives, 0.0);
        assert_eq!([s[0].outage_s, s[1].outage_s, s[2].outage_s], [1.0, 2.5, 0.0]);
        assert_eq!([s[0].outage_share, s[1].outage_share, s[2].outage_share], [0.1, 0.5, 0.0]);
        assert_eq!([s[0].longest_outage_s, s[1].longest_outage_s, s[2].longest_outage_s], [3.0, 3.0, 0.0]);
        assert_eq!([s[0].outage_p50_s, s[0].outage_p95_s], [0.0, 6.0]);
        // Two outages in two drives of 100 m: one per 100 m. The second is counted where it begins, and only there.
        assert_eq!([s[0].outages_per_10km, s[1].outages_per_10km], [100.0, 0.0]);
        // Where they begin, however far they reach: one of 1 s and one of 6 s in two drives.
        assert_eq!([s[0].beyond, s[1].beyond], [[1.0, 0.5, 0.5], [0.0; 3]]);
        // The second runs when the next stretch begins, with just five seconds left.
        assert_eq!([s[0].running, s[1].running, s[2].running], [[0.0; 3], [0.5, 0.5, 0.0], [0.0; 3]]);
        // One drive of two passes from the first into the second without a link, none farther.
        assert_eq!([s[0].goes_on, s[1].goes_on, s[2].goes_on], [0.5, 0.0, 0.0]);
    }

    #[test]
    fn the_end_of_what_lies_beyond_does_not_count() {
        let stroke = vec![stretch(100.0, 10.0), stretch(100.0, 20.0), stretch(4.0, 20.0)];
        // Stretches take 0..10, 10..15 and 15..15.2 s.
        let longest = |start_s: f64, end_s: f64| {
            let s = stats(&stroke, &[vec![Outage { start_s, end_s }]], 0.0);
            [s[0].outage_p95_s, s[1].outage_p95_s, s[2].outage_p95_s].map(|s| (s * 100.0).round() / 100.0)
        };
        // Less than half a second of ten: it is the second stretch that is dark. The time counts all the same.
        assert_eq!(longest(9.6, 13.0), [0.0, 3.4, 0.0]);
        assert_eq!(stats(&stroke, &[vec![Outage { start_s: 9.75, end_s: 13.0 }]], 0.0)[0].outage_share, 0.025);
        assert_eq!(longest(9.4, 13.0), [3.6, 3.6, 0.0]);
        // A short stretch by its tenth, a short outage by its own half.
        assert_eq!(longest(12.0, 15.03), [0.0, 3.03, 3.03]);
        assert_eq!(longest(9.8, 10.1), [0.3, 0.0, 0.0]);
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
    fn halves_are_the_figures_of_their_own_drives() {
        let stroke: Vec<_> = (0..6).map(|i| stretch(50.0 + 30.0 * f64::from(i), 10.0)).collect();
        let outage = |k: usize| Outage { start_s: 2.0 + 1.3 * k as f64, end_s: 3.0 + 2.1 * k as f64 };
        let all: Vec<Vec<Outage>> = (0..30).map(|k| vec![outage(k % 19)]).collect();
        let whole = stats(&stroke, &all, 40.0);
        for half in 0..2 {
            let own: Vec<_> = all.iter().skip(half).step_by(2).cloned().collect();
            for (of_all, own) in whole.iter().zip(stats(&stroke, &own, 40.0)) {
                let told = of_all.halves[half];
                assert_eq!(told.outage_p95_s, own.outage_p95_s);
                assert!((told.outage_share - own.outage_share).abs() < 1e-12);
                assert!((told.outage_share_window - own.outage_share_window).abs() < 1e-12);
            }
        }
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
