//! Ground whose cover is mapped, by its tags.
//!
//! Tag meanings: OpenStreetMap wiki, one page per key. Geometry is filled in later.
use super::model::{Area, CoverKind, GroundCover};
use super::pbf::Tags;

/// Ground a way or relation describes.
pub(crate) fn cover(tags: &Tags) -> Option<GroundCover> {
    let kind = if settled(tags) {
        CoverKind::Settled
    } else if treeless(tags) {
        CoverKind::Treeless
    } else {
        return None;
    };
    Some(GroundCover { id: 0, kind, area: Area::default() })
}

fn settled(tags: &Tags) -> bool {
    matches!(tags.get("landuse"), Some("residential" | "commercial" | "retail" | "industrial"))
        || matches!(
            tags.get("place"),
            Some("village" | "hamlet" | "suburb" | "quarter" | "neighbourhood" | "city_block" | "town")
        )
}

fn treeless(tags: &Tags) -> bool {
    matches!(
        tags.get("landuse"),
        Some(
            "farmland"
                | "meadow"
                | "grass"
                | "farmyard"
                | "vineyard"
                | "quarry"
                | "railway"
                | "landfill"
                | "construction"
                | "reservoir"
                | "basin"
                | "salt_pond"
                | "greenhouse_horticulture"
        )
    ) || matches!(
        tags.get("natural"),
        Some(
            "grassland"
                | "heath"
                | "scrub"
                | "bare_rock"
                | "scree"
                | "shingle"
                | "sand"
                | "beach"
                | "glacier"
                | "fell"
                | "mud"
                | "water"
        )
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_have_no_wood_and_settlements_have_houses() {
        for (key, value, kind) in [
            ("landuse", "farmland", Some(CoverKind::Treeless)),
            ("natural", "bare_rock", Some(CoverKind::Treeless)),
            ("landuse", "residential", Some(CoverKind::Settled)),
            ("place", "hamlet", Some(CoverKind::Settled)),
            // Trees stand in parks, orchards and swamps.
            ("leisure", "park", None),
            ("landuse", "orchard", None),
            ("natural", "wetland", None),
            ("place", "city", None),
        ] {
            let tags = Tags::new(vec![(key, value)]);
            assert_eq!(cover(&tags).map(|c| c.kind), kind, "{key}={value}");
        }
    }
}
