//! What a brief is made from.
use crate::ask::trip::{Trip, TripDay};
use crate::base::geodesy::Position;

/// A road near the trip, for the map.
#[derive(Debug, Clone, PartialEq)]
pub struct NearRoad {
    /// Class, as the layer's `highway`.
    pub class: String,
    /// Rating of its worse direction.
    pub rating: u8,
    /// Where it runs.
    pub line: Vec<Position>,
}

/// What a brief is made from.
pub struct Brief<'a> {
    /// What the trip is called.
    pub title: &'a str,
    /// The trip.
    pub trip: &'a Trip,
    /// Roads near each day.
    pub nearby: &'a [Vec<NearRoad>],
}

/// A day and what is known about it.
pub(super) struct DayOf<'a> {
    /// From 1.
    pub number: usize,
    /// The day.
    pub day: &'a TripDay,
    /// Roads near it.
    pub nearby: &'a [NearRoad],
    /// Its trip.
    pub trip: &'a Trip,
}
