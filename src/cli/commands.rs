//! One function per command.
use std::io::Write;

use super::args::{Args, Build, Command, Info, KindOfElevation};
use super::{corridor, edges, guide, plan, route, sensitivity, settings, show, sky, spend, stops, watch};
use crate::base::error::{Error, Result};
use crate::build::{self, BuildOptions, OrbitOptions};
use crate::layer::Layer;
use crate::profile::{Profile, source};
use crate::relief::ElevationKind;

/// Runs a command.
pub fn run(args: Args) -> Result<()> {
    match args.command {
        Command::Build(args) => build(args),
        Command::Corridor(args) => print(&corridor::answer(&args)?),
        Command::Plan(args) => print(&plan::answer(&args)?),
        Command::Edges(args) => print(&edges::run(&args)?),
        Command::Info(args) => info(&args),
        Command::Route(args) => print(&route::run(&args)?),
        Command::Sky(args) => print(&sky::run(&args)?),
        Command::Spend(args) => print(&spend::run(&args)?),
        Command::Stops(args) => print(&stops::answer(&args)?),
        Command::Sensitivity(args) => print(&sensitivity::run(&args)?),
        Command::Settings(args) => print(&settings::run(&args)?),
        Command::Guide(args) => print(&guide::answer(&args)),
    }
}

/// Writes to standard output; a reader that has gone away is not an error.
fn print(text: &str) -> Result<()> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Error::failed("standard output", e.to_string(), "check where the output goes"))
        }
        _ => Ok(()),
    }
}

fn build(args: Build) -> Result<()> {
    let profile = match &args.profile {
        Some(name_or_file) => source::choose(name_or_file)?.profile,
        None => Profile::default(),
    };
    let options = BuildOptions {
        elevation: args.elevation,
        elevation_kind: match args.elevation_kind {
            KindOfElevation::BareEarth => ElevationKind::BareEarth,
            KindOfElevation::Surface => ElevationKind::Surface,
        },
        canopy: args.canopy,
        canopy_scale: args.canopy_scale,
        surface: args.surface,
        season: args.season,
        overwrite: args.overwrite,
        profile,
        credit: args.credit,
        strict: args.strict,
        orbits: args.orbits.map(|path| OrbitOptions {
            path,
            timeline_start: args.orbit_date,
            today: jiff::Timestamp::now(),
        }),
        threads: args.threads.map(usize::from),
        ..BuildOptions::new(args.extract, args.output.clone())
    };
    let watcher = watch::watcher(args.quiet);
    let done = build::build(&options, watcher.as_ref())?;
    if args.quiet {
        return Ok(());
    }
    let mut text = show::record(&done.record);
    text += &show::run(&done.stages, peak_memory_bytes());
    text += &format!("written\n  {} ({})\n{}\n", args.output.display(), show::bytes(done.output_bytes), show::CAUTION);
    print(&text)
}

fn info(args: &Info) -> Result<()> {
    let layer = Layer::open(&args.layer)?;
    let record = layer.record();
    if args.json {
        let json = serde_json::to_string_pretty(record)
            .map_err(|e| Error::failed("build record", e.to_string(), "build the layer again"))?;
        return print(&(json + "\n"));
    }
    let mut text =
        format!("{} (waymask {}, schema {})\n", args.layer.display(), record.waymask_version, record.schema_version);
    text += &show::record(record);
    text += &format!("{}\n", show::CAUTION);
    print(&text)
}

/// The most memory this process has held, where the system tells it.
fn peak_memory_bytes() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    let kib: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib * 1024)
}
