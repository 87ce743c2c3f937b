//! The road network: segments, edges, strokes and the stations where the sky is computed.
use super::sides::SideVote;
use crate::base::geodesy::Position;
use crate::base::index::{EdgeIndex, RoadIndex, SegmentIndex};
use crate::base::words::{DrivingSide, PerCase, SideFrom};
use crate::map::extract::model::TunnelKind;
use crate::map::place::country::Country;

use crate::base::words::{Direction, ValueFrom};

/// A value and where it came from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sourced<T> {
    /// The value.
    pub value: T,
    /// Where it came from.
    pub from: ValueFrom,
}

/// How far trees keep away from a road.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FreeWidth {
    /// From the carriageway's edge to where they may stand, metres, each side.
    pub clear_m: f32,
    /// Free width between their crowns over the road, metres: 0 where they meet, road and clear width where they do not reach
    /// over either.
    pub crown_gap_m: f32,
}

/// The road's cross-section and lanes, with sources.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrossSection {
    /// Lanes of both directions of this way together.
    pub lanes: Sourced<u8>,
    /// Lanes in node order.
    pub lanes_forward: u8,
    /// Lanes against it.
    pub lanes_backward: u8,
    /// Width of the carriageway, kerb to kerb, metres.
    pub width_m: Sourced<f32>,
    /// How far trees keep away.
    pub free: PerCase<FreeWidth>,
    /// Signed distance of the travelled lane from the centre line, metres, right of the way's
    /// node order positive, driving forward.
    pub lane_forward_m: f32,
    /// The same driving backward (usually on the other side, so of the other sign).
    pub lane_backward_m: f32,
    /// Traffic side.
    pub side: DrivingSide,
}

/// A node of the map on the line of a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NodeOnLine {
    /// Place of the vertex at which it lies, from 0.
    pub vertex: u32,
    /// Its id.
    pub id: i64,
}

/// A piece of one way, between junctions and at most 250 m long.
#[derive(Debug, Clone, PartialEq)]
pub struct Segment {
    /// Index of its road in [`crate::map::extract::model::Extract::roads`].
    pub road: RoadIndex,
    /// Number of the piece within the way, from 0, over all pieces with the same way id.
    pub part: u32,
    /// Centre line, in node order of the way, at least two positions.
    pub line: Vec<Position>,
    /// The map's nodes on the line, in order. There is none where the segment was cut between two nodes, and more than one where
    /// several lie at the same place.
    pub nodes: Vec<NodeOnLine>,
    /// Length, metres.
    pub length_m: f64,
    /// Whether it may be driven in node order and against it.
    pub forward: bool,
    /// See `forward`.
    pub backward: bool,
    /// Cross-section.
    pub section: CrossSection,
    /// What says which side traffic keeps to.
    pub keeps_from: SideFrom,
    /// Country of its way, where known.
    pub country: Option<Country>,
    /// Speed driven before the profile's factor, km/h, forward.
    pub speed_forward_kmh: Sourced<f32>,
    /// The same backward.
    pub speed_backward_kmh: Sourced<f32>,
    /// On a bridge.
    pub bridge: bool,
    /// In a tunnel, passage or gallery.
    pub tunnel: Option<TunnelKind>,
    /// Edge driven forward, index into [`Network::edges`].
    pub edge_forward: Option<EdgeIndex>,
    /// Edge driven backward.
    pub edge_backward: Option<EdgeIndex>,
    /// Number of stations, at least two: evenly spaced along the segment from its first to its last
    /// position, at most the profile's spacing apart.
    pub stations: u32,
}

/// One direction of travel between two junction nodes.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// First node id.
    pub from_node: i64,
    /// Last node id.
    pub to_node: i64,
    /// Index of its road.
    pub road: RoadIndex,
    /// Direction against or in node order.
    pub direction: Direction,
    /// Segments in the order they are driven.
    pub segments: Vec<SegmentIndex>,
    /// Length, metres.
    pub length_m: f64,
    /// Driving time before the profile's factor, seconds.
    pub time_s: f64,
}

/// A segment and the direction it is driven in.
pub type LaneStep = (SegmentIndex, Direction);

/// Segments driven one after another along the same road, through junctions.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stroke {
    /// Segment and direction, in the order they are driven; all of one district.
    pub steps: Vec<LaneStep>,
    /// What is driven just before the first of them, where the road comes from another district: an outage may run on from
    /// there. Figures of these segments belong to the strokes that they are steps of.
    pub run_in: Vec<LaneStep>,
    /// The same just after the last.
    pub run_out: Vec<LaneStep>,
    /// What is driven before `run_in`: it is not simulated, but the height of the road there is smoothed over it.
    pub lead: Vec<LaneStep>,
    /// The same after `run_out`.
    pub tail: Vec<LaneStep>,
}

impl Stroke {
    /// A stroke that begins and ends by itself.
    pub fn of(steps: Vec<LaneStep>) -> Self {
        Self { steps, ..Self::default() }
    }
    /// Everything driven, in order.
    pub fn driven(&self) -> impl Iterator<Item = &LaneStep> {
        self.run_in.iter().chain(&self.steps).chain(&self.run_out)
    }
    /// Everything driven, and what lies before and after it.
    pub fn in_sight(&self) -> impl Iterator<Item = &LaneStep> {
        self.lead.iter().chain(self.driven()).chain(&self.tail)
    }
    /// Places of its own steps among all that is driven.
    pub fn own(&self) -> std::ops::Range<usize> {
        self.run_in.len()..self.run_in.len() + self.steps.len()
    }
}

/// The network of one extract.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Network {
    /// Segments, by road and part.
    pub segments: Vec<Segment>,
    /// Edges, by road, then place, forward before backward.
    pub edges: Vec<Edge>,
    /// Strokes; every drivable direction of every segment is a step of exactly one.
    pub strokes: Vec<Stroke>,
    /// What roundabouts say of the side taken.
    pub side_votes: Vec<SideVote>,
}

/// A place on the travelled lane where the sky is computed, in the plane of its cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// On the lane.
    pub at: crate::base::geodesy::Point,
    /// From the start of the segment in the direction driven, metres along the centre line.
    pub along_m: f64,
    /// Heading of travel, degrees clockwise from true north.
    pub heading_deg: f64,
    /// Height of the road, metres above the vertical datum of the elevation source; `None` without elevation.
    pub road_z_m: Option<f32>,
}
