//! Reads a text of settings and checks every key by itself, in the order of the text.
use std::collections::BTreeMap;
use std::ops::Range;
use std::path::Path;

use jiff::civil::Time;
use toml::de::{DeArray, DeInteger, DeTable, DeValue};
use toml::{Spanned, Table, Value};

use super::given::{Given, entry};
use super::key::{Holds, Key, Keys};
use super::nearest;
use super::text::{TomlText, fault};
use crate::base::error::{Error, Result};
use crate::base::foreign::foreign;
use crate::base::input::{self, InputKind};
use crate::base::nearest::meant;

impl Keys {
    /// Reads a file; `next` is what to do where there is none.
    ///
    /// # Errors
    /// The file cannot be read, or as of [`Keys::read`].
    pub(crate) fn read_file(&self, path: &Path, next: &str) -> Result<Given> {
        let text = input::text(path, InputKind::Settings, next)?;
        self.read(&text, &path.display().to_string())
    }

    /// Reads a text; `source` names it in errors.
    ///
    /// # Errors
    /// The first thing in the text that is not TOML, not known, of the wrong type or not allowed.
    pub fn read(&self, toml: &str, source: &str) -> Result<Given> {
        self.checked(TomlText { source, toml, has_lines: true })
    }

    /// Reads one value as typed, `section.key=value`; words need no quotes. `source` names it in errors.
    ///
    /// # Errors
    /// As of [`Keys::read`].
    pub(crate) fn read_one(&self, typed: &str, source: &str) -> Result<Given> {
        let Some((path, value)) = typed.split_once('=').map(|(path, value)| (path.trim(), value.trim())) else {
            return Err(Error::usage(source, "is not of the form section.key=value", "write it as in link.slot_s=30"));
        };
        let plain = format!("{path} = {value}");
        let quoted = format!("{path} = {}", Value::String(value.to_owned()));
        let toml = if DeTable::parse(&plain).is_ok() { plain } else { quoted };
        self.checked(TomlText { source, toml: &toml, has_lines: false })
    }

    fn checked(&self, text: TomlText<'_>) -> Result<Given> {
        let next = format!("{} prints a file to start from", self.shown_by);
        foreign("TOML", || self.parsed(text)).map_err(|broken| Error::usage(text.source, broken.to_string(), next))?
    }

    fn parsed(&self, text: TomlText<'_>) -> Result<Given> {
        let mut reading = Checking { keys: self, text, lines: BTreeMap::new() };
        reading.section("", &text.tables(self)?)?;
        let values: Table = text.toml.parse().map_err(|e: toml::de::Error| {
            fault(text.source, None, "", &format!("is not TOML: {}", e.message()), "report this")
        })?;
        Ok(Given { source: text.source.to_owned(), values, lines: reading.lines })
    }
}

/// A value with its place in the text.
type Placed<'t> = Spanned<DeValue<'t>>;

/// A pass through a text.
struct Checking<'a> {
    keys: &'a Keys,
    text: TomlText<'a>,
    lines: BTreeMap<String, Option<usize>>,
}

/// A key at its place: how errors name it, and where it stands.
struct Place<'p> {
    path: &'p str,
    at: usize,
}

impl Checking<'_> {
    /// Everything below a section; the whole text where the section has no name.
    fn section(&mut self, section: &str, table: &DeTable<'_>) -> Result<()> {
        for (name, at, value) in in_order(table) {
            let path = if section.is_empty() { name.to_owned() } else { format!("{section}.{name}") };
            let place = self.come_to(&path, at);
            match (self.keys.find(&path), value.get_ref()) {
                (Some(key), _) => self.value(key, &place, value)?,
                (None, DeValue::Table(inner)) if self.keys.is_section(&path) => self.section(&path, inner)?,
                (None, _) if self.keys.is_section(&path) => {
                    return Err(self.wrong(&place, "is a section", &format!("write [{path}] and its keys below it")));
                }
                _ => return Err(self.unknown(&place, section)),
            }
        }
        Ok(())
    }

    fn come_to<'p>(&mut self, path: &'p str, at: usize) -> Place<'p> {
        self.lines.entry(path.to_owned()).or_insert(self.text.line(at));
        Place { path, at }
    }

    fn wrong(&self, place: &Place<'_>, fact: &str, allowed: &str) -> Error {
        fault(self.text.source, self.text.line(place.at), place.path, fact, allowed)
    }

    fn unknown(&self, place: &Place<'_>, section: &str) -> Error {
        let names = self.keys.iter().filter(|key| section.is_empty() || key.head() == section);
        let names = names.map(|key| if section.is_empty() { key.head() } else { name_of(key.path) }).collect();
        self.not_known(place, nearest::path(place.path, self.keys), names)
    }

    fn not_known(&self, place: &Place<'_>, near: Option<&str>, mut names: Vec<&str>) -> Error {
        names.dedup();
        let hint = match near {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("known here: {};", names.join(", ")),
        };
        self.wrong(place, "is not a known key", &format!("{hint} {} prints every key", self.keys.shown_by))
    }

    fn value(&mut self, key: &Key, place: &Place<'_>, value: &Placed<'_>) -> Result<()> {
        let raw = self.text.at(value.span());
        match (key.holds, value.get_ref()) {
            (Holds::Number { from, to }, DeValue::Integer(_) | DeValue::Float(_)) => {
                self.within(key, place, raw, as_number(value.get_ref()).is_some_and(|n| (from..=to).contains(&n)))
            }
            (Holds::Whole { from, to }, DeValue::Integer(n)) => {
                self.within(key, place, raw, as_whole(n).is_some_and(|n| (from..=to).contains(&n)))
            }
            (Holds::Word(words), DeValue::String(word)) => self.word(key, place, word, words),
            (Holds::Time, DeValue::String(time)) if time.parse::<Time>().is_ok() => Ok(()),
            (Holds::Text, DeValue::String(_)) | (Holds::Flag, DeValue::Boolean(_)) => Ok(()),
            (Holds::Named(words), DeValue::Table(table)) => self.named(key, place.path, table, words),
            (Holds::List { fields, least }, DeValue::Array(array)) => self.list(place, array, fields, least),
            (_, found) => Err(self.wrong_type(key, place, found, raw)),
        }
    }

    fn within(&self, key: &Key, place: &Place<'_>, raw: &str, is_within: bool) -> Result<()> {
        if is_within {
            return Ok(());
        }
        Err(self.wrong(place, &format!("{raw} is out of range"), &format!("allowed: {}", key.allowed())))
    }

    fn word(&self, key: &Key, place: &Place<'_>, word: &str, words: &'static [&'static str]) -> Result<()> {
        if words.contains(&word) {
            return Ok(());
        }
        let allowed = meant(word, words.iter().copied(), &format!("allowed: {}", key.allowed()));
        Err(self.wrong(place, &format!("`{word}` is not a known word"), &allowed))
    }

    fn named(&mut self, key: &Key, path: &str, table: &DeTable<'_>, words: &'static [&'static str]) -> Result<()> {
        for (name, at, value) in in_order(table) {
            let path = format!("{path}.{name}");
            let place = self.come_to(&path, at);
            match value.get_ref() {
                DeValue::String(word) => self.word(key, &place, word, words)?,
                found => return Err(self.wrong_type(key, &place, found, self.text.at(value.span()))),
            }
        }
        Ok(())
    }

    fn list(&mut self, place: &Place<'_>, array: &DeArray<'_>, fields: &'static [Key], least: usize) -> Result<()> {
        if array.iter().len() < least {
            return Err(self.wrong(place, "the list is too short", &format!("give at least {least}")));
        }
        for (i, item) in array.iter().enumerate() {
            let path = entry(place.path, i + 1);
            let own = self.come_to(&path, item.span().start);
            let DeValue::Table(table) = item.get_ref() else {
                return Err(self.wrong(
                    &own,
                    "is not a table",
                    &format!("write [[{}]] and its keys below it", place.path),
                ));
            };
            self.entry(place.path, i + 1, table, fields)?;
            if let Some(key) = fields.iter().find(|key| key.required && table.get(key.path).is_none()) {
                let path = entry(&format!("{}.{}", place.path, key.path), i + 1);
                let allowed = format!("give {}: {}", key.path, key.meaning);
                return Err(self.wrong(&Place { path: &path, at: own.at }, "is missing", &allowed));
            }
        }
        Ok(())
    }

    fn entry(&mut self, list: &str, number: usize, table: &DeTable<'_>, fields: &'static [Key]) -> Result<()> {
        for (name, at, value) in in_order(table) {
            let path = entry(&format!("{list}.{name}"), number);
            let place = self.come_to(&path, at);
            let Some(key) = fields.iter().find(|key| key.path == name) else {
                let names = fields.iter().map(|key| key.path).collect();
                return Err(self.not_known(&place, nearest::field(name, fields), names));
            };
            self.value(key, &place, value)?;
        }
        Ok(())
    }

    fn wrong_type(&self, key: &Key, place: &Place<'_>, found: &DeValue<'_>, raw: &str) -> Error {
        let found = match found {
            DeValue::Table(_) => "a section".to_owned(),
            DeValue::Array(_) => "a list".to_owned(),
            _ => raw.to_owned(),
        };
        let wanted = match key.holds {
            Holds::Number { .. } => "a number",
            Holds::Whole { .. } => "a whole number",
            Holds::Flag => "true or false",
            Holds::Word(_) | Holds::Named(_) => "a word in quotes",
            Holds::Text => "text in quotes",
            Holds::Time => "a time of the day in quotes, such as \"08:30\"",
            Holds::List { .. } => "a list of tables",
        };
        let allowed = Some(key.allowed()).filter(|a| !a.is_empty()).unwrap_or_else(|| key.meaning.to_owned());
        self.wrong(place, &format!("{found} is not {wanted}"), &format!("allowed: {allowed}"))
    }
}

/// Name, place and value of everything in a table, in the order of the text.
fn in_order<'t>(table: &'t DeTable<'t>) -> Vec<(&'t str, usize, &'t Placed<'t>)> {
    let mut all: Vec<_> = table.iter().map(|(name, value)| (name.get_ref().as_ref(), name.span(), value)).collect();
    all.sort_by_key(|(_, span, _): &(_, Range<usize>, _)| span.start);
    all.into_iter().map(|(name, span, value)| (name, span.start, value)).collect()
}

fn as_number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Float(n) => n.as_str().parse().ok(),
        DeValue::Integer(n) => as_whole(n).map(|n| n as f64),
        _ => None,
    }
}

/// None for what no 64 bits hold.
fn as_whole(n: &DeInteger<'_>) -> Option<i64> {
    i64::from_str_radix(n.as_str(), n.radix()).ok()
}

fn name_of(path: &str) -> &str {
    path.split_once('.').map_or(path, |(_, name)| name)
}
