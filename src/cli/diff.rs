//! `diff`: what changed between two layers.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::files::OutputFile;
use super::notes::{HelpExample, HelpNotes};
use super::output::written;
use super::terminal::Said;
use crate::ask;
use crate::ask::diff::{DiffAnswer, DiffQuestion};
use crate::base::caution::{Caution, on_terminal};
use crate::base::count::noun;
use crate::base::error::Result;
use crate::base::files;
use crate::base::plain::PlainLines;
use crate::layer::Layer;
use crate::report::{self, ChangesFile, thousands};

/// What the help of `diff` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "two layers",
    writes: "with -o the segments that changed (.geojson, .csv); else nothing",
    examples: &[
        HelpExample {
            does: "What the leaves of November change (the second example of `build` makes that layer)",
            line: "waymask diff out/varrow.gpkg out/november.gpkg",
        },
        HelpExample {
            does: "The same, with the segments that changed as lines for a map",
            line: "waymask diff out/varrow.gpkg out/november.gpkg --top 3 -o out/changed.geojson",
        },
    ],
};

/// Options of `diff`.
#[derive(Debug, ClapArgs)]
pub(crate) struct DiffArgs {
    /// The layer to compare with, written by `waymask build`
    pub old: PathBuf,
    /// The layer that is asked about, of the same region
    pub new: PathBuf,
    /// How many of the largest changes to list, of stretches and of places to stop
    #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u16).range(0..=1000))]
    pub top: u16,
    /// Print the answer as JSON
    ///
    /// A file asked for is written, too.
    #[arg(long)]
    pub json: bool,
    /// File to write: the segments that changed, in the format of its ending: .geojson or .csv
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<OutputFile>,
    /// Replace the output if it exists
    ///
    /// The old file stays until the new one is complete.
    #[arg(long, requires = "output")]
    pub overwrite: bool,
}

/// What goes to standard output; a file asked for is written.
pub fn run(args: &DiffArgs) -> Result<Said> {
    let path = args.output.as_ref().map(OutputFile::path);
    path.map(report::changes_format).transpose()?;
    let (old, new) = (Layer::open(&args.old)?, Layer::open(&args.new)?);
    let question = DiffQuestion { top: usize::from(args.top) };
    let mut found = DiffAnswer::default();
    match path {
        None => found = ask::diff(&old, &new, &question, &mut |_| Ok(()))?,
        Some(path) => files::stream(path, args.overwrite, |out| {
            let mut file = ChangesFile::begin(path, out)?;
            found = ask::diff(&old, &new, &question, &mut |change| file.add(change))?;
            file.finish().map(drop)
        })?,
    }
    if args.json {
        return Ok(Said::Json(report::diff_json(&found)?));
    }
    let mut out = PlainLines::new();
    out.own(&report::diff_table(&found));
    if let Some(path) = path {
        let n = found.changed_segments;
        written(&mut out, path, &format!(" ({} {})", thousands(n), noun(n, "segment")));
    }
    out.own(&on_terminal(&Caution::ROAD));
    Ok(Said::Text(out.text()))
}
