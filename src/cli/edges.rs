//! `edges`: the table of edges for routing tools.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::files::OutputFile;
use super::notes::{HelpExample, HelpNotes};
use super::output::written;
use super::terminal::Said;
use crate::ask;
use crate::base::caution::{Caution, on_terminal};
use crate::base::count::noun;
use crate::base::error::Result;
use crate::base::files;
use crate::base::plain::PlainLines;
use crate::layer::Layer;
use crate::report::{self, thousands};

/// What the help of `edges` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a layer",
    writes: "the table of edges (.csv, .json)",
    examples: &[
        HelpExample { does: "The edges for a routing tool", line: "waymask edges out/varrow.gpkg -o out/edges.csv" },
        HelpExample { does: "The same as JSON", line: "waymask edges out/varrow.gpkg -o out/edges.json" },
    ],
};

/// Options of `edges`.
#[derive(Debug, ClapArgs)]
pub(crate) struct EdgesArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// File to write, in the format of its ending: .csv or .json
    #[arg(short, long, value_name = "FILE")]
    pub output: OutputFile,
    /// Replace the output if it exists
    ///
    /// The old file stays until the new one is complete.
    #[arg(long, requires = "output")]
    pub overwrite: bool,
}

/// What goes to standard output; the file is written.
pub fn run(args: &EdgesArgs) -> Result<Said> {
    let path = args.output.path();
    let layer = Layer::open(&args.layer)?;
    ask::check_roads(&layer)?;
    let mut rows = 0;
    files::stream(path, args.overwrite, |out| {
        rows = report::edges_written(layer.edges(), path, out)?;
        Ok(())
    })?;
    let mut out = PlainLines::new();
    written(&mut out, path, &format!(" ({} {})", thousands(rows), noun(rows, "edge")));
    out.own(&on_terminal(&Caution::ROAD));
    Ok(Said::Text(out.text()))
}
