//! What is found by its name, as stored: one row for each spelling of a place, a place to stop or a road.
use crate::base::geodesy::Position;
use crate::base::words::NameKind;

/// A row of `names` (no geometry): something that can be found by a name.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NameRow {
    /// Id, from 1.
    pub name_id: i64,
    /// The name as it is looked for, see [`crate::base::fold::folded`].
    pub folded: String,
    /// The name as the map has it, or its English form.
    pub name: String,
    /// What it is the name of.
    pub kind: NameKind,
    /// The row it points to: `place_id`, `stop_id`, or `segment_id` of a segment of the road.
    pub row_id: i64,
    /// `place_id` of the larger place that it lies in or near; nothing where there is none.
    pub near_id: Option<i64>,
    /// Length of the segments of the road there, metres; nothing for places and stops.
    pub length_m: Option<f64>,
    /// Where it is, latitude, degrees.
    pub lat_deg: f64,
    /// Longitude, degrees.
    pub lon_deg: f64,
}

impl NameRow {
    /// Where it is.
    pub fn at(&self) -> Position {
        Position::from_deg(self.lon_deg, self.lat_deg)
    }
}
