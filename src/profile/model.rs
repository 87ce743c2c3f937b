//! The assumptions as structs, with their default values.
use serde::{Deserialize, Serialize};

use super::around::{Barriers, Buildings, MapTrust, Roadside};
use super::relief::Relief;
use super::trees::CanopyProfile;
use crate::base::words::{DrivingSide, words};

/// All assumptions of a run.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Profile {
    /// The vehicle and where it drives.
    pub vehicle: Vehicle,
    /// The panel.
    pub terminal: Terminal,
    /// Link behaviour.
    pub link: Link,
    /// Trees.
    pub canopy: CanopyProfile,
    /// Earthworks beside the road.
    pub roadside: Roadside,
    /// Heights of buildings.
    pub building: Buildings,
    /// Heights of walls, cliffs and banks.
    pub barrier: Barriers,
    /// From when on the silence of the map says something.
    pub surroundings: MapTrust,
    /// Which satellites there are.
    pub constellation: Constellation,
    /// The panel while the vehicle stands.
    pub stop: Stop,
    /// How densely the road is looked at.
    pub sampling: Sampling,
    /// Elevation where it says little.
    pub relief: Relief,
    /// Edges between ratings.
    pub rating: RatingEdges,
}

words! {
    /// Which lane is driven.
    pub enum Lane {
        /// The outermost lane, where heavy vehicles drive.
        Nearside = "nearside",
        /// The lane next to the middle of the road.
        Offside = "offside",
        /// The middle of the direction's lanes.
        Middle = "middle",
    }

    /// What the panel's own bearings count from.
    pub enum Bearings {
        /// The vehicle's heading: a panel fixed to the vehicle turns with it.
        Heading = "heading",
        /// True north: a panel on a stand.
        North = "north",
    }
}

/// The vehicle and where it drives.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Vehicle {
    /// Height of the panel above the road, metres.
    pub antenna_height_m: f64,
    /// Height of the vehicle with the panel, metres.
    pub vehicle_height_m: f64,
    /// Lane driven.
    pub lane: Lane,
    /// Speed driven over the speed of the road.
    pub speed_factor: f64,
    /// Fastest speed driven, km/h.
    pub top_speed_kmh: f64,
    /// Power at the wheels over the mass of the loaded vehicle, watts per kilogram: how fast it climbs.
    pub power_w_per_kg: f64,
    /// Lateral acceleration on roundabouts, m/s^2.
    pub lateral_mps2: f64,
    /// Speed on tracks with a firm surface and no limit, km/h.
    pub paved_track_kmh: f64,
    /// Traffic side where no tag says it; `None` asks the country.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub driving_side: Option<DrivingSide>,
}

/// The panel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Terminal {
    /// Half-angle of the scan cone around the panel's normal, degrees.
    pub scan_half_angle_deg: f64,
    /// Lowest elevation at which satellites are used, degrees.
    pub lowest_elevation_deg: f64,
    /// Tilt of the panel's normal from the vertical, degrees.
    pub tilt_deg: f64,
    /// Direction of the tilt, degrees clockwise from where `bearings_from` says.
    pub tilt_towards_deg: f64,
    /// What bearings of tilt and blocked sectors count from.
    pub bearings_from: Bearings,
    /// Parts of the sky that the vehicle itself blocks.
    pub blocked: Vec<BlockedSector>,
}

/// A part of the sky that the vehicle itself blocks: from one bearing clockwise to another, between two
/// elevations.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BlockedSector {
    /// First bearing, degrees clockwise from where `bearings_from` says.
    pub bearing_from_deg: f64,
    /// Last bearing, degrees; 0 to 360 is the whole circle.
    pub bearing_to_deg: f64,
    /// Lower edge, degrees.
    #[serde(default)]
    pub elevation_from_deg: f64,
    /// Upper edge, degrees; the zenith where not given.
    #[serde(default = "zenith_deg")]
    pub elevation_to_deg: f64,
}

fn zenith_deg() -> f64 {
    90.0
}

impl BlockedSector {
    /// Its width, degrees, 0 to 360.
    pub fn width_deg(&self) -> f64 {
        let turn_deg = self.bearing_to_deg - self.bearing_from_deg;
        if turn_deg >= 360.0 { 360.0 } else { crate::base::geodesy::normal_deg(turn_deg) }
    }
    /// Whether it holds a direction, degrees.
    pub fn holds(&self, bearing_deg: f64, elevation_deg: f64) -> bool {
        let off_deg = crate::base::geodesy::normal_deg(bearing_deg - self.bearing_from_deg);
        (self.elevation_from_deg..=self.elevation_to_deg).contains(&elevation_deg) && off_deg <= self.width_deg()
    }
}

/// Link behaviour.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Link {
    /// Length of a scheduling slot, seconds.
    pub slot_s: f64,
    /// From an outage to the first chance on another satellite, seconds.
    pub reselection_s: f64,
    /// A link shorter than this does not end the search that an outage began, seconds.
    pub glimpse_s: f64,
    /// An outage ends only with a link of at least this length, seconds.
    pub hold_s: f64,
    /// Added to long outages until the link carries data again, seconds.
    pub reacquire_s: f64,
    /// It begins to be added to outages of this length, and is added whole to those twice as long, seconds.
    pub reacquire_from_s: f64,
    /// Share of slots whose satellite is chosen knowing what blocks it.
    pub awareness: f64,
    /// Share of satellites that can be used.
    pub usable_share: f64,
    /// Preference for high satellites: exponent of sin(elevation).
    pub elevation_preference: f64,
    /// Attenuation the link survives, dB.
    pub margin_db: f64,
    /// Simulated drives per stroke.
    pub drives: u32,
    /// Seed of all random draws.
    pub seed: u64,
}

/// Which satellites there are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Constellation {
    /// Circular shells.
    pub shells: Vec<Shell>,
    /// Directions closer than this to the geostationary arc are not used, degrees; 0 switches it off.
    pub geostationary_exclusion_deg: f64,
}

/// Satellites on circular orbits of one height and inclination, evenly spread.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shell {
    /// Height above the mean sphere, kilometres.
    pub altitude_km: f64,
    /// Inclination, degrees.
    pub inclination_deg: f64,
    /// Orbital planes.
    pub planes: u32,
    /// Satellites in each plane.
    pub per_plane: u32,
}

impl Shell {
    /// Satellites in the shell.
    pub fn count(&self) -> u32 {
        self.planes * self.per_plane
    }
}

/// The panel while the vehicle stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Stop {
    /// Height of the panel above the ground beside the vehicle, metres.
    pub panel_height_m: f64,
    /// How far from the vehicle it is set down at most, metres.
    pub reach_m: f64,
}

/// How densely the road is looked at.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Sampling {
    /// Longest distance between stations along the road, metres.
    pub station_spacing_m: f64,
    /// Longest segment, metres.
    pub segment_length_m: f64,
    /// Refraction coefficient k of the terrain horizon.
    pub refraction: f64,
    /// Length over which the road's height is smoothed, metres.
    pub grade_smoothing_m: f64,
}

/// Edges between ratings: a segment gets the best rating of which it keeps both figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct RatingEdges {
    /// `steady`: 95th percentile outage at most, seconds.
    pub steady_outage_s: f64,
    /// `steady`: outage share at most.
    pub steady_outage_share: f64,
    /// `blips`: 95th percentile outage at most, seconds.
    pub blips_outage_s: f64,
    /// `blips`: outage share at most.
    pub blips_outage_share: f64,
    /// `gaps`: 95th percentile outage at most, seconds.
    pub gaps_outage_s: f64,
    /// `drops`: 95th percentile outage at most, seconds.
    pub drops_outage_s: f64,
    /// `dark` from this outage share.
    pub dark_outage_share: f64,
    /// Shortest time over which an outage share is judged, seconds of driving.
    pub window_s: f64,
}

impl Default for Vehicle {
    fn default() -> Self {
        Self {
            antenna_height_m: 2.0,
            vehicle_height_m: 2.2,
            lane: Lane::Nearside,
            speed_factor: 1.0,
            top_speed_kmh: 130.0,
            power_w_per_kg: 28.0,
            lateral_mps2: 2.5,
            paved_track_kmh: 40.0,
            driving_side: None,
        }
    }
}
impl Default for Terminal {
    fn default() -> Self {
        Self {
            scan_half_angle_deg: 55.0,
            lowest_elevation_deg: 25.0,
            tilt_deg: 0.0,
            tilt_towards_deg: 0.0,
            bearings_from: Bearings::Heading,
            blocked: Vec::new(),
        }
    }
}
impl Default for Link {
    fn default() -> Self {
        Self {
            slot_s: 15.0,
            reselection_s: 1.5,
            glimpse_s: 2.0,
            hold_s: 2.0,
            reacquire_s: 5.0,
            reacquire_from_s: 10.0,
            awareness: 0.5,
            usable_share: 0.5,
            elevation_preference: 1.0,
            margin_db: 5.0,
            drives: 256,
            seed: 1,
        }
    }
}
impl Default for Constellation {
    fn default() -> Self {
        Self {
            shells: vec![
                Shell { altitude_km: 540.0, inclination_deg: 53.5, planes: 70, per_plane: 70 },
                Shell { altitude_km: 500.0, inclination_deg: 43.5, planes: 50, per_plane: 70 },
                Shell { altitude_km: 580.0, inclination_deg: 71.0, planes: 25, per_plane: 30 },
                Shell { altitude_km: 530.0, inclination_deg: 98.0, planes: 30, per_plane: 45 },
            ],
            geostationary_exclusion_deg: 0.0,
        }
    }
}
impl Default for Stop {
    fn default() -> Self {
        Self { panel_height_m: 1.2, reach_m: 30.0 }
    }
}
impl Default for Sampling {
    fn default() -> Self {
        Self { station_spacing_m: 10.0, segment_length_m: 250.0, refraction: 0.25, grade_smoothing_m: 120.0 }
    }
}
impl Default for RatingEdges {
    fn default() -> Self {
        Self {
            steady_outage_s: 0.4,
            steady_outage_share: 0.01,
            blips_outage_s: 2.0,
            blips_outage_share: 0.03,
            gaps_outage_s: 5.0,
            drops_outage_s: 30.0,
            dark_outage_share: 0.5,
            window_s: 60.0,
        }
    }
}

impl Terminal {
    /// Lowest elevation of the usable cone in any direction, degrees: the floor of the masks.
    pub fn floor_deg(&self) -> f64 {
        (90.0 - self.tilt_deg - self.scan_half_angle_deg).max(self.lowest_elevation_deg)
    }
}
