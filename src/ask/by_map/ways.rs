//! One row for each way and direction.
use serde::Serialize;

use super::figures::DriveSum;
use crate::base::error::Result;
use crate::base::words::{Direction, PerDirection, Rating};
use crate::layer::Layer;
use crate::layer::model::{SegmentRow, WayNode};

/// A way in one direction, as far as it lies in the layer.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct WayDrive {
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
    /// Worst rating of its segments in this direction; its code in tables.
    #[serde(serialize_with = "Rating::as_code")]
    pub rating: Rating,
    /// Its name.
    pub rating_name: Rating,
    /// Metres of it of which a cause could not be known: there it may be worse.
    pub not_known_m: f64,
    /// Whether all of the way lies in the layer, as far as the layer tells: the rim of one of some districts cuts ways.
    pub whole: bool,
    /// Speed at which driving takes `time_s + outage_weight * outage_s`.
    pub speed_kmh: f64,
}

/// Hands out every way in every direction that is driven, by id. A second without a link counts as `outage_weight` seconds of
/// driving. How many ways are not whole, since the rim of the layer cuts them.
///
/// # Errors
/// The layer cannot be read, or `take` fails.
pub fn way_drives(layer: &Layer, outage_weight: f64, take: &mut dyn FnMut(WayDrive) -> Result<()>) -> Result<u64> {
    let mut way: Option<WaySum> = None;
    let mut cut = 0;
    for row in layer.segments_by_key()? {
        let row = row?;
        let nodes = layer.way_nodes(&row)?.nodes;
        if way.as_ref().is_some_and(|way| way.id != row.way_id) {
            cut += WaySum::done(way.take(), outage_weight, take)?;
        }
        way.get_or_insert_with(|| WaySum::of(&row)).add(&row, &nodes, outage_weight);
    }
    Ok(cut + WaySum::done(way, outage_weight, take)?)
}

/// A way so far.
struct WaySum {
    id: i64,
    sums: PerDirection<Option<DriveSum>>,
    /// Part that comes next.
    next: u32,
    /// No part is missing so far.
    unbroken: bool,
    /// The last segment ends at a node of the map, not where the road goes on.
    ends_at_node: bool,
}

impl WaySum {
    fn of(row: &SegmentRow) -> Self {
        Self { id: row.way_id, sums: PerDirection::default(), next: 0, unbroken: true, ends_at_node: true }
    }
    fn add(&mut self, row: &SegmentRow, nodes: &[WayNode], outage_weight: f64) {
        self.unbroken &= row.part == self.next;
        self.next = row.part.saturating_add(1);
        self.ends_at_node = nodes.last().is_some_and(|node| node.vertex as usize + 1 == row.line.len());
        for direction in Direction::BOTH {
            let Some(driven) = &row.driven[direction] else { continue };
            let sum = DriveSum::of(row, driven, 1.0, outage_weight);
            self.sums[direction] = Some(self.sums[direction].map_or(sum, |before: DriveSum| before.and(sum)));
        }
    }
    /// Hands out its rows; 1 if it is not whole.
    fn done(way: Option<Self>, outage_weight: f64, take: &mut dyn FnMut(WayDrive) -> Result<()>) -> Result<u64> {
        let Some(Self { id: way_id, sums, unbroken, ends_at_node, .. }) = way else { return Ok(0) };
        let whole = unbroken && ends_at_node;
        for direction in Direction::BOTH {
            let Some(sum) = sums[direction] else { continue };
            let DriveSum { length_m, time_s, outage_s, not_known_m, rating, .. } = sum;
            let (speed_kmh, forward) = (sum.speed_kmh(outage_weight), direction.is_forward());
            take(WayDrive {
                way_id,
                forward,
                length_m,
                time_s,
                outage_s,
                rating,
                rating_name: rating,
                not_known_m,
                whole,
                speed_kmh,
            })?;
        }
        Ok(u64::from(!whole))
    }
}
