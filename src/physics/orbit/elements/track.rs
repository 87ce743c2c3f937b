//! Where satellites are over a span of time, and the satellite timeline made of that.
//!
//! SGP4 is asked every two minutes; between, a cubic through positions and velocities is exact to about five
//! metres on a low orbit (`h^4 w^4 r / 384`), a hundredth of what SGP4 itself knows.
use jiff::{SignedDuration, Timestamp};

use super::satellite::{Failure, Satellite};
use crate::physics::orbit::frames::{Observer, Vector, dot, length};
use crate::physics::orbit::geometry::GeostationaryArc;
use crate::physics::orbit::model::{Sighting, Timeline};
use crate::physics::orbit::timeline::{by_second, sighting};

/// Between two calls of SGP4, seconds.
pub(crate) const NODE_S: f64 = 120.0;
/// The vertical leaves the direction to the earth's centre by at most this, degrees (WGS 84: 0.1924).
const VERTICAL_DEG: f64 = 0.2;
/// Least distance of an observer from the earth's centre, kilometres: the farthest horizon is seen from there.
const LEAST_RADIUS_KM: f64 = 6_356.0;
/// Slack on the fastest motion over the ground between two nodes.
const FASTER: f64 = 1.02;

/// Earth-fixed positions of one satellite over a span.
#[derive(Debug, Clone)]
pub struct SatelliteTrack {
    nodes: Vec<(Vector, Vector)>,
    /// Farthest from the earth's centre, kilometres.
    farthest_km: f64,
    /// Fastest turn seen from the earth's centre, radians per second.
    fastest_rad_s: f64,
}

/// A time some seconds after another; the end of the calendar where it would be beyond.
pub fn after(start: Timestamp, seconds: f64) -> Timestamp {
    let nanoseconds = SignedDuration::try_from_secs_f64(seconds).unwrap_or(SignedDuration::MAX);
    start.saturating_add(nanoseconds).unwrap_or(Timestamp::MAX)
}

impl SatelliteTrack {
    /// The track from `start` on, for some seconds.
    ///
    /// # Errors
    /// The elements do not reach that far.
    pub fn new(satellite: &Satellite, start: Timestamp, seconds: f64) -> Result<Self, Failure> {
        let count = (seconds.max(0.0) / NODE_S).ceil() as usize + 1;
        let nodes = (0..=count)
            .map(|k| satellite.earth_fixed(after(start, k as f64 * NODE_S)))
            .collect::<Result<Vec<_>, _>>()?;
        let farthest_km = nodes.iter().map(|(r, _)| length(*r)).fold(0.0, f64::max);
        let rates = nodes.iter().map(|(r, v)| length(*v) / length(*r));
        Ok(Self { farthest_km, fastest_rad_s: FASTER * rates.fold(0.0, f64::max), nodes })
    }

    /// Earth-fixed position, kilometres, some seconds after the start.
    pub fn position_km(&self, seconds: f64) -> Vector {
        let place = (seconds / NODE_S).clamp(0.0, (self.nodes.len() - 1) as f64);
        let k = (place as usize).min(self.nodes.len() - 2);
        let t = place - k as f64;
        let ((r0, v0), (r1, v1)) = (self.nodes[k], self.nodes[k + 1]);
        let (t2, t3) = (t * t, t * t * t);
        let weights = [2.0 * t3 - 3.0 * t2 + 1.0, t3 - 2.0 * t2 + t, 3.0 * t2 - 2.0 * t3, t3 - t2];
        [0, 1, 2].map(|i| {
            weights[0] * r0[i] + weights[1] * NODE_S * v0[i] + weights[2] * r1[i] + weights[3] * NODE_S * v1[i]
        })
    }

    /// Central angle from an observer within which the satellite may stand above an elevation, radians.
    fn reach_rad(&self, floor_deg: f64) -> f64 {
        let floor = (floor_deg - VERTICAL_DEG).max(-90.0).to_radians();
        (LEAST_RADIUS_KM * floor.cos() / self.farthest_km.max(LEAST_RADIUS_KM)).acos() - floor
    }
}

/// What a timeline shows.
#[derive(Debug, Clone, Copy)]
pub struct TimelineSpan {
    /// Length, seconds; at least one.
    pub seconds: u32,
    /// Lowest elevation, degrees.
    pub floor_deg: f64,
    /// Directions closer than this to the geostationary arc are left out, degrees; 0 keeps all.
    pub geostationary_exclusion_deg: f64,
}

/// A timeline of real satellites over an observer, second by second from the tracks' start, numbered in the
/// order given.
pub fn timeline(tracks: &[SatelliteTrack], observer: &Observer, span: TimelineSpan) -> Timeline {
    let span = TimelineSpan { seconds: span.seconds.max(1), ..span };
    let exclusion_deg = span.geostationary_exclusion_deg;
    let arc = (exclusion_deg > 0.0).then(|| (GeostationaryArc::at(observer.latitude_deg), exclusion_deg));
    let mut seen = Vec::new();
    for (k, track) in tracks.iter().enumerate() {
        follow(k as u32, track, observer, &span, arc.as_ref(), &mut seen);
    }
    by_second(observer.latitude_deg, span.seconds, &seen)
}

/// Writes down the seconds at which a satellite is seen; out of reach it is left alone until it could be back.
fn follow(
    satellite: u32,
    track: &SatelliteTrack,
    observer: &Observer,
    span: &TimelineSpan,
    avoid: Option<&(GeostationaryArc, f64)>,
    seen: &mut Vec<(u32, Sighting)>,
) {
    let place = observer.place_km();
    let towards = place.map(|x| x / length(place));
    let reach = track.reach_rad(span.floor_deg);
    let cos_reach = reach.clamp(0.0, std::f64::consts::PI).cos();
    let mut second = 0;
    while second < span.seconds {
        let position = track.position_km(f64::from(second));
        let cos_central = dot(towards, position) / length(position);
        if cos_central < cos_reach {
            let away = cos_central.clamp(-1.0, 1.0).acos() - reach;
            second = second.saturating_add(((away / track.fastest_rad_s) as u32).max(1));
            continue;
        }
        let [east, north, up] = observer.level_km(position);
        if let Some(sighting) = sighting(satellite, [east, north, up], span.floor_deg, avoid) {
            seen.push((second, sighting));
        }
        second += 1;
    }
}
