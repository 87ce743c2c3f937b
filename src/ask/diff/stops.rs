//! Places to stop of two layers.
use std::cmp::Ordering;
use std::collections::BTreeMap;

use serde::Serialize;

use crate::ask::stops::StopNear;
use crate::base::error::Result;
use crate::base::geodesy::{Position, distance_m};
use crate::base::words::{MapObject, StopKind};
use crate::layer::Layer;

/// A best place that lies within this distance of another is the same, metres.
const MOVED_M: f64 = 1.0;
/// Shares of open sky that differ by less are the same to people.
const LEAST_SHARE: f64 = 0.01;
/// Slack for shares kept to 0.0001.
const SLACK: f64 = 1e-9;

/// What became of places to stop.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct StopsCompared {
    /// In both layers.
    pub both: u64,
    /// In the old layer alone, by kind.
    pub only_old: BTreeMap<StopKind, u64>,
    /// In the new layer alone, by kind.
    pub only_new: BTreeMap<StopKind, u64>,
    /// In both, and their best place for the panel is another, or sees another share of the sky.
    pub best_changed: u64,
    /// In both, and what is known of a roof over the vehicle is another.
    pub roof_changed: u64,
    /// Of those whose best place changed, the largest changes of its open share, the largest first.
    pub largest: Vec<StopMoved>,
}

/// A place to stop whose best place for the panel changed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StopMoved {
    /// Which object of the map it is.
    pub osm_type: MapObject,
    /// Its id there.
    pub osm_id: i64,
    /// Kind in the new layer.
    pub kind: StopKind,
    /// Name of the place in the new layer.
    pub name: Option<String>,
    /// Nearest road in the new layer.
    pub road: String,
    /// Where the vehicle stands in the new layer, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// From the best place before to the one now, metres.
    pub moved_m: f64,
    /// From the vehicle to the best place before, metres.
    pub distance_old_m: f64,
    /// The same now.
    pub distance_new_m: f64,
    /// Open share at the best place before, 0..=1.
    pub open_share_old: f64,
    /// The same now.
    pub open_share_new: f64,
}

impl StopMoved {
    fn of(old: &StopNear, new: &StopNear) -> Self {
        let best = |s: &StopNear| Position::from_deg(s.best_lon_deg, s.best_lat_deg);
        Self {
            osm_type: new.osm_type,
            osm_id: new.osm_id,
            kind: new.kind,
            name: new.name.clone(),
            road: new.road.clone(),
            lon_deg: new.lon_deg,
            lat_deg: new.lat_deg,
            moved_m: distance_m(best(old), best(new)),
            distance_old_m: old.best_distance_m,
            distance_new_m: new.best_distance_m,
            open_share_old: old.best_open_share,
            open_share_new: new.best_open_share,
        }
    }
    fn change(&self) -> f64 {
        self.open_share_new - self.open_share_old
    }
    fn is_one(&self) -> bool {
        self.moved_m > MOVED_M || self.change().abs() >= LEAST_SHARE - SLACK
    }
}

impl StopsCompared {
    /// Whether there is nothing to tell.
    pub fn is_quiet(&self) -> bool {
        self.only_old.is_empty() && self.only_new.is_empty() && self.best_changed == 0 && self.roof_changed == 0
    }
    fn pair(&mut self, old: &StopNear, new: &StopNear) {
        self.both += 1;
        self.roof_changed += u64::from(old.roofed != new.roofed);
        let moved = StopMoved::of(old, new);
        if moved.is_one() {
            self.best_changed += 1;
            self.largest.push(moved);
        }
    }
}

/// Compares the places to stop of two layers, and whether any differs, if only by little; `top` is how many changes are
/// listed.
pub(super) fn compare(old: &Layer, new: &Layer, top: usize) -> Result<(StopsCompared, bool)> {
    let (old, new) = (read(old)?, read(new)?);
    let (mut i, mut j) = (0, 0);
    let (mut out, mut differs) = (StopsCompared::default(), false);
    while i < old.len() || j < new.len() {
        let order = match (old.get(i), new.get(j)) {
            (Some(a), Some(b)) => key(a).cmp(&key(b)),
            (Some(_), None) => Ordering::Less,
            _ => Ordering::Greater,
        };
        match order {
            Ordering::Less => *out.only_old.entry(old[i].kind).or_default() += 1,
            Ordering::Greater => *out.only_new.entry(new[j].kind).or_default() += 1,
            Ordering::Equal => {
                differs |= !is_same(&old[i], &new[j]);
                out.pair(&old[i], &new[j]);
            }
        }
        i += usize::from(order.is_le());
        j += usize::from(order.is_ge());
    }
    // Stable: equal changes stay in the order of their keys.
    out.largest.sort_by(|a, b| b.change().abs().total_cmp(&a.change().abs()));
    out.largest.truncate(top);
    differs |= !out.is_quiet();
    Ok((out, differs))
}

/// Whether two rows say the same of a place, ids of the layer apart.
fn is_same(old: &StopNear, new: &StopNear) -> bool {
    *old == StopNear { stop_id: old.stop_id, ..new.clone() }
}

fn key(s: &StopNear) -> (MapObject, i64) {
    (s.osm_type, s.osm_id)
}

/// The places of a layer by their objects of the map, without what their sky is made of. The best place is one within the
/// reach of the layer's profile, as `stops` tells it.
fn read(layer: &Layer) -> Result<Vec<StopNear>> {
    let reach_m = layer.record().profile.stop.reach_m;
    let mut out = Vec::new();
    layer.each_stop(|row| {
        out.push(StopNear::of(&row, reach_m));
        Ok(())
    })?;
    out.sort_by_key(key);
    Ok(out)
}
