//! From a drive and rows of the layer to the answer: totals, worst pieces, clusters of outages, what stands overhead.
use std::collections::{BTreeMap, HashMap};

use super::model::{Above, Cluster, Corridor, Gap, Joining, Piece};
use super::nearby::alternatives;
use super::pieces::pieces;
use crate::ask::matching::{JoinedGap, Matched, Unmatched};
use crate::base::words::{Cause, Rating};
use crate::layer::model::{OverheadRow, SegmentRow};

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
    /// How many worst pieces are wanted.
    pub worst: usize,
    /// How near alternatives are, metres.
    pub buffer_m: f64,
    /// Outages up to this length belong to a steady road, seconds.
    pub steady_outage_s: f64,
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
    out.clusters = clusters(&pieces, q.steady_outage_s);
    out.overheads = above(q.overheads, &pieces);
    out.alternatives = alternatives(q.nearby, &pieces, q.buffer_m);
    out.worst = worst(&pieces, q.worst);
    out.pieces = pieces;
    out
}

/// The worst pieces, worst first.
fn worst(pieces: &[Piece], most: usize) -> Vec<Piece> {
    let mut worst: Vec<&Piece> = pieces.iter().filter(|p| p.rating > Rating::Steady || p.outage_s > 0.0).collect();
    worst.sort_by(|a, b| {
        let by_outage = b.outage_p95_s.total_cmp(&a.outage_p95_s);
        b.rating
            .cmp(&a.rating)
            .then(by_outage)
            .then(b.outage_s.total_cmp(&a.outage_s))
            .then(a.at_km.total_cmp(&b.at_km))
    });
    worst.into_iter().take(most).cloned().collect()
}

fn gap(u: &Unmatched) -> Gap {
    Gap {
        track_km: u.start_m / 1e3,
        lon_deg: u.from.lon_deg(),
        lat_deg: u.from.lat_deg(),
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

/// Pieces in a row with outages that a steady road does not have.
fn clusters(pieces: &[Piece], steady_outage_s: f64) -> Vec<Cluster> {
    let outages = |p: &Piece| p.outage_p95_s > steady_outage_s || p.rating > Rating::Steady;
    let groups = pieces.chunk_by(|a, b| outages(a) == outages(b) && a.drive == b.drive);
    groups.filter(|g| outages(&g[0])).map(cluster).collect()
}

fn cluster(pieces: &[Piece]) -> Cluster {
    let sum = |f: fn(&Piece) -> f64| pieces.iter().map(f).sum::<f64>();
    let first = &pieces[0];
    let worst = pieces.iter().rev().max_by(|a, b| a.outage_p95_s.total_cmp(&b.outage_p95_s)).unwrap_or(first);
    let mut by_cause: BTreeMap<&'static str, (f64, Cause)> = BTreeMap::new();
    for p in pieces {
        by_cause.entry(p.cause.name()).or_insert((0.0, p.cause)).0 += p.outage_s;
    }
    let cause = by_cause.values().max_by(|a, b| a.0.total_cmp(&b.0)).map_or(Cause::None, |c| c.1);
    Cluster {
        at_km: first.at_km,
        lon_deg: first.lon_deg,
        lat_deg: first.lat_deg,
        road: worst.road.clone(),
        length_m: sum(|p| p.length_m),
        time_s: sum(|p| p.time_s),
        outage_s: sum(|p| p.outage_s),
        outage_p95_s: worst.outage_p95_s,
        rating: pieces.iter().map(|p| p.rating).max().unwrap_or(first.rating),
        cause,
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
