//! Satellite timelines: satellites moved along their orbits over the turning earth, second by second.
use std::f64::consts::TAU;

use super::density::is_clear;
use super::geometry::{CircularOrbit, EARTH_ROTATION_RAD_S, GeostationaryArc, SkyDirection};
use super::model::{Sighting, Timeline};
use crate::base::geodesy::normal_deg;
use crate::profile::{Constellation, Shell};

/// Fractional part of the golden ratio: multiples of it never fall into step.
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// The satellites above an elevation at a latitude on longitude 0, for at least one second.
///
/// Each shell has its planes evenly around the equator and its satellites evenly along each plane;
/// phases advance by the golden ratio from plane to plane and from shell to shell. Satellites are
/// numbered through all shells. Directions within the geostationary exclusion are left out.
pub fn shell_timeline(latitude_deg: f64, constellation: &Constellation, floor_deg: f64, seconds: u32) -> Timeline {
    let seconds = seconds.max(1);
    let exclusion_deg = constellation.geostationary_exclusion_deg;
    let avoid = (exclusion_deg > 0.0).then(|| (GeostationaryArc::at(latitude_deg), exclusion_deg));
    let mut seen = Vec::new();
    let mut first_id: u32 = 0;
    for (number, shell) in constellation.shells.iter().enumerate() {
        let ids = u64::from(shell.planes) * u64::from(shell.per_plane);
        if let Some(watch) = Watch::new(shell, latitude_deg, floor_deg, avoid.as_ref()) {
            for (k, (node, phase)) in start_angles(shell, number).enumerate() {
                watch.follow(first_id.wrapping_add(k as u32), node, phase, seconds, &mut seen);
            }
        }
        first_id = first_id.wrapping_add(ids as u32);
    }
    by_second(latitude_deg, seconds, &seen)
}

/// Longitude of the node and angle along the orbit of each satellite at second 0, radians.
fn start_angles(shell: &Shell, shell_number: usize) -> impl Iterator<Item = (f64, f64)> {
    let (planes, per_plane) = (shell.planes, shell.per_plane);
    let shell_turn = (shell_number as f64 * GOLDEN).fract();
    (0..planes).flat_map(move |plane| {
        let node = TAU * (f64::from(plane) + shell_turn) / f64::from(planes);
        let plane_turn = (f64::from(plane) * GOLDEN + shell_turn).fract();
        (0..per_plane).map(move |k| (node, TAU * (f64::from(k) + plane_turn) / f64::from(per_plane)))
    })
}

/// One observer watching one shell.
struct Watch<'a> {
    radius_km: f64,
    earth_radius_km: f64,
    motion_rad_s: f64,
    cos_inclination: f64,
    sin_inclination: f64,
    sin_latitude: f64,
    cos_latitude: f64,
    floor_deg: f64,
    /// Central angle within which a satellite stands above the floor, radians.
    reach: f64,
    cos_reach: f64,
    avoid: Option<&'a (GeostationaryArc, f64)>,
}

/// Slack on the reach, radians: the elevation itself decides at the edge.
const REACH_SLACK: f64 = 1e-6;

impl<'a> Watch<'a> {
    /// `None` for a shell that can never be seen.
    fn new(
        shell: &Shell,
        latitude_deg: f64,
        floor_deg: f64,
        avoid: Option<&'a (GeostationaryArc, f64)>,
    ) -> Option<Self> {
        let orbit = CircularOrbit::at_altitude(shell.altitude_km);
        if !orbit.is_above_ground() || !shell.inclination_deg.is_finite() {
            return None;
        }
        let (sin_inclination, cos_inclination) = shell.inclination_deg.to_radians().sin_cos();
        let (sin_latitude, cos_latitude) = latitude_deg.to_radians().sin_cos();
        let reach = orbit.central_angle_deg(floor_deg).to_radians() + REACH_SLACK;
        Some(Self {
            radius_km: orbit.radius_km,
            earth_radius_km: orbit.earth_radius_km,
            motion_rad_s: orbit.mean_motion_rad_s(),
            cos_inclination,
            sin_inclination,
            sin_latitude,
            cos_latitude,
            floor_deg,
            reach,
            cos_reach: reach.min(std::f64::consts::PI).cos(),
            avoid,
        })
    }

    /// Writes down the seconds at which a satellite is seen.
    ///
    /// Over the turning earth the central angle shrinks by at most mean motion plus rotation per
    /// second, so a satellite out of reach is left alone until it could be back.
    fn follow(&self, satellite: u32, node: f64, phase: f64, seconds: u32, seen: &mut Vec<(u32, Sighting)>) {
        let fastest_rad_s = self.motion_rad_s + EARTH_ROTATION_RAD_S;
        let mut second = 0;
        while second < seconds {
            let t = f64::from(second);
            let place = self.place(node - EARTH_ROTATION_RAD_S * t, phase + self.motion_rad_s * t);
            let cos_central = self.cos_latitude * place[0] + self.sin_latitude * place[2];
            if cos_central >= self.cos_reach {
                if let Some(sighting) = self.sighting(satellite, place, cos_central) {
                    seen.push((second, sighting));
                }
                second += 1;
            } else {
                let away = cos_central.clamp(-1.0, 1.0).acos() - self.reach;
                second = second.saturating_add(((away / fastest_rad_s) as u32).max(1));
            }
        }
    }

    /// Unit vector towards a satellite in axes turning with the earth, x through the observer's meridian.
    fn place(&self, node: f64, along: f64) -> [f64; 3] {
        let (sin_node, cos_node) = node.sin_cos();
        let (sin_u, cos_u) = along.sin_cos();
        let side = sin_u * self.cos_inclination;
        [cos_node * cos_u - sin_node * side, sin_node * cos_u + cos_node * side, sin_u * self.sin_inclination]
    }

    fn sighting(&self, satellite: u32, place: [f64; 3], cos_central: f64) -> Option<Sighting> {
        let north = self.cos_latitude * place[2] - self.sin_latitude * place[0];
        let up = cos_central - self.earth_radius_km / self.radius_km;
        sighting(satellite, [place[1], north, up], self.floor_deg, self.avoid)
    }
}

/// What is written down of a satellite towards east, north and up (any length), where it is above the floor
/// and keeps its distance from the geostationary arc.
pub(super) fn sighting(
    satellite: u32,
    [east, north, up]: [f64; 3],
    floor_deg: f64,
    avoid: Option<&(GeostationaryArc, f64)>,
) -> Option<Sighting> {
    // Rounded first, so that what is written down keeps to the floor and to 0..360 as well.
    let elevation_deg = up.atan2(east.hypot(north)).to_degrees() as f32;
    if f64::from(elevation_deg) < floor_deg {
        return None;
    }
    let rounded = normal_deg(east.atan2(north).to_degrees()) as f32;
    let azimuth_deg = if rounded >= 360.0 { 0.0 } else { rounded };
    let direction = SkyDirection::new(f64::from(azimuth_deg), f64::from(elevation_deg));
    is_clear(avoid, direction).then_some(Sighting { satellite, azimuth_deg, elevation_deg })
}

/// Sorts sightings by second; within a second their order (by satellite) stays.
pub(super) fn by_second(latitude_deg: f64, seconds: u32, seen: &[(u32, Sighting)]) -> Timeline {
    let mut starts = vec![0u32; seconds as usize + 1];
    for (second, _) in seen {
        starts[*second as usize + 1] += 1;
    }
    for k in 1..starts.len() {
        starts[k] += starts[k - 1];
    }
    let mut next = starts.clone();
    let mut sightings = vec![Sighting { satellite: 0, azimuth_deg: 0.0, elevation_deg: 0.0 }; seen.len()];
    for (second, sighting) in seen {
        let slot = &mut next[*second as usize];
        sightings[*slot as usize] = *sighting;
        *slot += 1;
    }
    Timeline { latitude_deg, sightings, starts }
}
