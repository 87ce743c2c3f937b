//! `info`: what a layer says about itself.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::notes::{HelpExample, HelpNotes};
use super::terminal::Said;
use crate::base::caution::on_terminal;
use crate::base::error::{Error, Result};
use crate::base::plain::PlainLines;
use crate::layer::{Layer, REBUILD};
use crate::report;

/// What the help of `info` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a layer",
    writes: "nothing; the answer is printed",
    examples: &[
        HelpExample { does: "The record of a layer", line: "waymask info out/varrow.gpkg" },
        HelpExample {
            does: "The same for a program, in a file",
            line: "waymask info out/varrow.gpkg --json > out/varrow.json",
        },
    ],
};

/// Options of `info`.
#[derive(Debug, ClapArgs)]
pub(crate) struct InfoArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Print the answer as JSON
    ///
    /// It is the whole record of the build.
    #[arg(long)]
    pub json: bool,
}

/// The record of a layer, to be printed.
pub fn run(args: &InfoArgs) -> Result<Said> {
    let layer = Layer::open(&args.layer)?;
    let record = layer.record();
    if args.json {
        let json = serde_json::to_string_pretty(record)
            .map_err(|e| Error::file(&args.layer, format!("its build record is not JSON: {e}"), REBUILD))?;
        return Ok(Said::Json(json + "\n"));
    }
    let mut out = PlainLines::new();
    writeln!(out, "{} (waymask {}, schema {})", args.layer.display(), record.waymask_version, record.schema_version);
    report::record_lines(&mut out, record);
    out.own(&on_terminal(&report::layer_cautions(record)));
    Ok(Said::Text(out.text()))
}
