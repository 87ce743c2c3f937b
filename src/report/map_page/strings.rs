//! Texts of a page, each once.
use std::collections::HashMap;

use crate::base::plain::one_line;

/// Longest text of a map that is shown whole, characters.
const LONGEST: usize = 200;

/// Texts, by number.
#[derive(Debug, Default)]
pub(super) struct PageStrings {
    all: Vec<String>,
    numbers: HashMap<String, i64>,
}

impl PageStrings {
    /// The number of a text; -1 where there is none. Characters that would turn or hide what is shown are taken out.
    pub fn number(&mut self, text: Option<&str>) -> i64 {
        let Some(text) = text.filter(|t| !t.is_empty()) else { return -1 };
        let text = cut(&one_line(text));
        if let Some(number) = self.numbers.get(&text) {
            return *number;
        }
        let number = self.all.len() as i64;
        self.all.push(text.clone());
        self.numbers.insert(text, number);
        number
    }
    /// All of them.
    pub fn all(self) -> Vec<String> {
        self.all
    }
}

/// A text that is not longer than anybody reads.
pub(super) fn cut(text: &str) -> String {
    match text.char_indices().nth(LONGEST) {
        None => text.to_owned(),
        Some((at, _)) => format!("{}…", &text[..at]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_text_has_one_number_and_a_length() {
        let mut strings = PageStrings::default();
        assert_eq!([Some("a"), None, Some("b"), Some("a"), Some("")].map(|t| strings.number(t)), [0, -1, 1, 0, -1]);
        let long = "é".repeat(10_000);
        assert_eq!(strings.number(Some(&long)), 2);
        assert_eq!(strings.number(Some("x\u{202e}y\nz")), 3);
        let all = strings.all();
        assert_eq!(all[2].chars().count(), LONGEST + 1);
        assert_eq!(all[3], "x\u{FFFD}y z");
    }
}
