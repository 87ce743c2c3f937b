//! What a column may hold, where that can be said: a range, or one of a fixed set of words.
use crate::base::words::{
    BlockerEvidence, Cause, Evidence, Highway, MapObject, Overhang, OverheadKind, Rating, RoadAccess, RoofedBy,
    StandsOn, StopAccess, StopKind, TerrainEvidence, ValueFrom, Words,
};

/// The limits of a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Limit {
    /// Whatever its type holds.
    Free,
    /// A range with both ends, ends included.
    Range(Range),
    /// One of some words.
    Words(WordSet),
}

/// A range under its name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    pub name: &'static str,
    pub min: f64,
    pub max: f64,
}

/// A set of words under its name.
#[derive(Debug, Clone, Copy)]
pub(crate) struct WordSet {
    pub name: &'static str,
    /// Its words.
    pub words: fn() -> Vec<&'static str>,
}

impl PartialEq for WordSet {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name && (self.words)() == (other.words)()
    }
}

const fn range(name: &'static str, min: f64, max: f64) -> Limit {
    Limit::Range(Range { name, min, max })
}

const fn words<W: Words>(name: &'static str) -> Limit {
    Limit::Words(WordSet { name, words: texts::<W> })
}

fn texts<W: Words>() -> Vec<&'static str> {
    W::ALL.iter().map(|w| w.name()).collect()
}

pub const SHARE: Limit = range("share", 0.0, 1.0);
pub(crate) const RATING: Limit = range("rating", 0.0, 4.0);
pub(crate) const BEARING: Limit = range("bearing", 0.0, 360.0);

// One line for each set, under the name of the constraint.
pub(crate) const HIGHWAY: Limit = words::<Highway>("highway");
pub(crate) const RATING_NAME: Limit = words::<Rating>("rating_name");
pub(crate) const CAUSE: Limit = words::<Cause>("cause");
pub(crate) const VALUE_FROM: Limit = words::<ValueFrom>("value_from");
pub(crate) const OVERHANG: Limit = words::<Overhang>("overhang_reason");
pub(crate) const OF_TERRAIN: Limit = words::<TerrainEvidence>("evidence_terrain");
pub(crate) const OF_CANOPY: Limit = words::<BlockerEvidence>("evidence_canopy");
pub(crate) const OF_BUILDING: Limit = words::<BlockerEvidence>("evidence_building");
pub(crate) const EVIDENCE: Limit = words::<Evidence>("evidence");
pub(crate) const ROAD_ACCESS: Limit = words::<RoadAccess>("road_access");
pub(crate) const OVERHEAD: Limit = words::<OverheadKind>("overhead_kind");
pub(crate) const OSM_TYPE: Limit = words::<MapObject>("osm_type");
pub(crate) const STOP_KIND: Limit = words::<StopKind>("stop_kind");
pub(crate) const STOP_ACCESS: Limit = words::<StopAccess>("stop_access");
pub(crate) const ROOFED_FROM: Limit = words::<RoofedBy>("roofed_from");
pub(crate) const STANDS_ON: Limit = words::<StandsOn>("stands_on");
