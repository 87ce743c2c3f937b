//! Names of roads.
use crate::layer::model::SegmentRow;

/// What a person calls the road.
pub(super) fn road_name(s: &SegmentRow) -> String {
    match (&s.name, &s.reference) {
        (Some(name), Some(reference)) if name != reference => format!("{name} ({reference})"),
        (Some(one), _) | (None, Some(one)) => one.clone(),
        (None, None) => s.highway.name().to_owned(),
    }
}
