//! What is in the sky at a time, and who passes when.
use jiff::Timestamp;

use super::satellite::{Failure, Satellite};
use super::track::{SatelliteTrack, after};
use crate::physics::orbit::frames::Observer;
use crate::physics::orbit::geometry::SkyDirection;

/// Between two looks for a rise, seconds. A pass shorter than this is found by its peak.
const LOOK_S: f64 = 60.0;
/// Rise, peak and set are found to this, seconds.
const EXACT_S: f64 = 0.01;
/// Share of an interval that a search keeps: the golden ratio.
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// A satellite seen at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Place in the list of satellites.
    pub satellite: usize,
    /// Where it stands.
    pub direction: SkyDirection,
    /// How far away it is, kilometres.
    pub range_km: f64,
}

/// Satellites above an elevation at a time, highest first; those whose elements do not reach that time are
/// left out, and the second result says which.
pub fn in_view(
    satellites: &[Satellite],
    observer: &Observer,
    time: Timestamp,
    floor_deg: f64,
) -> (Vec<Seen>, Vec<(usize, Failure)>) {
    let (mut seen, mut failed) = (Vec::new(), Vec::new());
    for (k, satellite) in satellites.iter().enumerate() {
        match satellite.earth_fixed(time) {
            Ok((position, _)) => {
                let (direction, range_km) = observer.look(position);
                if direction.elevation_deg >= floor_deg {
                    seen.push(Seen { satellite: k, direction, range_km });
                }
            }
            Err(failure) => failed.push((k, failure)),
        }
    }
    seen.sort_by(|a, b| b.direction.elevation_deg.total_cmp(&a.direction.elevation_deg));
    (seen, failed)
}

/// A moment of a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// When, UTC.
    pub time: Timestamp,
    /// Where the satellite stands.
    pub direction: SkyDirection,
    /// How far away it is, kilometres.
    pub range_km: f64,
}

/// One pass above an elevation, as far as it lies within the span asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pass {
    /// Place in the list of satellites.
    pub satellite: usize,
    /// Rises above the elevation; the start of the span where it was up before.
    pub rise: Moment,
    /// Stands highest.
    pub peak: Moment,
    /// Sets below the elevation; the end of the span where it is up for longer.
    pub set: Moment,
    /// Whether it was up when the span began.
    pub up_before: bool,
    /// Whether it is up when the span ends.
    pub up_after: bool,
}

/// Passes of all satellites above an elevation over an observer for some seconds from a time, by rise;
/// satellites whose elements do not reach through the span are left out, and the second result says which.
pub fn passes(
    satellites: &[Satellite],
    observer: &Observer,
    start: Timestamp,
    seconds: f64,
    floor_deg: f64,
) -> (Vec<Pass>, Vec<(usize, Failure)>) {
    let (mut found, mut failed) = (Vec::new(), Vec::new());
    for (k, satellite) in satellites.iter().enumerate() {
        match SatelliteTrack::new(satellite, start, seconds) {
            Ok(track) => PassSearch { satellite: k, track, observer, start, seconds, floor_deg }.run(&mut found),
            Err(failure) => failed.push((k, failure)),
        }
    }
    found.sort_by_key(|p: &Pass| (p.rise.time, p.satellite));
    (found, failed)
}

/// One satellite's passes.
struct PassSearch<'a> {
    satellite: usize,
    track: SatelliteTrack,
    observer: &'a Observer,
    start: Timestamp,
    seconds: f64,
    floor_deg: f64,
}

impl PassSearch<'_> {
    fn height_deg(&self, t: f64) -> f64 {
        self.observer.look(self.track.position_km(t)).0.elevation_deg
    }

    fn moment(&self, t: f64) -> Moment {
        let (direction, range_km) = self.observer.look(self.track.position_km(t));
        Moment { time: after(self.start, t), direction, range_km }
    }

    /// Every peak above the floor, between the times around it at which the satellite was lowest.
    fn run(&self, found: &mut Vec<Pass>) {
        let steps = (self.seconds / LOOK_S).ceil().max(1.0) as usize;
        let time = |k: usize| (k as f64 * LOOK_S).min(self.seconds);
        let heights: Vec<f64> = (0..=steps).map(|k| self.height_deg(time(k))).collect();
        let mut low = 0.0;
        for k in 0..=steps {
            let rising = k == 0 || heights[k] >= heights[k - 1];
            let falling = k == steps || heights[k] > heights[k + 1];
            if !(rising && falling) {
                continue;
            }
            let peak = self.peak(time(k.saturating_sub(1)), time((k + 1).min(steps)));
            let valley = (k + 1..=steps).find(|j| *j == steps || heights[j + 1] > heights[*j]).unwrap_or(steps);
            if self.height_deg(peak) >= self.floor_deg {
                self.pass(low, peak, time(valley), found);
            }
            low = time(valley);
        }
    }

    /// The highest time in an interval that holds one peak: golden section search.
    fn peak(&self, mut low: f64, mut high: f64) -> f64 {
        let ends = [low, high];
        while high - low > EXACT_S {
            let (a, b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
            if self.height_deg(a) >= self.height_deg(b) { high = b } else { low = a }
        }
        // At the ends of the span the highest time is the end itself.
        let middle = (low + high) / 2.0;
        [middle, ends[0], ends[1]]
            .into_iter()
            .fold(middle, |best, t| if self.height_deg(t) > self.height_deg(best) { t } else { best })
    }

    /// Adds a pass, or lengthens the one before where the satellite stayed above the floor between two peaks.
    fn pass(&self, low: f64, peak: f64, high: f64, found: &mut Vec<Pass>) {
        let up_before = self.height_deg(low) >= self.floor_deg;
        let up_after = self.height_deg(high) >= self.floor_deg;
        let rise = self.moment(if up_before { low } else { self.crossing(low, peak) });
        let set = self.moment(if up_after { high } else { self.crossing(high, peak) });
        let peak = self.moment(peak);
        if up_before
            && let Some(last) = found.last_mut()
            && last.satellite == self.satellite
            && last.up_after
        {
            last.set = set;
            last.up_after = up_after;
            if peak.direction.elevation_deg > last.peak.direction.elevation_deg {
                last.peak = peak;
            }
            return;
        }
        found.push(Pass { satellite: self.satellite, rise, peak, set, up_before, up_after });
    }

    /// The time between one below the floor and one above it at which the floor is crossed.
    fn crossing(&self, mut below: f64, mut above: f64) -> f64 {
        while (above - below).abs() > EXACT_S {
            let middle = (below + above) / 2.0;
            if self.height_deg(middle) >= self.floor_deg { above = middle } else { below = middle }
        }
        above
    }
}
