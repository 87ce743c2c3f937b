//! `edges`: the table of edges for routing tools, row by row.
use std::io::Write;
use std::path::Path;

use super::args::Edges;
use super::show::{CAUTION, thousands};
use super::whole;
use crate::base::error::{Error, Result};
use crate::layer::Layer;

/// The text for standard output; the file is written.
pub fn run(args: &Edges) -> Result<String> {
    let path = &args.output;
    let ending = path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase();
    let layer = Layer::open(&args.layer)?;
    let mut rows = 0;
    whole::stream(path, args.overwrite, |out| {
        rows = match ending.as_str() {
            "csv" => csv(&layer, path, out)?,
            "json" => json(&layer, path, out)?,
            _ => {
                return Err(Error::usage(
                    "--output",
                    format!("`.{ending}` is not a known ending"),
                    "use .csv or .json",
                ));
            }
        };
        Ok(())
    })?;
    Ok(format!("written\n  {} ({} edges)\n{CAUTION}\n", path.display(), thousands(rows)))
}

fn failed(path: &Path, fact: impl std::fmt::Display) -> Error {
    Error::file(path, fact.to_string(), "check that its folder exists and has space")
}

/// Rows of RFC 4180 under the names of the columns.
fn csv(layer: &Layer, path: &Path, out: &mut dyn Write) -> Result<u64> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
    let mut rows = 0;
    for row in layer.edges() {
        writer.serialize(row?).map_err(|e| failed(path, e))?;
        rows += 1;
    }
    writer.flush().map_err(|e| failed(path, e))?;
    Ok(rows)
}

/// An array with one object per line (RFC 8259).
fn json(layer: &Layer, path: &Path, out: &mut dyn Write) -> Result<u64> {
    let mut rows = 0;
    for row in layer.edges() {
        let text = serde_json::to_string(&row?).map_err(|e| failed(path, e))?;
        let before = if rows == 0 { "[" } else { "," };
        writeln!(out, "{before}{text}").map_err(|e| failed(path, e))?;
        rows += 1;
    }
    writeln!(out, "{}", if rows == 0 { "[]" } else { "]" }).map_err(|e| failed(path, e))?;
    Ok(rows)
}
