//! Rates one district: from its bundle to its part.
//!
//! It depends on nothing but the bundle, the rasters within reach and what [`Shared`] holds, which is the same for all.
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::ids::RowIds;
use super::options::BuildOptions;
use super::orbits::Orbits;
use super::readers::Rasters;
use super::results::Results;
use super::run::{Beside, Run};
use super::stages::Stages;
use super::sums::PartSums;
use super::{cells, footprints, ground, lanes, masks, overheads, rows};
use crate::base::district::District;
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::base::index::{LaneIndex, SegmentIndex};
use crate::base::words::{Case, PerCase};
use crate::layer::model::BuildRecord;
use crate::layer::{LayerWriter, REPORT};
use crate::map::district::bundle::RUN_M;
use crate::map::extract::model::{Building, Extract};
use crate::map::network::model::{Network, Stroke};
use crate::map::network::sides::SideVotes;
use crate::map::network::stroke::district_of;
use crate::map::network::{self, Surroundings, grade};
use crate::map::place::places::Places;
use crate::physics::sky::mask::SkyGrid;
use crate::profile::Profile;
use crate::rating::drives::{self, Skies, SkyStore};
use crate::rating::summary::{expected, short_of_satellites};

/// What all districts share.
pub(super) struct Shared<'a> {
    pub options: &'a BuildOptions,
    /// In force, in season.
    pub profile: &'a Profile,
    pub places: &'a Places,
    pub rasters: &'a Rasters<'a>,
    pub orbits: Option<&'a Orbits>,
    /// Skies that several districts lie under.
    pub skies: SkyStore,
    /// What the record of a part says of the whole build.
    pub record: &'a BuildRecord,
}

/// Rates a district and writes its part.
///
/// # Errors
/// A raster cannot be read any more, or the part cannot be written.
pub(super) fn rate(
    shared: &Shared,
    district: District,
    mut extract: Extract,
    part: &Path,
    stages: &mut Stages,
) -> Result<()> {
    let profile = shared.profile;
    let writer = LayerWriter::create_part(part)?;
    let mut sums = PartSums::default();
    if let Some(replaced) = footprints::replace(shared.options, district, &mut extract)? {
        sums.take_footprints(&replaced);
    }
    let extract = &extract;
    let beside = Beside::of(extract, profile)?;
    let built_up = |at: Position| beside.neighbourhood.built_up(at);
    let around = Surroundings { places: shared.places, built_up: &built_up };
    let network = stages.whole(
        "network",
        "segments",
        |_| Ok(of_district(network::build(&extract.roads, &beside.cases, &around), district)),
        |n| n.segments.len() as u64,
    )?;
    let ids = RowIds::of(&network, district);
    let driven: BTreeSet<SegmentIndex> =
        network.strokes.iter().flat_map(Stroke::driven).map(|(id, _)| *id).chain(ids.own()).collect();
    let longest_m = profile.sampling.segment_length_m;
    let cells = cells::cells(&network, driven.iter().copied(), &extract.stops, longest_m);
    let in_sight = network.strokes.iter().flat_map(Stroke::in_sight).map(|(id, _)| *id).chain(driven);
    let looked_at = cells::cells(&network, in_sight.collect::<BTreeSet<_>>().into_iter(), &[], longest_m);
    let heights = stages
        .counted("terrain", "cells", looked_at.len(), |p| ground::heights(shared.rasters, &network, &looked_at, p))?;
    (sums.grades, sums.stations) = (ground::grades(&network, &heights, &ids), ground::covered(&heights, &ids));
    ground::check_grades(shared.options.elevation.first().map(PathBuf::as_path), sums.grades)?;
    let heights = grade::road_heights(&network, &heights, profile.sampling.grade_smoothing_m);
    let run = Run::new(profile, extract, &network, &cells, &heights, &beside, &ids);
    let lanes = lanes::Lanes::new(&network, &extract.roads);
    let overheads = stages
        .counted("scene", "cells", cells.len(), |p| overheads::find(&run, &lanes, &shared.rasters.elevation, p))?;
    let grid = SkyGrid { floor_deg: profile.terminal.floor_deg() };
    let skies = stages.whole("link", "strokes", |_| Ok(skies(shared, &run, district, grid)), |_| 0)?;
    let sky = masks::cast(&run, &lanes, &overheads, &skies, shared.rasters, stages)?;
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
    let PerCase { best, likely, worst } = &stats.lanes;
    let by_case = PerCase { best: &best[..], likely: &likely[..], worst: &worst[..] };
    let results = Results {
        run: &run,
        overheads: &overheads,
        sky: &sky,
        skies: &skies,
        stats: by_case,
        by_stroke: &stats.strokes,
        ids: &ids,
    };
    take_sums(&mut sums, &results);
    stages.whole("layer", "segments", |_| write(shared, &results, writer, sums), |()| ids.own().count() as u64)
}

fn write(shared: &Shared, results: &Results, mut writer: LayerWriter, mut sums: PartSums) -> Result<()> {
    let mut record = BuildRecord::default();
    let links = rows::write(results, &mut writer, &mut record)?;
    let BuildRecord { waymask_version, mask_floor_deg, .. } = shared.record.clone();
    let whole = BuildRecord { waymask_version, mask_floor_deg, profile: shared.profile.clone(), ..record.clone() };
    sums.take(record);
    let sums = serde_json::to_string(&sums);
    let sums = sums.map_err(|e| Error::failed("the sums of a district", e.to_string(), REPORT))?;
    writer.finish_part(&whole, &links, &sums)
}

/// The network of a bundle with the strokes of its district only.
fn of_district(mut network: Network, district: District) -> Network {
    let mut strokes = std::mem::take(&mut network.strokes);
    strokes.retain(|stroke| stroke.steps.first().is_some_and(|(id, _)| district_of(&network, *id) == district));
    Network { strokes, ..network }
}

/// Skies of all latitudes that the district's roads lie under.
fn skies(shared: &Shared, run: &Run, district: District, grid: SkyGrid) -> Skies {
    let near = district.reach(RUN_M);
    let is_near = |id: &SegmentIndex| run.network.segments[id.at()].line.first().is_some_and(|p| near.holds(*p));
    let strokes = run.network.strokes.iter().flat_map(Stroke::driven).map(|(id, _)| *id);
    let all = SegmentIndex::numbered(&run.network.segments).map(|(id, _)| id).filter(is_near).chain(strokes);
    let keys = drives::latitude_keys(all.map(|id| &run.pieces[id.at()]));
    let middle = district.middle();
    let timeline_of =
        |key: i32| shared.orbits.and_then(|o| o.timeline(shared.profile, (key, middle.lon_deg()), grid.floor_deg));
    let zone = shared.orbits.map_or(0, |_| middle.lon_e7);
    drives::skies_of(shared.profile, &keys, grid, &timeline_of, (&shared.skies, zone))
}

/// Everything that is added up over districts, besides what comes with rows.
fn take_sums(sums: &mut PartSums, results: &Results) {
    let (run, ids) = (results.run, results.ids);
    let own = |b: &Building| b.middle().is_some_and(|at| District::of(at) == ids.district());
    let tagged = |b: &&Building| own(b) && b.tagged_height_m().is_some() && !b.roof_only && b.layer >= 0;
    let (near, kind) = run.beside.heights.assumed_by(run.extract, &own);
    sums.building_heights = [run.extract.buildings.iter().filter(tagged).count() as u64, near, kind];
    sums.stops_far = results.sky.stops_far;
    sums.take_trees(results.sky.disagreement);
    sums.take_defects(&results.sky.defects);
    sums.never_seen = results.skies.are_empty();
    sums.expected = results.skies.expected().map(|(key, _)| key).zip(expected(results.skies)).collect();
    let mut few: BTreeMap<i32, Vec<String>> = BTreeMap::new();
    for (latitude_deg, expected) in results.skies.expected().filter(|(_, expected)| *expected < 1.0) {
        few.entry(latitude_deg).or_default().push(format!(
            "only {expected:.2} usable satellites are expected at {latitude_deg} degrees of latitude: roads there are \
             dark whatever the sky; check [terminal], [link] and [constellation] of the profile"
        ));
    }
    for ((latitude_deg, _), sentence) in results.skies.short_of_satellites().zip(short_of_satellites(results.skies)) {
        few.entry(latitude_deg).or_default().push(sentence);
    }
    sums.few = few;
    let of_road = |id: SegmentIndex| &run.extract.roads[run.network.segments[id.at()].road.at()];
    sums.boarded = ids.own().any(|id| of_road(id).class.is_boarded());
    let in_district = |at: Option<Position>| at.is_some_and(|at| District::of(at) == ids.district());
    let votes = run.network.side_votes.iter();
    let votes = votes.filter(|v| in_district(run.extract.roads[v.road.at()].nodes.first().map(|n| n.at)));
    sums.sides = SideVotes::sum(votes.map(SideVotes::from));
}
