//! Orbit mean-elements messages as lines of `KEYWORD = value [unit]`, one after another.
use super::message::Message;
use super::model::{LeftOut, SetsRead};

/// Ends every keyword that begins a message (`CCSDS_OMM_VERS`).
const VERSION: &str = "_VERS";
const OMM_VERSION: &str = "CCSDS_OMM_VERS";

/// Whether a text begins like such a message.
pub(super) fn is_start(text: &str) -> bool {
    let first = text.lines().map(str::trim).find(|l| !l.is_empty() && !l.starts_with("COMMENT"));
    first.and_then(field).is_some_and(|(keyword, _)| {
        keyword.starts_with("CCSDS_") && keyword.ends_with(VERSION) || keyword == "OBJECT_NAME"
    })
}

pub(super) fn read(text: &str) -> SetsRead {
    let mut found = SetsRead::default();
    let mut message = Message::default();
    let mut began = 1;
    let mut foreign = None;
    for (number, line) in text.lines().enumerate() {
        let Some((keyword, value)) = field(line) else { continue };
        if keyword.starts_with("CCSDS_") && keyword.ends_with(VERSION) {
            close(&mut found, std::mem::take(&mut message), began, foreign.take());
            began = number + 1;
            foreign = (keyword != OMM_VERSION).then(|| keyword.clone());
        }
        message.add(&keyword, value);
    }
    close(&mut found, message, began, foreign);
    found
}

/// A keyword in capitals and its value without unit; nothing for comments and other lines.
fn field(line: &str) -> Option<(String, &str)> {
    let (keyword, value) = line.split_once('=')?;
    let keyword = keyword.trim();
    if keyword.is_empty() || keyword.starts_with("COMMENT") || keyword.contains(char::is_whitespace) {
        return None;
    }
    let value = value.trim();
    let value = if value.ends_with(']') { value.rsplit_once('[').map_or(value, |(v, _)| v.trim_end()) } else { value };
    Some((keyword.to_ascii_uppercase(), value))
}

fn close(found: &mut SetsRead, message: Message, began: usize, foreign: Option<String>) {
    if message.is_empty() {
        return;
    }
    let place = || match message.label() {
        Some(label) => format!("{label} (line {began})"),
        None => format!("line {began}"),
    };
    let set = match foreign {
        Some(keyword) => Err(LeftOut::bad(format!("{keyword} does not begin an orbit mean-elements message"))),
        None => message.elements(),
    };
    found.take(place, set);
}
