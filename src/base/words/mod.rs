//! Closed sets of words: each is an enum with its text, written once.
//!
//! The text is what columns, JSON and options hold. `match` without a catch-all makes the compiler
//! name every place that forgets a new word. Sets that belong to one room alone (the season of a profile, the kind of a
//! meeting) are declared there, by the same macro.
pub(crate) mod declare;
mod ground;
mod map;
mod rating;
mod road;
mod shown;
mod trip;

pub use declare::Words;
pub(crate) use declare::words;
pub use ground::{GroundKind, GroundLineKind, LAST_RANK, MOST_PEOPLE, NameKind, PlaceKind};
pub use map::{InputRole, MapObject, Roofed, RoofedBy, StandsOn, StopAccess, StopKind};
pub use rating::{
    BlockerEvidence, Case, Cause, Evidence, Overhang, PerCase, PerRating, RatedBy, Rating, TerrainEvidence,
};
pub use road::{
    Direction, DrivingSide, Highway, OverheadKind, PerDirection, RoadAccess, RoadClass, SideFrom, ValueFrom,
};
pub use shown::{Dial, HowTold, Units};
pub use trip::{DayWay, DriveSide, StopReason, WayName};

#[cfg(test)]
mod tests {
    use super::*;

    fn comes_back<W: Words + std::fmt::Debug>() {
        for (i, word) in W::ALL.iter().enumerate() {
            assert_eq!(W::parse(word.name()), Some(*word));
            assert!(!W::ALL[..i].iter().any(|w| w.name() == word.name()), "{} appears twice", word.name());
        }
        assert_eq!(W::parse("guess"), None);
        assert_eq!(W::parse(""), None);
    }

    #[test]
    fn every_word_comes_back_from_its_text_and_stands_once() {
        comes_back::<Rating>();
        comes_back::<RatedBy>();
        comes_back::<Cause>();
        comes_back::<Evidence>();
        comes_back::<TerrainEvidence>();
        comes_back::<BlockerEvidence>();
        comes_back::<Overhang>();
        comes_back::<ValueFrom>();
        comes_back::<RoadClass>();
        comes_back::<Highway>();
        comes_back::<RoadAccess>();
        comes_back::<OverheadKind>();
        comes_back::<MapObject>();
        comes_back::<StopKind>();
        comes_back::<InputRole>();
        comes_back::<StopAccess>();
        comes_back::<Roofed>();
        comes_back::<RoofedBy>();
        comes_back::<StandsOn>();
        comes_back::<NameKind>();
        comes_back::<DrivingSide>();
        comes_back::<SideFrom>();
        comes_back::<StopReason>();
        comes_back::<DayWay>();
        comes_back::<WayName>();
        comes_back::<DriveSide>();
        comes_back::<PlaceKind>();
        comes_back::<GroundKind>();
        comes_back::<GroundLineKind>();
    }

    #[test]
    fn words_are_their_text_in_json_and_other_texts_are_refused() {
        assert_eq!(serde_json::to_string(&Cause::Canopy).unwrap(), "\"canopy\"");
        assert_eq!(serde_json::from_str::<OverheadKind>("\"rail_deck\"").unwrap(), OverheadKind::RailDeck);
        let error = serde_json::from_str::<StopKind>("\"beach\"").unwrap_err().to_string();
        assert!(error.contains("`beach` is not one of fuel, rest_area"), "{error}");
        assert_eq!(format!("[{:>6}]", Rating::Gaps), "[  gaps]");
    }
}
