//! Where crowns hang over a road: over the lane that is driven, or over the carriageway from both sides.
use super::grid::CanopyGrid;
use crate::base::geodesy::Point;

/// A crown hangs over a place where it fills this share of the pixel; assumed.
const LEAST_SHARE: f32 = 0.5;
/// Crowns hang over a carriageway where they reach this far inside its edge, metres; assumed.
const INSIDE_M: f64 = 0.5;

/// The road across one station.
#[derive(Debug, Clone, Copy)]
pub struct Across {
    /// Middle of the carriageway.
    pub middle: Point,
    /// Heading, degrees.
    pub heading_deg: f64,
    /// Of the carriageway, metres.
    pub half_width_m: f64,
    /// Distance of the lane from the middle, metres, to the right of the heading positive.
    pub lane_m: f64,
    /// How far the ground lies below the road, metres; 0 but on bridges.
    pub below_m: f64,
}

impl Across {
    /// Whether crowns hang over the lane, or over the carriageway from both sides.
    pub fn is_hung_over(&self, canopy: &CanopyGrid) -> bool {
        let over = |aside_m: f64| {
            let crown = canopy.crown(self.middle.moved(self.heading_deg + 90.0, aside_m));
            crown.is_some_and(|c| c.share() >= LEAST_SHARE && c.top_m() > self.below_m)
        };
        let edge_m = (self.half_width_m - INSIDE_M).max(0.0);
        over(self.lane_m) || over(edge_m) && over(-edge_m)
    }
}
