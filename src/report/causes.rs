//! What people call the causes: one vocabulary for tables, pictures and pages. The layer and JSON keep its words.

/// A cause of outages.
#[derive(Debug, Clone, Copy)]
pub struct Cause {
    /// Its word in the layer.
    pub word: &'static str,
    /// Its letter on the strip of the brief.
    pub letter: char,
    /// What people call it.
    pub phrase: &'static str,
}

/// All causes, in the order in which they are named.
pub const CAUSES: [Cause; 5] = [
    Cause { word: "cover", letter: 'R', phrase: "tunnel or roof" },
    Cause { word: "deck", letter: 'D', phrase: "bridge overhead" },
    Cause { word: "building", letter: 'B', phrase: "buildings" },
    Cause { word: "terrain", letter: 'M', phrase: "terrain" },
    Cause { word: "canopy", letter: 'T', phrase: "trees" },
];

/// The cause of a word.
pub fn cause(word: &str) -> Option<&'static Cause> {
    CAUSES.iter().find(|c| c.word == word)
}

/// What people call a cause; `none` where nothing blocks.
pub fn phrase(word: &str) -> &'static str {
    match cause(word) {
        Some(cause) => cause.phrase,
        None if word == "none" => "none",
        None => "not known",
    }
}

/// What people call something overhead.
pub fn overhead(kind: &'static str) -> &'static str {
    match kind {
        "road_deck" => "road bridge",
        "foot_deck" => "footbridge",
        "rail_deck" => "railway bridge",
        "other_deck" => "other bridge",
        cover_or_gantry => cover_or_gantry,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn causes_differ_by_letter_and_phrase() {
        let letters: std::collections::BTreeSet<char> = CAUSES.iter().map(|c| c.letter).collect();
        let phrases: std::collections::BTreeSet<&str> = CAUSES.iter().map(|c| c.phrase).collect();
        assert_eq!((letters.len(), phrases.len()), (CAUSES.len(), CAUSES.len()));
        assert_eq!(["canopy", "none", "guess"].map(phrase), ["trees", "none", "not known"]);
        assert_eq!(["foot_deck", "tunnel"].map(overhead), ["footbridge", "tunnel"]);
    }
}
