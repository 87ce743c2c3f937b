//! `edges`: tables of a layer for routing tools, by edge, by pair of nodes or by way.
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, ValueEnum};

use super::files::OutputFile;
use super::notes::{HelpExample, HelpNotes};
use super::output::written;
use super::terminal::Said;
use super::values::weight;
use super::with_layers::WithLayers;
use crate::ask;
use crate::ask::by_map::{NodePair, WayDrive, node_pairs, way_drives};
use crate::base::caution::{Caution, on_terminal};
use crate::base::count::noun;
use crate::base::error::{Error, Result};
use crate::base::files;
use crate::base::plain::PlainLines;
use crate::base::words::Evidence;
use crate::build;
use crate::layer::Layer;
use crate::rating::summary::evidence_of;
use crate::report::{self, ByMapFile, thousands};

/// What the help of `edges` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a layer",
    writes: "a table of edges, of pairs of nodes or of ways (.csv, .json)",
    examples: &[
        HelpExample { does: "The edges for a routing tool", line: "waymask edges out/varrow.gpkg -o out/edges.csv" },
        HelpExample {
            does: "The same figures for an engine that knows the nodes of the map, by each two that follow each other",
            line: "waymask edges out/varrow.gpkg --by node-pair -o out/pairs.csv",
        },
        HelpExample {
            does: "Speeds of ways where a second without a link is as bad as two more of driving",
            line: "waymask edges out/varrow.gpkg --by way --outage-weight 2 -o out/ways.csv",
        },
    ],
};

/// What a row stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum RowsBy {
    /// From one junction to the next
    Edge,
    /// From one node of the map to the next of its way
    NodePair,
    /// All of a way
    Way,
}

/// Options of `edges`.
#[derive(Debug, ClapArgs)]
pub(crate) struct EdgesArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Layers asked as one with it.
    #[command(flatten)]
    pub neighbours: WithLayers,
    /// What each row is, in one direction
    #[arg(long, value_name = "WHAT", value_enum, default_value_t = RowsBy::Edge)]
    pub by: RowsBy,
    /// How many seconds of driving a second without a link counts as, in the speeds of node pairs and ways; 0 by default
    ///
    /// An engine that drives at `speed_kmh` takes `time_s + K * outage_s`.
    #[arg(long, value_name = "K", value_parser = weight)]
    pub outage_weight: Option<f64>,
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
    if args.by == RowsBy::Edge && args.outage_weight.is_some() {
        let next = "add --by node-pair or --by way, or leave it out";
        return Err(Error::usage("--outage-weight", "is for the speeds of node pairs and ways; edges have none", next));
    }
    let path = args.output.path();
    let layer = args.neighbours.open(&args.layer, None)?;
    ask::check_roads(&layer)?;
    let outage_weight = args.outage_weight.unwrap_or(0.0);
    let told = match args.by {
        RowsBy::Edge => {
            let mut rows = 0;
            files::stream(path, args.overwrite, |out| {
                rows = report::edges_written(layer.edges(), path, out)?;
                Ok(())
            })?;
            counted(rows, "edge")
        }
        RowsBy::NodePair => pairs_written(&layer, path, args.overwrite, outage_weight)?,
        RowsBy::Way => {
            let (mut rows, mut cut) = (0, 0);
            files::stream(path, args.overwrite, |out| {
                let mut file = ByMapFile::begin(path, out)?;
                cut = way_drives(&layer, outage_weight, &mut |way| file.add(&way))?;
                rows = file.finish::<WayDrive>()?;
                Ok(())
            })?;
            let told = format!("{}, each way by direction", counted(rows, "row"));
            match cut {
                0 => told,
                n => format!("{told}; {} not whole, which the rim of the layer cuts", counted(n, "way")),
            }
        }
    };
    let mut out = PlainLines::new();
    layer.told.iter().for_each(|note| writeln!(out, "note: {note}"));
    written(&mut out, path, &format!(" ({told})"));
    if let Some(km) =
        layer.record().km_by_evidence.get(&evidence_of("rating", Evidence::Unknown.name())).filter(|km| **km > 0.0)
    {
        writeln!(out, "not known: {km:.1} km of road, where a cause could not be known; outages may be longer there");
    }
    out.own(&on_terminal(&Caution::ROAD));
    Ok(Said::Text(out.text()))
}

fn counted(rows: u64, what: &str) -> String {
    format!("{} {}", thousands(rows), noun(rows, what))
}

/// Writes the table by pairs of nodes; what is said of it.
fn pairs_written(layer: &Layer, path: &Path, overwrite: bool, outage_weight: f64) -> Result<String> {
    let (mut rows, mut left_out) = (0, 0);
    files::stream(path, overwrite, |out| {
        let mut file = ByMapFile::begin(path, out)?;
        left_out = node_pairs(layer, outage_weight, &mut |pair| file.add(&pair))?;
        rows = file.finish::<NodePair>()?;
        Ok(())
    })?;
    let told = format!("{}, each pair of nodes by direction", counted(rows, "row"));
    Ok(match left_out {
        0 => told,
        n => format!("{told}; {} left out, which the rim of the layer cuts", counted(n, "pair")),
    })
}

/// A table by pairs of nodes that is written after the layer is whole.
pub(super) struct PairsAfter<'a>(Option<&'a OutputFile>);

impl<'a> PairsAfter<'a> {
    /// Where it is asked for; `folders` are those that hold parts.
    ///
    /// # Errors
    /// Its ending is not a known one, or it lies in such a folder.
    pub fn asked(file: Option<&'a OutputFile>, folders: &[PathBuf]) -> Result<Self> {
        if let Some(path) = file.map(OutputFile::path) {
            report::by_map_format(path)?;
            folders.iter().try_for_each(|folder| build::check_outside(path, folder))?;
        }
        Ok(Self(file))
    }
    /// Writes it; the file and what is said of it.
    ///
    /// # Errors
    /// The layer cannot be read, or the file cannot be written.
    pub fn write(&self, layer: &OutputFile, overwrite: bool) -> Result<Option<(&'a Path, String)>> {
        let Some(path) = self.0.map(OutputFile::path) else { return Ok(None) };
        let told = Layer::open(layer.path()).and_then(|layer| pairs_written(&layer, path, overwrite, 0.0));
        let whole = |e: Error| {
            let layer = layer.path().display();
            e.with_next(format!("{layer} is whole; then run `waymask edges {layer} --by node-pair -o FILE`"))
        };
        Ok(Some((path, told.map_err(whole)?)))
    }
}
