//! Where features go: to every district whose rating they may matter to, and what is counted of them on the way.
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::backdrop_file::{self, BackdropKey};
use super::shares::DivideShares;
use super::sheet::{ObjectRank, Sheet, bytes, packed_feature};
use super::totals::DividedTotals;
use crate::base::defect::Defects;
use crate::base::district::{District, Reach};
use crate::base::error::Result;
use crate::base::geodesy::Position;
use crate::base::spill::packed;
use crate::map::district::bundle::{
    AROUND_M, around_all, around_area, around_barred, around_canopy, around_deck, goes_on,
};
use crate::map::extract::features::Feature;
use crate::map::extract::model::Road;
use crate::map::extract::shape::{Assembled, vast};
use crate::map::extract::steps::ids;

/// One piece of a way a vehicle may drive, and the districts it lies in or near.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct DistrictRoad<'b> {
    pub way: i64,
    pub ordinal: u32,
    pub districts: Vec<District>,
    #[serde(borrow, with = "bytes")]
    pub body: &'b [u8],
}

/// The nodes of one share that a piece of a way uses.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct PieceNodes {
    pub way: i64,
    pub ordinal: u32,
    pub districts: Vec<District>,
    #[serde(with = "ids")]
    pub nodes: Vec<i64>,
}

/// A sink for the features of one share.
pub(super) struct Filing<'a> {
    wanted: &'a (dyn Fn(District) -> bool + Sync),
    shares: DivideShares,
    /// [`Sheet`]s with their districts: a large feature of many is held once.
    pub sheets: Vec<(Vec<District>, Vec<u8>)>,
    /// [`DistrictRoad`]s by the share of their way.
    pub roads: BTreeMap<u32, Vec<u8>>,
    /// [`PieceNodes`] by the share of the nodes.
    pub nodes: BTreeMap<u32, Vec<u8>>,
    /// Pieces that go on beyond lines: who uses which node is needed of all of them together.
    pub covered: Vec<PieceNodes>,
    /// Names of places and water.
    pub backdrop: Vec<(BackdropKey, Vec<u8>)>,
    /// What was counted.
    pub totals: DividedTotals,
}

impl<'a> Filing<'a> {
    /// An empty one for some districts.
    pub fn new(wanted: &'a (dyn Fn(District) -> bool + Sync), shares: DivideShares) -> Self {
        Self {
            wanted,
            shares,
            sheets: Vec::new(),
            roads: BTreeMap::new(),
            nodes: BTreeMap::new(),
            covered: Vec::new(),
            backdrop: Vec::new(),
            totals: DividedTotals::default(),
        }
    }
    /// Notes trouble with a node.
    pub fn note_node(&mut self, id: i64, met: Defects) {
        self.totals.defects.take((ObjectRank::Node, id), met);
    }
    /// Takes what a node is.
    ///
    /// # Errors
    /// A feature is too long for this machine; so for the others.
    pub fn file_node(&mut self, id: i64, found: Assembled) -> Result<()> {
        self.file(ObjectRank::Node, id, found)
    }
    /// Takes what a way is.
    pub fn file_way(&mut self, id: i64, found: Assembled) -> Result<()> {
        self.file(ObjectRank::Way, id, found)
    }
    /// Takes what a relation is.
    pub fn file_relation(&mut self, id: i64, found: Assembled) -> Result<()> {
        self.file(ObjectRank::Relation, id, found)
    }

    fn file(&mut self, rank: ObjectRank, id: i64, found: Assembled) -> Result<()> {
        self.totals.defects.take((rank, id), found.defects);
        let mut roads = Vec::new();
        for (ordinal, (id, feature)) in (0..).zip(found.features) {
            if let Some(example) = vast(&feature) {
                self.totals.vast(id, example);
                continue;
            }
            match feature {
                Feature::Road(road) => roads.push((ordinal, *road)),
                Feature::Backdrop(thing) => {
                    self.backdrop.extend(backdrop_file::sheet((rank, id, ordinal), &thing, self.wanted)?);
                }
                feature => self.file_beside((rank, id, ordinal), &feature)?,
            }
        }
        self.file_roads(id, &roads)
    }

    fn near(&self, at: &Reach) -> Vec<District> {
        let mut near = District::around(at, AROUND_M);
        near.retain(|district| (self.wanted)(*district));
        near
    }

    fn file_beside(&mut self, (rank, id, ordinal): (ObjectRank, i64, u32), feature: &Feature) -> Result<()> {
        let Some((kind, body)) = packed_feature(feature)? else { return Ok(()) };
        *self.totals.counts.of(kind) += 1;
        let districts = match feature {
            Feature::Stop(stop) => {
                let own = District::of(stop.at);
                self.totals.found(own);
                Some(own).filter(|own| (self.wanted)(*own)).into_iter().collect()
            }
            other => self.near(&around_feature(other)),
        };
        let sheet = packed(&Sheet { kind, id, rank, ordinal, body: &body })?;
        if !districts.is_empty() {
            self.sheets.push((districts, sheet));
        }
        Ok(())
    }

    /// All pieces of a way go where one of them goes.
    fn file_roads(&mut self, way: i64, pieces: &[(u32, Road)]) -> Result<()> {
        let nears: Vec<Vec<District>> = pieces.iter().map(|(_, road)| self.near(&around_road(road))).collect();
        let goes_on = pieces.iter().any(|(_, road)| goes_on(road));
        let mut districts = nears.concat();
        districts.sort_unstable();
        districts.dedup();
        for ((ordinal, road), near) in pieces.iter().zip(nears) {
            let ordinal = *ordinal;
            self.totals.road(way, ordinal, road);
            let body = packed(road)?;
            let piece = DistrictRoad { way, ordinal, districts: districts.clone(), body: &body };
            self.roads.entry(self.shares.of_object(way)).or_default().extend(packed(&piece)?);
            let nodes = road.nodes.iter().map(|n| n.id).collect();
            if goes_on {
                self.covered.push(PieceNodes { way, ordinal, districts: near, nodes });
            } else {
                let all = PieceNodes { way, ordinal, districts: districts.clone(), nodes };
                all.split(&self.shares, |share, bytes| {
                    self.nodes.entry(share).or_default().extend(bytes);
                    Ok(())
                })?;
            }
        }
        Ok(())
    }
}

impl PieceNodes {
    /// Hands out the nodes of each share, packed.
    ///
    /// # Errors
    /// Those of `take`.
    pub fn split(self, shares: &DivideShares, mut take: impl FnMut(u32, Vec<u8>) -> Result<()>) -> Result<()> {
        let mut nodes: Vec<(u32, i64)> = self.nodes.iter().map(|id| (shares.of_node(*id), *id)).collect();
        nodes.sort_unstable();
        nodes.dedup();
        for share in nodes.chunk_by(|a, b| a.0 == b.0) {
            let Some((first, _)) = share.first() else { continue };
            let nodes = share.iter().map(|(_, id)| *id).collect();
            take(*first, packed(&Self { nodes, districts: self.districts.clone(), ..self })?)?;
        }
        Ok(())
    }
}

fn around_road(road: &Road) -> Reach {
    around_all(road.nodes.iter().map(|n| &n.at))
}

fn around_feature(feature: &Feature) -> Reach {
    let point = |at: &Position| around_all([at]);
    match feature {
        Feature::Road(road) => around_road(road),
        Feature::Canopy(canopy) => around_canopy(&canopy.shape),
        Feature::Building(building) => around_area(&building.area),
        Feature::Barrier(barrier) => around_all(&barrier.line),
        Feature::Deck(deck) => around_deck(&deck.shape),
        Feature::Stop(stop) => point(&stop.at),
        Feature::Barred(barred) => around_barred(&barred.shape),
        Feature::GroundCover(cover) => around_area(&cover.area),
        Feature::TollBooth(booth) => point(&booth.at),
        Feature::Backdrop(thing) => thing.reach(),
    }
}
