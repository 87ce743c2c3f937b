//! How likely an outage is that a meeting does not tolerate: on the move and at a stop.
//!
//! The layer says for each segment and direction how many outages longer than the edges of its ratings begin there in a
//! simulated drive. Expected numbers add up along the road, though outages are not independent; the probability of at
//! least one is told as if they were, which is too high where they come in bunches.
use super::kind::Kind;
use crate::ask::corridor::Piece;

/// Rate at which outages begin where nothing is known (no road of the layer), per second: sure within minutes.
const UNKNOWN_PER_S: f64 = 0.01;
/// Time in which the satellites over a place change so much that it is another draw, seconds. Assumed: satellites of low
/// orbits cross a cone of 55 degrees in three to four minutes, and several are in it.
const REDRAW_S: f64 = 60.0;

/// Probability of at least one, from the expected number.
pub fn probability(expected: f64) -> f64 {
    -(-expected.max(0.0)).exp_m1()
}

/// Outages longer than `stands_s` that begin per second at rest, under a sky of which `open_share` is open and holds
/// `usable` satellites when all of it is: nobody is there with probability exp(-usable x open), drawn anew every
/// minute.
pub fn standing_per_s(stands_s: f64, open_share: f64, usable: f64) -> f64 {
    let nobody = (-usable.max(0.0) * open_share.clamp(0.0, 1.0)).exp();
    nobody / REDRAW_S * (-stands_s / REDRAW_S).exp()
}

/// A drive along pieces, by seconds at the wheel from its start.
#[derive(Debug, Clone)]
pub struct DriveRisk {
    /// Seconds at the wheel at the start of each piece, and at the end.
    at_s: Vec<f64>,
    /// Kilometres there.
    at_km: Vec<f64>,
    /// Expected long outages up to there, by kind.
    long: [Vec<f64>; 3],
    /// Expected seconds without a link up to there.
    outage_s: Vec<f64>,
    /// Parts without a road of the layer: from and to, seconds at the wheel.
    pub unknown_s: Vec<(f64, f64)>,
    /// Seconds at the wheel at which each piece begins.
    pub begins_s: Vec<f64>,
}

/// Speed assumed where the track has no road of the layer, km/h.
const UNKNOWN_KMH: f64 = 30.0;

impl DriveRisk {
    /// The drive along pieces; between pieces of different drives lies ground without a road of the layer.
    pub fn new(pieces: &[Piece]) -> Self {
        let mut drive = Self {
            at_s: vec![0.0],
            at_km: vec![0.0],
            long: std::array::from_fn(|_| vec![0.0]),
            outage_s: vec![0.0],
            unknown_s: Vec::new(),
            begins_s: Vec::with_capacity(pieces.len()),
        };
        for (i, piece) in pieces.iter().enumerate() {
            if let Some(before) = i.checked_sub(1).map(|b| &pieces[b])
                && before.drive != piece.drive
                && let (Some(a), Some(b)) = (before.line.last(), piece.line.first())
            {
                drive.jump(crate::base::geodesy::distance_m(*a, *b));
            }
            drive.begins_s.push(drive.length_s());
            drive.add(piece.time_s, piece.length_m, piece.beyond, piece.outage_s);
        }
        drive
    }
    fn jump(&mut self, length_m: f64) {
        let time_s = length_m / (UNKNOWN_KMH / 3.6);
        if time_s > 1.0 {
            self.unknown_s.push((self.length_s(), self.length_s() + time_s));
            // Kilometres are those of roads driven, as everywhere else in a trip.
            self.add(time_s, 0.0, [UNKNOWN_PER_S * time_s; 3], time_s);
        }
    }
    fn add(&mut self, time_s: f64, length_m: f64, long: [f64; 3], outage_s: f64) {
        let push = |v: &mut Vec<f64>, by: f64| v.push(v.last().copied().unwrap_or(0.0) + by);
        push(&mut self.at_s, time_s);
        push(&mut self.at_km, length_m / 1e3);
        push(&mut self.outage_s, outage_s);
        self.long.iter_mut().zip(long).for_each(|(v, expected)| push(v, expected));
    }
    /// Metres without a road of the layer, straight across.
    pub(crate) fn unknown_m(&self) -> f64 {
        self.unknown_s.iter().map(|(from_s, to_s)| to_s - from_s).sum::<f64>() * UNKNOWN_KMH / 3.6
    }
    /// Seconds at the wheel in all.
    pub fn length_s(&self) -> f64 {
        self.at_s.last().copied().unwrap_or(0.0)
    }
    /// Kilometres in all.
    pub(crate) fn length_km(&self) -> f64 {
        self.at_km.last().copied().unwrap_or(0.0)
    }
    /// Kilometres driven after a time at the wheel, seconds.
    pub(crate) fn km_at(&self, wheel_s: f64) -> f64 {
        between(&self.at_s, &self.at_km, wheel_s)
    }
    /// Seconds at the wheel after a distance, kilometres.
    pub(crate) fn seconds_at(&self, km: f64) -> f64 {
        between(&self.at_km, &self.at_s, km)
    }
    /// Expected outages that a kind does not tolerate, from one moment at the wheel to another, seconds.
    pub(crate) fn long_outages(&self, kind: Kind, from_s: f64, to_s: f64) -> f64 {
        let at = |s: f64| between(&self.at_s, &self.long[kind.index()], s);
        (at(to_s) - at(from_s)).max(0.0)
    }
    /// Expected seconds without a link, likewise.
    pub fn outage_s(&self, from_s: f64, to_s: f64) -> f64 {
        let at = |s: f64| between(&self.at_s, &self.outage_s, s);
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
    fn open_sky_at_rest_is_better_than_half_of_it() {
        let half_hour = |open| probability(1_800.0 * standing_per_s(2.0, open, 8.5));
        assert!(half_hour(1.0) < 0.02, "{}", half_hour(1.0));
        assert!(half_hour(0.5) > 0.2 && half_hour(0.5) < 0.6, "{}", half_hour(0.5));
        assert!(half_hour(0.0) > 0.999);
        assert!(half_hour(0.7) < half_hour(0.6));
    }
}
