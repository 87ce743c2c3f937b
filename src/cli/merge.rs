//! `merge`: shards of a build to a layer.
use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueHint};

use super::build::say;
use super::edges::PairsAfter;
use super::files::OutputFile;
use super::notes::{HelpExample, HelpNotes};
use super::region::RegionArgs;
use super::terminal::Said;
use super::watch;
use crate::base::error::Result;
use crate::build::{self, MergeOptions};
use crate::layer::JoinedLayer;

/// What the help of `merge` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "the work folders of `build --shard`",
    writes: "a layer (.gpkg)",
    examples: &[
        HelpExample {
            does: "All shards of a build, from one work folder",
            line: "waymask merge out/work -o out/merged.gpkg",
        },
        HelpExample {
            does: "A layer without sky masks, of one part of the region",
            line: "waymask merge out/work --bounds 46.9,-28.2,47.0,-28.0 --no-masks -o out/slim.gpkg",
        },
    ],
};

/// Options of `merge`.
#[derive(Debug, ClapArgs)]
pub(crate) struct MergeArgs {
    /// Work folders of the shards of one build
    #[arg(required = true, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub folders: Vec<PathBuf>,
    /// What is merged.
    #[command(flatten)]
    pub region: RegionArgs,
    /// Leave out sky masks, which are most of a layer
    ///
    /// The layer answers where the link will be out and for how long. It cannot be rated again, and `sky` cannot be asked of it.
    #[arg(long)]
    pub no_masks: bool,
    /// File to write: the layer (.gpkg)
    #[arg(short, long, value_name = "FILE")]
    pub output: OutputFile,
    /// File to write as well, when the layer is whole: its figures by pair of map nodes, in the format of its ending: .csv or .json
    ///
    /// The same as `waymask edges --by node-pair` writes from the layer.
    #[arg(long, value_name = "FILE", requires = "output")]
    pub node_pairs: Option<OutputFile>,
    /// Replace the output if it exists
    ///
    /// The old file stays until the new one is complete.
    #[arg(long, requires = "output")]
    pub overwrite: bool,
    /// Print nothing but the answer and errors
    ///
    /// The answer is the file, so that nothing is printed where all is well.
    #[arg(short, long)]
    pub quiet: bool,
}

/// Merges; what to print.
pub fn run(args: &MergeArgs) -> Result<Said> {
    let after = PairsAfter::asked(args.node_pairs.as_ref(), &args.folders)?;
    let options = MergeOptions {
        folders: args.folders.clone(),
        output: args.output.path().to_owned(),
        overwrite: args.overwrite,
        region: args.region.region()?,
        how: if args.no_masks { JoinedLayer::WithoutMasks } else { JoinedLayer::Whole },
    };
    let done = build::merge(&options, watch::watcher(args.quiet).as_ref())?;
    let pairs = after.write(&args.output, args.overwrite)?;
    Ok(say(&done, (args.output.path(), pairs), args.quiet))
}
