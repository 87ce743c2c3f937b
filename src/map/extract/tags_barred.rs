//! Water and railway tracks, by their tags.
//!
//! Tag meanings: OpenStreetMap wiki, one page per key. Geometry is filled in later.
use super::model::{Area, Barred, BarredBy, BarredShape};
use super::pbf::Tags;
use super::tags::{Issues, TagReader, WIDTH_M, is_set};

/// Water or tracks a way or relation describes; nothing where they are below the ground.
pub fn barred(tags: &Tags, issues: &mut Issues) -> Option<Barred> {
    let (by, area) = if is_buried(tags) { None } else { water(tags).or_else(|| rail(tags)) }?;
    let shape = if area { BarredShape::Area(Area::default()) } else { BarredShape::Line(Vec::new()) };
    let mut read = TagReader::new(tags, issues);
    let width_m = if area { None } else { read.length_m(&["width", "est_width"], WIDTH_M) };
    Some(Barred { id: 0, by, waterway: read.text("waterway"), shape, width_m })
}

/// Whether it lies below the ground.
pub(crate) fn is_buried(tags: &Tags) -> bool {
    is_set(tags, "tunnel") || is_set(tags, "covered") || tags.is("location", "underground")
}

/// What is water, and whether it is drawn as an area.
fn water(tags: &Tags) -> Option<(BarredBy, bool)> {
    let area = tags.is("natural", "water")
        || matches!(tags.get("waterway"), Some("riverbank" | "dock"))
        || matches!(tags.get("landuse"), Some("reservoir" | "basin"))
        || tags.is("leisure", "swimming_pool");
    if area {
        return Some((BarredBy::Water, true));
    }
    if tags.is("natural", "coastline") {
        return Some((BarredBy::Coast, false));
    }
    let flows =
        matches!(tags.get("waterway"), Some("river" | "canal" | "stream" | "tidal_channel" | "ditch" | "drain"));
    flows.then_some((BarredBy::Water, false))
}

fn rail(tags: &Tags) -> Option<(BarredBy, bool)> {
    let used = matches!(
        tags.get("railway"),
        Some("rail" | "light_rail" | "tram" | "subway" | "narrow_gauge" | "funicular" | "preserved" | "monorail")
    );
    used.then_some((BarredBy::Rail, false))
}
