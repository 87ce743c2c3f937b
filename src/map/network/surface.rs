//! Whether a road has a loose surface.
use super::model::Sourced;
use crate::base::words::{RoadClass, ValueFrom};
use crate::map::extract::model::Road;

/// Unpaved or not: by `surface`, else by `tracktype`, else by class, since only tracks are usually unpaved.
/// Values of `surface` and `tracktype`: OpenStreetMap wiki, pages of these keys.
pub fn unpaved(road: &Road) -> Sourced<bool> {
    let tagged = road.surface.as_deref().and_then(loose).or_else(|| road.tracktype.map(|grade| grade > 1));
    match tagged {
        Some(value) => Sourced { value, from: ValueFrom::Tag },
        None => Sourced { value: road.class == RoadClass::Track, from: ValueFrom::Default },
    }
}

/// What a value of `surface` says; `None` where it is not known. Of several the first counts.
fn loose(surface: &str) -> Option<bool> {
    let first = surface.split(';').next().unwrap_or_default().trim();
    let base = first.split(':').next().unwrap_or_default();
    Some(match base {
        "paved" | "asphalt" | "chipseal" | "concrete" | "paving_stones" | "sett" | "cobblestone"
        | "unhewn_cobblestone" | "bricks" | "brick" | "metal" | "metal_grid" | "wood" => false,
        "unpaved" | "compacted" | "fine_gravel" | "gravel" | "pebblestone" | "rock" | "stone" | "shells" | "ground"
        | "dirt" | "earth" | "soil" | "grass" | "grass_paver" | "mud" | "sand" | "woodchips" | "clay" | "snow"
        | "ice" | "salt" => true,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn surface_decides_before_tracktype_and_class() {
        let of = |class, surface: Option<&str>, tracktype| {
            let road = Road { surface: surface.map(Into::into), tracktype, ..Road::untagged(1, class, Vec::new()) };
            let found = unpaved(&road);
            (found.value, found.from)
        };
        use ValueFrom::{Default, Tag};
        assert_eq!(of(RoadClass::Track, None, None), (true, Default));
        assert_eq!(of(RoadClass::Primary, None, None), (false, Default));
        assert_eq!(of(RoadClass::Track, None, Some(1)), (false, Tag));
        assert_eq!(of(RoadClass::Service, None, Some(3)), (true, Tag));
        assert_eq!(of(RoadClass::Track, Some("asphalt"), Some(3)), (false, Tag));
        assert_eq!(of(RoadClass::Primary, Some("fine_gravel"), None), (true, Tag));
        assert_eq!(of(RoadClass::Primary, Some("concrete:plates;gravel"), None), (false, Tag));
        assert_eq!(of(RoadClass::Track, Some("unheard-of"), None), (true, Default));
    }
}
