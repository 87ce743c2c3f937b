//! Places where a vehicle may stop, by their tags.
use super::model::{Shelter, StopPlace};
use super::pbf::Tags;
use super::tags::{Issues, TagReader};
use super::tags_road::covered;
use crate::base::geodesy::Position;
use crate::base::words::{MapObject, StopAccess, StopKind};

/// The stop an object describes, placed later; `None` where no one may enter.
pub fn stop(tags: &Tags, issues: &mut Issues) -> Option<StopPlace> {
    let kind = kind(tags)?;
    let access = stop_access(tags)?;
    let name = TagReader::new(tags, issues).text("name");
    let (object, shelter) = (MapObject::Node, shelter(tags));
    Some(StopPlace { object, id: 0, kind, name, at: Position::default(), outline: None, shelter, access })
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
fn stop_access(tags: &Tags) -> Option<StopAccess> {
    match tags.get("access").map_or("yes", str::trim) {
        "no" => None,
        "yes" | "permissive" | "designated" | "official" | "unknown" | "public" | "" => Some(StopAccess::Open),
        value => {
            let private =
                |one: &str| matches!(one.trim(), "private" | "residents" | "employees" | "staff" | "military");
            Some(if value.split(';').any(private) { StopAccess::Private } else { StopAccess::Customers })
        }
    }
}

/// Roofed or not by tag, or a kind of parking that is always under a roof, or on one.
fn shelter(tags: &Tags) -> Shelter {
    let parking = tags.get("parking").filter(|_| tags.is("amenity", "parking"));
    match parking {
        Some("underground" | "multi-storey") => Shelter::Enclosed,
        Some("sheds" | "carports" | "garage_boxes") => Shelter::Sheds,
        Some("rooftop") => Shelter::Rooftop,
        _ if covered(tags) => Shelter::Covered,
        _ if tags.get("covered").is_some_and(|c| c.trim() == "no") => Shelter::Uncovered,
        _ => Shelter::Untold,
    }
}
