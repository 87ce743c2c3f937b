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
    /// Print the answer as JSON
    ///
    /// A file asked for is written, too.
    #[arg(long)]
    pub json: bool,
    /// File to write, in the format of its ending: .geojson, .gpx (waypoints), .csv or .json
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<OutputFile>,
    /// Replace the output if it exists
    ///
    /// The old file stays until the new one is complete.
    #[arg(long, requires = "output")]
    pub overwrite: bool,
}

/// An answer in the forms it may be asked for in.
pub(crate) struct Forms<'a> {
    /// What the file holds, where one is asked for.
    pub file: Option<String>,
    /// For people.
    pub table: &'a dyn Fn() -> String,
    /// For programs.
    pub json: &'a dyn Fn() -> Result<String>,
    /// What is said besides; no file of points or rows has a place for it.
    pub notes: &'a [String],
    /// Said where a file was written.
    pub cautions: &'a [Caution],
}

impl Output {
    /// Whether the answer is one for people alone: no data for programs is asked for.
    pub fn is_for_people(&self) -> bool {
        !self.json && self.output.is_none()
    }
    /// The format of the file asked for. An ending that is not known is said before anything is looked for.
    pub fn file_format(&self) -> Result<Option<Format>> {
        self.output.as_ref().map(|file| Format::of_file(file.path())).transpose()
    }
    /// Writes the file asked for, and hands on what standard output says: JSON where it is asked for, else what was written,
    /// else the answer for people.
    pub(crate) fn deliver(&self, answer: &Forms<'_>) -> Result<Said> {
        let json = self.json.then(|| (answer.json)()).transpose()?;
        let path = self.output.as_ref().map(OutputFile::path);
        if let (Some(path), Some(text)) = (path, &answer.file) {
            files::write(path, text.as_bytes(), self.overwrite)?;
        }
        Ok(match (json, path) {
            (Some(json), _) => Said::Json(json),
            (None, Some(path)) => {
                let mut out = PlainLines::new();
                answer.notes.iter().for_each(|note| writeln!(out, "note: {note}"));
                written(&mut out, path, "");
                out.own(&on_terminal(answer.cautions));
                Said::Text(out.text())
            }
            (None, None) => Said::Text((answer.table)()),
        })
    }
}

/// Says what was written; `more` follows the name.
pub(crate) fn written(out: &mut PlainLines, path: &Path, more: &str) {
    writeln!(out, "written");
    writeln!(out, "  {}{more}", path.display());
}
