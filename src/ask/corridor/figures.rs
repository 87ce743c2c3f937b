//! From a drive and rows of the layer to the answer: totals, worst stretches, outages, what stands overhead.
use std::collections::HashMap;

use super::model::{Above, Corridor, Gap, Joining, Piece, RatedStretch};
use super::nearby::roads_nearby;
use super::outages::{LaneId, driven_outages};
use super::pieces::pieces;
use super::stretches::{stretches, worst_first};
use crate::ask::matching::{JoinedGap, Matched, Unmatched};
use crate::layer::model::{OutageRow, OverheadRow, SegmentRow};
use crate::profile::RatingEdges;

/// A drive and the rows of the layer that say something about it.
pub struct DriveRows<'a> {
    /// The drive.
    pub matched: &'a Matched,
    /// Segments driven, by id.
    pub segments: &'a HashMap<i64, SegmentRow>,
    /// What stands over them.
    pub overheads: &'a [OverheadRow],
    /// Other segments that may be near.
    pub nearby: &'a [SegmentRow],
    /// How many worst stretches are wanted.
    pub worst: usize,
    /// How near other roads are, metres.
    pub buffer_m: f64,
    /// Edges of ratings.
    pub edges: &'a RatingEdges,
    /// The layer's outages by the lanes they go through.
    pub outages: &'a HashMap<LaneId, OutageRow>,
}

/// What rows of a layer say about a drive.
pub fn of_rows(q: &DriveRows) -> Corridor {
    let pieces = pieces(q.matched, q.segments);
    let mut out = Corridor { track_m: q.matched.track_m, ..Corridor::default() };
    for p in &pieces {
        out.length_m += p.length_m;
        out.time_s += p.time_s;
        out.outage_s += p.outage_s;
        out.metres_by_rating[p.rating] += p.length_m;
        out.outage_best_s += p.outage_best_s;
        out.outage_worst_s += p.outage_worst_s.unwrap_or(p.outage_s);
        out.metres_by_rating_best[p.rating_best] += p.length_m;
        match p.rating_worst {
            Some(worst) => out.metres_by_rating_worst[worst] += p.length_m,
            None => out.unknown_m += p.length_m,
        }
    }
    out.scatter_m = q.matched.scatter_m();
    out.joined = q.matched.joined.iter().map(joining).collect();
    out.unmatched = q.matched.unmatched.iter().map(gap).collect();
    out.unmatched_m = out.unmatched.iter().map(|u| u.length_m).sum::<f64>() + 0.0;
    let edges = q.edges;
    out.outages = driven_outages(&pieces, q.outages, edges.steady_outage_s);
    out.tolerated_s = [edges.blips_outage_s, edges.gaps_outage_s, edges.drops_outage_s];
    out.overheads = above(q.overheads, &pieces);
    out.nearby = roads_nearby(q.nearby, &pieces, q.buffer_m);
    out.worst = worst(&pieces, q.worst);
    out.pieces = pieces;
    out
}

/// The worst stretches, worst first.
fn worst(pieces: &[Piece], most: usize) -> Vec<RatedStretch> {
    let all = stretches(pieces);
    worst_first(&all).into_iter().take(most).map(|nth| all[nth].clone()).collect()
}

fn gap(u: &Unmatched) -> Gap {
    Gap {
        track_km: u.start_m / 1e3,
        lon_deg: u.from.lon_deg(),
        lat_deg: u.from.lat_deg(),
        to_lon_deg: u.to.lon_deg(),
        to_lat_deg: u.to.lat_deg(),
        length_m: u.length_m,
        bridged: u.bridged,
    }
}

fn joining(j: &JoinedGap) -> Joining {
    Joining {
        track_km: j.start_m / 1e3,
        from_lat_deg: j.from.lat_deg(),
        from_lon_deg: j.from.lon_deg(),
        to_lat_deg: j.to.lat_deg(),
        to_lon_deg: j.to.lon_deg(),
        straight_m: j.straight_m,
        length_m: j.length_m,
        covered_m: j.covered_m,
        boarded_m: j.boarded_m,
        time_s: j.time_s,
        lasted_s: j.lasted_s,
    }
}

fn above(overheads: &[OverheadRow], pieces: &[Piece]) -> Vec<Above> {
    let mut of: HashMap<i64, Vec<&OverheadRow>> = HashMap::new();
    overheads.iter().for_each(|o| of.entry(o.segment_id).or_default().push(o));
    let mut out = Vec::new();
    for piece in pieces {
        for o in of.remove(&piece.segment_id).unwrap_or_default() {
            out.push(Above {
                at_km: piece.at_km,
                lon_deg: o.at.lon_deg(),
                lat_deg: o.at.lat_deg(),
                kind: o.kind,
                name: o.name.clone(),
                half_shadow_s: o.half_shadow_s,
                maxheight_m: o.maxheight_m,
            });
        }
    }
    out
}
