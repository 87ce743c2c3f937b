//! What the link stage needs to know of a segment, whether it comes from a build or from a stored layer.
use std::borrow::Cow;

use crate::base::geodesy::{LocalPlane, Position, normal_deg};
use crate::base::words::Direction;
use crate::map::network::climb::climb_kmh;
use crate::map::network::station::spaced;
use crate::physics::orbit::latitude_key;
use crate::profile::Vehicle;

/// One segment.
#[derive(Debug, Clone)]
pub struct RoadPiece<'a> {
    /// Centre line in node order.
    pub line: Cow<'a, [Position]>,
    /// Length, metres.
    pub length_m: f64,
    /// Stations; at least two.
    pub stations: u32,
    /// Speed of the road forward and backward, km/h, before the profile.
    pub speeds_kmh: [f32; 2],
    /// Rise over run in node order; NaN where it is not known.
    pub climb: f32,
    /// Vehicles on ferries and shuttle trains stand under decks and roofs.
    pub boarded: bool,
}

impl RoadPiece<'_> {
    /// Latitude under which its sky is found.
    pub fn latitude_key(&self) -> i32 {
        self.line.first().map_or(0, |p| latitude_key(p.lat_deg()))
    }
    /// Rise over run in a direction; nothing where it is not known.
    pub(crate) fn climb_in(&self, direction: Direction) -> Option<f64> {
        let climb = f64::from(self.climb);
        (!climb.is_nan()).then_some(if direction == Direction::Forward { climb } else { -climb })
    }
    fn wish_kmh(&self, direction: Direction, vehicle: &Vehicle) -> f64 {
        let road_kmh = f64::from(self.speeds_kmh[usize::from(direction == Direction::Backward)]);
        (road_kmh * vehicle.speed_factor).min(vehicle.top_speed_kmh)
    }
    fn climb_kmh(&self, direction: Direction, vehicle: &Vehicle) -> f64 {
        let climb = self.climb_in(direction).unwrap_or(f64::NAN);
        if self.boarded { f64::INFINITY } else { climb_kmh(climb, vehicle.power_w_per_kg) }
    }
    /// Speed driven, km/h: the road's times the profile's factor, at most its top speed and what the climb allows.
    pub(crate) fn driven_kmh(&self, direction: Direction, vehicle: &Vehicle) -> f64 {
        self.wish_kmh(direction, vehicle).min(self.climb_kmh(direction, vehicle))
    }
    /// Whether the climb sets the speed.
    pub fn climbs(&self, direction: Direction, vehicle: &Vehicle) -> bool {
        self.climb_kmh(direction, vehicle) < self.wish_kmh(direction, vehicle)
    }
    /// Driving time, seconds.
    pub fn seconds(&self, direction: Direction, vehicle: &Vehicle) -> f64 {
        self.length_m * 3.6 / self.driven_kmh(direction, vehicle)
    }
    /// Heading at every station in the order driven, degrees.
    pub fn headings_deg(&self, direction: Direction) -> Vec<f32> {
        let Some(first) = self.line.first() else { return Vec::new() };
        let plane = LocalPlane::at_position(*first);
        let line: Vec<_> = self.line.iter().map(|p| plane.to_plane(*p)).collect();
        let mut headings: Vec<f32> = spaced(&line, self.stations).iter().map(|p| p.heading_deg as f32).collect();
        if direction == Direction::Backward {
            headings.reverse();
            for h in &mut headings {
                *h = normal_deg(f64::from(*h) + 180.0) as f32;
            }
        }
        headings
    }
    /// Heading in the middle, degrees.
    pub(crate) fn middle_heading_deg(&self, direction: Direction) -> f64 {
        let headings = self.headings_deg(direction);
        headings.get(headings.len() / 2).map_or(0.0, |h| f64::from(*h))
    }
    /// Its first two places in the direction driven.
    pub fn begins(&self, direction: Direction) -> [Position; 2] {
        let n = self.line.len();
        let at = |i: usize| self.line[i.min(n - 1)];
        match direction {
            Direction::Forward => [at(0), at(1)],
            Direction::Backward => [at(n - 1), at(n.saturating_sub(2))],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn speed_follows_road_profile_and_climb_and_seconds_follow_it() {
        let line = vec![Position { lon_e7: 0, lat_e7: 0 }, Position { lon_e7: 20_000, lat_e7: 0 }];
        let piece = RoadPiece {
            line: Cow::Owned(line),
            length_m: 200.0,
            stations: 21,
            speeds_kmh: [100.0, 80.0],
            climb: 0.1,
            boarded: false,
        };
        let mut vehicle = crate::profile::Profile::default().vehicle;
        let kmh = |d, v: &Vehicle| piece.driven_kmh(d, v);
        let (up, down) = (Direction::Forward, Direction::Backward);
        assert!(kmh(up, &vehicle) < 80.0 && kmh(down, &vehicle) == 80.0);
        assert!(piece.climbs(up, &vehicle) && !piece.climbs(down, &vehicle));
        assert!((piece.seconds(down, &vehicle) - 9.0).abs() < 1e-9);
        vehicle.power_w_per_kg = 200.0;
        vehicle.speed_factor = 0.5;
        assert_eq!((kmh(up, &vehicle), kmh(down, &vehicle)), (50.0, 40.0));
        vehicle.top_speed_kmh = 45.0;
        assert_eq!((kmh(up, &vehicle), kmh(down, &vehicle)), (45.0, 40.0));
        assert!((piece.middle_heading_deg(up) - 90.0).abs() < 1e-3);
        assert!((piece.middle_heading_deg(down) - 270.0).abs() < 1e-3);
        assert_eq!(piece.begins(down)[0], piece.begins(up)[1]);
    }
}
