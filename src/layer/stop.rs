//! A place to stop, as stored: where the vehicle stands, what it sees there, and where the panel sees more.
use crate::base::geodesy::Position;

/// A place for the panel beside the vehicle.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PanelPlace {
    /// Straight from the vehicle, metres; 0 is the panel left on the vehicle.
    pub distance_m: f64,
    /// From the vehicle, degrees clockwise from true north.
    pub bearing_deg: f64,
    /// Open share of a level panel there, 0..=1.
    pub open_share: f64,
}

/// A row of `stops` (POINT).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StopRow {
    /// Id, from 1.
    pub stop_id: i64,
    /// `node`, `way` or `relation` of the map.
    pub osm_type: &'static str,
    /// Its id there.
    pub osm_id: i64,
    /// `fuel`, `rest_area`, `services`, `camp_site`, `camp_pitch`, `caravan_site`, `picnic_site`, `viewpoint` or `parking`.
    pub kind: &'static str,
    /// Name of the place.
    pub name: Option<String>,
    /// `open`, `customers` (customers, permit holders, guests and the like) or `private`.
    pub access: &'static str,
    /// The vehicle stands under a roof.
    pub roofed: bool,
    /// What says so: `tag` (of the place), `roof` (one drawn on the map), `parking` (a kind of it that has one) or `none`.
    pub roofed_from: &'static str,
    /// What the vehicle stands on: `roof` (under a drawn one), `aisle` (a service road of the place), `pitch`, `ground` (free
    /// ground of the place), `building` (inside or on top of one) or `point` (where the map has the place, for want of better).
    pub stands_on: &'static str,
    /// Open share of a level panel on the vehicle, 0..=1, whatever the vehicle itself may hide.
    pub open_share: f64,
    /// What hides most of the rest there: `cover`, `deck`, `building`, `terrain`, `canopy`, `none` below one per cent in all.
    pub main_cause: &'static str,
    /// Nearest segment a vehicle may drive that is more than a service road, else the nearest.
    pub segment_id: i64,
    /// What the road is called, else its class.
    pub road: String,
    /// Along the segment in node order to its place nearest to the vehicle, metres.
    pub along_m: f64,
    /// From there to the vehicle, metres.
    pub road_distance_m: f64,
    /// Best place for the panel within the profile's reach: straight from the vehicle, metres; 0 leaves it on the vehicle.
    pub best_distance_m: f64,
    /// From the vehicle, degrees clockwise from true north.
    pub best_bearing_deg: f64,
    /// Open share of a level panel there, 0..=1.
    pub best_open_share: f64,
    /// Open share there less that on the vehicle.
    pub gain: f64,
    /// Places worth a longer cable, nearest first, each clearer than all before it; the first is the vehicle. Tells the best
    /// place within any reach up to the farthest looked at.
    pub places: Vec<PanelPlace>,
    /// Where the vehicle stands.
    pub at: Position,
}

impl StopRow {
    /// The best place within a reach, metres.
    pub fn best_within(&self, reach_m: f64) -> PanelPlace {
        let within = self.places.iter().take_while(|p| p.distance_m <= reach_m);
        within.last().copied().unwrap_or(PanelPlace { open_share: self.open_share, ..PanelPlace::default() })
    }
    /// Whether it may be proposed as a place to stop: never a private one.
    pub fn may_stop(&self) -> bool {
        self.access != "private"
    }
}
