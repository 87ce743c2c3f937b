//! `sensitivity`: which assumption matters, from a layer alone.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::files::OutputFile;
use super::notes::{HelpExample, HelpNotes};
use super::output::written;
use super::terminal::Said;
use super::watch;
use crate::ask;
use crate::ask::rerate::{NewLayer, RerateQuestion, Wanted};
use crate::base::caution::{Caution, on_terminal};
use crate::base::error::{Error, Result};
use crate::base::plain::PlainLines;
use crate::layer::Layer;
use crate::profile::source;
use crate::report;

/// What the help of `sensitivity` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a layer; a profile (TOML) if given",
    writes: "with -o the layer as rated then (.gpkg); else nothing",
    examples: &[
        HelpExample {
            does: "Which assumption moves most kilometres (minutes)",
            line: "waymask sensitivity out/varrow.gpkg",
        },
        HelpExample {
            does: "What satellites that serve for longer would change, as a layer of its own",
            line: "waymask sensitivity out/varrow.gpkg --set link.slot_s=30 -o out/slots.gpkg",
        },
    ],
};

/// Options of `sensitivity`.
#[derive(Debug, ClapArgs)]
pub(crate) struct SensitivityArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Assumptions to rate by: the name of a preset, or a TOML file
    ///
    /// `waymask settings` lists the presets. `waymask settings profile` prints a file to begin with.
    #[arg(short, long, value_name = "NAME-OR-FILE")]
    pub profile: Option<PathBuf>,
    /// Replace one value of the profile, such as link.slot_s=30; may be given several times
    #[arg(long, value_name = "KEY=VALUE")]
    pub set: Vec<String>,
    /// File to write: the layer as rated under the changed profile (.gpkg)
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<OutputFile>,
    /// Replace the output if it exists
    ///
    /// The old file stays until the new one is complete.
    #[arg(long, requires = "output")]
    pub overwrite: bool,
    /// Print the answer as JSON
    ///
    /// A layer asked for is written, too.
    #[arg(long)]
    pub json: bool,
    /// Worker threads; all cores by default
    #[arg(short = 'j', long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Print nothing but the answer and errors
    #[arg(short, long)]
    pub quiet: bool,
}

/// Runs the command; what to print.
pub fn run(args: &SensitivityArgs) -> Result<Said> {
    let wanted = wanted(args)?;
    let sweep = matches!(wanted, Wanted::Sweep);
    if args.output.is_some() && sweep {
        return Err(Error::usage(
            "-o",
            "there is no single changed profile to write",
            "name it with --profile or --set",
        ));
    }
    let output = args.output.as_ref().map(|file| NewLayer { path: file.path().to_owned(), overwrite: args.overwrite });
    let question = RerateQuestion { wanted, output, threads: args.threads.map(usize::from) };
    let watcher = watch::watcher(args.quiet || args.json);
    let answered = ask::rerate(&Layer::open(&args.layer)?, &question, watcher.as_ref())?;
    if args.json {
        return Ok(Said::Json(report::rerate_json(&answered)?));
    }
    let mut out = PlainLines::new();
    out.own(&report::rerate_table(&answered, sweep));
    if let Some(file) = &args.output {
        written(&mut out, file.path(), "");
    }
    out.own(&on_terminal(&Caution::ROAD));
    Ok(Said::Text(out.text()))
}

fn wanted(args: &SensitivityArgs) -> Result<Wanted> {
    Ok(match (&args.profile, args.set.is_empty()) {
        (None, true) => Wanted::Sweep,
        (None, false) => Wanted::Values(args.set.clone()),
        (Some(name_or_file), _) => {
            let chosen = source::choose(name_or_file)?.profile;
            Wanted::Profile(Box::new(source::with_values(&chosen, &args.set)?))
        }
    })
}
