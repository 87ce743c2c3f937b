//! `edges`: the table of edges for routing tools.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::files::OutputFile;
use crate::base::count::noun;
use crate::base::error::Result;
use crate::base::files;
use crate::layer::Layer;
use crate::report::{self, CAUTION, thousands};

/// Options of `edges`.
#[derive(Debug, ClapArgs)]
pub(crate) struct EdgesArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// File to write; .csv or .json
    #[arg(short, long, value_name = "FILE")]
    pub output: OutputFile,
    /// Replace the output if it exists
    #[arg(long)]
    pub overwrite: bool,
}

/// The text for standard output; the file is written.
pub fn run(args: &EdgesArgs) -> Result<String> {
    let path = args.output.path();
    let layer = Layer::open(&args.layer)?;
    let mut rows = 0;
    files::stream(path, args.overwrite, |out| {
        rows = report::edges_written(layer.edges(), path, out)?;
        Ok(())
    })?;
    Ok(format!("written\n  {} ({} {})\n{CAUTION}\n", path.display(), thousands(rows), noun(rows, "edge")))
}
