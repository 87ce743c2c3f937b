//! Heights of buildings and roofs, by their tags or by default.
use crate::map::extract::model::Building;

/// Height of a storey, metres; common practice, no source.
pub(crate) const STOREY_M: f64 = 3.0;
/// Height of buildings without any height tag, metres: two storeys; assumed.
pub(crate) const BUILDING_HEIGHT_M: f64 = 6.0;
/// Underside of a roof where silent, metres (assumed: a lorry's 4 m and room for lamps).
pub(crate) const ROOF_UNDERSIDE_M: f64 = 4.8;
/// Roof with its fascia, metres (assumed).
pub(crate) const ROOF_THICKNESS_M: f64 = 1.0;

/// Height of a building above the ground, metres, and whether tags gave it.
///
/// `height` reaches to the top of the roof; levels do not count the roof, so its height comes on top of them. What
/// would end below its own underside is assumed to end one storey above it.
pub fn building_height_m(building: &Building) -> (f64, bool) {
    let usable = |v: Option<f32>| v.map(f64::from).filter(|h| h.is_finite() && *h > 0.0);
    let roof_m = usable(building.roof_height_m).or(usable(building.roof_levels).map(|n| n * STOREY_M));
    let by_levels_m = usable(building.levels).map(|levels| levels * STOREY_M + roof_m.unwrap_or(0.0));
    let underside_m = usable(building.min_height_m).unwrap_or(0.0);
    match usable(building.height_m).or(by_levels_m) {
        Some(height_m) if height_m > underside_m => (height_m, true),
        None if BUILDING_HEIGHT_M > underside_m => (BUILDING_HEIGHT_M, false),
        _ => (underside_m + STOREY_M, false),
    }
}
