//! Places to stop along the drive.
use serde::Serialize;

use super::rules::Stopping;
use crate::ask::search::{TownNear, in_words};
use crate::base::words::{Roofed, StopKind};

/// A place to stop, seen from the drive. Only places where one may stand come here: never a carriageway, a shoulder or
/// private ground.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Halt {
    /// Row of the layer's `stops`.
    pub stop_id: i64,
    /// Name, or its kind.
    pub name: String,
    /// Kind.
    pub kind: StopKind,
    /// Where it lies, by the place that people know it by: `4 km north of Anselm (town)`; nothing where none is near.
    #[serde(serialize_with = "in_words")]
    pub town: Option<TownNear>,
    /// Where, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// Where one leaves the road driven, kilometres from the start.
    pub at_km: f64,
    /// From the road driven, metres.
    pub off_road_m: f64,
    /// There is a roof over the vehicle, or it is not known that there is none.
    pub roofed: bool,
    /// What is known of a roof.
    pub roof: Roofed,
    /// One may stay the night.
    pub overnight: bool,
    /// One may stay for a meeting: nobody blocks the pumps of a fuel station for it.
    pub meetings: bool,
    /// Open share where the vehicle stands.
    pub open_share: f64,
    /// Best place for the panel within reach: distance, metres.
    pub best_m: f64,
    /// Its bearing from the vehicle, degrees clockwise from true north.
    pub best_bearing_deg: f64,
    /// Open share there.
    pub best_open_share: f64,
}

impl Halt {
    /// Time from the road to the place, one way, seconds.
    pub(crate) fn off_road_s(&self, stopping: &Stopping) -> f64 {
        self.off_road_m / (stopping.off_road_kmh / 3.6)
    }
}

/// At most `most` places: the drive is cut into that many parts of equal length, and each gives its best first; what is
/// left over is filled with the best of the rest. In order of the drive.
pub fn kept(mut halts: Vec<Halt>, length_km: f64, most: usize) -> Vec<Halt> {
    let order = |a: &Halt, b: &Halt| a.at_km.total_cmp(&b.at_km).then(a.stop_id.cmp(&b.stop_id));
    halts.sort_by(order);
    if halts.len() <= most {
        return halts;
    }
    if most == 0 {
        return Vec::new();
    }
    let better = |a: &Halt, b: &Halt| {
        let by_sky = b.best_open_share.total_cmp(&a.best_open_share);
        by_sky.then(a.off_road_m.total_cmp(&b.off_road_m)).then(a.stop_id.cmp(&b.stop_id))
    };
    let part = |h: &Halt| ((h.at_km / length_km.max(1e-9) * most as f64) as usize).min(most.saturating_sub(1));
    let mut rank_in_part = vec![0_usize; most];
    halts.sort_by(better);
    let mut ranked: Vec<(usize, Halt)> = Vec::with_capacity(halts.len());
    for halt in halts {
        let rank = &mut rank_in_part[part(&halt)];
        ranked.push((*rank, halt));
        *rank += 1;
    }
    ranked.sort_by_key(|(rank, _)| *rank);
    let mut out: Vec<Halt> = ranked.into_iter().take(most).map(|(_, h)| h).collect();
    out.sort_by(order);
    out
}

#[cfg(test)]
pub(super) fn halt(stop_id: i64, at_km: f64, open: f64) -> Halt {
    Halt {
        stop_id,
        name: format!("place {stop_id}"),
        kind: StopKind::Parking,
        town: None,
        lon_deg: 0.0,
        lat_deg: 0.0,
        at_km,
        off_road_m: 0.0,
        roofed: false,
        roof: Roofed::No,
        overnight: false,
        meetings: true,
        open_share: open,
        best_m: 0.0,
        best_bearing_deg: 0.0,
        best_open_share: open,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_places_are_all_kept_in_order() {
        let got = kept(vec![halt(1, 9.0, 0.1), halt(2, 1.0, 0.2)], 10.0, 5);
        assert_eq!(got.iter().map(|h| h.stop_id).collect::<Vec<_>>(), [2, 1]);
        assert!(kept(vec![halt(1, 9.0, 0.1)], 10.0, 0).is_empty());
    }

    #[test]
    fn of_many_every_part_of_the_road_keeps_its_best() {
        let mut all: Vec<Halt> = (0..50).map(|i| halt(i, 0.5 + 0.01 * i as f64, 0.9)).collect();
        all.push(halt(100, 8.0, 0.3));
        all.push(halt(101, 8.1, 0.4));
        let got = kept(all, 10.0, 4);
        assert_eq!(got.len(), 4);
        assert!(got.iter().any(|h| h.stop_id == 101), "{got:?}");
    }
}
