//! A text of settings and the one wording of what is wrong with it.
use std::ops::Range;

use toml::de::DeTable;

use super::key::Keys;
use crate::base::error::{Error, Result};

/// A text, and what it is called in errors.
#[derive(Debug, Clone, Copy)]
pub(crate) struct TomlText<'a> {
    /// The file, or what was typed.
    pub source: &'a str,
    /// TOML.
    pub toml: &'a str,
    /// Whether it has lines that a person can look at.
    pub has_lines: bool,
}

impl<'a> TomlText<'a> {
    /// The line of a place, from 1.
    pub fn line(&self, at: usize) -> Option<usize> {
        let before = self.toml.get(..at).filter(|_| self.has_lines)?;
        Some(before.matches('\n').count() + 1)
    }

    /// What stands at a place.
    pub fn at(&self, span: Range<usize>) -> &'a str {
        self.toml.get(span).unwrap_or_default()
    }

    /// The tables of the text with the place of every key.
    pub fn tables(&self, keys: &Keys) -> Result<DeTable<'a>> {
        let table = DeTable::parse(self.toml).map_err(|error| {
            let span = error.span().unwrap_or_default();
            let line = self.line(span.start);
            if error.message().starts_with("duplicate key") {
                return fault(self.source, line, self.at(span), "is given twice", "keep one of them");
            }
            let fact = format!("is not TOML: {}", error.message());
            fault(self.source, line, "", &fact, &format!("{} prints a file to start from", keys.shown_by))
        })?;
        Ok(table.into_inner())
    }
}

/// The one wording: file, line, key, what is wrong, what is allowed.
pub fn fault(source: &str, line: Option<usize>, path: &str, fact: &str, allowed: &str) -> Error {
    let line = line.map_or(String::new(), |n| format!(", line {n}"));
    let path = if path.is_empty() { String::new() } else { format!(": {path}") };
    Error::usage(format!("{source}{line}{path}"), fact, allowed)
}
