//! What is asked of a layer.
use super::table::RouteRules;
use super::ways::Limits;
use crate::base::geodesy::Position;
use crate::base::words::Units;

/// Most places to go through.
pub const MOST_PLACES: usize = 100;

/// Ways between places.
#[derive(Debug, Clone, PartialEq)]
pub struct RouteQuestion {
    /// Places in the order visited, at least two.
    pub places: Vec<Position>,
    /// Roads are looked for this far from a place, metres.
    pub within_m: f64,
    /// Roads that are not used.
    pub rules: RouteRules,
    /// How many ways, and how much longer than the fastest.
    pub limits: Limits,
    /// How many of the worst segments each corridor lists.
    pub worst: usize,
    /// Units of what is said besides.
    pub units: Units,
}
