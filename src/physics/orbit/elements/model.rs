//! Mean elements, and what reading them gives besides.
use jiff::Timestamp;

use crate::base::defect::{Defect, Defects};

/// Mean elements of one object at an epoch, as SGP4 wants them (mean equator and equinox: TEME).
#[derive(Debug, Clone, PartialEq)]
pub struct MeanElements {
    /// Number in the satellite catalogue; may exceed five digits.
    pub catalogue_number: u64,
    /// Name; empty where none is given.
    pub name: String,
    /// When the elements hold, UTC.
    pub epoch: Timestamp,
    /// Mean motion after Kozai, revolutions per day.
    pub mean_motion_rev_day: f64,
    /// Eccentricity, 0..1.
    pub eccentricity: f64,
    /// Inclination, degrees.
    pub inclination_deg: f64,
    /// Right ascension of the ascending node, degrees.
    pub node_deg: f64,
    /// Argument of the perigee, degrees.
    pub perigee_deg: f64,
    /// Mean anomaly, degrees.
    pub anomaly_deg: f64,
    /// Drag term B*, per earth radius.
    pub bstar: f64,
    /// Half the rate of the mean motion, revolutions per day squared, as such files carry it.
    pub half_motion_rate_rev_day2: f64,
}

impl MeanElements {
    /// Name and number, for messages to people.
    pub fn label(&self) -> String {
        label(self.catalogue_number, &self.name)
    }
}

/// Name and number, for messages to people.
pub(super) fn label(catalogue_number: u64, name: &str) -> String {
    if name.is_empty() { format!("object {catalogue_number}") } else { format!("object {catalogue_number} {name}") }
}

/// Why a text gives no elements at all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unreadable {
    /// What is wrong, with the place where known.
    pub fact: String,
    /// What the user can do.
    pub next_step: String,
}

impl Unreadable {
    pub(super) fn new(fact: impl Into<String>, next_step: impl Into<String>) -> Self {
        Self { fact: fact.into(), next_step: next_step.into() }
    }
}

/// One object that is left out: the kind of trouble and what exactly.
pub(super) struct LeftOut {
    pub defect: Defect,
    pub fact: String,
}

impl LeftOut {
    pub fn bad(fact: impl Into<String>) -> Self {
        Self { defect: Defect::BadElements, fact: fact.into() }
    }
}

/// Element sets as a reader meets them: the good ones and, counted, the others.
#[derive(Default)]
pub(super) struct SetsRead {
    pub sets: Vec<MeanElements>,
    pub defects: Defects,
}

impl SetsRead {
    pub fn take(&mut self, place: impl FnOnce() -> String, set: Result<MeanElements, LeftOut>) {
        match set {
            Ok(set) => self.sets.push(set),
            Err(left_out) => self.defects.add(left_out.defect, || format!("{}: {}", place(), left_out.fact)),
        }
    }
}

/// What to give instead of a file that holds no elements.
pub(super) const WANTED: &str =
    "give orbit mean-elements messages (CCSDS 502.0-B: JSON, XML, KVN or CSV) or two-line sets";
