//! What the stages of one build share.
use std::borrow::Cow;

use super::cells::Cell;
use super::ids::RowIds;
use crate::base::error::Result;
use crate::base::words::Case;
use crate::map::extract::model::Extract;
use crate::map::neighbourhood::Neighbourhood;
use crate::map::network::climb;
use crate::map::network::grade::Heights;
use crate::map::network::model::{Network, Segment};
use crate::physics::scene::building::BuildingHeights;
use crate::physics::scene::index::{Nearby, Window};
use crate::physics::scene::vicinity::Vicinity;
use crate::profile::{Cases, Profile};
use crate::rating::pieces::RoadPiece;

/// What the whole map says about the places beside roads.
pub(crate) struct Beside {
    pub neighbourhood: Neighbourhood,
    /// Of buildings.
    pub heights: BuildingHeights,
    /// What is assumed, and its ends.
    pub cases: Cases,
}

impl Beside {
    /// # Errors
    /// A table of keys that does not fit its structs, which tests exclude.
    pub fn of(extract: &Extract, profile: &Profile) -> Result<Self> {
        let neighbourhood = Neighbourhood::of(extract, &profile.surroundings);
        let heights = BuildingHeights::of(extract, &neighbourhood, profile);
        Ok(Self { neighbourhood, heights, cases: Cases::of(profile)? })
    }
}

/// Everything the stages of one build share.
pub(crate) struct Run<'a> {
    pub profile: &'a Profile,
    pub extract: &'a Extract,
    pub network: &'a Network,
    pub cells: &'a [Cell],
    pub heights: &'a Heights,
    pub beside: &'a Beside,
    /// Ids of the rows of the district that is rated.
    pub ids: &'a RowIds,
    /// By segment, as the link stage sees them.
    pub pieces: Vec<RoadPiece<'a>>,
}

impl<'a> Run<'a> {
    pub fn new(
        profile: &'a Profile,
        extract: &'a Extract,
        network: &'a Network,
        cells: &'a [Cell],
        heights: &'a Heights,
        beside: &'a Beside,
        ids: &'a RowIds,
    ) -> Self {
        let mut run = Self { profile, extract, network, cells, heights, beside, ids, pieces: Vec::new() };
        let climbs = climb::climbs(network, heights);
        run.pieces = network.segments.iter().zip(climbs).map(|(s, climb)| run.piece(s, climb)).collect();
        run
    }
    /// The map around a cell.
    pub fn vicinity<'c>(&'c self, window: &'c Window, near: &'c Nearby, case: Case) -> Vicinity<'c> {
        let (extract, network, heights) = (self.extract, self.network, &self.beside.heights);
        Vicinity { window, extract, network, near, heights, case }
    }
    /// A segment as the link stage sees it.
    pub fn piece(&self, segment: &'a Segment, climb: f32) -> RoadPiece<'a> {
        RoadPiece {
            line: Cow::Borrowed(&segment.line),
            length_m: segment.length_m,
            stations: segment.stations,
            speeds_kmh: [segment.speed_forward_kmh.value, segment.speed_backward_kmh.value],
            climb,
            boarded: self.is_boarded(segment),
        }
    }
    /// Vehicles on ferries and shuttle trains stand under decks and roofs: assumed to have no link, whatever
    /// the sky above the water.
    pub(crate) fn is_boarded(&self, segment: &Segment) -> bool {
        self.extract.roads[segment.road.at()].class.is_boarded()
    }
}
