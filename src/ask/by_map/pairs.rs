//! One row for each pair of adjacent nodes of the map and each direction in which it is driven.
use serde::Serialize;

use super::figures::DriveSum;
use crate::base::error::Result;
use crate::base::geodesy::{Position, distance_m};
use crate::base::words::{Direction, PerDirection, Rating};
use crate::layer::model::{SegmentRow, WayNode, WayNodesRow};
use crate::layer::schema::Row;
use crate::layer::{Layer, damaged_value};

/// The road from a node of the map to the next one of its way.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct NodePair {
    /// Node where it begins, in the direction driven.
    pub from_node: i64,
    /// Node where it ends.
    pub to_node: i64,
    /// Way id.
    pub way_id: i64,
    /// In node order of the way.
    pub forward: bool,
    /// Length, metres.
    pub length_m: f64,
    /// Driving time, seconds.
    pub time_s: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// Worst rating in this direction of the segments that the pair lies on; its code in tables.
    #[serde(serialize_with = "Rating::as_code")]
    pub rating: Rating,
    /// Metres of it of which a cause could not be known: there it may be worse.
    pub not_known_m: f64,
    /// Speed at which driving takes `time_s + outage_weight * outage_s`.
    pub speed_kmh: f64,
}

/// Hands out all pairs, by way and in its node order, forward before backward. A second without a link counts as
/// `outage_weight` seconds of driving. How many were left out, since the rim of the layer cuts the road between their nodes.
///
/// # Errors
/// The layer cannot be read, or `take` fails.
pub fn node_pairs(layer: &Layer, outage_weight: f64, take: &mut dyn FnMut(NodePair) -> Result<()>) -> Result<u64> {
    let mut walk = PairWalk { outage_weight, take, open: OpenPair::default(), left_out: 0 };
    let mut before: Option<SegmentEnd> = None;
    for row in layer.segments_by_key()? {
        let row = row?;
        let nodes = layer.way_nodes(&row)?.nodes;
        match before {
            Some(end) if end.leads_to(&row, &nodes) => end.check_place(layer, &row)?,
            _ => walk.leave(),
        }
        walk.follow(&row, &nodes)?;
        before = Some(SegmentEnd::of(&row, &nodes));
    }
    walk.leave();
    Ok(walk.left_out)
}

/// Where a segment ended.
struct SegmentEnd {
    way_id: i64,
    part: u32,
    /// Between two nodes.
    was_cut: bool,
    at: Option<Position>,
}

impl SegmentEnd {
    fn of(row: &SegmentRow, nodes: &[WayNode]) -> Self {
        let was_cut = nodes.last().is_none_or(|node| node.vertex as usize + 1 < row.line.len());
        Self { way_id: row.way_id, part: row.part, was_cut, at: row.line.last().copied() }
    }
    /// Whether the pair that is open here goes on in a segment. Two segments that meet at a node are two matters: so are the
    /// pieces of a way between which the extract has lost nodes.
    fn leads_to(&self, row: &SegmentRow, nodes: &[WayNode]) -> bool {
        let begins_cut = nodes.first().is_none_or(|node| node.vertex > 0);
        (self.way_id, self.part.checked_add(1)) == (row.way_id, Some(row.part)) && (self.was_cut || begins_cut)
    }
    /// Ends that are one cut lie at one place.
    fn check_place(&self, layer: &Layer, row: &SegmentRow) -> Result<()> {
        if self.at.as_ref() == row.line.first() {
            return Ok(());
        }
        let fact = format!("goes on from part {} of its way, which ends elsewhere", self.part);
        Err(damaged_value(layer.path(), &WayNodesRow::TABLE, row.segment_id, "packed", &fact))
    }
}

/// The road since the last node.
#[derive(Default)]
struct OpenPair {
    /// That node; nothing before the first, and beyond the rim of the layer.
    from: Option<i64>,
    /// Whether there is any.
    begun: bool,
    sums: PerDirection<Option<DriveSum>>,
}

struct PairWalk<'a> {
    outage_weight: f64,
    take: &'a mut dyn FnMut(NodePair) -> Result<()>,
    open: OpenPair,
    left_out: u64,
}

impl PairWalk<'_> {
    /// Walks along a segment.
    fn follow(&mut self, row: &SegmentRow, nodes: &[WayNode]) -> Result<()> {
        let steps_m: Vec<f64> = row.line.windows(2).map(|w| distance_m(w[0], w[1])).collect();
        let line_m: f64 = steps_m.iter().sum();
        let mut nodes = nodes.iter().peekable();
        for vertex in 0..row.line.len() {
            if let Some(step) = vertex.checked_sub(1) {
                // All of a segment without length is in its first step.
                let share = if line_m > 0.0 { steps_m[step] / line_m } else { f64::from(u8::from(step == 0)) };
                self.open.add(row, share, self.outage_weight);
            }
            while let Some(node) = nodes.next_if(|node| node.vertex as usize == vertex) {
                self.reach(row, node.id)?;
            }
        }
        Ok(())
    }
    /// At a node the pair is whole, and the next one begins.
    fn reach(&mut self, row: &SegmentRow, id: i64) -> Result<()> {
        let mut pair = std::mem::replace(&mut self.open, OpenPair { from: Some(id), ..OpenPair::default() });
        let Some(from) = pair.from else {
            self.left_out += u64::from(pair.begun);
            return Ok(());
        };
        if !pair.begun {
            // Two nodes at one place.
            pair.add(row, 0.0, self.outage_weight);
        }
        for direction in Direction::BOTH {
            let Some(sum) = pair.sums[direction] else { continue };
            let forward = direction.is_forward();
            let (from_node, to_node) = if forward { (from, id) } else { (id, from) };
            let DriveSum { length_m, time_s, outage_s, not_known_m, rating, .. } = sum;
            let speed_kmh = sum.speed_kmh(self.outage_weight);
            let way_id = row.way_id;
            (self.take)(NodePair {
                from_node,
                to_node,
                way_id,
                forward,
                length_m,
                time_s,
                outage_s,
                rating,
                not_known_m,
                speed_kmh,
            })?;
        }
        Ok(())
    }
    /// Ends where the road does not go on.
    fn leave(&mut self) {
        self.left_out += u64::from(std::mem::take(&mut self.open).begun);
    }
}

impl OpenPair {
    /// Adds a share of a segment. A pair is driven in a direction where all of it is.
    fn add(&mut self, row: &SegmentRow, share: f64, outage_weight: f64) {
        for direction in Direction::BOTH {
            let part = row.driven[direction].as_ref().map(|driven| DriveSum::of(row, driven, share, outage_weight));
            self.sums[direction] = match (self.sums[direction], part) {
                (_, part) if !self.begun => part,
                (Some(sum), Some(part)) => Some(sum.and(part)),
                _ => None,
            };
        }
        self.begun = true;
    }
}
