//! What a text gives, laid over a plain struct.
use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use serde::de::DeserializeOwned;
use toml::{Table, Value};

use super::key::Key;
use super::text::fault;
use crate::base::error::{Error, Result};

/// Keys that contradict each other, though each is within its range.
#[derive(Debug, Clone, PartialEq)]
pub struct Conflict {
    /// The keys; the error stands at the first of them that the text gives.
    pub keys: Vec<String>,
    /// What is wrong.
    pub fact: String,
    /// What is allowed.
    pub allowed: String,
}

/// The values that a text gives, each checked by itself.
#[derive(Debug, Clone)]
pub struct Given {
    pub(super) source: String,
    pub(super) values: Table,
    /// Line of every key and of every entry of a list; none for text without lines.
    pub(super) lines: BTreeMap<String, Option<usize>>,
}

impl Given {
    /// The text that a key holds.
    pub fn text(&self, path: &str) -> Option<&str> {
        value_at(&self.values, path)?.as_str()
    }

    /// Whether the text names any section or list of a table of keys.
    pub(crate) fn names_any(&self, keys: &[Key]) -> bool {
        keys.iter().any(|key| self.values.contains_key(key.head()))
    }

    /// A struct with what is given in place of its own values; lists are replaced whole.
    ///
    /// # Errors
    /// A key whose struct does not have it, or not in this form: a defect of the table, which tests exclude.
    pub fn over<'k, T: Serialize + DeserializeOwned>(
        &self,
        keys: impl IntoIterator<Item = &'k Key>,
        start: &T,
    ) -> Result<T> {
        let heads: BTreeSet<&str> = keys.into_iter().map(Key::head).collect();
        let mut table = as_table(start)?;
        for (head, value) in self.values.iter().filter(|(head, _)| heads.contains(head.as_str())) {
            match (table.get_mut(head), value) {
                (Some(Value::Table(own)), Value::Table(given)) => own.extend(given.clone()),
                _ => drop(table.insert(head.clone(), value.clone())),
            }
        }
        table.try_into().map_err(|e| Error::failed(&self.source, e.to_string(), "report this"))
    }

    /// Refuses keys that contradict each other.
    ///
    /// # Errors
    /// The conflict, where there is one.
    pub fn check(&self, conflict: Option<Conflict>) -> Result<()> {
        let Some(conflict) = conflict else { return Ok(()) };
        let given = conflict.keys.iter().find(|path| self.lines.contains_key(*path)).or(conflict.keys.first());
        let path = given.map_or("", String::as_str);
        let line = self.lines.get(path).copied().flatten();
        Err(fault(&self.source, line, path, &conflict.fact, &conflict.allowed))
    }
}

/// An entry of a list as errors name it, counted from 1.
pub fn entry(path: &str, number: usize) -> String {
    format!("{path} (entry {number})")
}

/// The values of a struct.
///
/// # Errors
/// The struct has no form in TOML: a defect, which tests exclude.
pub fn as_table<T: Serialize>(values: &T) -> Result<Table> {
    Table::try_from(values).map_err(|e| Error::failed("settings", e.to_string(), "report this"))
}

/// The value of a path such as `link.slot_s`.
pub fn value_at<'a>(table: &'a Table, path: &str) -> Option<&'a Value> {
    match path.split_once('.') {
        Some((head, name)) => table.get(head)?.get(name),
        None => table.get(path),
    }
}
