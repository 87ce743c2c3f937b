//! The data flow of `build`: one call per stage, and the only place that runs cells in parallel.
//!
//! Work goes cell by cell in bounded batches; whatever the number of threads, results are taken in
//! cell order, so equal inputs give equal bytes.
mod around;
mod caster;
mod cells;
mod footprints;
mod ground;
mod lane_masks;
mod lanes;
mod look;
mod masks;
mod nodes;
mod options;
mod orbits;
mod overheads;
mod readers;
mod record;
mod results;
mod rows;
mod run;
mod season;
mod sources;
mod stages;
mod stops;
mod strict;
mod terrain;

use crate::base::defect::{Defect, Defects};
use crate::base::error::{Error, Result};
use crate::base::files::check_apart;
use crate::base::geodesy::Position;
use crate::base::index::LaneIndex;
use crate::base::progress::Progress;
use crate::base::words::{Case, PerCase};
use crate::layer::LayerWriter;
use crate::layer::model::BuildRecord;
use crate::map::extract;
use crate::map::extract::model::Extract;
use crate::map::network::{self, Surroundings, grade};
use crate::map::place::places::Places;
use crate::physics::sky::mask::SkyGrid;
use crate::rating::drives;
use crate::rating::summary::short_of_satellites;
use crate::relief::ElevationKind;
use run::{Beside, Run};
use strict::strict_error;

pub use crate::base::progress::StageTime;

pub use options::{BuildOptions, OrbitOptions, SeasonOf};

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
    let mut stages = stages::Stages::new(progress);
    check_rasters(options)?;
    let orbits = orbits::read(options, progress)?;
    let options = &orbits::in_force(options, orbits.as_ref());
    // Refused outputs and unreadable rasters should not cost a user the minutes in between.
    let writer = LayerWriter::create(&options.output, options.overwrite)?;
    let sources = sources::Opened::new(options)?;
    check_output(options, &sources)?;
    let mut extract = stages.whole(
        "extract",
        "objects",
        |p| extract::read(&options.extract, p),
        |e| e.info.nodes + e.info.ways + e.info.relations,
    )?;
    check_roads(options, &extract)?;
    let replaced = footprints::replace(options, &mut extract)?;
    let extract = extract;
    let profile = &season::in_season(options, &extract);
    let places = Places::embedded()?;
    let beside = Beside::of(&extract, profile)?;
    let built_up = |at: Position| beside.neighbourhood.built_up(at);
    let network = stages.whole(
        "network",
        "segments",
        |_| Ok(network::build(&extract.roads, &beside.cases, &Surroundings { places: &places, built_up: &built_up })),
        |n| n.segments.len() as u64,
    )?;
    network.side_doubts.iter().for_each(|d| progress.warn(&record::side_doubt(d)));
    let cells = cells::cells(&network, &extract.stops);
    sources.check_nature(&network)?;
    sources.check_cover(options, &network)?;
    let rasters = sources.readers();
    let ground = stages.counted("terrain", "cells", cells.len(), |p| ground::heights(&rasters, &network, &cells, p))?;
    ground::check_cover(options, &ground, progress)?;
    ground::check_grades(options, &network, &ground)?;
    let heights = grade::road_heights(&network, &ground, profile.sampling.grade_smoothing_m);
    let run = Run::new(profile, &extract, &network, &cells, &heights, &beside);
    let lanes = lanes::Lanes::new(&network, &extract.roads);
    let overheads =
        stages.counted("scene", "cells", cells.len(), |p| overheads::find(&run, &lanes, &rasters.elevation, p))?;
    let grid = SkyGrid { floor_deg: profile.terminal.floor_deg() };
    let timeline_of = |key: i32| orbits.as_ref().and_then(|o| o.timeline(&run, key, grid.floor_deg));
    let skies = drives::skies(profile, &run.pieces, grid, &timeline_of);
    if let Some(orbits) = orbits.as_ref().filter(|_| skies.are_empty()) {
        return Err(orbits.never_seen(grid.floor_deg));
    }
    warn_of_empty_skies(&skies, progress);
    let sky = masks::cast(&run, &lanes, &overheads, &skies, &rasters, &mut stages)?;
    let masks = |lane: LaneIndex, case: Case| sky.masks(lane, case);
    let roads = drives::Roads {
        profile,
        pieces: &run.pieces,
        strokes: &network.strokes,
        own: &overheads.own,
        masks: &masks,
        apart: &|lane| sky.lanes[lane.at()].is_some_and(|sky| sky.apart()),
    };
    let stats = stages.counted("link", "strokes", network.strokes.len(), |p| drives::drive_cases(&roads, &skies, p))?;
    let stats = PerCase { best: &stats.best[..], likely: &stats.likely, worst: &stats.worst };
    let mut defects = all_defects(&extract, &sky, orbits.as_ref());
    replaced.iter().for_each(|r| defects.merge(r.defects.clone()));
    if options.strict && !defects.is_empty() {
        return Err(strict_error(&options.extract, &defects));
    }
    let results = results::Results { run: &run, overheads: &overheads, sky: &sky, skies: &skies, stats };
    let record = stages.whole(
        "layer",
        "segments",
        |_| {
            let mut record = record::begin(options, profile, &extract, &sources, &defects)?;
            replaced.iter().for_each(|r| record::of_footprints(&mut record, r));
            orbits.iter().for_each(|o| o.write_down(&mut record));
            rows::write(&results, writer, &mut record)?;
            Ok(record)
        },
        |_| network.segments.len() as u64,
    )?;
    let output_bytes = std::fs::metadata(&options.output).map_or(0, |m| m.len());
    Ok(Built { record, stages: stages.times, output_bytes })
}

/// An extract without roads is the wrong file.
fn check_roads(options: &BuildOptions, extract: &Extract) -> Result<()> {
    if !extract.roads.is_empty() {
        return Ok(());
    }
    let (fact, next) = match extract.defects.count(Defect::NearPole) {
        0 => (
            "holds no road that a vehicle may drive",
            "use an extract of the region's roads (osmium extract cuts one from a larger file)",
        ),
        _ => (
            "holds roads only near a pole, where directions have no meaning",
            "use an extract that reaches no farther than 89.9 degrees of latitude",
        ),
    };
    Err(Error::file(&options.extract, fact, next))
}

/// A profile may leave no satellite to use; then roads are dark whatever stands beside them.
fn warn_of_empty_skies(skies: &drives::Skies, progress: &dyn Progress) {
    for (latitude_deg, expected) in skies.expected().filter(|(_, expected)| *expected < 1.0) {
        progress.warn(&format!(
            "only {expected:.2} usable satellites are expected at {latitude_deg} degrees of latitude: roads there are \
             dark whatever the sky; check [terminal], [link] and [constellation] of the profile"
        ));
    }
    short_of_satellites(skies).iter().for_each(|sentence| progress.warn(sentence));
}

/// Rasters that say the same thing twice, or nothing without another.
fn check_rasters(options: &BuildOptions) -> Result<()> {
    let surface = !options.elevation.is_empty()
        && options.elevation_inputs().iter().all(|input| input.kind == ElevationKind::Surface);
    match (options.surface.first(), options.canopy.first()) {
        (Some(path), _) if surface => Err(Error::usage(
            path.display().to_string(),
            "a surface above another surface does not give the height of what stands there",
            "give bare earth with --elevation, or leave out --surface",
        )),
        (Some(path), _) if options.elevation.is_empty() => Err(Error::usage(
            path.display().to_string(),
            "a surface shows how high things are only where bare earth is known too",
            "give bare earth with --elevation too, or this raster as --elevation with --elevation-kind surface",
        )),
        (None, Some(path)) if surface => Err(Error::usage(
            path.display().to_string(),
            "trees would be counted twice: once in the surface and once here",
            "give bare earth with --elevation, or leave out --canopy",
        )),
        _ => Ok(()),
    }
}

/// An output that is one of the inputs would replace it.
fn check_output(options: &BuildOptions, sources: &sources::Opened) -> Result<()> {
    let orbits = options.orbits.as_ref().map(|o| o.path.as_path());
    let buildings = options.buildings.as_ref().map(|b| b.path.as_path());
    let inputs = sources.files().chain([options.extract.as_path()]).chain(orbits).chain(buildings);
    check_apart(inputs, [options.output.as_path()])
}

fn all_defects(extract: &Extract, sky: &masks::SkyOfAll, orbits: Option<&orbits::Orbits>) -> Defects {
    let mut defects = extract.defects.clone();
    orbits.iter().for_each(|o| defects.merge(o.defects.clone()));
    defects.merge(sky.defects.clone());
    defects
}
