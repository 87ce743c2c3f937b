//! Orbit mean-elements messages as comma-separated values: a line of keywords, then one object a line.
use super::message::Message;
use super::model::{LeftOut, SetsRead, Unreadable, WANTED};

/// Whether a line names the columns.
pub(super) fn is_heading(line: &str) -> bool {
    line.contains(',') && line.to_ascii_uppercase().contains("MEAN_MOTION")
}

pub(super) fn read(text: &str) -> Result<SetsRead, Unreadable> {
    let mut reader = csv::ReaderBuilder::new().flexible(true).trim(csv::Trim::All).from_reader(text.as_bytes());
    let keywords =
        reader.headers().map_err(|e| Unreadable::new(format!("its first line cannot be read: {e}"), WANTED))?.clone();
    let mut found = SetsRead::default();
    for record in reader.records() {
        let record = record.map_err(|e| Unreadable::new(format!("is broken CSV: {e}"), "download the file again"))?;
        let line = record.position().map_or(0, csv::Position::line);
        let mut message = Message::default();
        keywords.iter().zip(&record).for_each(|(keyword, value)| message.add(keyword, value));
        let place = || match message.label() {
            Some(label) => format!("{label} (line {line})"),
            None => format!("line {line}"),
        };
        let set = if record.len() == keywords.len() {
            message.elements()
        } else {
            Err(LeftOut::bad(format!("{} values under {} keywords", record.len(), keywords.len())))
        };
        found.take(place, set);
    }
    Ok(found)
}
