//! `info`: what a layer says about itself.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use crate::base::error::{Error, Result};
use crate::layer::Layer;
use crate::report;

/// Options of `info`.
#[derive(Debug, ClapArgs)]
pub(crate) struct InfoArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// The whole build record as JSON
    #[arg(long)]
    pub json: bool,
}

/// The record of a layer; the text to print.
pub fn run(args: &InfoArgs) -> Result<String> {
    let layer = Layer::open(&args.layer)?;
    let record = layer.record();
    if args.json {
        let json = serde_json::to_string_pretty(record)
            .map_err(|e| Error::failed("build record", e.to_string(), "build the layer again"))?;
        return Ok(json + "\n");
    }
    let mut text =
        format!("{} (waymask {}, schema {})\n", args.layer.display(), record.waymask_version, record.schema_version);
    text += &report::record_table(record);
    text += &format!("{}\n", report::CAUTION);
    Ok(text)
}
