//! One row for each way and direction.
use serde::Serialize;

use super::figures::DriveSum;
use crate::base::error::Result;
use crate::base::words::{Direction, PerDirection, Rating};
use crate::layer::Layer;

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
    /// Speed at which driving takes `time_s + outage_weight * outage_s`.
    pub speed_kmh: f64,
}

/// Hands out every way in every direction that is driven, by id. A second without a link counts as `outage_weight` seconds of
/// driving.
///
/// # Errors
/// The layer cannot be read, or `take` fails.
pub fn way_drives(layer: &Layer, outage_weight: f64, take: &mut dyn FnMut(WayDrive) -> Result<()>) -> Result<()> {
    let mut way: Option<(i64, PerDirection<Option<DriveSum>>)> = None;
    for row in layer.segments_by_key()? {
        let row = row?;
        let (id, mut sums) = match way.take() {
            Some(same) if same.0 == row.way_id => same,
            before => {
                done(before, outage_weight, take)?;
                (row.way_id, PerDirection::default())
            }
        };
        for direction in Direction::BOTH {
            let Some(driven) = &row.driven[direction] else { continue };
            let sum = DriveSum::of(&row, driven, 1.0, outage_weight);
            sums[direction] = Some(sums[direction].map_or(sum, |before: DriveSum| before.and(sum)));
        }
        way = Some((id, sums));
    }
    done(way, outage_weight, take)
}

fn done(
    way: Option<(i64, PerDirection<Option<DriveSum>>)>,
    outage_weight: f64,
    take: &mut dyn FnMut(WayDrive) -> Result<()>,
) -> Result<()> {
    let Some((way_id, sums)) = way else { return Ok(()) };
    for direction in Direction::BOTH {
        let Some(sum) = sums[direction] else { continue };
        let DriveSum { length_m, time_s, outage_s, rating, .. } = sum;
        let speed_kmh = sum.speed_kmh(outage_weight);
        let forward = direction.is_forward();
        take(WayDrive { way_id, forward, length_m, time_s, outage_s, rating, rating_name: rating, speed_kmh })?;
    }
    Ok(())
}
