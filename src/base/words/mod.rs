//! Closed sets of words: each is an enum with its text, written once.
//!
//! The text is what columns, JSON and options hold. `match` without a catch-all makes the compiler
//! name every place that forgets a new word.
mod map;
mod rating;
mod road;

pub use map::{MapObject, RoofedBy, StandsOn, StopAccess, StopKind};
pub use rating::{BlockerEvidence, Cause, Evidence, Overhang, Rating, TerrainEvidence};
pub use road::{Direction, DrivingSide, Highway, OverheadKind, PerDirection, RoadAccess, RoadClass, ValueFrom};

/// A closed set of words.
pub trait Words: Copy + PartialEq + Send + Sync + 'static {
    /// All of them, in their order.
    const ALL: &'static [Self];
    /// The word's text.
    fn name(self) -> &'static str;
    /// The word of a text; nothing for other texts.
    fn parse(text: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|w| w.name() == text)
    }
    /// All texts with commas, for messages.
    fn list() -> String {
        let names: Vec<&str> = Self::ALL.iter().map(|w| w.name()).collect();
        names.join(", ")
    }
}

/// Declares enums of words: text, list, reading back, `Display`, serde.
macro_rules! words {
    ($($(#[$meta:meta])* pub enum $name:ident { $($(#[$of:meta])* $variant:ident = $text:literal,)+ })+) => { $(
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$of])* $variant,)+ }

        impl $name {
            /// All of them, in their order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// The text, as columns and JSON hold it.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $text,)+ }
            }
            /// The text with spaces, for people.
            pub fn spoken(self) -> String {
                self.name().replace('_', " ")
            }
        }
        impl $crate::base::words::Words for $name {
            const ALL: &'static [Self] = $name::ALL;
            fn name(self) -> &'static str {
                $name::name(self)
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.name())
            }
        }
        impl std::str::FromStr for $name {
            type Err = String;
            fn from_str(text: &str) -> Result<Self, String> {
                use $crate::base::words::Words;
                Self::parse(text).ok_or_else(|| format!("`{text}` is not one of {}", Self::list()))
            }
        }
        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.serialize_str(self.name())
            }
        }
        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let text = <std::borrow::Cow<'de, str> as serde::Deserialize>::deserialize(from)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }
    )+ };
}
pub(crate) use words;

#[cfg(test)]
mod tests {
    use super::*;

    fn comes_back<W: Words + std::fmt::Debug>() {
        for (i, word) in W::ALL.iter().enumerate() {
            assert_eq!(W::parse(word.name()), Some(*word));
            assert!(!W::ALL[..i].iter().any(|w| w.name() == word.name()), "{} stands twice", word.name());
        }
        assert_eq!(W::parse("guess"), None);
        assert_eq!(W::parse(""), None);
    }

    #[test]
    fn every_word_comes_back_from_its_text_and_stands_once() {
        comes_back::<Rating>();
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
        comes_back::<StopAccess>();
        comes_back::<RoofedBy>();
        comes_back::<StandsOn>();
        comes_back::<DrivingSide>();
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
