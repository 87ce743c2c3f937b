//! What a brief is made from.
use crate::ask::surroundings::NearRoad;
use crate::ask::trip::{Trip, TripDay};
use crate::layer::model::PlaceRow;

/// What a brief is made from.
pub struct Brief<'a> {
    /// What the trip is called.
    pub title: &'a str,
    /// The trip.
    pub trip: &'a Trip,
    /// Roads near each day.
    pub nearby: &'a [Vec<NearRoad>],
    /// Named places near each day.
    pub places: &'a [Vec<PlaceRow>],
    /// Map pages of the same layer that lie beside the brief: names of their files.
    pub map_pages: &'a [String],
}

/// A day and what is known about it.
pub(super) struct DayOf<'a> {
    /// From 1.
    pub number: usize,
    /// The day.
    pub day: &'a TripDay,
    /// Roads near it.
    pub nearby: &'a [NearRoad],
    /// Named places near it.
    pub places: &'a [PlaceRow],
    /// Its trip.
    pub trip: &'a Trip,
}
