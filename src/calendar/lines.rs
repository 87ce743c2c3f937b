//! Content lines of RFC 5545 section 3.1: unfolded, and split into name, parameters and value.
//!
//! A line that breaks the grammar is reported and left out; the rest of the file is kept.

/// One content line.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Line {
    /// Line of the file where it begins, from 1.
    pub at: usize,
    /// Name, in capitals.
    pub name: String,
    /// Parameters with names in capitals and values without quotes.
    pub params: Vec<(String, Vec<String>)>,
    /// Value as written, unfolded.
    pub value: String,
}

impl Line {
    /// First value of a parameter.
    pub(crate) fn param(&self, name: &str) -> Option<&str> {
        let (_, values) = self.params.iter().find(|(key, _)| key == name)?;
        values.first().map(String::as_str)
    }
}

/// Lines that break the grammar and are reported one by one; any more are only counted.
const MOST_TOLD: usize = 1_000;

/// All content lines of a text; those that break the grammar come back with their line and what is wrong.
pub fn lines(text: &str) -> (Vec<Line>, Vec<(usize, String)>) {
    let (mut good, mut bad) = (Vec::new(), Vec::new());
    let (mut untold, mut first_untold) = (0_usize, 0);
    let mut take = |at: usize, raw: &str| match line(at, raw) {
        Ok(line) => good.push(line),
        Err(fact) if bad.len() < MOST_TOLD => bad.push((at, fact)),
        Err(_) => {
            first_untold = if untold == 0 { at } else { first_untold };
            untold += 1;
        }
    };
    unfolded(text.trim_start_matches('\u{feff}'), &mut take);
    if untold > 0 {
        bad.push((first_untold, format!("this and {} further lines break the grammar; left out", untold - 1)));
    }
    (good, bad)
}

/// Hands on lines with their continuations joined (a continuation begins with a space or a tab, which is dropped).
fn unfolded(text: &str, take: &mut impl FnMut(usize, &str)) {
    let mut open: Option<(usize, String)> = None;
    for (k, raw) in text.split('\n').enumerate() {
        let raw = raw.strip_suffix('\r').unwrap_or(raw);
        match (raw.strip_prefix([' ', '\t']), &mut open) {
            (Some(rest), Some((_, open))) => open.push_str(rest),
            _ if raw.trim().is_empty() => {}
            _ => {
                if let Some((at, whole)) = open.replace((k + 1, raw.to_owned())) {
                    take(at, &whole);
                }
            }
        }
    }
    if let Some((at, whole)) = open {
        take(at, &whole);
    }
}

/// The beginning of a text of the file, as complaints quote it.
pub(crate) fn shown(text: &str) -> String {
    text.chars().take(40).collect()
}

fn line(at: usize, raw: &str) -> Result<Line, String> {
    let shown = || shown(raw);
    let end = raw.find([';', ':']).ok_or_else(|| format!("no `:` in `{}`; line left out", shown()))?;
    let name = raw[..end].to_ascii_uppercase();
    if name.is_empty() || !name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '.') {
        return Err(format!("`{}` does not begin with a name; line left out", shown()));
    }
    // A group before the name, as in address books, is dropped.
    let name = name.rsplit('.').next().unwrap_or_default().to_owned();
    let mut line = Line { at, name, ..Line::default() };
    let mut rest = &raw[end..];
    while let Some(inside) = rest.strip_prefix(';') {
        let (key, after) = inside
            .find(['=', ';', ':'])
            .map(|i| inside.split_at(i))
            .ok_or_else(|| format!("parameters of `{}` do not end; line left out", self::shown(&line.name)))?;
        let mut values = Vec::new();
        rest = after;
        while let Some(next) = rest.strip_prefix(if values.is_empty() { '=' } else { ',' }) {
            let (value, after) = param_value(next);
            values.push(value);
            rest = after;
        }
        line.params.push((key.trim().to_ascii_uppercase(), values));
    }
    let value =
        rest.strip_prefix(':').ok_or_else(|| format!("no value after `{}`; line left out", self::shown(&line.name)))?;
    value.clone_into(&mut line.value);
    Ok(line)
}

/// One value of a parameter, and what follows it. RFC 6868: `^n`, `^^` and `^'` stand for what a
/// parameter may not hold.
fn param_value(text: &str) -> (String, &str) {
    let (value, rest) = match text.strip_prefix('"').and_then(|t| t.split_once('"')) {
        // Text after the closing quote breaks the grammar; it is passed over.
        Some((quoted, rest)) => (quoted, &rest[rest.find([',', ';', ':']).unwrap_or(rest.len())..]),
        None => text.split_at(text.find([',', ';', ':']).unwrap_or(text.len())),
    };
    (value.replace("^n", "\n").replace("^'", "\"").replace("^^", "^"), rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(text: &str) -> Line {
        let (good, bad) = lines(text);
        assert!(bad.is_empty() && good.len() == 1, "{good:?} {bad:?}");
        good.into_iter().next().unwrap()
    }

    /// Folded lines of RFC 5545 section 3.1.
    #[test]
    fn folded_lines_are_joined_whatever_ends_them() {
        let want = "DESCRIPTION:This is a long description that exists on a long line.";
        for end in ["\r\n", "\n"] {
            let folded = format!("DESCRIPTION:This is a lo{end} ng description{end}  that exists on a long line.{end}");
            assert_eq!(one(&folded), one(want));
        }
        assert_eq!(one("\u{feff}SUMMARY:Gr\r\n\tüße\r\n\r\n").value, "Grüße");
    }

    #[test]
    fn parameters_may_be_quoted_and_have_several_values() {
        let line = one("dtstart;tzid=\"/a:b;c,d/Europe/Paris\";X-P=1,\"two;2\",^n^^:2026:x;y");
        assert_eq!((line.name.as_str(), line.value.as_str()), ("DTSTART", "2026:x;y"));
        assert_eq!(line.param("TZID"), Some("/a:b;c,d/Europe/Paris"));
        assert_eq!(line.params[1].1, ["1", "two;2", "\n^"]);
    }

    #[test]
    fn a_broken_line_is_named_and_the_others_stay() {
        let (good, bad) = lines("A:1\nno colon here\nB;X=1\n:3\nC;=:4\nD:");
        assert_eq!(good.iter().map(|l| l.name.as_str()).collect::<Vec<_>>(), ["A", "C", "D"]);
        assert_eq!(bad.iter().map(|b| b.0).collect::<Vec<_>>(), [2, 3, 4]);
    }
}
