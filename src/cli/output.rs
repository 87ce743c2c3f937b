//! Where an answer goes: the terminal, as a table or JSON, or a file.
use std::path::Path;

use clap::Args as ClapArgs;

use super::files::OutputFile;
use super::terminal::Said;
use crate::base::caution::{Caution, on_terminal};
use crate::base::error::Result;
use crate::base::files;
use crate::base::plain::PlainLines;
use crate::report::Format;

/// Options that say where an answer goes.
#[derive(Debug, ClapArgs)]
pub struct Output {
    /// The whole answer as JSON
    #[arg(long, conflicts_with = "output")]
    pub json: bool,
    /// Write to a file instead; .geojson, .gpx (waypoints), .csv or .json
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<OutputFile>,
    /// Replace the output if it exists
    #[arg(long)]
    pub overwrite: bool,
}

impl Output {
    /// The format asked for; none for the table. An ending that is not known is said before anything is looked for.
    pub fn format(&self) -> Result<Option<Format>> {
        match &self.output {
            Some(file) => Format::of_file(file.path()).map(Some),
            None => Ok(self.json.then_some(Format::Json)),
        }
    }
    /// Hands on a text in the format asked for: the text for standard output, what was written where a file was asked for.
    pub(crate) fn deliver(&self, text: String, cautions: &[Caution]) -> Result<Said> {
        let Some(path) = self.output.as_ref().map(OutputFile::path) else {
            return Ok(if self.json { Said::Json(text) } else { Said::Text(text) });
        };
        files::write(path, text.as_bytes(), self.overwrite)?;
        let mut out = PlainLines::new();
        written(&mut out, path, "");
        out.own(&on_terminal(cautions));
        Ok(Said::Text(out.text()))
    }
}

/// Says what was written; `more` follows the name.
pub(crate) fn written(out: &mut PlainLines, path: &Path, more: &str) {
    writeln!(out, "written");
    writeln!(out, "  {}{more}", path.display());
}
