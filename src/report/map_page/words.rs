//! Words of the page: the one set that the page's program shows, too.
use serde::Serialize;

use super::columns::place;
use crate::ask::source::Source;
use crate::base::geodesy::WINDS;
use crate::base::words::{
    BlockerEvidence, Cause, Evidence, Highway, Overhang, Rating, Roofed, StopAccess, StopKind, TerrainEvidence, Units,
    Words,
};
use crate::layer::RoadGroup;
use crate::report::words::data_of;

/// Words by the numbers of columns.
#[derive(Debug, Serialize)]
pub(super) struct PageWords {
    ratings: Vec<&'static str>,
    causes: Vec<&'static str>,
    classes: Vec<String>,
    evidence: Vec<&'static str>,
    terrain: Vec<&'static str>,
    blockers: Vec<&'static str>,
    low: Vec<&'static str>,
    stops: Vec<String>,
    letters: Vec<&'static str>,
    codes: PageCodes,
    access: Vec<&'static str>,
    roofs: Vec<&'static str>,
    winds: [&'static str; 8],
}

impl PageWords {
    /// All of them.
    pub fn all() -> Self {
        Self {
            ratings: Rating::NAMES.to_vec(),
            causes: Cause::ALL.iter().map(|c| c.phrase()).collect(),
            classes: Highway::ALL.iter().map(|h| h.phrase()).collect(),
            evidence: Evidence::ALL.iter().map(|e| evidence(*e)).collect(),
            terrain: TerrainEvidence::ALL.iter().map(|e| terrain(*e)).collect(),
            blockers: BlockerEvidence::ALL.iter().map(|e| blockers(*e)).collect(),
            low: Overhang::ALL.iter().map(|o| low(*o)).collect(),
            stops: StopKind::ALL.iter().map(|k| k.spoken()).collect(),
            letters: StopKind::ALL.iter().map(|k| letter(*k)).collect(),
            codes: PageCodes::all(),
            access: StopAccess::ALL.iter().map(|a| access(*a)).collect(),
            roofs: Roofed::ALL.iter().map(|r| roof(*r)).collect(),
            winds: WINDS,
        }
    }
}

/// Numbers of words that the program of the page asks for.
#[derive(Debug, Serialize)]
struct PageCodes {
    private: usize,
    no_roof: usize,
    roof_unknown: usize,
    evidence_unknown: usize,
    blocker_unknown: usize,
    terrain_unknown: Vec<usize>,
    ferry: usize,
}

impl PageCodes {
    fn all() -> Self {
        let unknown = |e: &&TerrainEvidence| e.is_unknown();
        Self {
            private: place(StopAccess::ALL, StopAccess::Private),
            no_roof: place(Roofed::ALL, Roofed::No),
            roof_unknown: place(Roofed::ALL, Roofed::Unknown),
            evidence_unknown: place(Evidence::ALL, Evidence::Unknown),
            blocker_unknown: place(BlockerEvidence::ALL, BlockerEvidence::Unknown),
            terrain_unknown: TerrainEvidence::ALL
                .iter()
                .filter(unknown)
                .map(|e| place(TerrainEvidence::ALL, *e))
                .collect(),
            ferry: place(Highway::ALL, Highway::Ferry),
        }
    }
}

/// The letter of a kind of place on the map.
fn letter(kind: StopKind) -> &'static str {
    match kind {
        StopKind::Fuel => "F",
        StopKind::RestArea => "R",
        StopKind::Services => "S",
        StopKind::CampSite | StopKind::CampPitch | StopKind::CaravanSite => "C",
        StopKind::PicnicSite => "T",
        StopKind::Viewpoint => "V",
        StopKind::Parking => "P",
    }
}

/// What a rating rests on, in a clause.
pub(super) fn evidence(evidence: Evidence) -> &'static str {
    match evidence {
        Evidence::Data => "data: best, likely and worst agree",
        Evidence::Default => "assumptions about the roadside, which may move it",
        Evidence::Unknown => "too little: a cause is not known, it may be worse",
    }
}

fn terrain(evidence: TerrainEvidence) -> &'static str {
    match evidence {
        TerrainEvidence::Raster => "elevation",
        TerrainEvidence::Coarse => "elevation, too coarse to show a rock face next to the road",
        TerrainEvidence::Part => "not known everywhere",
        TerrainEvidence::Map => "not looked at",
        TerrainEvidence::None => "not known",
    }
}

fn blockers(evidence: BlockerEvidence) -> &'static str {
    match evidence {
        BlockerEvidence::Raster => "a raster of heights",
        BlockerEvidence::Tag => "heights on the map",
        BlockerEvidence::Default => "assumed heights",
        BlockerEvidence::Map => "the map: nothing that blocks",
        BlockerEvidence::Unknown => "not known: not mapped here",
    }
}

fn low(overhang: Overhang) -> &'static str {
    match overhang {
        Overhang::Crowns => "Branches may hang over the road.",
        Overhang::Clearance => "A posted clearance is below the vehicle's height.",
        Overhang::Both => "Branches may hang over the road, and a posted clearance is below the vehicle's height.",
        Overhang::None => "",
    }
}

fn access(access: StopAccess) -> &'static str {
    match access {
        StopAccess::Open => "",
        StopAccess::Customers => "for customers or permit holders",
        StopAccess::Private => "private: do not stop unless you are asked in",
    }
}

fn roof(roofed: Roofed) -> &'static str {
    match roofed {
        Roofed::Yes => "under a roof",
        Roofed::No => "no roof",
        Roofed::Unknown => "roof not known",
    }
}

/// A group of roads in the plural.
pub const fn group(group: RoadGroup) -> &'static str {
    match group {
        RoadGroup::Main => "main roads",
        RoadGroup::Through => "secondary and tertiary roads, and ramps",
        RoadGroup::Local => "streets and lanes",
        RoadGroup::Lesser => "service roads and tracks",
        RoadGroup::Boarded => "ferries and shuttle trains",
    }
}

/// Date and credit of the map data, and what it was rated for.
pub(super) fn about(source: &Source, units: Units) -> String {
    let profile = &source.profile;
    let of = data_of(source);
    format!(
        "{of}. Rated for a panel {} above the road that scans {:.0}° to every side, in a vehicle {} high.",
        units.height(profile.vehicle.antenna_height_m),
        profile.terminal.scan_half_angle_deg,
        units.tall(profile.vehicle.vehicle_height_m)
    )
}

/// Who must be credited.
pub(super) fn credit(source: &Source) -> String {
    source.credits.join("; ")
}

/// Who made it from what.
pub(super) fn foot(source: &Source, version: &str) -> String {
    let credit = credit(source);
    let credit = if credit.is_empty() { String::new() } else { format!(" Map data: {credit}.") };
    format!("Made by waymask {version}.{credit} Drawn with MapLibre GL JS (BSD 3-Clause; its licence is in this file).")
}

/// How many places to stop.
pub fn stops_words(count: usize) -> String {
    if count == 1 { "1 place to stop".to_owned() } else { format!("{count} places to stop") }
}

/// A road as people read it: one without a name goes by its class.
pub(super) fn road(name: &str) -> String {
    Highway::parse(name).map_or_else(|| super::strings::cut(name), Highway::phrase)
}
