//! Prints settings as TOML with a comment above every key.
use std::fmt::Write;

use toml::{Table, Value};

use super::given::value_at;
use super::key::{End, Holds, Key, Keys};

impl Keys {
    /// Every key with its value: above it meaning, where the value comes from (as `origin` words it), range and unit. A
    /// key without a value is shown as a comment.
    pub fn print(&self, title: &str, values: &Table, origin: &dyn Fn(&Key) -> String) -> String {
        let mut out: String = title.lines().map(|line| format!("# {line}\n")).collect();
        let mut section = "";
        for key in self.iter() {
            if key.head() != section {
                section = key.head();
                out += "\n";
                if self.is_section(section) {
                    let _ = writeln!(out, "[{section}]");
                }
            }
            let _ = writeln!(out, "# {}", about(key, &origin(key)));
            match (key.holds, value_at(values, key.path)) {
                (Holds::List { fields, .. }, Some(Value::Array(entries))) => put_list(&mut out, key, fields, entries),
                (_, value) => put(&mut out, key, value),
            }
        }
        out
    }
}

fn about(key: &Key, origin: &str) -> String {
    let allowed = Some(key.allowed()).filter(|a| !a.is_empty()).map(|a| format!("; {a}")).unwrap_or_default();
    let worse = match key.worse {
        Some(End::Low) => ", low is unfavourable",
        Some(End::High) => ", high is unfavourable",
        None => "",
    };
    let likely = key.likely.map(|(low, high)| format!("; likely {low} to {high}{worse}")).unwrap_or_default();
    format!("{} ({origin}{allowed}{likely})", key.meaning)
}

fn put(out: &mut String, key: &Key, value: Option<&Value>) {
    let name = key.path.split_once('.').map_or(key.path, |(_, name)| name);
    // A table without entries says nothing that the sample does not say better.
    let _ = match value.filter(|v| v.as_table().is_none_or(|t| !t.is_empty())) {
        Some(value) => writeln!(out, "{name} = {value}"),
        None => writeln!(out, "# {name} = {}", key.sample),
    };
}

/// The entries of a list, the first of them with comments; an empty list shows as a comment what an entry may hold.
fn put_list(out: &mut String, key: &Key, fields: &[Key], entries: &[Value]) {
    if entries.is_empty() {
        // Outside all sections `name = []` would belong to the section above it.
        if let Some((_, name)) = key.path.split_once('.') {
            let _ = writeln!(out, "{name} = []");
        }
        let _ = writeln!(out, "# an entry, [[{}]], holds", key.path);
        for field in fields {
            let sample = if field.sample.is_empty() { String::new() } else { format!("; invented: {}", field.sample) };
            let _ = writeln!(out, "#   {}: {}{sample}", field.path, about(field, field.mark.name()));
        }
    }
    for (i, entry) in entries.iter().enumerate() {
        let _ = writeln!(out, "[[{}]]", key.path);
        for field in fields {
            if i == 0 {
                let _ = writeln!(out, "# {}", about(field, field.mark.name()));
            }
            if i == 0 || entry.get(field.path).is_some() {
                put(out, field, entry.get(field.path));
            }
        }
    }
}
