//! Text of people, maps and calendars as text of XML and HTML.

use super::plain::is_hostile;

/// Text made safe between tags and inside quoted attributes of XML 1.0 and HTML; control characters, which XML forbids and
/// HTML does not show, and marks that make text read as other text become U+FFFD.
pub(crate) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&apos;"),
            '\t' | '\n' | '\r' => safe.push(c),
            '\u{FFFE}' | '\u{FFFF}' => safe.push('\u{FFFD}'),
            _ if is_hostile(c) => safe.push('\u{FFFD}'),
            _ => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_cannot_leave_its_place_in_xml() {
        assert_eq!(escape("a<b>&\"'"), "a&lt;b&gt;&amp;&quot;&apos;");
        assert_eq!(escape("\u{1}\u{0}\u{85}é🛰\n"), "\u{FFFD}\u{FFFD}\u{FFFD}é🛰\n");
        assert_eq!(escape("x\u{202e}gpj"), "x\u{FFFD}gpj");
    }
}
