//! Width, thickness and usual underside of decks where tags are silent.
//!
//! Lane widths: FHWA, Mitigation Strategies for Design Exceptions, lane width (12 ft freeway, 10 to
//! 12 ft arterial and collector, 9 to 12 ft local, which we read as 3.6, 3.3, 3.0 m and 2.7 m for
//! tracks). Shoulders carried over: 10 ft right and 4 ft left on motorways, 4 ft on arterials and 2 ft on
//! the rest: the low end of customary American ranges, from memory (the same report, shoulder width, has
//! such a table; its figures could not be read).
use crate::base::words::{OverheadKind, RoadClass};
use crate::map::extract::model::{Deck, DeckUse, Oneway, Road};

/// Parapet or railing on each side of a deck, metres (assumed).
const PARAPET_M: f64 = 0.5;
/// Deck of one railway track, metres (assumed, of 5 to 6).
const RAIL_ONE_TRACK_M: f64 = 6.0;
/// Each further track, metres: two tracks take 10 to 12 m (assumed).
const RAIL_NEXT_TRACK_M: f64 = 5.0;
/// Footbridge with its railings, metres (assumed).
const FOOT_M: f64 = 3.0;
/// Canal or aqueduct (assumed), metres.
const WATER_M: f64 = 5.0;
/// Pipeline or conveyor (assumed), metres.
const PIPE_M: f64 = 1.5;
/// Sign gantry along the road (assumed), metres.
const GANTRY_M: f64 = 1.0;
/// A bridge drawn as a line without a known use (assumed), metres.
const STRUCTURE_M: f64 = 6.0;
/// Tagged widths outside this range are taken for errors, metres.
const PLAUSIBLE_WIDTH_M: std::ops::RangeInclusive<f64> = 0.5..=80.0;

/// Width across a deck drawn as a line, parapets included, metres: the tagged width, else from
/// lanes or tracks and shoulders. `road` is the road it carries, where it does.
pub fn deck_width_m(deck: &Deck, road: Option<&Road>) -> f64 {
    let tagged = deck.width_m.or(road.and_then(|r| r.width_m)).map(f64::from);
    if let Some(width_m) = tagged.filter(|w| PLAUSIBLE_WIDTH_M.contains(w)) {
        return width_m + 2.0 * PARAPET_M;
    }
    match deck.carries {
        DeckUse::Road(class) => road_width_m(class, deck.lanes, road) + 2.0 * PARAPET_M,
        DeckUse::Rail => {
            let more_tracks = f64::from(deck.lanes.unwrap_or(1).max(1) - 1);
            RAIL_ONE_TRACK_M + RAIL_NEXT_TRACK_M * more_tracks
        }
        DeckUse::Foot => FOOT_M,
        DeckUse::Water => WATER_M,
        DeckUse::Pipe => PIPE_M,
        DeckUse::Gantry => GANTRY_M,
        DeckUse::Structure => STRUCTURE_M,
    }
}

/// Carriageway and shoulders of a road deck, metres.
fn road_width_m(class: RoadClass, lanes: Option<u8>, road: Option<&Road>) -> f64 {
    let link = road.is_some_and(|r| r.link);
    let one_way = road.is_some_and(|r| r.oneway != Oneway::Both);
    let (lane_m, shoulders_m) = match class {
        RoadClass::Motorway | RoadClass::Trunk => (3.6, 4.3),
        RoadClass::Primary | RoadClass::Secondary => (3.3, 2.4),
        RoadClass::Track => (2.7, 0.6),
        _ => (3.0, 1.2),
    };
    let usual_lanes = match class {
        RoadClass::Motorway | RoadClass::Trunk if !link => 2,
        RoadClass::Service | RoadClass::Track => 1,
        _ if one_way => 1,
        _ => 2,
    };
    let lanes = lanes.or(road.and_then(|r| r.lanes)).filter(|n| *n > 0).unwrap_or(usual_lanes);
    f64::from(lanes) * lane_m + shoulders_m
}

/// What a deck counts as in the sky.
pub fn kind_of(carries: DeckUse) -> OverheadKind {
    match carries {
        DeckUse::Road(_) => OverheadKind::RoadDeck,
        DeckUse::Foot => OverheadKind::FootDeck,
        DeckUse::Rail => OverheadKind::RailDeck,
        DeckUse::Gantry => OverheadKind::Gantry,
        DeckUse::Water | DeckUse::Pipe | DeckUse::Structure => OverheadKind::OtherDeck,
    }
}

/// From the underside to the top of the parapet, metres.
///
/// AASHTO LRFD table 2.5.2.6.3-1 asks for 0.040 of a simple span in composite steel, so 1.6 m over
/// the 40 m of a dual carriageway with its clear zones; rail decks are deeper. Footbridges, pipes and
/// gantries: assumed.
pub fn thickness_m(carries: DeckUse) -> f64 {
    match carries {
        DeckUse::Road(_) | DeckUse::Structure => 1.6,
        DeckUse::Rail | DeckUse::Water => 1.8,
        DeckUse::Foot | DeckUse::Gantry => 1.0,
        DeckUse::Pipe => 0.8,
    }
}

/// Underside above the road where nothing gives it, metres.
///
/// FHWA, Mitigation Strategies, vertical clearance: 16 ft (4.9 m) over motorways, 14 to 16 ft
/// elsewhere (4.5 m, which is also the least of European main roads: UNECE, European Agreement on Main
/// International Traffic Arteries, ECE/TRANS/SC.1/384, annex II, overhead clearance), 17 ft (5.1 m) under
/// footbridges and sign structures. British practice asks for 5.7 m under the latter: which country
/// we are in is not known here, so the lower, darker figure holds. These are design minima: real
/// decks are often higher.
pub(crate) fn default_underside_m(below: RoadClass, kind: OverheadKind) -> f64 {
    match (kind, below) {
        (OverheadKind::FootDeck | OverheadKind::Gantry, _) => 5.1,
        (_, RoadClass::Motorway | RoadClass::Trunk) => 4.9,
        _ => 4.5,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::extract::model::DeckShape;

    fn deck(carries: DeckUse) -> Deck {
        Deck {
            id: 1,
            carries,
            shape: DeckShape::Line(Vec::new()),
            end_nodes: [1, 2],
            width_m: None,
            lanes: None,
            layer: 1,
            min_height_m: None,
            name: None,
        }
    }

    #[test]
    fn a_two_lane_motorway_deck_is_two_lanes_shoulders_and_parapets() {
        // 2 x 12 ft + 10 ft + 4 ft + 2 x 0.5 m = 12.58 m unrounded (FHWA lane and shoulder widths).
        let width_m = deck_width_m(&deck(DeckUse::Road(RoadClass::Motorway)), None);
        assert!((width_m - 12.58).abs() < 0.15, "{width_m}");
    }

    #[test]
    fn tags_come_first_and_absurd_ones_are_ignored() {
        let mut d = deck(DeckUse::Rail);
        assert_eq!(deck_width_m(&d, None), 6.0);
        d.lanes = Some(2);
        assert_eq!(deck_width_m(&d, None), 11.0);
        d.width_m = Some(9.0);
        assert_eq!(deck_width_m(&d, None), 10.0);
        d.width_m = Some(f32::INFINITY);
        assert_eq!(deck_width_m(&d, None), 11.0);
    }
}
