//! Orbital elements of real satellites: read, carried forward with SGP4, seen from a place.
//!
//! Comes in: the bytes of an element file (CCSDS 502.0-B-3 orbit mean-elements messages in JSON, XML, KVN
//! or CSV, or two-line sets; what it is shows in its content). Goes out: [`MeanElements`], one per object,
//! with what was left out counted; from them [`fit`] finds circular shells, [`track`] makes satellite timelines and
//! [`passes`] lists passes. No files are opened and no clock is read here.
pub mod fit;
mod message;
mod model;
mod omm_csv;
mod omm_json;
mod omm_kvn;
mod omm_xml;
pub mod passes;
pub mod satellite;
mod tle;
pub mod track;

use std::collections::BTreeMap;
use std::fmt;

use crate::base::defect::Defects;
use crate::base::foreign::foreign;
use model::WANTED;
pub use model::{MeanElements, Unreadable};
pub use track::timeline;

/// What kind of file the elements came in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ElementsFormat {
    /// Orbit mean-elements messages as JSON.
    OmmJson,
    /// Orbit mean-elements messages as XML.
    OmmXml,
    /// Orbit mean-elements messages as keywords and values.
    OmmKvn,
    /// Orbit mean-elements messages as comma-separated values.
    OmmCsv,
    /// Two-line sets.
    TwoLine,
}

impl fmt::Display for ElementsFormat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::OmmJson => "orbit mean-elements messages, JSON",
            Self::OmmXml => "orbit mean-elements messages, XML",
            Self::OmmKvn => "orbit mean-elements messages, KVN",
            Self::OmmCsv => "orbit mean-elements messages, CSV",
            Self::TwoLine => "two-line sets",
        })
    }
}

/// What a file of elements holds.
#[derive(Debug, Clone, PartialEq)]
pub struct ElementSets {
    /// What kind of file it is.
    pub format: ElementsFormat,
    /// One set per object, by catalogue number.
    pub objects: Vec<MeanElements>,
    /// Sets left out because the file has later ones of the same object.
    pub superseded: u64,
    /// Objects left out, by reason.
    pub defects: Defects,
}

/// Reads the elements in a file's bytes.
///
/// # Errors
/// The bytes are none of the formats, broken as a whole, or hold no object that can be used. Single bad
/// objects are left out and counted.
pub fn read(bytes: &[u8]) -> Result<ElementSets, Unreadable> {
    foreign("orbital elements", || parsed(bytes)).map_err(|broken| Unreadable::new(broken.to_string(), WANTED))?
}

fn parsed(bytes: &[u8]) -> Result<ElementSets, Unreadable> {
    refuse_foreign(bytes)?;
    let text = String::from_utf8_lossy(bytes);
    let text = text.trim_start_matches('\u{feff}');
    let format = format_of(text).ok_or_else(|| Unreadable::new("holds no orbital elements", WANTED))?;
    let found = match format {
        ElementsFormat::OmmJson => omm_json::read(text)?,
        ElementsFormat::OmmXml => omm_xml::read(text)?,
        ElementsFormat::OmmKvn => omm_kvn::read(text),
        ElementsFormat::OmmCsv => omm_csv::read(text)?,
        ElementsFormat::TwoLine => tle::read(text),
    };
    let (objects, superseded) = latest_of_each(found.sets);
    if objects.is_empty() {
        return Err(Unreadable::new(nothing_usable(format, &found.defects), WANTED));
    }
    Ok(ElementSets { format, objects, superseded, defects: found.defects })
}

/// Files that are not plain text are named for what they are.
fn refuse_foreign(bytes: &[u8]) -> Result<(), Unreadable> {
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(Unreadable::new("is empty", WANTED));
    }
    if bytes.starts_with(&[0x1f, 0x8b]) || bytes.starts_with(b"PK\x03\x04") {
        return Err(Unreadable::new("is compressed", "unpack it and give the file inside"));
    }
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        let fact = format!("is not UTF-8 text (it holds zero bytes, the first is byte {})", at + 1);
        return Err(Unreadable::new(fact, "save it again as plain UTF-8 text"));
    }
    Ok(())
}

/// The format, by what the text begins with.
fn format_of(text: &str) -> Option<ElementsFormat> {
    let start = text.trim_start();
    match start.chars().next()? {
        '{' | '[' => return Some(ElementsFormat::OmmJson),
        '<' => return Some(ElementsFormat::OmmXml),
        _ => {}
    }
    if omm_kvn::is_start(start) {
        return Some(ElementsFormat::OmmKvn);
    }
    if start.lines().next().is_some_and(omm_csv::is_heading) {
        return Some(ElementsFormat::OmmCsv);
    }
    text.lines().any(tle::is_either_line).then_some(ElementsFormat::TwoLine)
}

/// The latest set of each object, by catalogue number, and how many older ones there were.
fn latest_of_each(sets: Vec<MeanElements>) -> (Vec<MeanElements>, u64) {
    let read = sets.len();
    let mut latest: BTreeMap<u64, MeanElements> = BTreeMap::new();
    for set in sets {
        match latest.get(&set.catalogue_number) {
            Some(kept) if kept.epoch >= set.epoch => {}
            _ => {
                latest.insert(set.catalogue_number, set);
            }
        }
    }
    let superseded = (read - latest.len()) as u64;
    (latest.into_values().collect(), superseded)
}

fn nothing_usable(format: ElementsFormat, defects: &Defects) -> String {
    let first = defects.iter().flat_map(|(_, tally)| &tally.examples).next();
    match first {
        Some(example) => format!("no object in it can be used ({format}); the first: {example}"),
        None => format!("holds no object ({format})"),
    }
}
