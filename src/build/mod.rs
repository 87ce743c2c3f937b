//! The data flow of `build`: one call per stage, and the only place that runs cells in parallel.
//!
//! Work goes cell by cell in bounded batches; whatever the number of threads, results are taken in
//! cell order, so equal inputs give equal bytes.
mod cells;
mod ground;
mod lanes;
mod masks;
mod nodes;
mod orbits;
mod overheads;
mod readers;
mod record;
mod rows;
mod season;
mod sources;
mod stages;
mod stops;

use std::borrow::Cow;
use std::path::{Path, PathBuf};

use crate::base::defect::Defects;
use crate::base::error::{Error, Result};
use crate::base::progress::Progress;
use crate::layer::LayerWriter;
use crate::layer::model::BuildRecord;
use crate::map::extract;
use crate::map::extract::model::Extract;
use crate::map::network::grade::Heights;
use crate::map::network::model::{Network, Segment};
use crate::map::network::{self, climb, grade};
use crate::physics::scene::index::{Nearby, Window};
use crate::physics::scene::vicinity::Vicinity;
use crate::physics::sky::mask::SkyGrid;
use crate::profile::Profile;
use crate::rating::drives;
use crate::rating::pieces::Piece;
use crate::relief::ElevationKind;
use cells::Cell;

pub use orbits::OrbitOptions;
pub use season::SeasonOf;
pub use stages::StageTime;

/// What `build` is asked for.
#[derive(Debug, Clone)]
pub struct BuildOptions {
    /// Map extract.
    pub extract: PathBuf,
    /// Elevation rasters or folders, best first; empty rates without terrain.
    pub elevation: Vec<PathBuf>,
    /// What `elevation` holds the heights of: bare earth or a surface.
    pub elevation_kind: ElevationKind,
    /// Canopy-height rasters or folders, best first.
    pub canopy: Vec<PathBuf>,
    /// Metres per value of `canopy`, instead of what the rasters declare.
    pub canopy_scale: Option<f64>,
    /// Surface models over the bare earth of `elevation`, best first.
    pub surface: Vec<PathBuf>,
    /// Season instead of the profile's.
    pub season: Option<SeasonOf>,
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
    /// Real satellites instead of the profile's shells.
    pub orbits: Option<OrbitOptions>,
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
    /// By segment, as the link stage sees them.
    pieces: Vec<Piece<'a>>,
}

impl BuildOptions {
    /// A build with starting values: no rasters, default profile.
    pub fn new(extract: PathBuf, output: PathBuf) -> Self {
        Self {
            extract,
            elevation: Vec::new(),
            elevation_kind: ElevationKind::BareEarth,
            canopy: Vec::new(),
            canopy_scale: None,
            surface: Vec::new(),
            season: None,
            output,
            overwrite: false,
            profile: Profile::default(),
            credit: None,
            strict: false,
            orbits: None,
            threads: None,
        }
    }
}

impl<'a> Run<'a> {
    fn new(
        profile: &'a Profile,
        extract: &'a Extract,
        network: &'a Network,
        cells: &'a [Cell],
        heights: &'a Heights,
    ) -> Self {
        let mut run = Self { profile, extract, network, cells, heights, pieces: Vec::new() };
        let climbs = climb::climbs(network, heights);
        run.pieces = network.segments.iter().zip(climbs).map(|(s, climb)| run.piece(s, climb)).collect();
        run
    }
    /// The map around a cell.
    fn vicinity<'c>(&'c self, window: &'c Window, near: &'c Nearby) -> Vicinity<'c> {
        Vicinity { window, extract: self.extract, network: self.network, near }
    }
    /// A segment as the link stage sees it.
    fn piece(&self, segment: &'a Segment, climb: f32) -> Piece<'a> {
        Piece {
            line: Cow::Borrowed(&segment.line),
            length_m: segment.length_m,
            stations: segment.stations,
            speeds_kmh: [segment.speed_forward_kmh.value, segment.speed_backward_kmh.value],
            climb,
            boarded: self.is_boarded(segment),
        }
    }
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
    let mut stages = stages::Stages::new(progress);
    check_rasters(options)?;
    check_output(options)?;
    let orbits = orbits::read(options, progress)?;
    let options = &orbits::in_force(options, orbits.as_ref());
    // Refused outputs and unreadable rasters should not cost a user the minutes in between.
    let writer = LayerWriter::create(&options.output, options.overwrite)?;
    let sources = sources::Opened::new(options)?;
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
    let profile = &season::in_season(options, &extract);
    let network = stages.whole(
        "network",
        "segments",
        |_| Ok(network::build(&extract.roads, profile)),
        |n| n.segments.len() as u64,
    )?;
    let cells = cells::cells(&network, &extract.stops);
    sources.check_cover(options, &network)?;
    let rasters = sources.readers();
    let ground = stages.counted("terrain", "cells", cells.len(), |p| ground::heights(&rasters, &network, &cells, p))?;
    ground::check_cover(options, &ground, progress)?;
    let heights = grade::road_heights(&network, &ground, profile.sampling.grade_smoothing_m);
    let run = Run::new(profile, &extract, &network, &cells, &heights);
    let lanes = lanes::Lanes::new(&network, &extract.roads);
    let overheads =
        stages.counted("scene", "cells", cells.len(), |p| overheads::find(&run, &lanes, &rasters.elevation, p))?;
    let grid = SkyGrid { floor_deg: profile.terminal.floor_deg() };
    let timeline_of = |key: i32| orbits.as_ref().and_then(|o| o.timeline(&run, key, grid.floor_deg));
    let skies = drives::skies(profile, &run.pieces, grid, &timeline_of);
    warn_of_empty_skies(&skies, progress);
    let sky = masks::cast(&run, &lanes, &overheads, &skies, &rasters, &mut stages)?;
    let masks = |lane: usize| sky.masks(lane);
    let roads =
        drives::Roads { profile, pieces: &run.pieces, strokes: &network.strokes, own: &overheads.own, masks: &masks };
    let stats = stages.counted("link", "strokes", network.strokes.len(), |p| drives::drive(&roads, &skies, p))?;
    let defects = all_defects(&extract, &sky, orbits.as_ref());
    if options.strict && !defects.is_empty() {
        return Err(strict_error(&options.extract, &defects));
    }
    let tops = rasters.elevation_is_surface();
    let results = rows::Results { run: &run, overheads: &overheads, sky: &sky, skies: &skies, stats: &stats, tops };
    let record = stages.whole(
        "layer",
        "segments",
        |_| {
            let mut record = record::begin(options, profile, &extract, &sources, &defects)?;
            orbits.iter().for_each(|o| o.write_down(&mut record));
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

/// Rasters that say the same thing twice, or nothing without another.
fn check_rasters(options: &BuildOptions) -> Result<()> {
    let surface = options.elevation_kind == ElevationKind::Surface;
    match (options.surface.first(), options.canopy.first()) {
        (Some(path), _) if surface => Err(Error::usage(
            path.display().to_string(),
            "a surface over a surface shows no height",
            "give bare earth with --elevation, or leave out --surface",
        )),
        (Some(path), _) if options.elevation.is_empty() => Err(Error::usage(
            path.display().to_string(),
            "a surface says how high things stand only over bare earth",
            "give bare earth with --elevation too, or this raster as --elevation with --elevation-kind surface",
        )),
        (None, Some(path)) if surface => Err(Error::usage(
            path.display().to_string(),
            "trees would count twice: once in the surface and once here",
            "give bare earth with --elevation, or leave out --canopy",
        )),
        _ => Ok(()),
    }
}

/// An output that is one of the inputs would replace it.
fn check_output(options: &BuildOptions) -> Result<()> {
    let Ok(output) = std::fs::canonicalize(&options.output) else { return Ok(()) };
    let orbits = options.orbits.as_ref().map(|o| &o.path);
    let rasters = options.elevation.iter().chain(&options.canopy).chain(&options.surface);
    let mut inputs = rasters.chain([&options.extract]).chain(orbits);
    if inputs.any(|input| std::fs::canonicalize(input).is_ok_and(|input| input == output)) {
        return Err(Error::file(&options.output, "is an input of this build", "choose another name with -o"));
    }
    Ok(())
}

fn all_defects(extract: &Extract, sky: &masks::SkyOfAll, orbits: Option<&orbits::Orbits>) -> Defects {
    let mut defects = extract.defects.clone();
    orbits.iter().for_each(|o| defects.merge(o.defects.clone()));
    defects.merge(sky.defects.clone());
    defects
}

fn strict_error(input: &Path, defects: &Defects) -> Error {
    let list: Vec<String> = defects
        .iter()
        .map(|(d, t)| format!("{} x {} (such as {})", t.count, d.code(), t.examples.join(", ")))
        .collect();
    Error::file(input, format!("defects in the input: {}", list.join("; ")), "mend them or leave out --strict")
}
