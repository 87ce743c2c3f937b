//! How likely an outage is that a meeting does not tolerate, as the search reckons it: from figures of the layer, before
//! anything is simulated.
//!
//! The layer says for each segment and direction how many outages longer than the edges of its ratings begin there in a
//! drive, and in what share of the drives one runs where the segment begins with more than that left. A meeting meets the
//! one that runs at its start and those that begin in it. Each of these is a hazard, -ln(1 - share); hazards add up, and
//! what is certain stays certain. Outages of one road are not independent: the figures only rank days, and the risk that is reported is
//! simulated (see `told`).
use super::kind::Kind;
use super::rules::Driving;
use crate::ask::corridor::{Corridor, Gap, Piece};
use crate::base::geodesy::distance_m;

/// Time in which the satellites over a place change so much that it is another draw, seconds. Assumed: satellites of low
/// orbits cross a cone of 55 degrees in three to four minutes, and several are in it.
const REDRAW_S: f64 = 60.0;
/// The hazard of what is certain: its probability cannot be told from 1.
const CERTAIN: f64 = 40.0;
/// A stretch of track without a road counts as that between two drives where it begins this near to the end of the first, metres.
const SAME_GAP_M: f64 = 1_000.0;

/// Probability of at least one, from a hazard.
pub fn probability(hazard: f64) -> f64 {
    -(-hazard.max(0.0)).exp_m1()
}

/// The hazard of a share of drives.
fn hazard(share: f64) -> f64 {
    (-(-share.clamp(0.0, 1.0)).ln_1p()).min(CERTAIN)
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
    /// Seconds at the wheel at the start of each stretch, and at the end. A stretch is a piece, or ground without a road.
    at_s: Vec<f64>,
    /// Kilometres there.
    at_km: Vec<f64>,
    /// Hazard of long outages that begin up to there, by kind.
    long: [Vec<f64>; 3],
    /// Share of drives in which one runs where each stretch begins.
    running: Vec<[f64; 3]>,
    /// Expected long outages that begin up to there, by kind.
    begun: [Vec<f64>; 3],
    /// Expected seconds without a link up to there.
    outage_s: Vec<f64>,
    /// Parts off the layer's roads: from and to, seconds at the wheel.
    pub unknown_s: Vec<(f64, f64)>,
    /// Seconds at the wheel at which each piece begins.
    pub begins_s: Vec<f64>,
    /// Speed assumed where the track is off the layer's roads, km/h.
    unmatched_kmh: f64,
}

impl DriveRisk {
    /// The drive of a track: its pieces of road, and its stretches off the layer's roads, which take time at the speed assumed
    /// for them. `track_m` is the length of the track.
    pub fn new(pieces: &[Piece], gaps: &[Gap], track_m: f64, unmatched_kmh: f64) -> Self {
        let mut drive = Self {
            at_s: vec![0.0],
            at_km: vec![0.0],
            long: std::array::from_fn(|_| vec![0.0]),
            running: Vec::new(),
            begun: std::array::from_fn(|_| vec![0.0]),
            outage_s: vec![0.0],
            unknown_s: Vec::new(),
            begins_s: Vec::with_capacity(pieces.len()),
            unmatched_kmh,
        };
        let missed = || gaps.iter().filter(|g| !g.bridged);
        drive.jump(missed().find(|g| g.track_km <= 0.0).map_or(0.0, |g| g.length_m));
        for (i, piece) in pieces.iter().enumerate() {
            if let Some(before) = i.checked_sub(1).map(|b| &pieces[b])
                && before.drive != piece.drive
                && let (Some(a), Some(b)) = (before.line.last(), piece.line.first())
            {
                let from_m = |g: &&Gap| distance_m(*a, crate::base::geodesy::Position::from_deg(g.lon_deg, g.lat_deg));
                let told = missed().filter(|g| from_m(g) <= SAME_GAP_M);
                let told_m = told.min_by(|x, y| from_m(x).total_cmp(&from_m(y))).map_or(0.0, |g| g.length_m);
                drive.jump(told_m.max(distance_m(*a, *b)));
            }
            drive.begins_s.push(drive.length_s());
            drive.add((piece.time_s, piece.length_m), piece.beyond, piece.running, piece.outage_s);
        }
        // Less than this at its end is rounding.
        const END_M: f64 = 1.0;
        let at_end = |g: &&Gap| g.track_km > 0.0 && g.track_km * 1e3 + g.length_m >= track_m - END_M;
        drive.jump(missed().find(at_end).map_or(0.0, |g| g.length_m));
        drive
    }
    /// The drive of a corridor under the rules of driving.
    pub fn of(corridor: &Corridor, driving: &Driving) -> Self {
        Self::new(&corridor.pieces, &corridor.unmatched, corridor.track_m, driving.unmatched_kmh)
    }
    fn jump(&mut self, length_m: f64) {
        let time_s = length_m / (self.unmatched_kmh / 3.6);
        if time_s > 1.0 {
            self.unknown_s.push((self.length_s(), self.length_s() + time_s));
            // Kilometres are those of roads driven, as everywhere else in a trip.
            self.add((time_s, 0.0), [1.0; 3], [1.0; 3], time_s);
        }
    }
    fn add(&mut self, (time_s, length_m): (f64, f64), begun: [f64; 3], running: [f64; 3], outage_s: f64) {
        let push = |v: &mut Vec<f64>, by: f64| v.push(v.last().copied().unwrap_or(0.0) + by);
        push(&mut self.at_s, time_s);
        push(&mut self.at_km, length_m / 1e3);
        push(&mut self.outage_s, outage_s);
        self.long.iter_mut().zip(begun).for_each(|(v, share)| push(v, hazard(share)));
        self.begun.iter_mut().zip(begun).for_each(|(v, share)| push(v, share));
        self.running.push(running);
    }
    /// Metres off the layer's roads.
    pub(crate) fn unknown_m(&self) -> f64 {
        self.unknown_s.iter().map(|(from_s, to_s)| to_s - from_s).sum::<f64>() * self.unmatched_kmh / 3.6
    }
    /// Whether it ends where the layer has no road.
    pub(crate) fn ends_unknown(&self) -> bool {
        self.unknown_s.last().is_some_and(|(_, to_s)| *to_s >= self.length_s())
    }
    /// Whether it begins there.
    pub(crate) fn begins_unknown(&self) -> bool {
        self.unknown_s.first().is_some_and(|(from_s, _)| *from_s <= 0.0)
    }
    /// Whether any of it between two moments at the wheel, seconds, is off the layer's roads.
    pub(crate) fn is_unknown(&self, from_s: f64, to_s: f64) -> bool {
        self.unknown_s.iter().any(|(a, b)| *a < to_s && from_s < *b)
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
    /// Hazard of outages that a kind does not tolerate, from one moment at the wheel to another, seconds: one that runs
    /// at the start, and those that begin on any stretch of the way.
    pub(crate) fn long_outages(&self, kind: Kind, from_s: f64, to_s: f64) -> f64 {
        let (runs, begin) = self.shares(kind, from_s, to_s, &self.long);
        hazard(runs) + begin
    }
    /// What the probability of such an outage is at most, if it is below 1: shares of drives in which one runs at the start or
    /// begins on a stretch add up to no less than the share in which any of this is so.
    pub(crate) fn bound(&self, kind: Kind, from_s: f64, to_s: f64) -> f64 {
        let (runs, begin) = self.shares(kind, from_s, to_s, &self.begun);
        runs + begin
    }
    fn shares(&self, kind: Kind, from_s: f64, to_s: f64, sums: &[Vec<f64>; 3]) -> (f64, f64) {
        if to_s <= from_s {
            return (0.0, 0.0);
        }
        let kind = kind.index();
        let first = self.at_s.partition_point(|at_s| *at_s <= from_s).saturating_sub(1);
        let after = self.at_s.partition_point(|at_s| *at_s < to_s).min(self.running.len());
        let runs = self.running.get(first).map_or(0.0, |running| running[kind]);
        (runs, (sums[kind][after] - sums[kind][first]).max(0.0))
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

    #[test]
    fn an_outage_that_runs_at_the_start_counts_and_what_is_certain_stays_certain() {
        // A tunnel over the second and third of four minutes; an outage of it begins in one of four drives before it already.
        let piece = |beyond: f64, running: f64| Piece {
            time_s: 60.0,
            length_m: 1_000.0,
            beyond: [beyond; 3],
            running: [running; 3],
            ..Piece::default()
        };
        let pieces = [piece(0.25, 0.0), piece(0.75, 0.25), piece(0.0, 1.0), piece(0.0, 0.0)];
        let drive = DriveRisk::new(&pieces, &[], 4_000.0, 30.0);
        let risk = |from_s, to_s| probability(drive.long_outages(Kind::Casual, from_s, to_s));
        assert!((risk(0.0, 60.0) - 0.25).abs() < 1e-12);
        assert!((risk(60.0, 120.0) - (1.0 - 0.75 * 0.25)).abs() < 1e-12);
        assert!(risk(130.0, 170.0) > 1.0 - 1e-12, "wholly inside");
        // That one of the two begins for certain only the bound holds.
        assert!((risk(0.0, 240.0) - (1.0 - 0.75 * 0.25)).abs() < 1e-12);
        assert!((drive.bound(Kind::Casual, 0.0, 240.0) - 1.0).abs() < 1e-12);
        assert_eq!(drive.bound(Kind::Casual, 180.0, 240.0), 0.0);
        assert_eq!(risk(180.0, 240.0), 0.0);
        assert_eq!(drive.long_outages(Kind::Casual, 60.0, 60.0), 0.0);
    }

    #[test]
    fn ground_without_a_road_takes_time_wherever_it_lies() {
        let gap = |track_km: f64, length_m: f64, bridged| Gap { track_km, length_m, bridged, ..Gap::default() };
        let piece = Piece { time_s: 60.0, length_m: 1_000.0, ..Piece::default() };
        let gaps = [gap(0.0, 500.0, false), gap(1.0, 90.0, true), gap(1.5, 2_000.0, false)];
        let drive = DriveRisk::new(&[piece], &gaps, 3_500.0, 36.0);
        assert_eq!(drive.unknown_s, [(0.0, 50.0), (110.0, 310.0)]);
        assert_eq!((drive.length_s(), drive.length_km(), drive.unknown_m()), (310.0, 1.0, 2_500.0));
        assert!(drive.begins_unknown() && drive.ends_unknown());
        assert!(drive.is_unknown(100.0, 120.0) && !drive.is_unknown(60.0, 100.0));
        assert!(probability(drive.long_outages(Kind::Messages, 200.0, 240.0)) > 0.999);
    }
}
