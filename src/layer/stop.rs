//! A place to stop, as stored: where the vehicle stands, what it sees there, and where the panel sees more.
use crate::base::geodesy::Position;
use crate::base::words::{Cause, MapObject, Roofed, RoofedBy, StandsOn, StopAccess, StopKind};

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

/// How the record tells of places to stop that are left out since their road is of a district that is not in the layer.
pub(crate) const LEFT_OUT_AT_RIM: &str = "left out at the rim, on a road of a district that is not in this layer";

/// A row of `stops` (POINT).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StopRow {
    /// Id, from 1.
    pub stop_id: i64,
    /// Which object of the map it is.
    pub osm_type: MapObject,
    /// Its id there.
    pub osm_id: i64,
    /// Kind of place.
    pub kind: StopKind,
    /// Name of the place.
    pub name: Option<String>,
    /// Who may stop there.
    pub access: StopAccess,
    /// Whether the vehicle stands under a roof.
    pub roofed: Roofed,
    /// What says so.
    pub roofed_from: RoofedBy,
    /// What the vehicle stands on.
    pub stands_on: StandsOn,
    /// Open share of a level panel on the vehicle, 0..=1, whatever the vehicle itself may hide.
    pub open_share: f64,
    /// What hides most of the rest there, `none` below one per cent in all.
    pub main_cause: Cause,
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
    /// The sky at each of these places, packed by [`crate::physics::sky::pack`].
    pub masks: Vec<u8>,
    /// Where the vehicle stands.
    pub at: Position,
}

impl StopRow {
    /// Whether what is said of a roof is what its source can say.
    pub(super) fn roof_agrees(&self) -> bool {
        let says: &[Roofed] = match self.roofed_from {
            RoofedBy::Roof | RoofedBy::Parking => &[Roofed::Yes],
            RoofedBy::Tag => &[Roofed::Yes, Roofed::No],
            RoofedBy::Outline => &[Roofed::No],
            RoofedBy::None => &[Roofed::No, Roofed::Unknown],
        };
        says.contains(&self.roofed)
    }
    /// The best place within a reach, metres.
    pub(crate) fn best_within(&self, reach_m: f64) -> PanelPlace {
        let within = self.places.iter().take_while(|p| p.distance_m <= reach_m);
        within.last().copied().unwrap_or(PanelPlace { open_share: self.open_share, ..PanelPlace::default() })
    }
    /// Whether it may be proposed as a place to stop: never a private one.
    pub fn may_stop(&self) -> bool {
        self.access != StopAccess::Private
    }
}
