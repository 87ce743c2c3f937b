//! Signs that map, strip and tables share, so that one may be found by the other.
use crate::base::words::Cause;

/// Letters of a cause on the strip: those its name begins with. One would not do: trees and terrain share theirs.
const fn letters(cause: Cause) -> &'static str {
    match cause {
        Cause::Cover => "Tu",
        Cause::Deck => "Br",
        Cause::Building => "Bu",
        Cause::Terrain => "Te",
        Cause::Canopy => "Tr",
        Cause::Boarded => "On",
        Cause::Satellites => "Fe",
        Cause::None => "?",
    }
}

/// Letters and name of a cause.
pub(super) fn cause(cause: Cause) -> (&'static str, &'static str) {
    (letters(cause), if cause == Cause::None { "not known" } else { cause.phrase() })
}

/// Letters and names of all causes.
pub(super) fn causes() -> impl Iterator<Item = (&'static str, &'static str)> {
    Cause::ALL.iter().filter(|c| **c != Cause::None).map(|c| cause(*c))
}

/// Sign of the n-th meeting of a day, from 0: A to Z, then AA, AB and so on.
pub(super) fn meeting(n: usize) -> String {
    let letter = char::from(b'A' + (n % 26) as u8);
    match n / 26 {
        0 => letter.to_string(),
        more => format!("{}{letter}", meeting(more - 1)),
    }
}

/// Sign of the n-th stop of a day's plan, from 0.
pub(super) fn stop(n: usize) -> String {
    format!("S{}", n + 1)
}

/// Coordinates as a link of RFC 5870, which a telephone opens in its own map.
pub(super) fn geo(lat_deg: f64, lon_deg: f64) -> String {
    format!("<a href=\"geo:{lat_deg:.5},{lon_deg:.5}\">{lat_deg:.5},\u{a0}{lon_deg:.5}</a>")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_go_on_beyond_the_alphabet() {
        assert_eq!([0, 25, 26, 51, 52].map(meeting), ["A", "Z", "AA", "AZ", "BA"]);
        assert_eq!(stop(0), "S1");
    }

    #[test]
    fn causes_differ_by_the_letters_their_names_begin_with() {
        let letters: std::collections::BTreeSet<&str> = causes().map(|c| c.0).collect();
        assert_eq!(letters.len(), 7);
        for (letters, name) in causes() {
            assert!(name.starts_with(&letters.to_lowercase()), "{letters} {name}");
        }
        assert_eq!(cause(Cause::Canopy), ("Tr", "trees"));
        assert_eq!(cause(Cause::None).0, "?");
    }
}
