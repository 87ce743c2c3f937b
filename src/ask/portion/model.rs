//! A part of a layer, as maps of it take it.
use crate::ask::corridor::Corridor;
use crate::ask::source::Source;
use crate::base::geodesy::Position;
use crate::base::words::{Cause, Rating};
use crate::layer::RoadGroup;
use crate::layer::model::{GroundLineRow, GroundRow, PlaceRow, SegmentRow, StopRow};

/// A part of a layer.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Portion {
    /// Where it comes from.
    pub source: Source,
    /// Its roads, by id.
    pub segments: Vec<SegmentRow>,
    /// Roads that lie in it and are left out: the least of all, where there are too many.
    pub left_out: Vec<RoadsLeftOut>,
    /// Places to stop, by id.
    pub stops: Vec<StopRow>,
    /// The worst outages, numbered from 1: those on main and through roads first, then those on smaller ones.
    pub outages: Vec<NumberedOutage>,
    /// Named places.
    pub places: Vec<PlaceRow>,
    /// Water.
    pub ground: Vec<GroundRow>,
    /// Coasts and rivers.
    pub ground_lines: Vec<GroundLineRow>,
    /// The drive that the map is made for.
    pub trip: Option<Corridor>,
}

/// Roads of one group that are left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoadsLeftOut {
    /// The group.
    pub group: RoadGroup,
    /// How many segments.
    pub segments: usize,
    /// Their length, kilometres.
    pub km: f64,
}

/// One of the worst outages of a part of a layer.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberedOutage {
    /// Name of the road where it begins.
    pub road: String,
    /// The road's group.
    pub group: RoadGroup,
    /// What causes it.
    pub cause: Cause,
    /// The word for its own figures.
    pub rating: Rating,
    /// Length of road, metres.
    pub length_m: f64,
    /// 95th percentile over drives of the longest outage there, seconds; of the worse direction where it is one in both.
    pub outage_p95_s: f64,
    /// Expected time without a link there, seconds, likewise.
    pub outage_s: f64,
    /// Most of the same road is out in the other direction, too.
    pub both_ways: bool,
    /// Eighth of the compass that one drives towards, 0 north, clockwise; from its beginning to its end.
    pub towards: usize,
    /// The road, in the direction driven.
    pub line: Vec<Position>,
}
