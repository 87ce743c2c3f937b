//! What all stages of a build found.
use super::ids::RowIds;
use super::masks::SkyOfAll;
use super::overheads::Overheads;
use super::run::Run;
use crate::base::words::PerCase;
use crate::physics::link::model::OutageStats;
use crate::rating::drives::Skies;

/// What all stages found.
pub(crate) struct Results<'a> {
    /// Inputs of the stages.
    pub run: &'a Run<'a>,
    /// What stands over every lane.
    pub overheads: &'a Overheads,
    /// Sky of every lane.
    pub sky: &'a SkyOfAll,
    /// Skies by latitude.
    pub skies: &'a Skies,
    /// Outage statistics of every lane.
    pub stats: PerCase<&'a [OutageStats]>,
    /// As stated, of all that is driven in every stroke.
    pub by_stroke: &'a [Vec<OutageStats>],
    /// Ids of the rows.
    pub ids: &'a RowIds,
}
