//! How likely a break is that a meeting does not stand: on the move and at a stop.
//!
//! The layer says for each segment the median and the 95th percentile, over simulated drives, of the longest break that
//! touches it. A break touches every segment it lies on, so neighbouring segments tell of the same break: what a segment
//! says is turned into a rate at which such breaks begin, per second of driving, and rates add up along the road.
use super::kind::Kind;
use crate::profile::RatingEdges;
use crate::trip::corridor::Piece;

/// Never surer than this that a break happens: rates stay finite.
const SUREST: f64 = 0.999;
/// Rate at which breaks begin where nothing is known (no road of the layer), per second: sure within minutes.
const UNKNOWN_PER_S: f64 = 0.01;
/// Time in which the satellites over a place change so much that it is another draw, seconds. Assumed: satellites of low
/// orbits cross a cone of 55 degrees in three to four minutes, and several are in it.
const REDRAW_S: f64 = 60.0;

/// Probability that the longest break exceeds `x_s`, from its median and 95th percentile: an exponential tail through
/// both; below the median it rises to one, the more steeply the less the two differ.
pub fn exceeds(x_s: f64, p50_s: f64, p95_s: f64) -> f64 {
    let p50_s = p50_s.clamp(0.0, p95_s.max(0.0));
    let spread_s = p95_s - p50_s;
    if p95_s <= 0.0 || x_s.is_nan() {
        return 0.0;
    }
    if x_s >= p50_s {
        return if spread_s > 0.0 { 0.5 * 10f64.powf(-(x_s - p50_s) / spread_s) } else { 0.0 };
    }
    let steepness = if spread_s > 0.0 { (p50_s / spread_s).max(1.0) } else { f64::INFINITY };
    1.0 - 0.5 * (x_s.max(0.0) / p50_s).powf(steepness)
}

/// Breaks longer than `stands_s` that begin per second on a piece driven in `time_s`.
///
/// A break of length L touches a piece of T seconds when it begins in a span of T + L seconds; with rate r that happens
/// with probability 1 - exp(-r (T + L)).
pub fn rate_per_s(stands_s: f64, time_s: f64, p50_s: f64, p95_s: f64) -> f64 {
    let probability = exceeds(stands_s, p50_s, p95_s).min(SUREST);
    if time_s <= 0.0 || probability <= 0.0 {
        return 0.0;
    }
    -(1.0 - probability).ln() / (time_s + p95_s.max(stands_s))
}

/// Probability of at least one, from the expected number.
pub fn probability(expected: f64) -> f64 {
    -(-expected.max(0.0)).exp_m1()
}

/// Breaks longer than `stands_s` that begin per second at rest, under a sky of which `open_share` is open and holds
/// `usable` satellites when all of it is: nobody is there with probability exp(-usable x open), drawn anew every
/// [`REDRAW_S`].
pub fn standing_per_s(stands_s: f64, open_share: f64, usable: f64) -> f64 {
    let nobody = (-usable.max(0.0) * open_share.clamp(0.0, 1.0)).exp();
    nobody / REDRAW_S * (-stands_s / REDRAW_S).exp()
}

/// A drive along pieces, by seconds at the wheel from its start.
#[derive(Debug, Clone)]
pub struct Drive {
    /// Seconds at the wheel at the start of each piece, and at the end.
    at_s: Vec<f64>,
    /// Kilometres there.
    at_km: Vec<f64>,
    /// Expected long breaks up to there, by kind.
    long: [Vec<f64>; 3],
    /// Expected seconds without a link up to there.
    down_s: Vec<f64>,
    /// Parts without a road of the layer: from and to, seconds at the wheel.
    pub unknown_s: Vec<(f64, f64)>,
    /// Seconds at the wheel at which each piece begins.
    pub begins_s: Vec<f64>,
}

/// Speed assumed where the track has no road of the layer, km/h.
const UNKNOWN_KMH: f64 = 30.0;

impl Drive {
    /// The drive along pieces; between pieces of different drives lies ground without a road of the layer.
    pub fn new(pieces: &[Piece], edges: &RatingEdges) -> Self {
        let mut drive = Self {
            at_s: vec![0.0],
            at_km: vec![0.0],
            long: std::array::from_fn(|_| vec![0.0]),
            down_s: vec![0.0],
            unknown_s: Vec::new(),
            begins_s: Vec::with_capacity(pieces.len()),
        };
        for (i, piece) in pieces.iter().enumerate() {
            if let Some(before) = i.checked_sub(1).map(|b| &pieces[b])
                && before.drive != piece.drive
                && let (Some(a), Some(b)) = (before.line.last(), piece.line.first())
            {
                drive.jump(crate::geodesy::distance_m(*a, *b));
            }
            drive.begins_s.push(drive.length_s());
            let rates =
                Kind::ALL.map(|k| rate_per_s(k.stands_s(edges), piece.time_s, piece.break_p50_s, piece.break_p95_s));
            drive.add(piece.time_s, piece.length_m, rates, piece.down_s);
        }
        drive
    }
    fn jump(&mut self, length_m: f64) {
        let time_s = length_m / (UNKNOWN_KMH / 3.6);
        if time_s > 1.0 {
            self.unknown_s.push((self.length_s(), self.length_s() + time_s));
            self.add(time_s, length_m, [UNKNOWN_PER_S; 3], time_s);
        }
    }
    fn add(&mut self, time_s: f64, length_m: f64, rates: [f64; 3], down_s: f64) {
        let push = |v: &mut Vec<f64>, by: f64| v.push(v.last().copied().unwrap_or(0.0) + by);
        push(&mut self.at_s, time_s);
        push(&mut self.at_km, length_m / 1e3);
        push(&mut self.down_s, down_s);
        self.long.iter_mut().zip(rates).for_each(|(v, rate)| push(v, rate * time_s));
    }
    /// Seconds at the wheel in all.
    pub fn length_s(&self) -> f64 {
        self.at_s.last().copied().unwrap_or(0.0)
    }
    /// Kilometres in all.
    pub fn length_km(&self) -> f64 {
        self.at_km.last().copied().unwrap_or(0.0)
    }
    /// Kilometres driven after so many seconds at the wheel.
    pub fn km_at(&self, wheel_s: f64) -> f64 {
        between(&self.at_s, &self.at_km, wheel_s)
    }
    /// Seconds at the wheel after so many kilometres.
    pub fn seconds_at(&self, km: f64) -> f64 {
        between(&self.at_km, &self.at_s, km)
    }
    /// Expected breaks that a kind does not stand, from one moment at the wheel to another, seconds.
    pub fn long_breaks(&self, kind: Kind, from_s: f64, to_s: f64) -> f64 {
        let at = |s: f64| between(&self.at_s, &self.long[kind.index()], s);
        (at(to_s) - at(from_s)).max(0.0)
    }
    /// Expected seconds without a link, likewise.
    pub fn down_s(&self, from_s: f64, to_s: f64) -> f64 {
        let at = |s: f64| between(&self.at_s, &self.down_s, s);
        (at(to_s) - at(from_s)).max(0.0)
    }
}

/// Linear between known points; ends stay.
fn between(xs: &[f64], ys: &[f64], x: f64) -> f64 {
    let next = xs.partition_point(|known| *known <= x);
    let Some(i) = next.checked_sub(1) else { return ys.first().copied().unwrap_or(0.0) };
    match xs.get(next) {
        Some(end) if *end > xs[i] => ys[i] + (ys[next] - ys[i]) * (x - xs[i]) / (end - xs[i]),
        _ => ys.get(i).copied().unwrap_or(0.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tail_goes_through_median_and_95th_percentile() {
        assert!((exceeds(2.0, 2.0, 7.0) - 0.5).abs() < 1e-12);
        assert!((exceeds(7.0, 2.0, 7.0) - 0.05).abs() < 1e-12);
        assert!(exceeds(1.0, 2.0, 7.0) > 0.5 && exceeds(0.0, 2.0, 7.0) == 1.0);
        assert_eq!(exceeds(0.0, 0.0, 0.0), 0.0);
        // Always the same length: the shadow of a tunnel.
        assert!(exceeds(19.9, 20.0, 20.0) > 0.9 && exceeds(20.0, 20.0, 20.0) == 0.0);
    }

    #[test]
    fn a_longer_patience_never_makes_a_break_more_likely() {
        for (p50, p95) in [(0.0, 1.0), (0.5, 0.6), (3.0, 3.0), (1.0, 50.0)] {
            let all: Vec<f64> = (0..400).map(|i| exceeds(f64::from(i) * 0.25, p50, p95)).collect();
            assert!(all.windows(2).all(|w| w[1] <= w[0] + 1e-12), "{p50} {p95}: {all:?}");
            assert!(all.iter().all(|p| (0.0..=1.0).contains(p)));
        }
    }

    #[test]
    fn cutting_a_road_into_more_pieces_keeps_the_risk_of_a_poisson_road() {
        // Breaks of 6 s that begin at a rate r touch a piece of T seconds with probability 1 - exp(-r (T + 6)): the rate
        // must come back whatever T is, when both percentiles lie beyond what is stood.
        let rate: f64 = 0.02;
        for time_s in [2.0, 10.0, 40.0] {
            let touched = 1.0 - (-rate * (time_s + 6.0)).exp();
            // A 95th percentile of 6 s and a median such that the tail at 5 s is `touched`.
            let p50 = median_for(touched);
            let back = rate_per_s(5.0, time_s, p50, 6.0);
            assert!((back - rate).abs() < 1e-6, "{time_s}: {back}");
        }
    }

    /// Median with which the tail at 5 s, with a 95th percentile of 6 s, is `p`; by bisection.
    fn median_for(p: f64) -> f64 {
        let (mut low, mut high) = (0.0, 5.999_999);
        for _ in 0..200 {
            let mid = 0.5 * (low + high);
            if exceeds(5.0, mid, 6.0) < p { low = mid } else { high = mid }
        }
        0.5 * (low + high)
    }

    #[test]
    fn open_sky_at_rest_is_better_than_half_of_it() {
        let half_hour = |open| probability(1_800.0 * standing_per_s(2.0, open, 8.5));
        assert!(half_hour(1.0) < 0.02, "{}", half_hour(1.0));
        assert!(half_hour(0.5) > 0.2 && half_hour(0.5) < 0.6, "{}", half_hour(0.5));
        assert!(half_hour(0.0) > 0.999);
        assert!(half_hour(0.7) < half_hour(0.6));
    }
}
