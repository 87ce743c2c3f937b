//! Names of places and water, by their tags.
//!
//! Tag meanings: OpenStreetMap wiki, Key:place, Key:mountain_pass, Key:water, Tag:natural=coastline. Geometry is filled in later.
use super::backdrop::{Backdrop, NamedPlace, WaterArea, WaterLine};
use super::model::Area;
use super::pbf::Tags;
use super::tags_barred::is_buried;
use crate::base::geodesy::Position;
use crate::base::words::{GroundKind, GroundLineKind, MOST_PEOPLE, MapObject, PlaceKind};

/// The place with a name that a node is.
pub(crate) fn place(tags: &Tags) -> Option<NamedPlace> {
    let kind = match tags.get("place") {
        Some("city") => PlaceKind::City,
        Some("town") => PlaceKind::Town,
        Some("village") => PlaceKind::Village,
        Some("hamlet") => PlaceKind::Hamlet,
        Some("suburb") => PlaceKind::Suburb,
        Some("island") => PlaceKind::Island,
        _ if tags.is("mountain_pass", "yes") => PlaceKind::Pass,
        _ => return None,
    };
    let name = text(tags, "name")?;
    let name_en = text(tags, "name:en").filter(|english| *english != name);
    let (object, id, at) = (MapObject::Node, 0, Position::default());
    Some(NamedPlace { object, id, kind, name, name_en, population: population(tags), at })
}

/// What of the backdrop a way or relation is. Settlements that are drawn as areas nearly always have a node besides; islands
/// often have none.
pub(crate) fn shapes(tags: &Tags) -> impl Iterator<Item = Backdrop> {
    let island = place(tags).filter(|place| place.kind == PlaceKind::Island).map(Backdrop::Place);
    island.into_iter().chain(water(tags))
}

fn water(tags: &Tags) -> Option<Backdrop> {
    if is_buried(tags) {
        return None;
    }
    let name = text(tags, "name");
    if let Some(kind) = area(tags) {
        return Some(Backdrop::Area(WaterArea { kind, name, area: Area::default() }));
    }
    let kind = match tags.get("waterway") {
        _ if tags.is("natural", "coastline") => GroundLineKind::Coastline,
        Some("river") => GroundLineKind::River,
        Some("canal") => GroundLineKind::Canal,
        _ => return None,
    };
    Some(Backdrop::Line(WaterLine { kind, name, line: Vec::new() }))
}

fn area(tags: &Tags) -> Option<GroundKind> {
    match (tags.get("landuse"), tags.get("waterway")) {
        _ if tags.is("natural", "water") => {}
        (Some("reservoir"), _) => return Some(GroundKind::Reservoir),
        (Some("basin"), _) => return Some(GroundKind::Basin),
        (_, Some("riverbank")) => return Some(GroundKind::River),
        _ => return None,
    }
    Some(match tags.get("water") {
        Some("lake" | "lagoon" | "oxbow") => GroundKind::Lake,
        Some("pond" | "fishpond" | "moat" | "reflecting_pool") => GroundKind::Pond,
        Some("reservoir") => GroundKind::Reservoir,
        Some("basin" | "wastewater") => GroundKind::Basin,
        Some("river" | "stream" | "rapids" | "stream_pool") => GroundKind::River,
        Some("canal" | "ditch" | "lock") => GroundKind::Canal,
        _ => GroundKind::Water,
    })
}

fn text(tags: &Tags, key: &str) -> Option<Box<str>> {
    tags.get(key).map(str::trim).filter(|text| !text.is_empty()).map(Into::into)
}

/// Digits and nothing else: `1 200`, `~500` and `1,5 mln` say too little.
fn population(tags: &Tags) -> Option<u32> {
    let text = tags.get("population")?.trim();
    let people = Some(text).filter(|text| text.bytes().all(|b| b.is_ascii_digit()))?.parse().ok()?;
    Some(people).filter(|people| *people <= MOST_PEOPLE)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(pairs: &[(&'static str, &'static str)]) -> Vec<Backdrop> {
        shapes(&Tags::new(pairs.to_vec())).collect()
    }

    #[test]
    fn places_have_a_kind_and_a_name() {
        let at = |pairs: &[(&'static str, &'static str)]| place(&Tags::new(pairs.to_vec()));
        let town =
            at(&[("place", "town"), ("name", " Ordino "), ("name:en", "Ordino"), ("population", "4521")]).unwrap();
        assert_eq!(
            (town.kind, &*town.name, town.name_en, town.population),
            (PlaceKind::Town, "Ordino", None, Some(4521))
        );
        let pass =
            at(&[("mountain_pass", "yes"), ("natural", "saddle"), ("name", "Coll"), ("name:en", "Pass")]).unwrap();
        assert_eq!((pass.kind, pass.name_en.as_deref()), (PlaceKind::Pass, Some("Pass")));
        for people in ["1 200", "~500", "1,5 mln", "-3", "+7", "", "99999999999", "100000001"] {
            assert_eq!(
                at(&[("place", "city"), ("name", "A"), ("population", people)]).unwrap().population,
                None,
                "{people}"
            );
        }
        for nothing in [
            &[("place", "town")][..],
            &[("place", "town"), ("name", "  ")],
            &[("place", "locality"), ("name", "A")],
            &[("place", "isolated_dwelling"), ("name", "A")],
            &[("mountain_pass", "no"), ("name", "A")],
            &[("natural", "saddle"), ("name", "A")],
        ] {
            assert_eq!(at(nothing), None, "{nothing:?}");
        }
    }

    #[test]
    fn water_has_a_kind_and_may_be_below_the_ground() {
        let area = |pairs: &[(&'static str, &'static str)]| match &of(pairs)[..] {
            [Backdrop::Area(water)] => Some(water.kind),
            _ => None,
        };
        assert_eq!(area(&[("natural", "water"), ("water", "lake")]), Some(GroundKind::Lake));
        assert_eq!(area(&[("natural", "water")]), Some(GroundKind::Water));
        assert_eq!(area(&[("landuse", "reservoir")]), Some(GroundKind::Reservoir));
        assert_eq!(area(&[("waterway", "riverbank"), ("name", "Valira")]), Some(GroundKind::River));
        assert_eq!(area(&[("natural", "water"), ("tunnel", "culvert")]), None);
        let line = |pairs: &[(&'static str, &'static str)]| match &of(pairs)[..] {
            [Backdrop::Line(water)] => Some(water.kind),
            _ => None,
        };
        assert_eq!(line(&[("natural", "coastline")]), Some(GroundLineKind::Coastline));
        assert_eq!(line(&[("waterway", "canal")]), Some(GroundLineKind::Canal));
        assert_eq!(line(&[("waterway", "river"), ("tunnel", "yes")]), None);
        assert_eq!(line(&[("waterway", "stream")]), None);
    }

    #[test]
    fn a_coast_around_an_island_is_both() {
        let kinds: Vec<_> = of(&[("natural", "coastline"), ("place", "island"), ("name", "Hestur")])
            .iter()
            .map(Backdrop::kind)
            .collect();
        use crate::map::extract::backdrop::BackdropKind::{Line, Place};
        assert_eq!(kinds, [Place, Line]);
        assert_eq!(of(&[("place", "town"), ("name", "Ordino")]), []);
    }
}
