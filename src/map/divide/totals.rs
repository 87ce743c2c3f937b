//! What is counted of a whole extract while it is divided, the same in whatever order it comes.
use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::shares::scattered;
use super::sheet::{BundleKind, ObjectRank};
use crate::base::defect::{Defect, Defects, SortedDefects};
use crate::base::district::{District, Reach};
use crate::base::geodesy::{Position, distance_m};
use crate::map::extract::model::Road;

/// Most places of roads in the sample.
const SAMPLE: usize = 2_000;

/// Features by kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct FeatureCounts {
    /// Roads and ferries; a way in pieces counts as many times.
    pub roads: u64,
    /// Woods, orchards, rows, hedges and trees.
    pub canopy: u64,
    /// Buildings and roofs.
    pub buildings: u64,
    /// Walls and cliffs.
    pub barriers: u64,
    /// Decks.
    pub decks: u64,
    /// Places to stop.
    pub stops: u64,
    /// Water and railway tracks.
    pub barred: u64,
    /// Ground whose cover is mapped.
    pub covers: u64,
    /// Toll booths.
    pub toll_booths: u64,
}

impl FeatureCounts {
    /// The count of a kind.
    pub(super) fn of(&mut self, kind: BundleKind) -> &mut u64 {
        match kind {
            BundleKind::Road => &mut self.roads,
            BundleKind::Canopy => &mut self.canopy,
            BundleKind::Building => &mut self.buildings,
            BundleKind::Barrier => &mut self.barriers,
            BundleKind::Deck => &mut self.decks,
            BundleKind::Stop => &mut self.stops,
            BundleKind::Barred => &mut self.barred,
            BundleKind::GroundCover => &mut self.covers,
            BundleKind::TollBooth => &mut self.toll_booths,
        }
    }
}

/// What was counted.
#[derive(Debug)]
pub(super) struct DividedTotals {
    /// Features of the whole extract.
    pub counts: FeatureCounts,
    /// Trouble, by the thing at fault.
    pub defects: SortedDefects<(ObjectRank, i64)>,
    /// Districts with roads or places to stop.
    pub found: BTreeSet<District>,
    /// Road inside each square, millimetres: whole numbers add up to the same in any order.
    pub road_mm: BTreeMap<District, u64>,
    /// Places of roads by a number drawn for each.
    sample: BTreeSet<(u64, i64, u32, Position)>,
    /// Sum of the latitudes of the first nodes of all roads.
    first_lat_e7: i64,
}

impl Default for DividedTotals {
    fn default() -> Self {
        Self {
            counts: FeatureCounts::default(),
            defects: SortedDefects::new(),
            found: BTreeSet::new(),
            road_mm: BTreeMap::new(),
            sample: BTreeSet::new(),
            first_lat_e7: 0,
        }
    }
}

impl DividedTotals {
    /// Notes a district that has something to rate.
    pub fn found(&mut self, district: District) {
        self.found.insert(district);
    }
    /// Notes a building larger than any.
    pub fn vast(&mut self, id: i64, example: String) {
        let mut met = Defects::default();
        met.add(Defect::VastBuilding, || example);
        self.defects.take((ObjectRank::Node, id), met);
    }
    /// Counts a piece of a way.
    pub fn road(&mut self, way: i64, ordinal: u32, road: &Road) {
        self.counts.roads += 1;
        let mut last = None;
        for pair in road.nodes.windows(2) {
            let (from, to) = (pair[0].at, pair[1].at);
            let own = District::of(from);
            *self.road_mm.entry(own).or_default() += (distance_m(from, to) * 1e3).round() as u64;
            let touched: Vec<District> = Reach::around([from, to]).iter().flat_map(District::touched).collect();
            // Most steps stay in the district of the one before.
            if last.replace(own) != Some(own) || touched != [own] {
                self.found.extend(touched);
            }
        }
        if let Some(first) = road.nodes.first() {
            self.first_lat_e7 += i64::from(first.at.lat_e7);
            self.sample.insert((scattered(way as u64), way, ordinal, first.at));
            self.cut_sample();
        }
    }
    fn cut_sample(&mut self) {
        while self.sample.len() > SAMPLE {
            self.sample.pop_last();
        }
    }
    /// Adds what was counted elsewhere.
    pub fn merge(&mut self, other: Self) {
        let FeatureCounts { roads, canopy, buildings, barriers, decks, stops, barred, covers, toll_booths } =
            other.counts;
        self.counts.roads += roads;
        self.counts.canopy += canopy;
        self.counts.buildings += buildings;
        self.counts.barriers += barriers;
        self.counts.decks += decks;
        self.counts.stops += stops;
        self.counts.barred += barred;
        self.counts.covers += covers;
        self.counts.toll_booths += toll_booths;
        self.defects.merge(other.defects);
        self.found.extend(other.found);
        for (district, mm) in other.road_mm {
            *self.road_mm.entry(district).or_default() += mm;
        }
        self.sample.extend(other.sample);
        self.cut_sample();
        self.first_lat_e7 += other.first_lat_e7;
    }
    /// First nodes of some roads of the whole extract, by a number drawn for each way.
    pub fn sample(&self) -> Vec<Position> {
        self.sample.iter().map(|(.., at)| *at).collect()
    }
    /// Mean latitude of the first nodes of all roads, degrees; nothing without roads.
    pub fn mean_lat_deg(&self) -> Option<f64> {
        (self.counts.roads > 0).then(|| self.first_lat_e7 as f64 / self.counts.roads as f64 * 1e-7)
    }
}
