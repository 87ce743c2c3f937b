//! The build record: what was read, assumed, counted.
use std::path::Path;

use super::ids::RowIds;
use super::masks::SkyOfAll;
use super::options::{BuildOptions, SeasonOf};
use super::results::Results;
use super::sources::Opened;
use super::stops::ROAD_WITHIN_M;
use super::sums::PartSums;
use crate::base::count::counted;
use crate::base::defect::Defects;
use crate::base::error::Result;
use crate::base::words::{Direction, DrivingSide, InputRole, Roofed};
use crate::layer::SCHEMA_VERSION;
use crate::layer::model::END_MASKS;
use crate::layer::model::{BuildRecord, InputRecord, RasterRecord};
use crate::layer::stop::LEFT_OUT_AT_RIM;
use crate::map::divide::Divided;
use crate::map::extract::model::ExtractInfo;
use crate::map::network::sides::SideVotes;
use crate::profile::Profile;
use crate::rating::summary::{ASSUMED_SIDE, assumed_by, round_km};
use crate::relief::ElevationKind;

/// Who must be credited for map data of OpenStreetMap, which nearly every extract is (ODbL 1.0).
const MAP_CREDIT: &str = "\u{a9} OpenStreetMap contributors, ODbL 1.0";

/// Inputs, profile and what was read; kilometres and counts come with the parts.
pub fn begin(options: &BuildOptions, profile: &Profile, read: &ReadMap, sources: &Opened) -> Result<BuildRecord> {
    let info = &read.info;
    let mut inputs = vec![InputRecord {
        name: file_name(&options.extract),
        role: InputRole::Extract,
        bytes: info.bytes,
        sha256: info.sha256.clone(),
        data_time: info.data_time_unix_s.and_then(rfc3339),
        attribution: Some(options.credit.as_deref().unwrap_or(MAP_CREDIT).to_owned()),
        raster: None,
    }];
    let mut files = sources.file_records()?;
    if let Some(buildings) = &options.buildings {
        files.push((InputRole::Buildings, buildings.record()?));
    }
    for (role, file) in files {
        inputs.push(InputRecord {
            name: file_name(&file.path),
            role,
            bytes: file.bytes,
            sha256: file.sha256,
            data_time: None,
            attribution: None,
            raster: file.read_as.map(|used| RasterRecord {
                kind: used.kind.name().to_owned(),
                pixel_m: (used.pixel_m * 1000.0).round() / 1000.0,
                metres_per_value: used.metres_per_value,
            }),
        });
    }
    Ok(BuildRecord {
        waymask_version: env!("CARGO_PKG_VERSION").into(),
        schema_version: SCHEMA_VERSION,
        mask_floor_deg: profile.terminal.floor_deg(),
        inputs,
        profile: profile.clone(),
        assumed: assumed(options, profile, sources),
        counts: read.counts.iter().map(|(name, n)| ((*name).to_owned(), *n)).collect(),
        ..BuildRecord::default()
    })
}

/// RFC 3339; nothing for times outside the calendar.
fn rfc3339(unix_s: i64) -> Option<String> {
    jiff::Timestamp::from_second(unix_s).ok().map(|t| t.to_string())
}

pub(super) fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

/// What a reader of the layer must know before trusting it.
fn assumed(options: &BuildOptions, p: &Profile, sources: &Opened) -> Vec<String> {
    let (any, bare) = (sources.shows(ElevationKind::Surface), sources.shows(ElevationKind::BareEarth));
    let mut out = assumed_by(p);
    if let Some(season) = season_asked(options) {
        out.push(season);
    }
    if any {
        let where_so = if bare { "where elevation is" } else { "elevation is" };
        out.push(format!(
            "{where_so} that of a surface: beyond one pixel, trees and buildings are part of it and are treated as \
             terrain, which lets nothing through; roads under closed crowns lie too high in it"
        ));
    }
    if options.elevation.is_empty() {
        out.push("no elevation given: terrain is unknown, not clear".into());
    }
    out
}

/// How the season was found where a date was given.
fn season_asked(options: &BuildOptions) -> Option<String> {
    match options.season? {
        SeasonOf::Named(_) => None,
        SeasonOf::Date(date) => Some(format!(
            "season of {date} at the latitude of the roads: deciduous trees in leaf from 15 April to 31 October north \
             of the tropics, from 15 October to 30 April south of them, always between"
        )),
    }
}

/// What became of the map's trees under a raster: on the map and in it, only on the map, only in it, square metres.
fn of_trees(seen_m2: [f64; 3]) -> String {
    let [both, mapped_only, shown_only] = seen_m2.map(|m2| m2 / 10_000.0);
    format!(
        "trees near roads: {both:.1} ha are on the map and in the raster, {mapped_only:.1} ha only on the map (left out), \
         {shown_only:.1} ha only in the raster (added)"
    )
}

/// Sentences and defects, once all parts are there.
pub fn finish(record: &mut BuildRecord, sums: &PartSums) {
    if sums.boarded {
        record.assumed.push("vehicles on ferries and shuttle trains are assumed to have no link".into());
    }
    record.assumed.extend(sums.footprints.map(of_footprints));
    record.defects = sums.defects.clone();
    let not_mapped: Vec<String> = not_mapped(record).collect();
    record.assumed.extend(not_mapped);
    record.assumed.extend(of_heights(sums));
    record.assumed.extend(of_stops(record, sums));
    record.assumed.extend(of_sides(record));
    record.assumed.extend(sums.sides.iter().filter(|votes| votes.doubt_it()).map(side_doubt));
    record.assumed.extend(sums.trees_m2.map(of_trees));
    record.assumed.extend(sums.expected.values().cloned());
    round_km(record);
}

/// Says how many places to stop were left out because their road is not in the layer; the counts by kind are those of the
/// districts.
pub fn leave_out_stops(record: &mut BuildRecord, count: u64) {
    if count == 0 {
        return;
    }
    if let Some(stops) = record.counts.get_mut("stops") {
        *stops = stops.saturating_sub(count);
    }
    record.assumed.push(format!("stops: {} {LEFT_OUT_AT_RIM}", counted(count, "place")));
}

/// Says that masks were left out.
pub fn without_masks(record: &mut BuildRecord) {
    for name in ["masks", END_MASKS] {
        record.counts.insert(name.to_owned(), 0);
    }
    record
        .assumed
        .push("sky masks are left out: this layer cannot be rated again, nor asked for the sky of a place".into());
}

/// Counts of what a district has rows of.
pub fn count(record: &mut BuildRecord, results: &Results, ids: &RowIds, overheads: u64) {
    let lanes = || ids.own().flat_map(|id| Direction::BOTH.map(|d| id.lane(d)));
    let skies = || lanes().filter_map(|lane| results.sky.lanes[lane.at()].as_ref());
    let counts = [
        ("segments", ids.own().count() as u64),
        ("edges", ids.own_edges() as u64),
        ("masks", skies().map(|sky| u64::from(sky.stations)).sum()),
        (END_MASKS, 2 * skies().filter(|sky| sky.apart()).count() as u64),
        ("overheads", overheads),
    ];
    record.counts.extend(counts.map(|(name, n)| (name.to_owned(), n)));
    count_stops(record, results.sky);
}

/// What became of the buildings of the map.
fn of_footprints([.., taken, with_height, replaced]: [u64; 5]) -> String {
    format!(
        "buildings: {} from the file given, {with_height} of them with a height, used instead of {replaced} of the map",
        counted(taken, "building"),
    )
}

/// Along how much road the map does not show trees or buildings.
fn not_mapped(record: &BuildRecord) -> impl Iterator<Item = String> {
    let all_km: f64 = record.km_by_rating.values().sum();
    let of = move |(what, key): (&str, &str)| {
        let km = record.km_by_evidence.get(key).copied().filter(|km| *km > 0.0)?;
        Some(format!(
            "{what} are not mapped along {km:.1} of {all_km:.1} km: there they are unknown, not absent, and may block more \
             than the rating says"
        ))
    };
    let coarse_km = record.km_by_evidence.get("terrain: coarse").copied().filter(|km| *km > 0.0);
    let coarse = coarse_km.map(|km| {
        format!(
            "terrain is coarse along {km:.1} of {all_km:.1} km: pixels beside the road may hide a rock face; a raster with \
             pixels of 10 m or less would show it"
        )
    });
    [("trees", "canopy: unknown"), ("buildings", "buildings: unknown")].into_iter().filter_map(of).chain(coarse)
}

/// What the heights of buildings are based on.
fn of_heights(sums: &PartSums) -> Option<String> {
    let [tagged, near, kind] = sums.building_heights;
    (near + kind > 0).then(|| {
        format!(
            "heights of buildings: {} with a height; for the others the default of their kind, drawn \
             towards tagged ones nearby ({near}) or alone ({kind})",
            counted(tagged, "building")
        )
    })
}

/// Roads where nothing says which side traffic keeps to.
fn of_sides(record: &BuildRecord) -> Option<String> {
    let km =
        record.km_by_side.get(&format!("{} {ASSUMED_SIDE}", DrivingSide::Right)).copied().filter(|km| *km > 0.0)?;
    Some(format!("traffic is assumed to keep right on {km:.1} km that lie more than 30 km from any land"))
}

/// What is said where roundabouts contradict the side assumed.
pub fn side_doubt(found: &SideVotes) -> String {
    let SideVotes { country, side, agree, disagree } = found;
    let place = country.as_deref().unwrap_or("an unknown country");
    format!(
        "traffic is assumed to keep {side} in {place}, but {disagree} of {} roundabouts there are drawn for the other side: check \
         vehicle.driving_side of the profile and the map",
        agree + disagree
    )
}

/// Places to stop by kind, and how many of each the vehicle stands under a roof at.
fn count_stops(record: &mut BuildRecord, sky: &SkyOfAll) {
    record.counts.insert("stops".into(), sky.stops.len() as u64);
    for row in &sky.stops {
        *record.counts.entry(format!("stops: {}", row.kind)).or_default() += 1;
        *record.counts.entry(format!("stops roofed: {}", row.kind)).or_default() +=
            u64::from(row.roofed == Roofed::Yes);
        *record.counts.entry(format!("stops roof not known: {}", row.kind)).or_default() +=
            u64::from(row.roofed == Roofed::Unknown);
    }
}

/// What the figures of places to stop are based on.
fn of_stops(record: &BuildRecord, sums: &PartSums) -> Vec<String> {
    let (mut out, profile) = (Vec::new(), &record.profile);
    if record.counts.get("stops").is_some_and(|n| *n > 0) {
        out.push(format!(
            "stops: the panel is level, {} m above the ground on the vehicle (what the vehicle itself hides is \
             ignored) and {} m above it next to the vehicle; the cable runs straight and crosses no building, wall, \
             water, track or road except service roads; fences and who owns the ground are not known",
            profile.vehicle.antenna_height_m, profile.stop.panel_height_m
        ));
    }
    if sums.stops_far > 0 {
        out.push(format!(
            "stops: {} left out, farther than {ROAD_WITHIN_M} m from any road that a vehicle may drive",
            counted(sums.stops_far, "place")
        ));
    }
    out
}

/// What was read of the map, whatever is rated of it.
#[derive(Debug, Clone, Default)]
pub struct ReadMap {
    /// About the file.
    pub info: ExtractInfo,
    /// What it holds, by name.
    pub counts: Vec<(&'static str, u64)>,
    /// Bad data met.
    pub defects: Defects,
}

impl ReadMap {
    /// Of an extract that was divided.
    pub fn of(read: &Divided) -> Self {
        let info = read.info.clone();
        let counts = vec![
            ("nodes", info.nodes),
            ("ways", info.ways),
            ("relations", info.relations),
            ("roads", read.counts.roads),
            ("trees and woods", read.counts.canopy),
            ("buildings", read.counts.buildings),
            ("walls and cliffs", read.counts.barriers),
        ];
        Self { info, counts, defects: read.defects.clone() }
    }
}
