//! What spans open space and may stand over a road, by its tags.
//!
//! Tag meanings: OpenStreetMap wiki, Key:bridge, Key:man_made, Tag:building=bridge.
use super::model::{Area, Deck, DeckShape, DeckUse};
use super::pbf::Tags;
use super::tags::{Issues, TagReader, WIDTH_M, is_set};
use super::tags_road::highway_class;
use super::tags_side::min_height_m;
use crate::base::words::RoadClass;

/// The deck a way or relation describes; `closed` says whether its line is a ring.
pub fn deck(tags: &Tags, closed: bool, issues: &mut Issues) -> Option<Deck> {
    let (carries, outline) = deck_use(tags, closed)?;
    let mut read = TagReader::new(tags, issues);
    let lanes = match carries {
        DeckUse::Rail => read.lanes("tracks"),
        DeckUse::Road(_) => read.lanes("lanes"),
        _ => None,
    };
    let shape = if outline { DeckShape::Outline(Area::default()) } else { DeckShape::Line(Vec::new()) };
    Some(Deck {
        id: 0,
        carries,
        shape,
        end_nodes: [0, 0],
        width_m: read.length_m(&["width", "est_width"], WIDTH_M),
        lanes,
        layer: read.layer(),
        min_height_m: min_height_m(&mut read),
        name: read.text("bridge:name").or_else(|| read.text("name")),
    })
}

/// What is carried, and whether the object is the deck's outline.
fn deck_use(tags: &Tags, closed: bool) -> Option<(DeckUse, bool)> {
    if closed && (tags.is("man_made", "bridge") || tags.is("building", "bridge")) {
        return Some((DeckUse::Structure, true));
    }
    if tags.is("man_made", "gantry") {
        return Some((DeckUse::Gantry, false));
    }
    let buried = is_set(tags, "tunnel") || matches!(tags.get("location"), Some("underground" | "underwater"));
    if tags.is("man_made", "goods_conveyor") && !buried {
        return Some((DeckUse::Pipe, false));
    }
    let pipeline = tags.is("man_made", "pipeline") && !buried;
    if pipeline && tags.is("location", "overhead") {
        return Some((DeckUse::Pipe, false));
    }
    if !on_bridge(tags) {
        return None;
    }
    if let Some(highway) = tags.get("highway") {
        let carries = highway_use(highway)?;
        return Some((carries, closed && is_set(tags, "area")));
    }
    if let Some(railway) = tags.get("railway") {
        let gone = matches!(railway, "razed" | "dismantled" | "proposed" | "construction" | "no");
        return (!gone).then_some((DeckUse::Rail, false));
    }
    if tags.get("waterway").is_some() || tags.is("bridge", "aqueduct") {
        return Some((DeckUse::Water, false));
    }
    pipeline.then_some((DeckUse::Pipe, false))
}

/// Whether a bridge stands (`bridge` other than no, planned or gone).
fn on_bridge(tags: &Tags) -> bool {
    let gone = matches!(tags.get("bridge"), Some("removed" | "demolished" | "razed" | "proposed" | "construction"));
    is_set(tags, "bridge") && !gone
}

/// What a `highway` value puts on a bridge; access does not matter to who drives below.
fn highway_use(highway: &str) -> Option<DeckUse> {
    match highway {
        "proposed" | "construction" | "razed" | "no" => None,
        "busway" | "bus_guideway" | "raceway" | "escape" => Some(DeckUse::Road(RoadClass::Service)),
        _ => Some(highway_class(highway).map_or(DeckUse::Foot, |(class, _)| DeckUse::Road(class))),
    }
}
