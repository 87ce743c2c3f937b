//! `build`: files to a layer.
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, ValueHint};

use super::edges::PairsAfter;
use super::files::OutputFile;
use super::inputs::InputArgs;
use super::notes::{HelpExample, HelpNotes};
use super::output::written;
use super::terminal::Said;
use super::{shards, watch};
use crate::base::caution::on_terminal;
use crate::base::count::counted;
use crate::base::error::{Error, Result};
use crate::base::plain::PlainLines;
use crate::base::progress::Progress;
use crate::build::{self, BuildOptions, Built, RatedShard, Shard, ShardOptions};
use crate::report;

/// What the help of `build` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a map extract (OSM PBF); rasters, buildings, a profile, orbital elements if given",
    writes: "a layer (.gpkg)",
    examples: &[
        HelpExample {
            does: "The demo island, with elevation and heights of trees",
            line: "waymask build data-samples/varrow.osm.pbf --elevation data-samples/varrow-elevation.tif --canopy data-samples/varrow-canopy.tif -o out/varrow.gpkg --overwrite",
        },
        HelpExample {
            does: "The same with the leaves of late November",
            line: "waymask build data-samples/varrow.osm.pbf --elevation data-samples/varrow-elevation.tif --season 2026-11-25 --credit \"Varrow, an invented island, CC0\" -o out/november.gpkg",
        },
        HelpExample {
            does: "A shard of the build that `shards` planned in a folder, whose parts stay there for `merge`",
            line: "waymask build --shard 1/1 --work out/work",
        },
        HelpExample {
            does: "The first for a panel behind the windscreen, to compare the two with `mounts`",
            line: "waymask build data-samples/varrow.osm.pbf --elevation data-samples/varrow-elevation.tif --canopy data-samples/varrow-canopy.tif --profile windscreen -o out/windscreen.gpkg",
        },
    ],
};

/// Options of `build`.
#[derive(Debug, ClapArgs)]
pub(crate) struct BuildArgs {
    /// What is built.
    #[command(flatten)]
    pub inputs: InputArgs,
    /// File to write: the layer (.gpkg)
    #[arg(short, long, value_name = "FILE", required_unless_present_any = ["shard", "estimate"])]
    pub output: Option<OutputFile>,
    /// Folder for finished parts, kept for the next build; next to the output, until it is done, by default
    ///
    /// A build that was stopped goes on where it was. A build of a newer map, in the same folder, rates only the districts
    /// that changed.
    #[arg(long, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub work: Option<PathBuf>,
    /// Rate one shard of several into the work folder, such as 2/8, and write no layer; `waymask merge` joins them
    ///
    /// Without a map extract everything comes from the plan and the bundles that `waymask shards` left in the folder. Each shard
    /// may be rated on another machine, and again: what is there already is not done twice.
    #[arg(long, value_name = "K/N", requires = "work", conflicts_with = "output", value_parser = shard)]
    pub shard: Option<Shard>,
    /// Print what the build would take, in time, memory and disk, and build nothing
    #[arg(long, conflicts_with_all = ["output", "shard", "work"])]
    pub estimate: bool,
    /// Begin although the memory that the rating is forecast to take is not free here
    ///
    /// Without it such a build is refused before it rates anything.
    #[arg(long, conflicts_with = "estimate")]
    pub anyway: bool,
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
    /// The answer of a build is its file, so that nothing is printed where all is well.
    #[arg(short, long)]
    pub quiet: bool,
}

fn shard(text: &str) -> Result<Shard, String> {
    let read = || {
        let (nth, count) = text.split_once('/')?;
        let (nth, count): (usize, usize) = (nth.trim().parse().ok()?, count.trim().parse().ok()?);
        ((1..=count).contains(&nth) && count <= 100_000).then_some(Shard { nth, count })
    };
    read().ok_or_else(|| "give which shard of how many, such as 2/8".into())
}

/// Builds; what to print.
pub fn run(args: BuildArgs) -> Result<Said> {
    let watcher = watch::watcher(args.quiet);
    if args.estimate {
        return shards::estimate(args.inputs, watcher.as_ref());
    }
    if let Some(shard) = args.shard {
        let done = rated_shard(args.inputs, args.work.unwrap_or_default(), (shard, args.anyway), watcher.as_ref())?;
        return Ok(Said::Text(if args.quiet { String::new() } else { shard_said(&done, shard) }));
    }
    let Some(output) = args.output else {
        return Err(Error::usage("a build", "needs a file to write", "name the layer with -o"));
    };
    let work = args.work.clone().unwrap_or_else(|| build::default_work(output.path()));
    let after = PairsAfter::asked(args.node_pairs.as_ref(), &[work])?;
    let (overwrite, work, anyway) = (args.overwrite, args.work, args.anyway);
    let options = BuildOptions { overwrite, work, anyway, ..args.inputs.options(output.path())? };
    let done = build::build(&options, watcher.as_ref())?;
    let pairs = after.write(&output, args.overwrite)?;
    Ok(say(&done, (output.path(), pairs), args.quiet))
}

/// Rates a shard of an extract; without one, of the plan in the work folder, which holds all inputs.
fn rated_shard(
    inputs: InputArgs,
    work: PathBuf,
    (shard, anyway): (Shard, bool),
    watcher: &dyn Progress,
) -> Result<RatedShard> {
    if inputs.extract.is_some() {
        let build = BuildOptions { anyway, ..inputs.options(&work.join("layer.gpkg"))? };
        let options = ShardOptions { build, work };
        return build::rate_shard(&options, shard, watcher);
    }
    if inputs.are_given() {
        let fact = "takes inputs and assumptions from the plan in its work folder";
        return Err(Error::usage("--shard without a map extract", fact, "leave them out, or give the extract too"));
    }
    build::rate_planned_shard(&work, (inputs.threads.map(usize::from), anyway), shard, watcher)
}

/// What is said of a shard that was rated.
fn shard_said(done: &RatedShard, Shard { nth, count }: Shard) -> String {
    let mut out = PlainLines::new();
    let districts = counted(done.districts, "district");
    writeln!(out, "shard {nth} of {count}: {districts} of {}, {:.1} km of road", done.of, done.km);
    report::stages_lines(&mut out, &done.stages, peak_memory_bytes());
    writeln!(out, "parts are in {}: `waymask merge` joins them when all shards are rated", done.folder.display());
    out.text()
}

/// What is said of a layer that was made, and of a table beside it.
pub(super) fn say(done: &Built, (output, pairs): (&Path, Option<(&Path, String)>), quiet: bool) -> Said {
    if quiet {
        return Said::Text(String::new());
    }
    let mut out = PlainLines::new();
    report::record_lines(&mut out, &done.record);
    report::stages_lines(&mut out, &done.stages, peak_memory_bytes());
    written(&mut out, output, &format!(" ({})", report::bytes(done.output_bytes)));
    if let Some((path, told)) = pairs {
        writeln!(out, "  {} ({told})", path.display());
    }
    out.own(&on_terminal(&report::layer_cautions(&done.record)));
    Said::Text(out.text())
}

/// The most memory this process has held, where the system tells it.
fn peak_memory_bytes() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    let kib: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib * 1024)
}
