//! `edges`: the table of edges for routing tools.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::whole;
use crate::base::count::noun;
use crate::base::error::Result;
use crate::layer::Layer;
use crate::report::{self, CAUTION, thousands};

/// Options of `edges`.
#[derive(Debug, ClapArgs)]
pub(crate) struct EdgesArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// File to write; .csv or .json
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
    /// Replace the output if it exists
    #[arg(long)]
    pub overwrite: bool,
}

/// The text for standard output; the file is written.
pub fn run(args: &EdgesArgs) -> Result<String> {
    let path = &args.output;
    let layer = Layer::open(&args.layer)?;
    let mut rows = 0;
    whole::stream(path, args.overwrite, |out| {
        rows = report::edges_written(layer.edges(), path, out)?;
        Ok(())
    })?;
    Ok(format!("written\n  {} ({} {})\n{CAUTION}\n", path.display(), thousands(rows), noun(rows, "edge")))
}
