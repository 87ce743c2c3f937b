//! Where an answer goes: the terminal, as a table or JSON, or a file.
use std::borrow::Cow;
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::whole;
use crate::base::error::Result;
use crate::report::Format;

/// A text as it may be shown: names come from files of others, and what a terminal would obey is not in it.
pub fn harmless(text: &str) -> Cow<'_, str> {
    // Directional marks can make a line read as what it is not.
    let obeyed = |c: char| {
        c.is_control() && c != '\n' && c != '\t' || matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
    };
    if text.contains(obeyed) { Cow::Owned(text.replace(obeyed, "\u{FFFD}")) } else { Cow::Borrowed(text) }
}

/// Options that say where an answer goes.
#[derive(Debug, ClapArgs)]
pub struct Output {
    /// The whole answer as JSON
    #[arg(long, conflicts_with = "output")]
    pub json: bool,
    /// Write to a file instead; .geojson, .gpx (waypoints), .csv or .json
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace the output if it exists
    #[arg(long)]
    pub overwrite: bool,
}

impl Output {
    /// The format asked for; none for the table. An ending that is not known is said before anything is looked for.
    pub fn format(&self) -> Result<Option<Format>> {
        match &self.output {
            Some(path) => Format::of_file(path).map(Some),
            None => Ok(self.json.then_some(Format::Json)),
        }
    }
    /// Hands on a text in the format asked for: the text for standard output, what was written where a file was asked for.
    pub(crate) fn deliver(&self, text: String, caution: &str) -> Result<String> {
        let Some(path) = &self.output else { return Ok(text) };
        whole::write(path, text.as_bytes(), self.overwrite)?;
        Ok(format!("written\n  {}\n{caution}\n", path.display()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_shown_is_obeyed_by_a_terminal() {
        assert_eq!(
            harmless("km 1\tPier \u{1b}[2JStreet\r\u{9b}x\n"),
            "km 1\tPier \u{FFFD}[2JStreet\u{FFFD}\u{FFFD}x\n"
        );
        assert_eq!(harmless("\u{202E}desrever"), "\u{FFFD}desrever");
        assert!(matches!(harmless("Straße Ελλάδα 🛰"), Cow::Borrowed(_)));
    }
}
