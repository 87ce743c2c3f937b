//! Foreign text on the terminal: what a terminal would obey, and what would make text look like other text, is taken out.
//!
//! The one way for names of roads and meetings, of files and keys, and for everything else that others wrote. Text for
//! people is made of [`PlainLines`]: whatever is written into a line stays in it. `cli` cleans once more what it prints.
use std::borrow::Cow;
use std::fmt;

/// Shown in the place of a character that a terminal must not get.
const REPLACEMENT: char = '\u{FFFD}';

/// Line ends and tabs, those of Unicode too.
fn is_space(c: char) -> bool {
    matches!(c, '\t' | '\n' | '\u{B}' | '\u{C}' | '\r' | '\u{85}' | '\u{2028}' | '\u{2029}')
}

/// Whether a character moves the cursor, turns the direction of writing, or is not seen.
///
/// U+200C and U+200D stay: Persian and the scripts of India cannot be written without them, and they turn and hide
/// nothing.
pub(super) fn is_hostile(c: char) -> bool {
    c.is_control()
        || is_space(c)
        || matches!(c,
            '\u{AD}' | '\u{61C}' | '\u{180E}' | '\u{200B}' | '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}'
            | '\u{2060}'..='\u{206F}' | '\u{FEFF}' | '\u{FFF9}'..='\u{FFFB}' | '\u{E0000}'..='\u{E007F}')
}

fn replaced(text: &str, keeps: fn(char) -> bool) -> Cow<'_, str> {
    if !text.contains(|c| is_hostile(c) && !keeps(c)) {
        return Cow::Borrowed(text);
    }
    let one = |c| match c {
        c if !is_hostile(c) || keeps(c) => c,
        c if is_space(c) => ' ',
        _ => REPLACEMENT,
    };
    Cow::Owned(text.chars().map(one).collect())
}

/// Foreign text for one line: no line end is left in it.
pub fn one_line(text: &str) -> Cow<'_, str> {
    replaced(text, |_| false)
}

/// The beginning of a text of any length, at most a number of letters: whoever is told of a file does not want all of it.
pub fn beginning(text: &str, most: usize) -> Cow<'_, str> {
    match text.char_indices().nth(most) {
        Some((end, _)) => Cow::Owned(format!("{} …", &text[..end])),
        None => Cow::Borrowed(text),
    }
}

/// Several lines: their ends stay.
pub fn many_lines(text: &str) -> Cow<'_, str> {
    replaced(text, |c| c == '\n')
}

/// JSON in which such characters are escaped instead, so that nothing is lost. They can stand within strings only.
pub fn escaped_json(json: &str) -> Cow<'_, str> {
    let keeps = |c: char| c == '\n';
    if !json.contains(|c| is_hostile(c) && !keeps(c)) {
        return Cow::Borrowed(json);
    }
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if is_hostile(c) && !keeps(c) {
            c.encode_utf16(&mut [0; 2]).iter().for_each(|unit| out += &format!("\\u{unit:04x}"));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// Text for people, line by line. `writeln!` adds a line: line ends in what is written into it become spaces.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PlainLines(String);

impl PlainLines {
    /// No line yet.
    pub fn new() -> Self {
        Self::default()
    }
    /// Adds a line, for `writeln!`.
    pub fn write_fmt(&mut self, line: fmt::Arguments<'_>) {
        let line = line.to_string();
        self.0 += &one_line(line.strip_suffix('\n').unwrap_or(&line));
        self.0.push('\n');
    }
    /// Adds lines of the program's own.
    pub fn own(&mut self, lines: &str) {
        lines.lines().for_each(|line| {
            self.0 += &one_line(line);
            self.0.push('\n');
        });
    }
    /// All of it.
    pub fn text(self) -> String {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_terminal_obeys_and_what_deceives_is_replaced() {
        assert_eq!(one_line("a\u{1b}[31mb\u{9b}c\u{7f}"), "a\u{FFFD}[31mb\u{FFFD}c\u{FFFD}");
        assert_eq!(
            one_line("x\u{202e}gpj.exe\u{2066}\u{200e}\u{61c}\u{200b}"),
            "x\u{FFFD}gpj.exe\u{FFFD}\u{FFFD}\u{FFFD}\u{FFFD}"
        );
        assert_eq!(one_line("a\nb\tc\u{2028}d\u{85}e"), "a b c d e");
        assert_eq!(many_lines("a\nb\rc"), "a\nb c");
        // Names of the world stay as they are.
        for name in ["Straße", "می\u{200c}خواهم", "क\u{94d}\u{200d}ष", "עברית", "東京", "🛰"] {
            assert!(matches!(one_line(name), Cow::Borrowed(same) if same == name), "{name}");
        }
    }

    #[test]
    fn of_a_long_text_its_beginning_is_told() {
        assert!(matches!(beginning("äöü", 3), Cow::Borrowed("äöü")));
        assert_eq!(beginning("äöüß", 3), "äöü …");
    }

    #[test]
    fn json_keeps_every_character() {
        let name = "a\u{202e}b\u{7f}\u{9b}\u{e0001}\n\u{1b}";
        let json = serde_json::to_string_pretty(&[name]).unwrap();
        let safe = escaped_json(&json);
        assert!(!safe.contains(|c| is_hostile(c) && c != '\n'), "{safe:?}");
        assert_eq!(serde_json::from_str::<Vec<String>>(&safe).unwrap(), [name]);
    }

    #[test]
    fn a_line_stays_one() {
        let mut out = PlainLines::new();
        let name = "High\nwritten\r\n  fake.gpkg";
        writeln!(out, "road {name}");
        out.own("first\nsecond");
        assert_eq!(out.text(), "road High written    fake.gpkg\nfirst\nsecond\n");
    }
}
