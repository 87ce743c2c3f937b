//! The table of edges for routing tools, row by row: a layer may hold more than memory does.
use std::io::Write;
use std::path::Path;

use super::formats::Format;
use crate::base::error::{Error, Result};
use crate::base::files::{ending, unknown_ending};
use crate::layer::model::EdgeRow;

/// Writes edges as CSV or JSON, by the ending of `path`, the file that `out` leads to; the number of rows.
///
/// # Errors
/// A row cannot be read or written, or the ending is another.
pub fn edges_written(rows: impl Iterator<Item = Result<EdgeRow>>, path: &Path, out: &mut dyn Write) -> Result<u64> {
    match Format::of_ending(&ending(path)) {
        Some(Format::Csv) => csv(rows, path, out),
        Some(Format::Json) => json(rows, path, out),
        _ => Err(unknown_ending(path, &["csv", "json"])),
    }
}

fn failed(path: &Path, e: &std::io::Error) -> Error {
    Error::io(path, "cannot be written", e, "check its folder")
}

fn csv_failed(path: &Path, e: csv::Error) -> Error {
    match e.into_kind() {
        csv::ErrorKind::Io(e) => failed(path, &e),
        other => failed(path, &std::io::Error::other(format!("{other:?}"))),
    }
}

/// Rows of RFC 4180 under the names of the columns.
fn csv(edges: impl Iterator<Item = Result<EdgeRow>>, path: &Path, out: &mut dyn Write) -> Result<u64> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
    let mut rows = 0;
    for row in edges {
        writer.serialize(row?).map_err(|e| csv_failed(path, e))?;
        rows += 1;
    }
    writer.flush().map_err(|e| failed(path, &e))?;
    Ok(rows)
}

/// An array with one object per line (RFC 8259).
fn json(edges: impl Iterator<Item = Result<EdgeRow>>, path: &Path, out: &mut dyn Write) -> Result<u64> {
    let mut rows = 0;
    for row in edges {
        let text = serde_json::to_string(&row?).map_err(|e| failed(path, &e.into()))?;
        let before = if rows == 0 { "[" } else { "," };
        writeln!(out, "{before}{text}").map_err(|e| failed(path, &e))?;
        rows += 1;
    }
    writeln!(out, "{}", if rows == 0 { "[]" } else { "]" }).map_err(|e| failed(path, &e))?;
    Ok(rows)
}
