//! The data flow of `build`: one call per stage, and the only place that runs cells in parallel.
//!
//! Work goes cell by cell in bounded batches; whatever the number of threads, results are taken in
//! cell order, so equal inputs give equal bytes.
mod cells;
mod drives;
mod ground;
mod lanes;
mod masks;
mod overheads;
mod readers;
mod record;
mod rows;
mod spool;
mod stages;

use std::path::PathBuf;

use crate::defect::Defects;
use crate::error::{Error, Result};
use crate::extract::model::Extract;
use crate::layer::LayerWriter;
use crate::layer::model::BuildRecord;
use crate::network::grade::Heights;
use crate::network::model::{Network, Segment};
use crate::network::{self, grade};
use crate::profile::Profile;
use crate::progress::Progress;
use crate::terrain::{ElevationKind, Sources};
use crate::{extract, pipeline::cells::Cell};

pub use stages::StageTime;

/// What `build` is asked for.
#[derive(Debug, Clone)]
pub struct BuildOptions {
    /// Map extract.
    pub extract: PathBuf,
    /// Elevation rasters or folders, best first; empty rates without terrain.
    pub elevation: Vec<PathBuf>,
    /// Layer to write.
    pub output: PathBuf,
    /// Replace the output.
    pub overwrite: bool,
    /// Assumptions.
    pub profile: Profile,
    /// Who is credited for the map data; `None` for OpenStreetMap contributors.
    pub credit: Option<String>,
    /// Fail on defects of the input.
    pub strict: bool,
    /// Worker threads; all cores where not given.
    pub threads: Option<usize>,
}

/// What a build did.
#[derive(Debug, Clone)]
pub struct Built {
    /// As stored in the layer.
    pub record: BuildRecord,
    /// Wall-clock time per stage; not stored, it differs from run to run.
    pub stages: Vec<StageTime>,
    /// Size of the layer, bytes.
    pub output_bytes: u64,
}

/// Everything the stages of one build share.
struct Run<'a> {
    profile: &'a Profile,
    extract: &'a Extract,
    network: &'a Network,
    cells: &'a [Cell],
    heights: &'a Heights,
}

impl Run<'_> {
    /// Vehicles on ferries and shuttle trains stand under decks and roofs: taken to have no link, whatever
    /// the sky above the water.
    fn is_boarded(&self, segment: &Segment) -> bool {
        self.extract.roads[segment.road as usize].class.is_boarded()
    }
}

/// Builds a layer.
///
/// # Errors
/// An input is missing or broken, the elevation covers nothing, the output cannot be written; with
/// `strict` also any defect of the input. Nothing stands under the output's name unless it is whole.
pub fn build(options: &BuildOptions, progress: &dyn Progress) -> Result<Built> {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(options.threads.unwrap_or(0))
        .build()
        .map_err(|e| Error::failed("worker threads", e.to_string(), "ask for fewer with --threads"))?;
    pool.install(|| run(options, progress))
}

fn run(options: &BuildOptions, progress: &dyn Progress) -> Result<Built> {
    let profile = &options.profile;
    let mut stages = stages::Stages::new(progress);
    check_output(options)?;
    // Refused outputs and unreadable rasters should not cost a user the minutes in between.
    let writer = LayerWriter::create(&options.output, options.overwrite)?;
    let sources = Sources::open(&options.elevation, ElevationKind::BareEarth)?;
    let extract = stages.whole(
        "extract",
        "objects",
        |p| extract::read(&options.extract, p),
        |e| e.info.nodes + e.info.ways + e.info.relations,
    )?;
    if extract.roads.is_empty() {
        let next = "use an extract of the region's roads (osmium extract cuts one from a larger file)";
        return Err(Error::file(&options.extract, "holds no road a vehicle may drive", next));
    }
    let network = stages.whole(
        "network",
        "segments",
        |_| Ok(network::build(&extract.roads, profile)),
        |n| n.segments.len() as u64,
    )?;
    let cells = cells::cells(&network);
    let readers = readers::Readers::new(&sources);
    let ground = stages.counted("terrain", "cells", cells.len(), |p| ground::heights(&readers, &network, &cells, p))?;
    ground::check_cover(options, &ground, progress)?;
    let heights = grade::road_heights(&network, &ground, profile.sampling.grade_smoothing_m);
    let run = Run { profile, extract: &extract, network: &network, cells: &cells, heights: &heights };
    let lanes = lanes::Lanes::new(&network, &extract.roads);
    let overheads = stages.counted("scene", "cells", cells.len(), |p| overheads::find(&run, &lanes, &readers, p))?;
    let skies = drives::skies(&run);
    warn_of_empty_skies(&skies, progress);
    let sky = masks::cast(&run, &lanes, &overheads, &skies, &readers, &mut stages)?;
    let stats =
        stages.counted("link", "chains", network.chains.len(), |p| drives::drive(&run, &overheads, &sky, &skies, p))?;
    let defects = all_defects(&extract, &sky);
    if options.strict && !defects.is_empty() {
        return Err(strict_error(options, &defects));
    }
    let results = rows::Results { run: &run, overheads: &overheads, sky: &sky, skies: &skies, stats: &stats };
    let record = stages.whole(
        "layer",
        "segments",
        |_| {
            let mut record = record::begin(options, &extract, &sources, &defects)?;
            rows::write(&results, writer, &mut record)?;
            Ok(record)
        },
        |_| network.segments.len() as u64,
    )?;
    let output_bytes = std::fs::metadata(&options.output).map_or(0, |m| m.len());
    Ok(Built { record, stages: stages.times, output_bytes })
}

/// A profile may leave no satellite to use; then roads are dark whatever stands beside them.
fn warn_of_empty_skies(skies: &drives::Skies, progress: &dyn Progress) {
    for (latitude_deg, expected) in skies.expected().filter(|(_, expected)| *expected < 1.0) {
        progress.warn(&format!(
            "only {expected:.2} usable satellites are expected at {latitude_deg} degrees of latitude: roads there are \
             dark whatever the sky; check [terminal], [link] and [constellation] of the profile"
        ));
    }
}

/// An output that is one of the inputs would replace it.
fn check_output(options: &BuildOptions) -> Result<()> {
    let Ok(output) = std::fs::canonicalize(&options.output) else { return Ok(()) };
    let mut inputs = options.elevation.iter().chain([&options.extract]);
    if inputs.any(|input| std::fs::canonicalize(input).is_ok_and(|input| input == output)) {
        return Err(Error::file(&options.output, "is an input of this build", "choose another name with -o"));
    }
    Ok(())
}

fn all_defects(extract: &Extract, sky: &masks::SkyOfAll) -> Defects {
    let mut defects = extract.defects.clone();
    defects.merge(sky.defects.clone());
    defects
}

fn strict_error(options: &BuildOptions, defects: &Defects) -> Error {
    let list: Vec<String> = defects
        .iter()
        .map(|(d, t)| format!("{} x {} (such as {})", t.count, d.code(), t.examples.join(", ")))
        .collect();
    Error::file(
        &options.extract,
        format!("defects in the input: {}", list.join("; ")),
        "mend them or leave out --strict",
    )
}
