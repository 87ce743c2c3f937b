//! What is driven before and after a stroke, as stored.
/// A row of `runs` (no geometry): a lane that is driven before or after a stroke, where the road goes on in another district.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RunRow {
    /// Id, from 1.
    pub run_id: i64,
    /// Number of the stroke.
    pub stroke: u32,
    /// Where: -1 just before the first step, -2 before that; 1 just after the last.
    pub nth: i64,
    /// Lane.
    pub lane_id: i64,
}
