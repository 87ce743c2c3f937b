//! Places where a vehicle may stop, by their tags.
use super::model::{Access, StopKind, StopPlace};
use super::pbf::Tags;
use super::tags::{Issues, Reader, vehicle_access};
use super::tags_road::covered;
use crate::geodesy::Position;

/// The stop an object describes, placed later; `None` where no one may enter.
pub fn stop(tags: &Tags, issues: &mut Issues) -> Option<StopPlace> {
    let kind = kind(tags)?;
    let access = stop_access(tags)?;
    let name = Reader::new(tags, issues).text("name");
    Some(StopPlace { id: 0, kind, name, at: Position::default(), outline: None, covered: roofed(tags), access })
}

fn kind(tags: &Tags) -> Option<StopKind> {
    match tags.get("highway") {
        Some("services") => return Some(StopKind::Services),
        Some("rest_area") => return Some(StopKind::RestArea),
        _ => {}
    }
    if tags.is("amenity", "fuel") {
        return Some(StopKind::Fuel);
    }
    match tags.get("tourism") {
        Some("camp_site") => return Some(StopKind::CampSite),
        Some("camp_pitch") => return Some(StopKind::CampPitch),
        Some("caravan_site") => return Some(StopKind::CaravanSite),
        Some("picnic_site") => return Some(StopKind::PicnicSite),
        Some("viewpoint") => return Some(StopKind::Viewpoint),
        _ => {}
    }
    tags.is("amenity", "parking").then_some(StopKind::Parking)
}

/// A viewpoint closed to vehicles is still one to stop near, so only `access` itself closes a place.
fn stop_access(tags: &Tags) -> Option<Access> {
    let general = Tags::new(tags.get("access").map(|v| ("access", v)).into_iter().collect());
    vehicle_access(&general)
}

/// Roofed by tag, or a kind of parking that is always under a roof.
fn roofed(tags: &Tags) -> bool {
    covered(tags)
        || (tags.is("amenity", "parking")
            && matches!(
                tags.get("parking"),
                Some("underground" | "multi-storey" | "sheds" | "carports" | "garage_boxes")
            ))
}
