//! `shards`: a build planned in pieces.
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, ValueHint};

use super::inputs::InputArgs;
use super::notes::{HelpExample, HelpNotes};
use super::terminal::Said;
use super::watch;
use crate::base::error::{Error, Result};
use crate::base::progress::Progress;
use crate::build::forecast::forecast;
use crate::build::plan::PlannedDistrict;
use crate::build::{self, FoundPlan, ShardOptions};
use crate::report::{self, ShardLine, ShardsTold};

/// What the help of `shards` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "what `build` reads; without a map extract, the plan that is there",
    writes: "a plan and the bundles of districts into the work folder",
    examples: &[
        HelpExample {
            does: "The demo island in one shard",
            line: "waymask shards data-samples/varrow.osm.pbf --elevation data-samples/varrow-elevation.tif --shards 1 --work out/work",
        },
        HelpExample {
            does: "The plan that is there, for a program, with the parts that are missing",
            line: "waymask shards --shards 1 --work out/work --json",
        },
    ],
};

/// Options of `shards`.
#[derive(Debug, ClapArgs)]
pub(crate) struct ShardsArgs {
    /// What is built.
    #[command(flatten)]
    pub inputs: InputArgs,
    /// In how many shards
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub shards: u32,
    /// Folder for finished parts
    #[arg(long, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub work: PathBuf,
    /// Print the answer as JSON
    #[arg(long)]
    pub json: bool,
    /// Print nothing but the answer and errors
    #[arg(short, long)]
    pub quiet: bool,
}

/// Plans; what to print.
pub fn run(args: ShardsArgs) -> Result<Said> {
    let (work, count, json, quiet) = (args.work, args.shards as usize, args.json, args.quiet);
    if args.inputs.extract.is_some() {
        let build = args.inputs.options(&work.join("layer.gpkg"))?;
        build::plan_shards(&ShardOptions { build, work: work.clone() }, watch::watcher(quiet).as_ref())?;
    } else if args.inputs.are_given() {
        let fact = "shows the plan that is there, whose inputs and assumptions are known";
        return Err(Error::usage("`shards` without a map extract", fact, "leave them out, or give the extract too"));
    }
    let found = build::found_plan(&work)?;
    let told = told(&found, count, work.display().to_string());
    Ok(match json {
        true => Said::Json(report::shards_json(&told)?),
        false => Said::Text(report::shards_text(&told)),
    })
}

/// What a build would take; what to print.
pub(super) fn estimate(inputs: InputArgs, progress: &dyn Progress) -> Result<Said> {
    let ahead = build::estimate(&inputs.options(Path::new("layer.gpkg"))?, progress)?;
    Ok(Said::Text(report::ahead_line(&ahead) + "\n"))
}

fn told(FoundPlan { plan, missing }: &FoundPlan, count: usize, work: String) -> ShardsTold {
    let line = |(shard, own): (usize, Vec<&PlannedDistrict>)| {
        let takes = forecast(own.iter().copied(), &plan.record.profile, 1);
        let lacks = |d: &&&PlannedDistrict| missing.contains(&d.district);
        ShardLine {
            shard,
            districts: own.iter().map(|d| d.district.to_string()).collect(),
            missing: own.iter().filter(lacks).map(|d| d.district.to_string()).collect(),
            // No district at all adds up to -0.
            km: own.iter().map(|d| d.km).sum::<f64>() + 0.0,
            cpu_s: takes.cpu_s,
            memory_bytes: takes.memory_bytes,
            disk_bytes: takes.parts_bytes,
        }
    };
    let shards = (1..).zip(plan.shards(count)).map(line).collect();
    ShardsTold { work, plan: plan.hash(), km: plan.km(), shards }
}
