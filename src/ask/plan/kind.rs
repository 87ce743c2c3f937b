//! What a meeting tolerates.
use serde::Serialize;

use super::crew::Travellers;
use crate::base::words::{Words, words};
use crate::profile::RatingEdges;

words! {
    /// Kind of a meeting, by what ends it; the most demanding first.
    pub enum Kind {
        /// Wants roads rated steady or blips.
        MustNotDrop = "must-not-drop",
        /// Tolerates single gaps.
        Casual = "casual",
        /// Mail and messages: tolerates drops.
        Messages = "messages",
    }
}

impl Kind {
    /// The kind of a word; letter case, spaces and underscores do not matter.
    pub(crate) fn of_word(word: &str) -> Option<Self> {
        let plain = word.trim().to_lowercase().replace([' ', '_'], "-");
        Self::parse(&plain)
    }
    /// The longest outage it tolerates, seconds: the edge of the worst rating that its conditions allow.
    pub(crate) fn stands_s(self, edges: &RatingEdges) -> f64 {
        match self {
            Self::MustNotDrop => edges.blips_outage_s,
            Self::Casual => edges.gaps_outage_s,
            Self::Messages => edges.drops_outage_s,
        }
    }
    /// Place in [`Kind::ALL`], and of its edge in [`Piece::beyond`](crate::ask::corridor::Piece::beyond).
    pub fn index(self) -> usize {
        self as usize
    }
}

/// A meeting of the day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Meeting {
    /// Identity in its calendar; empty where that gives none.
    pub uid: String,
    /// What it is called.
    pub name: String,
    /// What it tolerates.
    pub kind: Kind,
    /// Begin, seconds since 1970-01-01 UTC.
    pub start_s: i64,
    /// End, seconds since 1970-01-01 UTC; not before the start.
    pub end_s: i64,
    /// Not yet confirmed.
    pub tentative: bool,
    /// Whose it is; empty where nothing says so.
    pub of: Travellers,
}

impl Meeting {
    /// The end up to which it is judged, seconds since 1970-01-01 UTC: a meeting without length is a moment and has its minute.
    pub(crate) fn judged_end_s(&self) -> i64 {
        self.end_s.max(self.start_s + 60)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_read_as_people_type_them() {
        for word in ["must-not-drop", "MUST NOT DROP", " Must_not_drop "] {
            assert_eq!(Kind::of_word(word), Some(Kind::MustNotDrop), "{word}");
        }
        assert_eq!(Kind::of_word("Casual"), Some(Kind::Casual));
        assert_eq!(Kind::of_word("holiday"), None);
    }

    #[test]
    fn what_is_tolerated_grows_from_kind_to_kind() {
        let edges = RatingEdges::default();
        let tolerated: Vec<f64> = Kind::ALL.iter().map(|k| k.stands_s(&edges)).collect();
        // RFC 7675: consent is renewed every 5 s and expires after 30 s.
        assert_eq!(tolerated, [2.0, 5.0, 30.0]);
        assert!(Kind::ALL.iter().enumerate().all(|(i, k)| k.index() == i));
    }
}
