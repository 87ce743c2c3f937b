//! How far two spellings are apart.
use crate::base::fold::folded;
use crate::base::nearest::distance;

/// Letters that may be put in, left out, changed or swapped: none in short words, where every slip is another word.
pub(super) fn slips(letters: usize) -> usize {
    match letters {
        0..=3 => 0,
        4..=7 => 1,
        _ => 2,
    }
}

/// Counts of letters, by which most spellings are seen to be too far away without comparing them letter by letter.
pub(super) struct LetterCounts {
    counts: [u8; 64],
    letters: usize,
}

impl LetterCounts {
    /// Of a spelling.
    pub fn of(text: &str) -> Self {
        let (mut counts, mut letters) = ([0_u8; 64], 0);
        for c in text.chars() {
            let slot = &mut counts[c as usize % 64];
            *slot = slot.saturating_add(1);
            letters += 1;
        }
        Self { counts, letters }
    }
    /// How many letters.
    pub fn letters(&self) -> usize {
        self.letters
    }
    /// Fewest slips that may lie between two spellings: each changes the count of at most two letters by one.
    pub fn least(&self, other: &Self) -> usize {
        let differ: usize = self.counts.iter().zip(&other.counts).map(|(a, b)| usize::from(a.abs_diff(*b))).sum();
        differ.div_ceil(2).max(self.letters.abs_diff(other.letters))
    }
}

/// How many letters differ, where these are at most some.
pub(super) fn apart(typed: (&str, &LetterCounts), spelling: &str, most: usize) -> Option<usize> {
    if typed.1.least(&LetterCounts::of(spelling)) > most {
        return None;
    }
    Some(distance(typed.0, spelling)).filter(|d| *d <= most)
}

/// Whether every word typed begins a word of a spelling, each another one.
pub(super) fn holds_words(typed: &[&str], spelling: &str) -> bool {
    let mut free: Vec<&str> = spelling.split(' ').collect();
    // Whole words first, so that `saint` does not take the place of `saints`.
    let mut typed: Vec<&str> = typed.to_vec();
    typed.sort_by_key(|word| std::cmp::Reverse(word.len()));
    typed.iter().all(|word| {
        let at = free.iter().position(|f| f == word).or_else(|| free.iter().position(|f| f.starts_with(word)));
        at.map(|at| free.swap_remove(at)).is_some()
    })
}

/// Whether a name is spelt as typed, begins so, or nearly.
pub(super) fn near_spelling(typed: &str, name: &str) -> bool {
    let name = folded(name);
    let counts = LetterCounts::of(typed);
    !typed.is_empty()
        && (name == typed
            || typed.len() > 2 && name.starts_with(typed)
            || apart((typed, &counts), &name, slips(counts.letters())).is_some())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_may_stand_in_any_order_and_be_begun() {
        assert!(holds_words(&["harbour", "wether"], "wether harbour"));
        assert!(holds_words(&["en", "port"], "port d envalira"));
        assert!(!holds_words(&["port", "port"], "port d envalira"), "each word once");
        assert!(!holds_words(&["alira"], "port d envalira"));
    }

    proptest::proptest! {
        /// Counting letters never rules out what is near: compared with the plain distance.
        #[test]
        fn what_is_near_is_never_ruled_out(a in "[a-d ]{0,9}", b in "[a-d ]{0,9}", most in 0_usize..4) {
            let plain = Some(distance(&a, &b)).filter(|d| *d <= most);
            proptest::prop_assert_eq!(apart((&a, &LetterCounts::of(&a)), &b, most), plain);
        }
    }
}
