//! What the rating of one district adds to the record of a build.
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::footprints::ReplacedBuildings;
use crate::base::defect::{Defects, Tally};
use crate::layer::model::BuildRecord;
use crate::map::network::sides::SideVotes;
use crate::physics::scene::trees::grid::Disagreement;

/// Sums over the rows of a district.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub(crate) struct PartSums {
    counts: BTreeMap<String, u64>,
    /// In the order of [`kilometres`].
    km: Vec<BTreeMap<String, f64>>,
    km_by_chance: f64,
    /// Defects by code.
    pub defects: BTreeMap<String, Tally>,
    /// Buildings with a height on the map; without one, but near such; and the others.
    pub building_heights: [u64; 3],
    /// Of a file of buildings: outlines, those of them with a height; buildings taken, those of them with a height; and those of
    /// the map that gave way. Nothing without one.
    pub footprints: Option<[u64; 5]>,
    /// Places to stop that no vehicle gets to.
    pub stops_far: u64,
    /// Trees on the map and in rasters, only on the map, only in rasters, square metres; nothing without rasters of them.
    pub trees_m2: Option<[f64; 3]>,
    /// Sentences about usable satellites by latitude.
    pub expected: BTreeMap<i32, String>,
    /// Warnings about latitudes with few of them.
    pub few: BTreeMap<i32, Vec<String>>,
    /// Whether no satellite ever stands in the usable sky.
    pub never_seen: bool,
    /// What roundabouts say of the side of the traffic.
    pub sides: Vec<SideVotes>,
    /// Stations, and those of them with elevation.
    pub stations: [u64; 2],
    /// Segments whose grade tells the unit of heights, and those of them steeper than any road.
    pub grades: [u64; 2],
    /// Ferries or shuttle trains are among its roads.
    pub boarded: bool,
}

fn kilometres(record: &mut BuildRecord) -> [&mut BTreeMap<String, f64>; 6] {
    let BuildRecord { km_by_rating, km_by_cause, km_by_evidence, km_by_side, .. } = record;
    let ends = (&mut record.km_by_rating_best, &mut record.km_by_rating_worst);
    [km_by_rating, ends.0, ends.1, km_by_cause, km_by_side, km_by_evidence]
}

impl PartSums {
    /// Before any district is added: bad data of the inputs, by code.
    pub fn of_inputs(defects: &BTreeMap<String, Tally>) -> Self {
        Self { never_seen: true, defects: defects.clone(), ..Self::default() }
    }
    /// Takes kilometres and counts of the rows over.
    pub fn take(&mut self, mut record: BuildRecord) {
        self.km = kilometres(&mut record).into_iter().map(std::mem::take).collect();
        (self.counts, self.km_by_chance) = (record.counts, record.km_by_chance);
    }
    /// Adds the defects met.
    pub fn take_defects(&mut self, defects: &Defects) {
        for (defect, tally) in defects.iter() {
            self.defects.entry(defect.code().to_owned()).or_default().add(tally);
        }
    }
    /// Takes over what became of the buildings of the map.
    pub fn take_footprints(&mut self, replaced: &ReplacedBuildings) {
        let ReplacedBuildings { found, found_with_height, taken, with_height, replaced: gone, .. } = *replaced;
        self.footprints = Some([found, found_with_height, taken, with_height, gone]);
        self.take_defects(&replaced.defects);
    }
    /// Notes what became of the trees of the map.
    pub fn take_trees(&mut self, seen: Option<Disagreement>) {
        self.trees_m2 = seen.map(|seen| [seen.both_m2, seen.mapped_only_m2, seen.shown_only_m2]);
    }
    /// Adds kilometres and counts to a record.
    pub fn add_to(&self, record: &mut BuildRecord) {
        for (name, n) in &self.counts {
            *record.counts.entry(name.clone()).or_default() += n;
        }
        for (of_record, of_part) in kilometres(record).into_iter().zip(&self.km) {
            for (name, km) in of_part {
                *of_record.entry(name.clone()).or_default() += km;
            }
        }
        record.km_by_chance += self.km_by_chance;
    }
    /// Adds the sums of another district to what a record is finished with.
    pub fn add(&mut self, other: &Self) {
        for (code, theirs) in &other.defects {
            self.defects.entry(code.clone()).or_default().add(theirs);
        }
        for (ours, theirs) in self.building_heights.iter_mut().zip(other.building_heights) {
            *ours += theirs;
        }
        self.stops_far += other.stops_far;
        self.footprints = match (self.footprints, other.footprints) {
            (Some(ours), Some(theirs)) => Some(std::array::from_fn(|i| ours[i] + theirs[i])),
            (ours, theirs) => ours.or(theirs),
        };
        self.trees_m2 = match (self.trees_m2, other.trees_m2) {
            (Some([a, b, c]), Some([x, y, z])) => Some([a + x, b + y, c + z]),
            (ours, theirs) => ours.or(theirs),
        };
        for (key, sentence) in &other.expected {
            self.expected.entry(*key).or_insert_with(|| sentence.clone());
        }
        for (key, warnings) in &other.few {
            self.few.entry(*key).or_insert_with(|| warnings.clone());
        }
        self.never_seen &= other.never_seen;
        self.sides = SideVotes::sum(self.sides.iter().chain(&other.sides).cloned());
        for (ours, theirs) in self.stations.iter_mut().zip(other.stations) {
            *ours += theirs;
        }
        for (ours, theirs) in self.grades.iter_mut().zip(other.grades) {
            *ours += theirs;
        }
        self.boarded |= other.boarded;
    }
}
