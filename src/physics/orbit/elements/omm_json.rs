//! Orbit mean-elements messages as JSON: one object, an array, or objects one after another; numbers may be
//! strings. The standard has no form in JSON; this is how such files are published.
use serde_json::Value;

use super::message::Message;
use super::model::{LeftOut, SetsRead, Unreadable};

pub(super) fn read(text: &str) -> Result<SetsRead, Unreadable> {
    let mut found = SetsRead::default();
    let mut number = 0;
    for value in serde_json::Deserializer::from_str(text).into_iter::<Value>() {
        let value = value.map_err(|e| {
            Unreadable::new(format!("is broken JSON: {e}"), "download the file again, or fix it at that line")
        })?;
        let entries = match value {
            Value::Array(entries) => entries,
            one => vec![one],
        };
        for entry in entries {
            number += 1;
            take(&mut found, number, &entry);
        }
    }
    Ok(found)
}

fn take(found: &mut SetsRead, number: usize, entry: &Value) {
    let Value::Object(fields) = entry else {
        return found.take(|| format!("entry {number}"), Err(LeftOut::bad("is not a JSON object")));
    };
    let mut message = Message::default();
    for (keyword, value) in fields {
        match value {
            Value::String(text) => message.add(keyword, text),
            Value::Number(n) => message.add(keyword, &n.to_string()),
            _ => {}
        }
    }
    found.take(|| message.label().unwrap_or_else(|| format!("entry {number}")), message.elements());
}
